//! Counting what went out against what came back, slip by slip, and what the weld records say was used of it.

use super::finding::{Finding, mass};
use super::findings;
use super::joint_trace::{self, Record, WeldTrace};
use super::lot;
use super::mass_check::{self, Group, MassCheck, system};
use super::reading::Reading;
use super::slip::{SlipAndLot, Way};
use super::where_used::{slips_of_lot, welds_during, welds_naming_slip};
use crate::error::{Error, Result};
use crate::log::Place;
use record::event::{Condition, JointWelded};
use record::id::{JointId, PersonId, SlipId};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use trace::{Account, Measure, NotChecked, Total, Verdict};

/// Which slips are counted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// This one.
    Slip(String),
    /// Those of this welder.
    Welder(String),
    /// Those that are sources of a weld record of this joint.
    Joint(String),
    /// Those of this lot.
    Lot(String),
    /// Those that are sources of a weld record of a joint of this job.
    Job(String),
    /// Those that begin in the shop's shift that begins at this time.
    Shift(String),
    /// All of the book; only those that are short or over are listed.
    All,
}

/// The answer: the count, which is exact, and the masses, which are coarse.
#[derive(Clone, Debug)]
pub struct Reconciliation {
    /// The count.
    pub count: Counted,
    /// Slips that may belong to the shift or not, because their hour is not known; they are not counted.
    pub perhaps: Vec<String>,
    /// The masses of all of them together.
    pub mass: MassCheck,
    /// The closed systems of the book; only with [`Asked::All`].
    pub systems: Option<Systems>,
}

/// The count of slips.
#[derive(Clone, Debug)]
pub struct Counted {
    /// The slips, by issue, then number; with [`Asked::All`] only those that are short or over.
    pub rows: Vec<Row>,
    /// Sums over all slips that were counted, listed or not.
    pub all: Sums,
    /// Sums per lot, by code.
    pub lots: Vec<(String, Sums)>,
    /// Sums per welder, by badge.
    pub welders: Vec<(String, Sums)>,
    /// How many of them the count says nothing of, for each reason.
    pub not_checked: Vec<(NotChecked, usize)>,
}

/// The closed systems of the book: slips and joints that belong to each other alone, each checked by mass.
#[derive(Clone, Debug)]
pub struct Systems {
    /// How many there are.
    pub checked: usize,
    /// For how many checks their threshold is meant: there can be no more.
    pub checks: u32,
    /// What the check found, whether or not it was disposed of.
    pub found: Vec<Finding>,
}

/// Sums in each measure that some of the slips are kept in.
#[derive(Clone, Debug)]
pub struct Sums {
    /// How many slips there are, in either measure or none.
    pub slips: usize,
    /// Of those counted in pieces, if any.
    pub pieces: Option<Total>,
    /// Of those weighed, if any.
    pub mg: Option<Total>,
}

/// The count of one slip.
#[derive(Clone, Debug)]
pub struct Row {
    /// The slip.
    pub view: SlipAndLot,
    /// The figures; none where what was issued and what left are not known in one measure.
    pub account: Option<Account>,
    /// Of what was returned, that with every mark legible, in the account's measure.
    pub returned_marked: i128,
    /// Of what was returned, the rest: unmarked, damaged, wet, or nobody wrote down how.
    pub returned_otherwise: i128,
    /// What the count says.
    pub verdict: Verdict,
    /// What weld records say was used of it.
    pub recorded: Recorded,
    /// Joints that it can have fed, by number; looked up only where joints were asked about.
    pub joints: Vec<String>,
}

/// What weld records say was used of a slip: those that name it, and those of its holder during its custody that name
/// its lot and no slip.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Recorded {
    /// How many weld records.
    pub records: usize,
    /// What they say in all, in the account's measure.
    pub used: i128,
    /// How many of them do not say how much, or not in that measure.
    pub not_said: usize,
    /// How many of them name the lot while another slip of it was in the same hands: they count for each such slip.
    pub shared: usize,
}

impl Reading<'_> {
    /// Counts slips.
    ///
    /// # Errors
    /// When what is asked about is not in the book.
    pub fn reconcile(&self, asked: &Asked) -> Result<Reconciliation> {
        let mut perhaps = Vec::new();
        let (ids, with_joints) = match asked {
            Asked::Slip(number) => (vec![self.find_slip(number)?.slip.id], false),
            Asked::Welder(badge) => (slips_of_holder(self, self.find_person(badge)?.id)?, false),
            Asked::Lot(typed) => (slips_of_lot(self, lot::one(self, typed)?.id)?, false),
            Asked::Joint(number) => (sources_of(self, [self.find_joint(number)?.id])?, true),
            Asked::Job(job) => (sources_of(self, joints_of_job(self, job)?)?, true),
            Asked::Shift(typed) => {
                let (within, rest) = slips_of_shift(self, typed)?;
                perhaps = rest;
                (within, false)
            }
            Asked::All => (every_slip(self)?, false),
        };
        let all = *asked == Asked::All;
        let (mass, systems) =
            if all { masses_of_book(self, &ids)? } else { (self.mass_check(ids.clone())?, None) };
        let count = count(self, ids, with_joints, all)?;
        Ok(Reconciliation { count, perhaps, mass, systems })
    }
}

/// The masses of the whole book, and of its closed systems.
fn masses_of_book(reading: &Reading<'_>, slips: &[SlipId]) -> Result<(MassCheck, Option<Systems>)> {
    let mut systems = Systems { checked: 0, checks: 0, found: Vec::new() };
    let mut book = Group { slips: slips.iter().copied().collect(), ..Group::default() };
    if reading.any_need()? {
        let links = findings::mass_links(reading)?;
        for link in &links {
            book.joints.entry(link.joint).or_default().push(link.clone());
        }
        let closed = system::all(reading, links)?;
        systems.checked = closed.len();
        systems.checks = system::most(reading)?;
        for system in &closed {
            systems.found.extend(mass::of_system(reading, system)?);
        }
        systems.found.sort_by_key(|f| (f.code, f.id));
    }
    Ok((mass_check::check(reading, &book, 1)?, Some(systems)))
}

/// The slips that begin in the shift that begins at the time typed, and the numbers of those that may or may not.
fn slips_of_shift(reading: &Reading<'_>, typed: &str) -> Result<(Vec<SlipId>, Vec<String>)> {
    let not_a_shift = |next: String| Error::NotUnderstood {
        message: format!("{typed:?} is not the beginning of a shift"),
        next,
    };
    let at = record::time::read(typed, reading.zone(), &[]).map_err(|e| {
        not_a_shift(format!("{e}; write the time that the shift begins, such as 2026-03-02 06:00"))
    })?;
    let shifts = reading.shifts()?;
    let Some((from, to)) = shifts.iter().find_map(|shift| reading.zone().shift_from(at.from, shift)) else {
        let known: Vec<String> = shifts.iter().map(|shift| format!("{}-{}", shift.from, shift.to)).collect();
        return Err(not_a_shift(if known.is_empty() {
            "the book has no shifts; declare them with rodbook shifts".into()
        } else {
            format!("the shop's shifts are {}; write the day and the time that one begins", known.join(", "))
        }));
    };
    let (mut within, mut perhaps) = (Vec::new(), Vec::new());
    for id in every_slip(reading)? {
        let slip = reading.slip(id)?;
        let (first, last) = (slip.issued.from, slip.issued.to.max(slip.issued.from));
        if from <= first && last <= to {
            within.push(id);
        } else if first <= to && from <= last {
            perhaps.push(slip.number.clone());
        }
    }
    perhaps.sort();
    Ok((within, perhaps))
}

fn count(reading: &Reading<'_>, ids: Vec<SlipId>, with_joints: bool, only_uneven: bool) -> Result<Counted> {
    let mut rows = Vec::new();
    let mut accounts: Vec<(String, String, Option<Account>)> = Vec::new();
    let mut not_checked: BTreeMap<NotChecked, usize> = BTreeMap::new();
    for id in ids {
        let view = reading.slip_and_lot(id)?;
        let account = account(reading, &view)?;
        let verdict = Verdict::of(account.as_ref());
        accounts.push((view.lot.received.code.clone(), view.slip.holder.badge.clone(), account));
        let uneven = match verdict {
            Verdict::Short(_) | Verdict::Over(_) => true,
            Verdict::Balanced => false,
            Verdict::NotChecked(why) => {
                *not_checked.entry(why).or_default() += 1;
                false
            }
        };
        if only_uneven && !uneven {
            continue;
        }
        let measure = account.map(|a| a.measure);
        let (returned_marked, returned_otherwise) = returned(reading, &view, measure)?;
        let records = weld_records(reading, &view)?;
        rows.push(Row {
            recorded: recorded(reading, &view, measure, &records)?,
            joints: if with_joints { joints_fed(reading, &view, &records)? } else { Vec::new() },
            view,
            account,
            returned_marked,
            returned_otherwise,
            verdict,
        });
    }
    rows.sort_by(|a, b| {
        let key = |row: &Row| (row.view.slip.issued.from, row.view.slip.number.clone(), row.view.slip.id);
        key(a).cmp(&key(b))
    });
    let all = sums(accounts.iter().map(|(_, _, account)| account.as_ref()));
    let grouped = |name: fn(&(String, String, Option<Account>)) -> &String| -> Vec<(String, Sums)> {
        let mut groups: BTreeMap<&String, Vec<Option<&Account>>> = BTreeMap::new();
        for slip in &accounts {
            groups.entry(name(slip)).or_default().push(slip.2.as_ref());
        }
        groups.into_iter().map(|(name, of)| (name.clone(), sums(of.into_iter()))).collect()
    };
    Ok(Counted {
        rows,
        all,
        lots: grouped(|slip| &slip.0),
        welders: grouped(|slip| &slip.1),
        not_checked: not_checked.into_iter().collect(),
    })
}

/// The account of a slip. Stubs are those counted at any of its returns.
fn account(reading: &Reading<'_>, view: &SlipAndLot) -> Result<Option<Account>> {
    let traced = reading.traced(view.slip.id)?;
    Ok(trace::account(&traced.amount, &traced.outs, stubs(view), view.custody.to.is_some()))
}

/// Stubs counted at the returns of a slip, if anybody counted. A count below nothing was no count.
fn stubs(view: &SlipAndLot) -> Option<i64> {
    view.slip
        .outs
        .iter()
        .filter_map(|out| match &out.way {
            Way::Returned(e) => e.stubs.value().copied().filter(|n| *n >= 0),
            Way::HandedOver(_) | Way::Scrapped(_) => None,
        })
        .reduce(i64::saturating_add)
}

/// What was returned with every mark legible, and otherwise.
fn returned(reading: &Reading<'_>, view: &SlipAndLot, measure: Option<Measure>) -> Result<(i128, i128)> {
    let traced = reading.traced(view.slip.id)?;
    let (mut marked, mut otherwise) = (0_i128, 0_i128);
    for (leaving, out) in view.slip.outs.iter().zip(&traced.outs) {
        let Way::Returned(e) = &leaving.way else {
            continue;
        };
        let amount = match measure {
            Some(Measure::Pieces) => out.amount.pieces,
            Some(Measure::Mg) => out.amount.mg,
            None => None,
        };
        let sum = match e.condition.value() {
            Some(Condition::Marked) => &mut marked,
            Some(Condition::Unmarked | Condition::Damaged | Condition::Wet) | None => &mut otherwise,
        };
        *sum = sum.saturating_add(i128::from(amount.unwrap_or(0).max(0)));
    }
    Ok((marked, otherwise))
}

/// Weld records of the holder during the custody, and those that name the slip.
fn weld_records(reading: &Reading<'_>, view: &SlipAndLot) -> Result<Vec<Rc<Record>>> {
    let mut places = welds_during(reading, view)?;
    places.extend(welds_naming_slip(reading, view.slip.id)?);
    places.sort_unstable();
    places.dedup();
    places.into_iter().map(|place| reading.record(Place(place))).collect()
}

fn recorded(
    reading: &Reading<'_>,
    view: &SlipAndLot,
    measure: Option<Measure>,
    records: &[Rc<Record>],
) -> Result<Recorded> {
    let mut recorded = Recorded::default();
    for found in records {
        let record = &found.record;
        let by_slip = record.slip.value().map(|slip| slip.slip == view.slip.id);
        let by_lot = record.lot.value().is_some_and(|lot| lot.lot == view.lot.id);
        if !by_slip.unwrap_or(by_lot) {
            continue;
        }
        recorded.records += 1;
        let used = record.used.value().and_then(|used| match measure? {
            Measure::Pieces => view.slip.counts(used),
            Measure::Mg => view.lot.mass_mg(used),
        });
        match used.filter(|used| *used >= 0) {
            Some(used) => recorded.used = recorded.used.saturating_add(i128::from(used)),
            None => recorded.not_said += 1,
        }
        if by_slip.is_none() && another_of_the_lot(reading, view, record)? {
            recorded.shared += 1;
        }
    }
    Ok(recorded)
}

/// Whether the holder had another slip of the same lot during a weld record.
fn another_of_the_lot(reading: &Reading<'_>, view: &SlipAndLot, record: &JointWelded) -> Result<bool> {
    let (from, to) = record.covers();
    for id in reading.slips_held(view.slip.holder.person, from, to)? {
        let other = reading.slip_and_lot(id)?;
        let held = other.custody.from <= to && other.custody.to.is_none_or(|end| from <= end);
        if id != view.slip.id && other.lot.id == view.lot.id && held {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Numbers of the joints of which the slip is a source.
fn joints_fed(reading: &Reading<'_>, view: &SlipAndLot, records: &[Rc<Record>]) -> Result<Vec<String>> {
    let mut numbers = BTreeSet::new();
    for found in records {
        for joint in found.joints() {
            let weld = joint_trace::of_record(reading, found, joint)?;
            if feeds(&weld).any(|source| source.slip.id == view.slip.id) {
                numbers.insert(reading.joint(joint)?.declared.number.clone());
            }
        }
    }
    Ok(numbers.into_iter().collect())
}

/// Slips that fed a weld record as far as the record says: its sources, and flux.
fn feeds(weld: &WeldTrace) -> impl Iterator<Item = &SlipAndLot> {
    weld.sources.iter().chain(&weld.flux)
}

/// The slips that are sources of the weld records of these joints.
fn sources_of(reading: &Reading<'_>, joints: impl IntoIterator<Item = JointId>) -> Result<Vec<SlipId>> {
    let mut slips = BTreeSet::new();
    for joint in joints {
        for weld in joint_trace::of_joint(reading, joint)?.welds {
            slips.extend(feeds(&weld).map(|source| source.slip.id));
        }
    }
    Ok(slips.into_iter().collect())
}

/// The joints of a job.
fn joints_of_job(reading: &Reading<'_>, job: &str) -> Result<Vec<JointId>> {
    let mut statement = reading.conn().prepare_cached("SELECT DISTINCT joint FROM fact_joint")?;
    let ids = statement
        .query_map([], |row| row.get(0).map(JointId::from_bytes))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut joints = Vec::new();
    let mut near: BTreeSet<String> = BTreeSet::new();
    for id in ids {
        let joint = reading.joint(id)?;
        if let Some(of) = joint.declared.job.value() {
            if of == job.trim() {
                joints.push(id);
            } else if of.to_lowercase().contains(&job.trim().to_lowercase()) {
                near.insert(of.clone());
            }
        }
    }
    if joints.is_empty() {
        return Err(Error::NotFound {
            what: "job",
            label: job.to_owned(),
            near: near.into_iter().take(6).collect(),
        });
    }
    Ok(joints)
}

/// The slips of a holder that stand.
fn slips_of_holder(reading: &Reading<'_>, holder: PersonId) -> Result<Vec<SlipId>> {
    standing_slips(
        reading,
        "SELECT slip, place FROM fact_slip WHERE holder = ?1 ORDER BY slip",
        [holder.bytes()],
    )
}

/// Every slip that stands.
fn every_slip(reading: &Reading<'_>) -> Result<Vec<SlipId>> {
    standing_slips(reading, "SELECT slip, place FROM fact_slip ORDER BY slip", [])
}

fn standing_slips(reading: &Reading<'_>, sql: &str, values: impl rusqlite::Params) -> Result<Vec<SlipId>> {
    let mut statement = reading.conn().prepare_cached(sql)?;
    let mut slips = Vec::new();
    let mut rows = statement.query(values)?;
    while let Some(row) = rows.next()? {
        if reading.stands(Place(row.get(1)?)) {
            slips.push(SlipId::from_bytes(row.get(0)?));
        }
    }
    slips.dedup();
    Ok(slips)
}

fn sums<'a>(accounts: impl Iterator<Item = Option<&'a Account>>) -> Sums {
    let accounts: Vec<Option<&Account>> = accounts.collect();
    let total = |measure| {
        let total = trace::account::sum(measure, accounts.iter().copied());
        (total.slips > 0).then_some(total)
    };
    Sums { slips: accounts.len(), pieces: total(Measure::Pieces), mg: total(Measure::Mg) }
}
