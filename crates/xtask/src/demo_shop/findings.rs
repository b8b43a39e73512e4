//! The findings of a shop's files by their definitions, computed from [`Reading`] alone.

use std::collections::BTreeMap;

use anyhow::Result;

use super::custody::{Files, Held, Origin, Reading, Row, cell, fits, interval, lots_of, rows, words};
use super::masses;

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Finding {
    pub(super) code: &'static str,
    pub(super) severity: &'static str,
    /// `file.csv:row` of the making entry, of a pair both.
    pub(super) cause: String,
    pub(super) joint: String,
    pub(super) lot: String,
    pub(super) slip: String,
    pub(super) welder: String,
}

impl Finding {
    fn new(code: &'static str, severity: &'static str, cause: &str) -> Self {
        let [joint, lot, slip, welder] = [const { String::new() }; 4];
        Finding { code, severity, cause: cause.to_owned(), joint, lot, slip, welder }
    }

    /// Of a slip: the first joint it was asked for, its lot, its holder.
    fn of_slip(code: &'static str, severity: &'static str, slip: &Held) -> Self {
        Finding {
            joint: slip.joints.first().cloned().unwrap_or_default(),
            lot: slip.lot.clone(),
            slip: slip.slip.clone(),
            welder: slip.welder.clone(),
            ..Finding::new(code, severity, &slip.made_by)
        }
    }

    /// Of a row that may name a joint, a slip and a welder.
    fn of_row(code: &'static str, severity: &'static str, cause: &str, row: &Row) -> Self {
        Finding {
            joint: cell(row, "joint").to_owned(),
            slip: cell(row, "slip").to_owned(),
            welder: cell(row, "welder").to_owned(),
            ..Finding::new(code, severity, cause)
        }
    }

    fn with_lot(self, lot: String) -> Self {
        Finding { lot, ..self }
    }
}

/// The statuses of lots: earliest moment and whether released from then on, sorted.
type Statuses = BTreeMap<String, Vec<(i64, bool)>>;

/// All findings, sorted. Slips that are due are overdue: the quarter is over.
pub(super) fn all(files: &Files) -> Result<Vec<Finding>> {
    let reading = Reading::new(files)?;
    let statuses = statuses(files)?;
    let mut found = Vec::new();
    let mut used: BTreeMap<&str, bool> = BTreeMap::new();
    for (n, weld) in reading.welds.iter().enumerate() {
        let cause = format!("welds.csv:{}", n + 2);
        let origin = reading.origin(weld)?;
        for slip in origin.sources.iter().chain(&origin.flux) {
            used.insert(&slip.slip, true);
        }
        of_weld(&reading, &statuses, weld, &cause, &origin, &mut found)?;
    }
    for slip in &reading.held {
        let used = used.contains_key(slip.slip.as_str()) || is_named(&reading, slip)?;
        of_slip(&reading, &statuses, slip, used, &mut found)?;
    }
    unmarked(files, &reading, &mut found)?;
    for (n, joint) in rows(files, "joints.csv")?.iter().enumerate() {
        let name = cell(joint, "joint");
        if !reading.welds.iter().any(|w| cell(w, "joint") == name) {
            let cause = format!("joints.csv:{}", n + 2);
            found.push(Finding::of_row("joint-without-weld-record", "note", &cause, joint));
        }
    }
    look_alikes(files, &mut found)?;
    masses::all(&reading, &mut found)?;
    found.sort();
    Ok(found)
}

/// Releases of `lots.csv`, and whatever `statuses.csv` says.
fn statuses(files: &Files) -> Result<Statuses> {
    let mut statuses = Statuses::new();
    for lot in rows(files, "lots.csv")? {
        let released = cell(&lot, "released_at");
        if !released.is_empty() {
            let at = interval(released)?.0;
            statuses.entry(cell(&lot, "lot").to_owned()).or_default().push((at, true));
        }
    }
    for status in rows(files, "statuses.csv")? {
        let at = interval(cell(&status, "at"))?.0;
        let entry = statuses.entry(cell(&status, "lot").to_owned()).or_default();
        entry.push((at, cell(&status, "status") == "released"));
    }
    for list in statuses.values_mut() {
        list.sort_by_key(|(at, _)| *at);
    }
    Ok(statuses)
}

fn is_released(statuses: &Statuses, lot: &str, latest: i64) -> bool {
    let last = statuses.get(lot).and_then(|list| list.iter().rfind(|(at, _)| *at <= latest));
    last.is_some_and(|(_, released)| *released)
}

/// The one of a set; empty if it has none or several.
fn the_one(lots: impl IntoIterator<Item = String>) -> String {
    let mut lots = lots.into_iter();
    match (lots.next(), lots.next()) {
        (Some(lot), None) => lot,
        (Some(_), Some(_)) | (None, _) => String::new(),
    }
}

fn of_weld(
    reading: &Reading,
    statuses: &Statuses,
    weld: &Row,
    cause: &str,
    origin: &Origin<'_>,
    found: &mut Vec<Finding>,
) -> Result<()> {
    let lots = lots_of(&origin.sources);
    let finding =
        |code, severity| Finding::of_row(code, severity, cause, weld).with_lot(the_one(lots.iter().cloned()));
    if cell(weld, "mark") == "unreadable" {
        found.push(finding("unmarked-wire", "stop"));
    }
    let level = reading.joints.get(cell(weld, "joint")).map_or("", |joint| cell(joint, "level"));
    match origin.certainty {
        "unknown" => found.push(finding("no-source", "stop")),
        "contradicted" => found.push(finding("contradicted-source", "stop")),
        "one-of" if level == "lot" => found.push(finding("several-sources", "act")),
        _ => {}
    }
    let latest = Reading::span(weld)?.1;
    let unreleased: Vec<String> =
        lots.iter().filter(|lot| !is_released(statuses, lot, latest)).cloned().collect();
    if !unreleased.is_empty() {
        found.push(finding("lot-not-released", "stop").with_lot(the_one(unreleased)));
    }
    for (code, all_wrong, fits) in [
        ("class-not-in-wps", "stop", class_fits as fn(&Row, &Row) -> Option<bool>),
        ("size-not-in-wps", "act", size_fits),
    ] {
        let mut wrong = Vec::new();
        for code in &lots {
            if lot_fits(reading, weld, reading.lot(code)?, fits) == Some(false) {
                wrong.push(code.clone());
            }
        }
        if !wrong.is_empty() {
            let severity = if wrong.len() == lots.len() { all_wrong } else { "note" };
            found.push(finding(code, severity).with_lot(the_one(wrong)));
        }
    }
    Ok(())
}

/// Whether some procedure of the weld's joint allows a lot; none if that cannot be said.
fn lot_fits(reading: &Reading, weld: &Row, lot: &Row, fits: fn(&Row, &Row) -> Option<bool>) -> Option<bool> {
    let all = reading.wps_of(cell(weld, "joint"));
    let process = cell(weld, "process");
    let listing: Vec<&Row> =
        all.iter().copied().filter(|wps| words(wps, "process").any(|p| p == process)).collect();
    let considered = if listing.is_empty() { all } else { listing };
    let answers: Vec<bool> = considered.into_iter().filter_map(|wps| fits(wps, lot)).collect();
    if answers.is_empty() { None } else { Some(answers.contains(&true)) }
}

fn is_stated(text: &str) -> bool {
    !matches!(text, "" | "n/a" | "unknown" | "illegible")
}

fn class_fits(wps: &Row, lot: &Row) -> Option<bool> {
    let (class, spec) = (cell(lot, "classification"), cell(lot, "spec"));
    let (classes, specs) = (cell(wps, "classifications"), cell(wps, "spec"));
    if !is_stated(class) || !is_stated(spec) || classes.is_empty() && specs.is_empty() {
        return None;
    }
    let plain = |text: &str| text.replace(' ', "").to_ascii_uppercase();
    let class_is_in = classes.is_empty() || words(wps, "classifications").any(|read| fits(read, class));
    let spec_is_in = specs.is_empty() || words(wps, "spec").any(|s| plain(s) == plain(spec));
    Some(class_is_in && spec_is_in)
}

fn size_fits(wps: &Row, lot: &Row) -> Option<bool> {
    let size = cell(lot, "size");
    if !is_stated(size) || cell(wps, "sizes").is_empty() {
        return None;
    }
    let diameter = size.split(" x ").next().unwrap_or(size);
    Some(words(wps, "sizes").any(|allowed| allowed == size || allowed == diameter))
}

/// Whether a weld record names a slip, or its lot while its holder welded and had it.
fn is_named(reading: &Reading, slip: &Held) -> Result<bool> {
    for weld in &reading.welds {
        if cell(weld, "slip") == slip.slip {
            return Ok(true);
        }
        if cell(weld, "lot") == slip.lot && cell(weld, "welder") == slip.welder {
            let (from, to) = Reading::span(weld)?;
            if slip.issued.0 <= to && from <= slip.to {
                return Ok(true);
            }
        }
    }
    Ok(false)
}

fn of_slip(
    reading: &Reading,
    statuses: &Statuses,
    slip: &Held,
    used: bool,
    found: &mut Vec<Finding>,
) -> Result<()> {
    let lot = reading.lot(&slip.lot)?;
    if slip.handed_from.is_none() {
        if !is_released(statuses, &slip.lot, slip.issued.1) {
            found.push(Finding::of_slip("lot-not-released", "stop", slip));
        }
        if !is_stated(cell(lot, "certificate")) {
            found.push(Finding::of_slip("lot-without-certificate", "act", slip));
        }
    }
    let account = slip.account(lot)?;
    let rest = account.issued - account.out;
    let uncounted = account.stubs.filter(|_| slip.closed && account.in_pieces).map(|stubs| rest - stubs);
    if uncounted.is_some_and(|n| n > 0) {
        found.push(Finding::of_slip("count-short", "act", slip));
    }
    if uncounted.is_some_and(|n| n < 0) || rest < 0 {
        found.push(Finding::of_slip("count-over", "act", slip));
    }
    if !slip.closed && slip.due.is_some() {
        found.push(Finding::of_slip("slip-overdue", "note", slip));
    }
    if slip.closed && rest > 0 && !used {
        found.push(Finding::of_slip("slip-unused", "note", slip));
    }
    Ok(())
}

/// Wire without a mark: found, returned, or looked at.
fn unmarked(files: &Files, reading: &Reading, found: &mut Vec<Finding>) -> Result<()> {
    for (n, wire) in rows(files, "found_wire.csv")?.iter().enumerate() {
        let cause = format!("found_wire.csv:{}", n + 2);
        let joint = words(wire, "joints").next().unwrap_or("").to_owned();
        found.push(Finding { joint, ..Finding::of_row("unmarked-wire", "stop", &cause, wire) });
    }
    for (n, check) in reading.checks.iter().enumerate().filter(|(_, c)| cell(c, "legible") == "no") {
        found.push(Finding::of_row("unmarked-wire", "stop", &format!("spot_checks.csv:{}", n + 2), check));
    }
    for (n, back) in rows(files, "returns.csv")?.iter().enumerate() {
        if cell(back, "condition") != "unmarked" {
            continue;
        }
        let number = cell(back, "slip");
        let cause = format!("returns.csv:{}", n + 2);
        if let Some(slip) = reading.held.iter().find(|h| h.slip == number) {
            found.push(Finding {
                cause,
                joint: String::new(),
                ..Finding::of_slip("unmarked-wire", "act", slip)
            });
        }
    }
    Ok(())
}

/// A number as the eye may read it: capitals, without what stands between, letters for the figures they resemble.
fn as_seen(number: &str) -> String {
    number
        .chars()
        .filter(|c| !c.is_whitespace() && !"-/._".contains(*c))
        .map(|c| match c.to_ascii_uppercase() {
            'O' | 'Q' | 'D' => '0',
            'I' | 'L' => '1',
            'S' => '5',
            'B' => '8',
            'Z' => '2',
            'G' => '6',
            other => other,
        })
        .collect()
}

fn look_alikes(files: &Files, found: &mut Vec<Finding>) -> Result<()> {
    let lots = rows(files, "lots.csv")?;
    for columns in [&["lot", "maker_lot"][..], &["heats"], &["certificate"]] {
        // The lots that carry a number; the first is the making one.
        let mut carried: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (n, lot) in lots.iter().enumerate() {
            for number in columns.iter().flat_map(|column| words(lot, column)).filter(|n| is_stated(n)) {
                let places = carried.entry(number).or_default();
                if places.last() != Some(&n) {
                    places.push(n);
                }
            }
        }
        let mut seen: BTreeMap<String, Vec<&Vec<usize>>> = BTreeMap::new();
        for (number, places) in &carried {
            seen.entry(as_seen(number)).or_default().push(places);
        }
        for alike in seen.values() {
            for (n, first) in alike.iter().enumerate() {
                for second in alike.iter().skip(n + 1) {
                    let (Some(a), Some(b)) = (first.first(), second.first()) else { continue };
                    if a != b {
                        let cause = format!("lots.csv:{};lots.csv:{}", a.min(b) + 2, a.max(b) + 2);
                        found.push(Finding::new("look-alike-number", "act", &cause));
                    }
                }
            }
        }
    }
    Ok(())
}
