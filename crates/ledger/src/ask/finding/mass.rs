//! What the mass check of a closed system gives to look at.

use super::Finding;
use crate::ask::mass_check::system::flagged;
use crate::ask::mass_check::{Group, Half, MassCheck};
use crate::ask::reading::{Joint, Reading};
use crate::error::Result;
use record::finding::{Code, Severity};
use record::{EntryId, rules};
use std::collections::BTreeSet;
use std::rc::Rc;
use trace::mass_check::{Side, Verdict};

/// How many numbers are written out before the rest is counted.
const WRITTEN_OUT: usize = 4;

/// The finding of a closed system, if its masses do not agree.
pub(crate) fn of_system(reading: &Reading<'_>, system: &Group) -> Result<Option<Finding>> {
    let Some(check) = flagged(reading, system)? else { return Ok(None) };
    let slips = system.slips.iter().map(|slip| reading.slip_and_lot(*slip)).collect::<Result<Vec<_>>>()?;
    let joints = system.joints.keys().map(|id| reading.joint(*id)).collect::<Result<Vec<Rc<Joint>>>>()?;
    let mut entries: Vec<EntryId> =
        slips.iter().map(|view| reading.origin_id(view.slip.place)).collect::<Result<_>>()?;
    let mut welders = BTreeSet::new();
    for link in system.joints.values().flatten() {
        entries.push(reading.origin_id(link.place)?);
        welders.insert(reading.record(link.place)?.record.welder.badge.clone());
    }
    welders.extend(slips.iter().map(|view| view.slip.holder.badge.clone()));
    let numbers: BTreeSet<&str> = slips.iter().map(|view| view.slip.number.as_str()).collect();
    let lots: BTreeSet<&String> = slips.iter().map(|view| &view.lot.received.code).collect();
    let at: BTreeSet<&str> = joints.iter().map(|joint| joint.declared.number.as_str()).collect();
    let of = format!("{} and {}", named("slip", &numbers), named("joint", &at));
    let Some((code, why)) = said(&check, &of) else { return Ok(None) };
    let mut finding = Finding::new(code, Severity::Act, entries, why);
    let all: Vec<&Joint> = joints.iter().map(Rc::as_ref).collect();
    finding = finding.at_joints(&all);
    // Named only where it is the only one.
    finding.joint = finding.joint.filter(|_| all.len() == 1);
    finding.slip = only(&numbers).map(|number| (*number).to_owned());
    Ok(Some(finding.of_lot(only(&lots).copied()).of_welder(only(&welders))))
}

/// The one of a set.
fn only<T: Ord>(set: &BTreeSet<T>) -> Option<&T> {
    set.first().filter(|_| set.len() == 1)
}

/// `slip S-1`, `slips S-1, S-2`, `7 slips (S-1, S-2, S-3, S-4 and 3 more)`
fn named(word: &str, numbers: &BTreeSet<&str>) -> String {
    let all: Vec<&str> = numbers.iter().copied().collect();
    match all.as_slice() {
        [one] => format!("{word} {one}"),
        few if few.len() <= WRITTEN_OUT => format!("{word}s {}", few.join(", ")),
        many => {
            let begin: Vec<&str> = many.iter().copied().take(WRITTEN_OUT).collect();
            let more = many.len().saturating_sub(begin.len());
            format!("{} {word}s ({} and {more} more)", many.len(), begin.join(", "))
        }
    }
}

fn said(check: &MassCheck, of: &str) -> Option<(Code, String)> {
    let (code, half, how, mg) = match check.verdict() {
        Verdict::Over(mg) => (Code::MassOver, &check.over, "more is in the joints than was out", mg),
        Verdict::Short(mg) => (Code::MassShort, &check.short, "more was out than the joints explain", mg),
        Verdict::Within | Verdict::NotChecked(_) => return None,
    };
    let Half { balance, checked, .. } = half;
    let out = Side::ALL
        .into_iter()
        .filter(|side| match side {
            Side::HandedOver | Side::Returned | Side::Stubs | Side::Scrapped => balance.side_mg(*side) != 0,
            Side::Issued | Side::Needed => true,
        })
        .map(|side| format!("{} {}", shown(balance.side_mg(side)), said_of(side)))
        .collect::<Vec<_>>()
        .join(", ");
    Some((
        code,
        format!(
            "By mass, of {of}, {} {how}: {out}. That is beyond the {} of its uncertainty (k {}); the smallest discrepancy \
             that would have been found in 95 of 100 cases is {}.",
            shown(mg),
            shown(checked.threshold_mg),
            milli(checked.k_milli),
            shown(checked.detectable_mg)
        ),
    ))
}

/// The word for a side in a sentence.
fn said_of(side: Side) -> &'static str {
    match side {
        Side::Issued => "issued",
        Side::HandedOver => "handed over",
        Side::Returned => "back",
        Side::Stubs => "in stubs",
        Side::Scrapped => "scrapped",
        Side::Needed => "needed",
    }
}

fn shown(mg: i128) -> String {
    i64::try_from(mg).map_or_else(|_| format!("{mg} mg"), rules::shown_mass)
}

/// Thousandths as a decimal: `2.57` of 2570, with no zeros at the end.
fn milli(milli: i128) -> String {
    let whole = milli.checked_div(1000).unwrap_or(0);
    let part = format!("{:03}", milli.checked_rem(1000).unwrap_or(0));
    let part = part.trim_end_matches('0');
    if part.is_empty() { whole.to_string() } else { format!("{whole}.{part}") }
}
