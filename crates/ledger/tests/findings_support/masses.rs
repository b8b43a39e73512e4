//! The masses of closed systems a second time: by floating-point sums over sets, from the exported lines alone.

#![allow(clippy::float_arithmetic, reason = "a second implementation, on purpose in another arithmetic")]

use super::oracle::{Book, Expected, Slip, new};
use filler::{ProductForm, Quantity, Unit};
use record::event::{JointWelded, PieceOrigin};
use record::finding::{Code, Severity};
use record::id::{EntryId, JointId, SlipId};
use std::collections::{BTreeMap, BTreeSet};

/// Milligrams, and what one standard uncertainty of each error does to them.
#[derive(Clone, Default)]
struct Mass {
    mg: f64,
    parts: BTreeMap<String, f64>,
}

impl Mass {
    /// What the same error does adds up with its sign; an error of its own has a name of its own.
    fn plus(&mut self, sign: f64, other: &Mass) {
        self.mg += sign * other.mg;
        for (error, part) in &other.parts {
            *self.parts.entry(error.clone()).or_default() += sign * part;
        }
    }

    fn u(&self) -> f64 {
        self.parts.values().map(|part| part * part).sum::<f64>().sqrt()
    }
}

/// A slip's masses: issued, what left without the stubs, and the stubs, each where it is known.
struct Masses {
    issued: Option<Mass>,
    outs: Vec<Option<Mass>>,
    stubs: Option<Mass>,
}

/// A set of slips and joints with the weld records that hold it together.
#[derive(Default)]
struct System {
    slips: BTreeSet<SlipId>,
    joints: BTreeSet<JointId>,
    welds: BTreeSet<usize>,
}

impl Book {
    /// The findings by mass.
    pub(super) fn by_mass(&self, found: &mut Vec<Expected>) {
        let said = |joint: &JointId| self.joints[joint].iter().any(|(_, e)| e.needed_mg.value().is_some());
        let checks = self.joints.keys().filter(|joint| said(joint)).count();
        for system in self.systems() {
            found.extend(self.of_system(&system, checks));
        }
    }

    /// Sets that share a slip or a joint are one set, until none do.
    fn systems(&self) -> Vec<System> {
        let mut systems: Vec<System> = Vec::new();
        for (at, (_, weld)) in self.welds.iter().enumerate() {
            let mut one = System { welds: BTreeSet::from([at]), ..System::default() };
            one.joints.extend(weld.joints.iter().map(|j| j.joint));
            for answer in self.answers(weld) {
                one.slips.extend(&answer.sources);
            }
            one.slips.extend(weld.slip.value().map(|slip| slip.slip).filter(|_| weld.filler));
            let (mut same, apart): (Vec<System>, Vec<System>) = systems
                .into_iter()
                .partition(|s| !s.slips.is_disjoint(&one.slips) || !s.joints.is_disjoint(&one.joints));
            for other in &mut same {
                one.slips.append(&mut other.slips);
                one.joints.append(&mut other.joints);
                one.welds.append(&mut other.welds);
            }
            systems = apart;
            systems.push(one);
        }
        systems
    }

    fn of_system(&self, system: &System, checks: usize) -> Option<Expected> {
        let welds: Vec<(&EntryId, &JointWelded)> =
            system.welds.iter().map(|at| (&self.welds[*at].0, &self.welds[*at].1)).collect();
        let slips: Vec<&Slip> = system.slips.iter().map(|id| self.slips.get(id)).collect::<Option<_>>()?;
        // Everything is known of it: slips closed, joints finished, needs said, no weld of unknown metal.
        let closed = slips.iter().all(|slip| self.is_closed(slip) && !self.is_flux(slip));
        let clear = welds.iter().all(|(_, weld)| {
            self.answers(weld).iter().all(|a| !matches!(a.certainty, "unknown" | "contradicted"))
        });
        let finished = system.joints.iter().all(|joint| {
            let by_weld = |w: &JointWelded| w.finished && w.joints.iter().any(|j| j.joint == *joint);
            self.joint_now(*joint).finished_at.value().is_some() || welds.iter().any(|(_, w)| by_weld(w))
        });
        if slips.is_empty() || !closed || !clear || !finished {
            return None;
        }
        let mut needed = Mass::default();
        for joint in &system.joints {
            needed.plus(1.0, &self.needed(*joint)?);
        }
        let mut out = Mass::default();
        let mut all_known = true;
        for slip in &slips {
            let masses = self.masses(slip);
            out.plus(1.0, &masses.issued?);
            for left in masses.outs.into_iter().chain([masses.stubs]) {
                match left {
                    Some(left) => out.plus(-1.0, &left),
                    None => all_known = false,
                }
            }
        }
        // No shop here cuts a weld out or repairs one.
        out.plus(-1.0, &needed);
        let k = trace::mass_check::family_k_milli(checks as u32) as f64 / 1000.0;
        let beyond = k * out.u();
        assert!(
            (out.mg.abs() - beyond).abs() > 5.0,
            "too near to tell by two roundings: {} {beyond}",
            out.mg
        );
        let code = if out.mg < -beyond {
            Code::MassOver
        } else if out.mg > beyond && all_known {
            Code::MassShort
        } else {
            return None;
        };
        let firsts = slips.iter().map(|slip| slip.first).chain(welds.iter().map(|(first, _)| **first));
        let mut finding = new(code, Severity::Act, &firsts.collect::<Vec<_>>());
        let the_one = |all: BTreeSet<String>| if all.len() == 1 { all.first().cloned() } else { None };
        let numbers = slips.iter().filter_map(|slip| self.number(slip.id));
        let codes = slips.iter().filter_map(|slip| self.code(slip.lot));
        let holders = slips.iter().map(|slip| slip.holder);
        let badges = holders.chain(welds.iter().map(|(_, w)| w.welder.person)).filter_map(|p| self.badge(p));
        finding.slip = the_one(numbers.collect());
        finding.lot = the_one(codes.collect());
        finding.welder = the_one(badges.collect());
        finding.joint = the_one(system.joints.iter().map(|j| self.joint_now(*j).number.clone()).collect());
        Some(finding)
    }

    fn is_flux(&self, slip: &Slip) -> bool {
        self.lot(slip.lot).form.value() == Some(&ProductForm::Flux)
    }

    fn needed(&self, joint: JointId) -> Option<Mass> {
        let declared = self.joint_now(joint);
        let mut mass = Mass { mg: *declared.needed_mg.value()? as f64, ..Mass::default() };
        let Some(worked_out) = declared.worked_out.value() else {
            let u = *declared.needed_u_mg.value()? as f64;
            mass.parts.insert("needed".into(), u);
            return Some(mass);
        };
        for part in &worked_out.shared {
            let name = match worked_out.inputs.iter().find(|input| input.name == part.input) {
                // Whoever works with one density has one error of it.
                Some(input) if part.input == "density" => format!("density {}", input.value),
                _ => part.input.clone(),
            };
            mass.parts.insert(name, part.mg as f64);
        }
        mass.parts.insert(format!("own of {joint}"), worked_out.own_u_mg as f64);
        Some(mass)
    }

    fn masses(&self, slip: &Slip) -> Masses {
        let outs: Vec<Option<Mass>> = slip
            .outs
            .iter()
            .enumerate()
            .map(|(n, out)| self.mass(slip, out.quantity, 0.0, &format!("{n}")))
            .collect();
        let spool = self.lot(slip.lot).form.value() == Some(&ProductForm::Spool);
        let count_u = if spool { 0.0 } else { 0.5 };
        Masses {
            issued: self.mass(slip, slip.quantity, count_u, "issue"),
            stubs: self.stubs(slip, spool),
            outs,
        }
    }

    /// Milligrams of one piece, with what is shared by all pieces of the lot; the length of a bare rod by itself.
    fn piece(&self, slip: &Slip) -> Option<(Mass, f64)> {
        let lot = self.lot(slip.lot);
        let piece = lot.piece.as_ref()?;
        let mut mass = Mass { mg: piece.mg as f64, ..Mass::default() };
        let u = |half_width: f64| half_width / 3.0_f64.sqrt();
        if piece.origin == PieceOrigin::Declared {
            mass.parts.insert(format!("piece of {}", slip.lot), u(mass.mg * 0.005));
            return Some((mass, 0.0));
        }
        let density = piece.density_g_per_cm3.as_ref()?;
        let (diameter, length) = measures(&lot.size.value()?.text)?;
        let relative = |half_width: f64, value: f64| mass.mg * u(half_width) / value;
        let by_diameter = 2.0 * relative(0.05, diameter);
        let by_density = relative(0.05, density.parse::<f64>().ok()?);
        let by_length = relative(6.35, length?);
        mass.parts.insert(format!("diameter of {}", slip.lot), by_diameter);
        mass.parts.insert(format!("density {density}"), by_density);
        Some((mass, by_length))
    }

    fn mass(&self, slip: &Slip, quantity: Option<Quantity>, count_u: f64, which: &str) -> Option<Mass> {
        let quantity = quantity?;
        if let Some(mg) = quantity.milligrams() {
            // Rounded up to a milligram.
            let u = (mg as f64 * 0.005 / 3.0_f64.sqrt()).ceil();
            let parts = BTreeMap::from([(format!("weighing {which} of {}", slip.id), u)]);
            return Some(Mass { mg: mg as f64, parts });
        }
        let pieces = self.pieces(slip, &quantity)? as f64;
        self.mg(slip, &quantity)?;
        let (piece, by_length) = self.piece(slip)?;
        let mut mass = Mass::default();
        mass.plus(pieces, &piece);
        mass.parts.insert(format!("length of {}", slip.lot), pieces * by_length);
        mass.parts.insert(format!("count {which} of {}", slip.id), count_u * piece.mg);
        Some(mass)
    }

    /// Stubs of 2 in, give or take 1 in. Wire has none, and metal that all came back has none.
    fn stubs(&self, slip: &Slip, spool: bool) -> Option<Mass> {
        if spool || slip.quantity.is_some_and(|q| q.unit() == Unit::Spools) {
            return Some(Mass::default());
        }
        let counted: Vec<i64> = slip.outs.iter().filter_map(|out| out.stubs).collect();
        let count: i64 = counted.iter().sum();
        if counted.is_empty() {
            let outs: Vec<_> = slip.outs.iter().collect();
            let (issued, gone) = self.issued_and_gone(slip, &outs)?;
            return (gone >= issued).then(Mass::default);
        }
        if count == 0 {
            return Some(Mass::default());
        }
        let (piece, _) = self.piece(slip)?;
        let (_, length) = measures(&self.lot(slip.lot).size.value()?.text)?;
        let part = 50.8 / length?;
        let mut mass = Mass::default();
        mass.plus(count as f64 * part, &piece);
        let by_length = count as f64 * piece.mg * (25.4 / 3.0_f64.sqrt()) / length?;
        mass.parts.insert("length of a stub".into(), by_length);
        Some(mass)
    }
}

/// Diameter and length of the sizes of these shops, in millimetres.
fn measures(text: &str) -> Option<(f64, Option<f64>)> {
    let (diameter, length) = match text.split_once(" x ") {
        Some((diameter, length)) => (diameter, Some(length)),
        None => (text, None),
    };
    let one = |text: &str| -> Option<f64> {
        let (number, unit) = text.split_once(' ')?;
        let value: f64 = match number.split_once('/') {
            Some((above, below)) => above.parse::<f64>().ok()? / below.parse::<f64>().ok()?,
            None => number.parse().ok()?,
        };
        Some(if unit == "in" { value * 25.4 } else { value })
    };
    Some((one(diameter)?, length.and_then(one)))
}
