//! The findings that the stories leave, against those that the files show.

use std::collections::{BTreeMap, BTreeSet};

use anyhow::{Context as _, Result, bail};

use super::book::{Book, Key, SlipKey};
use super::findings::Finding;

/// What makes a finding.
#[derive(Debug, Clone, Copy)]
pub(super) enum Cause {
    Weld(Key),
    /// An issue or a hand-over, whichever made the slip.
    Slip(SlipKey),
    Return(Key),
    Check(Key),
    Joint(&'static str),
    /// A joint with its weld records and the slips that were asked for it alone.
    System(&'static str),
    Lots(&'static str, &'static str),
    /// The place in the list of found wire.
    Found(usize),
}

/// A finding that the shop must show.
#[derive(Debug)]
pub(super) struct Plant {
    pub(super) code: &'static str,
    pub(super) severity: &'static str,
    pub(super) cause: Cause,
    /// Short name of what went wrong; findings of one mishap share it.
    pub(super) mishap: &'static str,
    pub(super) story: &'static str,
}

/// `file.csv:row` of the making entry, the header being row 1; of a pair both, joined with `;`.
fn cause(book: &Book, cause: Cause) -> Result<String> {
    let row = |file: &str, place: Option<usize>| -> Result<String> {
        Ok(format!("{file}:{}", place.with_context(|| format!("a cause is not in {file}"))? + 2))
    };
    let lot_row = |code: &str| row("lots.csv", book.shop.lots.iter().position(|l| l.code == code));
    Ok(match cause {
        Cause::Weld(key) => format!("welds.csv:{}", book.weld_row(key)?),
        Cause::Return(key) => format!("returns.csv:{}", book.return_row(key)?),
        Cause::Check(key) => format!("spot_checks.csv:{}", book.check_row(key)?),
        Cause::Slip(key) => {
            let number = &book.slip(key)?.number;
            match book.issued().iter().position(|s| s.number == *number) {
                Some(place) => row("issues.csv", Some(place))?,
                None => {
                    row("hand_overs.csv", book.handed_over()?.iter().position(|(_, s)| s.number == *number))?
                }
            }
        }
        Cause::Joint(name) => row("joints.csv", book.joints.iter().position(|j| j.name == name))?,
        Cause::System(name) => {
            let slips = book.issued().into_iter().enumerate().filter(|(_, slip)| slip.joints == name);
            let welds = book.weld_rows(name);
            let rows = slips.map(|(n, _)| format!("issues.csv:{}", n + 2));
            rows.chain(welds.into_iter().map(|row| format!("welds.csv:{row}"))).collect::<Vec<_>>().join(";")
        }
        Cause::Lots(first, second) => format!("{};{}", lot_row(first)?, lot_row(second)?),
        Cause::Found(place) => row("found_wire.csv", (place < book.found.len()).then_some(place))?,
    })
}

/// Lines of `planted.csv`, sorted; refused unless the files show exactly the planted findings.
pub(super) fn lines(book: &Book, plants: &[Plant], shown: &[Finding]) -> Result<Vec<[String; 9]>> {
    let mut planted = BTreeMap::new();
    for plant in plants {
        let at = (plant.code, cause(book, plant.cause)?);
        if planted.insert(at.clone(), plant).is_some() {
            bail!("{at:?} is planted twice");
        }
    }
    let told = |code: &str, cause: &str, severity: &str| format!("{code} {severity} {cause}");
    let shown_keys: BTreeSet<String> = shown.iter().map(|f| told(f.code, &f.cause, f.severity)).collect();
    let planted_keys: BTreeSet<String> =
        planted.iter().map(|((code, cause), p)| told(code, cause, p.severity)).collect();
    let missing: Vec<&String> = planted_keys.difference(&shown_keys).take(20).collect();
    let extra: Vec<&String> = shown_keys.difference(&planted_keys).take(20).collect();
    if !missing.is_empty() || !extra.is_empty() {
        bail!("planted and not shown: {missing:#?}; shown and not planted: {extra:#?}");
    }
    let mut lines = Vec::new();
    for finding in shown {
        let plant = planted
            .get(&(finding.code, finding.cause.clone()))
            .with_context(|| format!("{finding:?} is not planted"))?;
        lines.push([
            finding.code.to_owned(),
            finding.severity.to_owned(),
            finding.cause.clone(),
            finding.joint.clone(),
            finding.lot.clone(),
            finding.slip.clone(),
            finding.welder.clone(),
            plant.mishap.to_owned(),
            plant.story.to_owned(),
        ]);
    }
    lines.sort();
    Ok(lines)
}
