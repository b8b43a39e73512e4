//! The mass check of a group of slips: of a slip, a welder, a shift, a joint, a lot, a job, or of a closed system.
//!
//! Slips are not divided among joints, so a group has two balances. *Over*: what left the crib against the joints that can
//! have nothing else in them. *Short*: what the group used against all joints that it can have fed, each counted whole.
//! Both lean toward saying nothing; where slips and joints belong to each other alone, they are one.

pub(crate) mod joint_need;
mod slip_mass;
pub mod starting_values;
pub(crate) mod system;

use super::reading::{Joint, Reading};
use super::where_used::{welds_during, welds_naming_slip};
use crate::error::Result;
use crate::log::Place;
use joint_need::{Link, is_finished, links, needed};
use record::id::{JointId, SlipId};
use slip_mass::SlipMasses;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use trace::mass_check::{Checked, MassBalance, NotChecked, Side, Verdict};

/// The mass check of a group.
#[derive(Clone, Debug)]
pub struct MassCheck {
    /// How many slips are in it; flux is left out.
    pub slips: usize,
    /// How many groups were checked together.
    pub checks: u32,
    /// Whether more is in the joints than was out.
    pub over: Half,
    /// Whether more was out than the joints explain.
    pub short: Half,
    /// Joints that it can have fed and that say nothing of whether there is too much in them, by number.
    pub left_out: Vec<String>,
}

/// One of its two balances.
#[derive(Clone, Debug)]
pub struct Half {
    /// The masses.
    pub balance: MassBalance,
    /// What they say to the question of this one.
    pub checked: Checked,
    /// The joints whose need is in it, by number.
    pub joints: Vec<String>,
    /// Everything that is missing, where it says nothing.
    pub lacking: Vec<NotChecked>,
}

impl MassCheck {
    /// What the two say together. *Within* where one of them was checked and neither flags.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        match (self.over.checked.verdict, self.short.checked.verdict) {
            (Verdict::Over(mg), _) => Verdict::Over(mg),
            (_, Verdict::Short(mg)) => Verdict::Short(mg),
            (Verdict::NotChecked(why), Verdict::NotChecked(_)) => Verdict::NotChecked(why),
            (
                Verdict::Within | Verdict::Short(_) | Verdict::NotChecked(_),
                Verdict::Within | Verdict::Over(_) | Verdict::NotChecked(_),
            ) => Verdict::Within,
        }
    }

    /// Whether the two are one balance: slips and joints belong to each other alone.
    #[must_use]
    pub fn is_one(&self) -> bool {
        let bare = |half: &Half| half.lacking.is_empty();
        bare(&self.over) && bare(&self.short) && self.over.balance == self.short.balance
    }
}

impl Half {
    /// Asks one question of a balance: what lies beyond the other way is no answer to it.
    fn of(balance: MassBalance, joints: Vec<String>, checks: u32, asks: fn(Verdict) -> bool) -> Self {
        let mut checked = balance.check(checks);
        let mut lacking: BTreeSet<NotChecked> = balance.lacking().collect();
        match checked.verdict {
            // That there is nothing to compare has a reason, where another one is given.
            Verdict::NotChecked(NotChecked::NothingToCompare) if !lacking.is_empty() => {}
            Verdict::NotChecked(why) => _ = lacking.insert(why),
            other @ (Verdict::Short(_) | Verdict::Over(_)) if asks(other) => {}
            Verdict::Within | Verdict::Short(_) | Verdict::Over(_) => checked.verdict = Verdict::Within,
        }
        if let Some(why) = lacking.first() {
            checked.verdict = Verdict::NotChecked(*why);
        }
        Self { balance, checked, joints, lacking: lacking.into_iter().collect() }
    }
}

/// Slips with the joints that they can have fed.
#[derive(Clone, Debug, Default)]
pub(crate) struct Group {
    pub(crate) slips: BTreeSet<SlipId>,
    /// All weld records of each joint.
    pub(crate) joints: BTreeMap<JointId, Vec<Link>>,
}

impl Reading<'_> {
    /// Whether any joint says what metal it needs: most books have none, and then nothing is looked for.
    pub(crate) fn any_need(&self) -> Result<bool> {
        let sql = "SELECT EXISTS (SELECT 1 FROM fact_joint WHERE needed_mg IS NOT NULL)";
        Ok(self.conn().prepare_cached(sql)?.query_row([], |row| row.get(0))?)
    }

    /// The mass check of these slips and of what they can have fed.
    pub(crate) fn mass_check(&self, slips: impl IntoIterator<Item = SlipId>) -> Result<MassCheck> {
        let slips: BTreeSet<SlipId> = slips.into_iter().collect();
        let joints = if self.any_need()? { joints_fed(self, &slips)? } else { BTreeMap::new() };
        check(self, &Group { slips, joints }, 1)
    }
}

/// The joints that slips can have fed, with all weld records of each.
fn joints_fed(reading: &Reading<'_>, slips: &BTreeSet<SlipId>) -> Result<BTreeMap<JointId, Vec<Link>>> {
    let mut fed = BTreeMap::new();
    for slip in slips {
        for link in links_of_slip(reading, *slip)? {
            if let Entry::Vacant(new) = fed.entry(link.joint) {
                let _ = new.insert(links(reading, link.joint)?);
            }
        }
    }
    Ok(fed)
}

/// The weld records, at each of their joints, that a slip can have fed or that name it.
fn links_of_slip(reading: &Reading<'_>, slip: SlipId) -> Result<Vec<Link>> {
    let view = reading.slip_and_lot(slip)?;
    let mut places = welds_during(reading, &view)?;
    places.extend(welds_naming_slip(reading, slip)?);
    places.sort_unstable();
    places.dedup();
    let mut found = Vec::new();
    for place in places {
        let record = reading.record(Place(place))?;
        for joint in record.joints() {
            let link = Link::of_trace(&*reading.weld_trace(&record, joint)?);
            if link.slips.contains(&slip) {
                found.push(link);
            }
        }
    }
    Ok(found)
}

/// Checks a group, when so many are checked together.
pub(crate) fn check(reading: &Reading<'_>, group: &Group, checks: u32) -> Result<MassCheck> {
    let mut over = MassBalance::new();
    let mut slips = 0_usize;
    let mut short_lacks = BTreeSet::new();
    for id in &group.slips {
        let masses = SlipMasses::of(reading, &reading.slip_and_lot(*id)?)?;
        if masses.flux {
            continue;
        }
        slips = slips.saturating_add(1);
        match &masses.issued {
            Ok(mass) => over.add(Side::Issued, mass),
            Err(why) => over.lacks(*why),
        }
        if !masses.closed {
            short_lacks.insert(NotChecked::Open);
        }
        let stubs = masses.stubs.iter().map(|stubs| (Side::Stubs, stubs));
        for (side, mass) in masses.outs.iter().map(|(side, mass)| (*side, mass)).chain(stubs) {
            match mass {
                Ok(mass) => over.add(side, mass),
                // It may all be in the joints: nobody would say that too much is.
                Err(why) => _ = short_lacks.insert(*why),
            }
        }
    }
    let mut short = over.clone();
    for why in short_lacks {
        short.lacks(why);
    }
    let (mut inside, mut all, mut left_out) = (Vec::new(), Vec::new(), Vec::new());
    let mut over_lacks = BTreeSet::new();
    for (id, links) in &group.joints {
        let joint = reading.joint(*id)?;
        let number = joint.declared.number.clone();
        let needed = needed(&joint);
        match over_joint(&joint, links, &group.slips).and_then(|()| needed.clone()) {
            Ok(mass) => {
                over.add(Side::Needed, &mass);
                inside.push(number.clone());
            }
            Err(why) => {
                over_lacks.insert(why);
                left_out.push(number.clone());
            }
        }
        match needed {
            Ok(mass) => short.add(Side::Needed, &mass),
            Err(why) => short.lacks(why),
        }
        let feeds = |link: &Link| link.slips.iter().any(|slip| group.slips.contains(slip));
        if links.iter().any(|link| link.cut_out || link.other_cycle && feeds(link)) {
            short.lacks(NotChecked::OtherCycle);
        }
        all.push(number);
    }
    if group.joints.is_empty() && !reading.any_need()? {
        over_lacks.insert(NotChecked::NeededNotKnown);
        short.lacks(NotChecked::NeededNotKnown);
    }
    if inside.is_empty() {
        for why in over_lacks {
            over.lacks(why);
        }
    }
    for numbers in [&mut inside, &mut all, &mut left_out] {
        numbers.sort();
    }
    Ok(MassCheck {
        slips,
        checks,
        over: Half::of(over, inside, checks, |verdict| matches!(verdict, Verdict::Over(_))),
        short: Half::of(short, all, checks, |verdict| matches!(verdict, Verdict::Short(_))),
        left_out,
    })
}

/// Whether all that a joint needs must have come from these slips: it is finished, and no record of it, of whatever cycle,
/// leaves room for other metal.
fn over_joint(
    joint: &Rc<Joint>,
    links: &[Link],
    slips: &BTreeSet<SlipId>,
) -> std::result::Result<(), NotChecked> {
    if !is_finished(joint, links) {
        return Err(NotChecked::NeededNotKnown);
    }
    // A joint that was cut out does not hold what it needs.
    if links.iter().any(|link| link.cut_out) {
        return Err(NotChecked::OtherCycle);
    }
    if links.iter().any(|link| link.doubtful || !link.slips.is_subset(slips)) {
        return Err(NotChecked::NotApart);
    }
    Ok(())
}
