//! The findings by mass, from the files alone: slips and joints that belong to each other alone, what went out on the one
//! against what the other need. In floating-point numbers: nothing here comes near enough to a threshold to matter.

#![allow(clippy::float_arithmetic, reason = "a second implementation, on purpose in another arithmetic")]

use std::collections::{BTreeMap, BTreeSet};

use anyhow::Result;

use super::custody::{Held, Reading, Unit, amount, cell, piece_mg};
use super::findings::Finding;

/// Milligrams, and what one standard uncertainty of each error does to them.
#[derive(Default, Clone)]
struct Mass {
    mg: f64,
    parts: BTreeMap<String, f64>,
}

impl Mass {
    fn add(&mut self, times: f64, other: &Mass) {
        self.mg += times * other.mg;
        for (error, part) in &other.parts {
            *self.parts.entry(error.clone()).or_default() += times * part;
        }
    }

    fn u(&self) -> f64 {
        self.parts.values().map(|part| part * part).sum::<f64>().sqrt()
    }
}

/// Slips, joints and weld records that hang together; records by their row in `welds.csv`.
#[derive(Default)]
struct System<'r> {
    slips: BTreeMap<&'r str, &'r Held>,
    joints: BTreeSet<&'r str>,
    welds: BTreeSet<usize>,
    /// Whether the metal of some record is not known.
    doubtful: bool,
}

/// Adds the findings by mass.
pub(super) fn all(reading: &Reading, found: &mut Vec<Finding>) -> Result<()> {
    let checks = reading.joints.values().filter(|joint| !cell(joint, "needed_g").is_empty()).count();
    let k = threshold(checks);
    for system in systems(reading)? {
        if let Some(finding) = of_system(reading, &system, k)? {
            found.push(finding);
        }
    }
    Ok(())
}

fn systems(reading: &Reading) -> Result<Vec<System<'_>>> {
    let mut systems: Vec<System<'_>> = Vec::new();
    for (n, weld) in reading.welds.iter().enumerate() {
        let origin = reading.origin(weld)?;
        let mut one =
            System { doubtful: matches!(origin.certainty, "unknown" | "contradicted"), ..System::default() };
        one.welds.insert(n);
        one.joints.insert(cell(weld, "joint"));
        one.slips.extend(origin.sources.iter().map(|slip| (slip.slip.as_str(), *slip)));
        let named = reading.held.iter().find(|slip| slip.slip == cell(weld, "slip"));
        one.slips.extend(named.map(|slip| (slip.slip.as_str(), slip)));
        let mut apart = Vec::new();
        for mut other in systems {
            let shares = other.joints.iter().any(|joint| one.joints.contains(joint))
                || other.slips.keys().any(|slip| one.slips.contains_key(slip));
            if shares {
                one.slips.append(&mut other.slips);
                one.joints.append(&mut other.joints);
                one.welds.append(&mut other.welds);
                one.doubtful |= other.doubtful;
            } else {
                apart.push(other);
            }
        }
        apart.push(one);
        systems = apart;
    }
    Ok(systems)
}

fn of_system(reading: &Reading, system: &System<'_>, k: f64) -> Result<Option<Finding>> {
    if system.doubtful || system.slips.is_empty() || system.slips.values().any(|slip| !slip.closed) {
        return Ok(None);
    }
    let mut balance = Mass::default();
    for joint in &system.joints {
        let Some(row) = reading.joints.get(*joint) else { return Ok(None) };
        let (Some(needed), Some(u)) = (grams(cell(row, "needed_g")), grams(cell(row, "needed_u_g"))) else {
            return Ok(None);
        };
        if cell(row, "finished_at").is_empty() {
            return Ok(None);
        }
        let parts = BTreeMap::from([("needed".to_owned(), u)]);
        balance.add(-1.0, &Mass { mg: needed, parts });
    }
    // A repair, a temporary weld or a cut-out takes metal that nobody drew.
    let plain = |n: &usize| {
        let cycle = reading.welds.get(*n).map_or("", |weld| cell(weld, "cycle"));
        matches!(cycle, "" | "original" | "tack")
    };
    let mut may_be_short = system.welds.iter().all(plain);
    let cut_out = |n: &usize| reading.welds.get(*n).is_some_and(|weld| cell(weld, "cycle") == "cut-out");
    let may_be_over = !system.welds.iter().any(cut_out);
    for slip in system.slips.values() {
        let Some(issued) = mass(reading, slip, &slip.quantity, true, "issue")? else { return Ok(None) };
        balance.add(1.0, &issued);
        for (n, out) in slip.outs.iter().enumerate() {
            match mass(reading, slip, &out.quantity, false, &n.to_string())? {
                Some(left) => balance.add(-1.0, &left),
                None => may_be_short = false,
            }
        }
        match stubs(reading, slip)? {
            Some(stubs) => balance.add(-1.0, &stubs),
            None => may_be_short = false,
        }
    }
    let beyond = k * balance.u();
    let code = if balance.mg < -beyond && may_be_over {
        "mass-over"
    } else if balance.mg > beyond && may_be_short {
        "mass-short"
    } else {
        return Ok(None);
    };
    Ok(Some(finding(reading, system, code)))
}

fn finding(reading: &Reading, system: &System<'_>, code: &'static str) -> Finding {
    let the_one = |names: BTreeSet<&str>| -> String {
        match names.first() {
            Some(name) if names.len() == 1 => (*name).to_owned(),
            Some(_) | None => String::new(),
        }
    };
    let mut causes: Vec<(&str, usize)> =
        system.slips.values().filter_map(|slip| slip.made_by.split_once(':')).filter_map(place).collect();
    causes.extend(system.welds.iter().map(|n| ("welds.csv", n + 2)));
    causes.sort_unstable();
    let cause: Vec<String> = causes.iter().map(|(file, row)| format!("{file}:{row}")).collect();
    let welders = system.welds.iter().filter_map(|n| reading.welds.get(*n)).map(|weld| cell(weld, "welder"));
    let holders = system.slips.values().map(|slip| slip.welder.as_str());
    Finding {
        code,
        severity: "act",
        cause: cause.join(";"),
        joint: the_one(system.joints.clone()),
        lot: the_one(system.slips.values().map(|slip| slip.lot.as_str()).collect()),
        slip: the_one(system.slips.keys().copied().collect()),
        welder: the_one(holders.chain(welders).collect()),
    }
}

fn place<'t>((file, row): (&'t str, &'t str)) -> Option<(&'t str, usize)> {
    Some((file, row.parse().ok()?))
}

/// Milligrams of grams as written; none where nothing is.
fn grams(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().map(|grams| grams * 1000.0)
}

/// a/√3, of a value anywhere within ± a.
fn u(half_width: f64) -> f64 {
    half_width / 3.0_f64.sqrt()
}

/// One piece: its mass, the errors that all pieces of the lot share, and that of the length apart.
fn piece(reading: &Reading, slip: &Held) -> Result<Option<(Mass, f64)>> {
    let lot = reading.lot(&slip.lot)?;
    let mg = piece_mg(lot)? as f64;
    if mg == 0.0 {
        return Ok(None);
    }
    let code = &slip.lot;
    let declared = !cell(lot, "piece_g").is_empty();
    let (parts, by_length) = if declared {
        (BTreeMap::from([(format!("piece {code}"), u(0.005 * mg))]), 0.0)
    } else {
        let density = match cell(lot, "classification") {
            "ER308L" | "ER309L" | "ER316L" | "ER308/ER308L" => 7.93,
            "ERNiCrMo-3" => 8.44,
            "ER2209" => 7.80,
            _ => 7.85,
        };
        let Some((diameter, length)) = measures(cell(lot, "size")) else { return Ok(None) };
        let parts = BTreeMap::from([
            (format!("diameter {code}"), 2.0 * mg * u(0.05) / diameter),
            (format!("density {density}"), mg * u(0.05) / density),
        ]);
        (parts, mg * u(6.35) / length)
    };
    Ok(Some((Mass { mg, parts }, by_length)))
}

/// Diameter and length of a rod in millimetres.
fn measures(size: &str) -> Option<(f64, f64)> {
    let one = |text: &str| -> Option<f64> {
        let (number, unit) = text.split_once(' ')?;
        let value = match number.split_once('/') {
            Some((above, below)) => above.parse::<f64>().ok()? / below.parse::<f64>().ok()?,
            None => number.parse().ok()?,
        };
        Some(if unit == "in" { 25.4 * value } else { value })
    };
    let (diameter, length) = size.split_once(" x ")?;
    Some((one(diameter)?, one(length)?))
}

fn mass(reading: &Reading, slip: &Held, quantity: &str, is_issue: bool, which: &str) -> Result<Option<Mass>> {
    let (unit, n) = amount(quantity)?;
    let n = n as f64;
    if unit == Unit::Milligrams {
        let parts = BTreeMap::from([(format!("weighing {which} {}", slip.slip), u(0.005 * n))]);
        return Ok(Some(Mass { mg: n, parts }));
    }
    let spool = cell(reading.lot(&slip.lot)?, "form") == "spool";
    let (issued_in, _) = amount(&slip.quantity)?;
    if unit != issued_in || spool != (unit == Unit::Spools) {
        return Ok(None);
    }
    let Some((piece, by_length)) = piece(reading, slip)? else { return Ok(None) };
    let mut mass = Mass::default();
    mass.add(n, &piece);
    mass.parts.insert(format!("length {}", slip.lot), n * by_length);
    // A bundle is not counted out: half a rod.
    let count = if is_issue && !spool { 0.5 * piece.mg } else { 0.0 };
    mass.parts.insert(format!("count {which} {}", slip.slip), count);
    Ok(Some(mass))
}

/// Stubs of 2 in, give or take 1 in.
fn stubs(reading: &Reading, slip: &Held) -> Result<Option<Mass>> {
    let lot = reading.lot(&slip.lot)?;
    let account = slip.account(lot)?;
    if cell(lot, "form") == "spool" || account.stubs.is_none() && account.out >= account.issued {
        return Ok(Some(Mass::default()));
    }
    let Some(count) = account.stubs else { return Ok(None) };
    let count = count as f64;
    if count == 0.0 {
        return Ok(Some(Mass::default()));
    }
    let (Some((piece, _)), Some((_, length))) = (piece(reading, slip)?, measures(cell(lot, "size"))) else {
        return Ok(None);
    };
    let mut mass = Mass::default();
    mass.add(count * 50.8 / length, &piece);
    mass.parts.insert("stub".to_owned(), count * piece.mg * u(25.4) / length);
    Ok(Some(mass))
}

/// The two-sided 5 % point shared among so many checks (Šidák), and 2 at the least. The quantile by halving over the tail
/// of the normal distribution, integrated by Simpson's rule.
fn threshold(checks: usize) -> f64 {
    let tail = (1.0 - 0.95_f64.powf(1.0 / checks.max(1) as f64)) / 2.0;
    let (mut low, mut high) = (0.0_f64, 10.0_f64);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if upper_tail(middle) > tail { low = middle } else { high = middle }
    }
    high.max(2.0)
}

/// The chance of a standard normal number above `z`.
fn upper_tail(z: f64) -> f64 {
    let density = |x: f64| (-x * x / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let (steps, end) = (2000_u32, 12.0);
    let width = (end - z) / f64::from(steps);
    let weighted = (0..=steps).map(|n| {
        let weight = if n == 0 || n == steps {
            1.0
        } else if n % 2 == 1 {
            4.0
        } else {
            2.0
        };
        weight * density(z + f64::from(n) * width)
    });
    weighted.sum::<f64>() * width / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two-sided 5 % and 0.1 % points of the normal distribution: 1.95996 and 3.29053 (any table of it).
    #[test]
    fn the_tail_is_that_of_the_normal_distribution() {
        assert!((upper_tail(1.959_963_985) - 0.025).abs() < 1e-9);
        assert!((upper_tail(3.290_526_731) - 0.0005).abs() < 1e-10);
        assert!((threshold(1) - 2.0).abs() < 1e-9);
        assert!((threshold(12) - 2.857_84).abs() < 1e-4);
    }
}
