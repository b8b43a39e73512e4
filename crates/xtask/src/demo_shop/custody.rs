//! A second, plain reading of a shop's files: rows, times, custody, sources, certainty. It shares nothing with the
//! generator but the files, and nothing with the ledger at all; what a word means is in `docs/words.md`.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use anyhow::{Context as _, Result, bail};

/// One row by column.
pub(super) type Row = BTreeMap<String, String>;

/// Files by name.
pub(super) type Files = [(&'static str, Vec<u8>)];

/// All rows of one file; none if there is no such file.
pub(super) fn rows(files: &Files, name: &str) -> Result<Vec<Row>> {
    match files.iter().find(|(file, _)| *file == name) {
        Some((_, bytes)) => read(bytes),
        None => Ok(Vec::new()),
    }
}

pub(super) fn read(bytes: &[u8]) -> Result<Vec<Row>> {
    Ok(csv::Reader::from_reader(bytes).deserialize().collect::<Result<_, _>>()?)
}

/// A cell; empty if there is no such column.
pub(super) fn cell<'r>(row: &'r Row, column: &str) -> &'r str {
    row.get(column).map_or("", String::as_str)
}

/// The words of a list.
pub(super) fn words<'r>(row: &'r Row, column: &str) -> impl Iterator<Item = &'r str> {
    cell(row, column).split(';').filter(|word| !word.is_empty())
}

/// A time as the seconds it may mean, since 2026-04-01 00:00+13:00, both ends included.
pub(super) type Interval = (i64, i64);

const HOUR: i64 = 3600;
const DAY: i64 = 24 * HOUR;

/// Reads a time of March to July 2026 in Pacific/Auckland, which is at +13:00 until 2026-04-05 03:00 local, then at
/// +12:00 (IANA time zone database).
pub(super) fn interval(text: &str) -> Result<Interval> {
    let number = |range: Range<usize>| -> Result<i64> {
        let digits = text.get(range).with_context(|| format!("{text} is no time"))?;
        digits.parse().with_context(|| format!("{text} is no time"))
    };
    let (year, month, day) = (number(0..4)?, number(5..7)?, number(8..10)?);
    let (before, days) = match month {
        3 => (-31, 31),
        4 => (0, 30),
        5 => (30, 31),
        6 => (61, 30),
        7 => (91, 31),
        _ => bail!("{text} is not in the quarter"),
    };
    if year != 2026 || !(1..=days).contains(&day) {
        bail!("{text} is not in the quarter");
    }
    let midnight = (before + day - 1) * DAY;
    let change = 4 * DAY + 3 * HOUR;
    let local = |wall: i64| match wall {
        w if w < change - HOUR => (w, w),
        w if w < change => (w, w + HOUR),
        w => (w + HOUR, w + HOUR),
    };
    if text.len() == 10 {
        return Ok((local(midnight).0, local(midnight + DAY).0 - 1));
    }
    let (hour, minute) = (number(11..13)?, number(14..16)?);
    if hour > 23 || minute > 59 {
        bail!("{text} is no time");
    }
    let wall = midnight + hour * HOUR + minute * 60;
    match text.get(16..) {
        Some("") => Ok(local(wall)),
        Some(":00+13:00") => Ok((wall, wall)),
        Some(":00+12:00") => Ok((wall + HOUR, wall + HOUR)),
        _ => bail!("{text} is no time"),
    }
}

/// What a quantity counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
    Rods,
    Spools,
    Milligrams,
}

/// Milligrams or pieces of a quantity as written.
pub(super) fn amount(text: &str) -> Result<(Unit, i64)> {
    let bad = || format!("{text} is no quantity");
    let (number, unit) = text.split_once(' ').with_context(bad)?;
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    let hundredths: i64 = format!("{whole}{part:0<2}").parse().with_context(bad)?;
    Ok(match unit {
        "rod" | "rods" => (Unit::Rods, hundredths / 100),
        "spool" | "spools" => (Unit::Spools, hundredths / 100),
        "kg" => (Unit::Milligrams, hundredths * 10_000),
        // 1 lb = 453 592.37 mg exactly, NIST SP 811 appendix B.8.
        "lb" => (Unit::Milligrams, hundredths * 45_359_237 / 10_000),
        _ => bail!("{text} is no quantity"),
    })
}

/// Mass of one piece in milligrams: as declared, else of bare rods from size and density, π to nine places. Densities
/// in g/cm³ by alloy family are common practice, no source. 0 where it is not known.
pub(super) fn piece_mg(lot: &Row) -> Result<i64> {
    let declared = cell(lot, "piece_g");
    if !declared.is_empty() {
        let (whole, tenth) = declared.split_once('.').unwrap_or((declared, "0"));
        return Ok(whole.parse::<i64>()? * 1000 + tenth.parse::<i64>()? * 100);
    }
    // Hundredths of g/cm3, nanometres, micrometres.
    let density: u128 = match cell(lot, "classification") {
        "ER308L" | "ER309L" | "ER316L" | "ER308/ER308L" => 793,
        "ERNiCrMo-3" => 844,
        "ER2209" => 780,
        _ => 785,
    };
    let (diameter, length): (u128, u128) = match cell(lot, "size") {
        "3/32 in x 36 in" => (2_381_250, 914_400),
        "2.4 mm x 1000 mm" => (2_400_000, 1_000_000),
        _ => return Ok(0),
    };
    Ok(i64::try_from(3_141_592_654 * diameter * diameter * length * density / (4 * 10_u128.pow(26)))?)
}

/// The mass of a quantity of a lot.
pub(super) fn mg(lot: &Row, quantity: &str) -> Result<i64> {
    Ok(match amount(quantity)? {
        (Unit::Milligrams, mg) => mg,
        (Unit::Rods | Unit::Spools, pieces) => pieces * piece_mg(lot)?,
    })
}

/// One way out of a slip.
#[derive(Debug)]
pub(super) struct Out {
    pub(super) quantity: String,
    pub(super) stubs: Option<i64>,
    closes: bool,
    pub(super) at: Interval,
    /// Whether it came back into the crib.
    #[cfg_attr(not(test), expect(dead_code, reason = "no finding depends on it; the stock does"))]
    pub(super) into_crib: bool,
}

/// A slip in somebody's custody.
#[derive(Debug)]
pub(super) struct Held {
    pub(super) slip: String,
    pub(super) lot: String,
    pub(super) welder: String,
    pub(super) quantity: String,
    /// `file.csv:row` that made it.
    pub(super) made_by: String,
    pub(super) issued: Interval,
    /// The joints it was asked for.
    pub(super) joints: Vec<String>,
    pub(super) due: Option<Interval>,
    pub(super) handed_from: Option<String>,
    pub(super) outs: Vec<Out>,
    pub(super) to: i64,
    pub(super) closed: bool,
}

impl Held {
    /// Issued less all that went out again, and the stubs counted: in pieces if everything is in the same pieces, else
    /// in milligrams.
    pub(super) fn account(&self, lot: &Row) -> Result<Account> {
        let (unit, issued) = amount(&self.quantity)?;
        let outs: Vec<(Unit, i64)> = self.outs.iter().map(|o| amount(&o.quantity)).collect::<Result<_>>()?;
        let stubs: Vec<i64> = self.outs.iter().filter_map(|o| o.stubs).collect();
        let in_pieces = unit != Unit::Milligrams && outs.iter().all(|(other, n)| *other == unit || *n == 0);
        let (issued, out) = if in_pieces || unit == Unit::Milligrams && outs.iter().all(|(u, _)| *u == unit) {
            (issued, outs.iter().map(|(_, n)| n).sum())
        } else {
            let out: i64 = self.outs.iter().map(|o| mg(lot, &o.quantity)).sum::<Result<i64>>()?;
            (mg(lot, &self.quantity)?, out)
        };
        let stubs = (!stubs.is_empty()).then(|| stubs.iter().sum());
        Ok(Account { issued, out, in_pieces, stubs })
    }
}

/// The count of a slip.
#[derive(Debug, Clone, Copy)]
pub(super) struct Account {
    pub(super) issued: i64,
    pub(super) out: i64,
    pub(super) in_pieces: bool,
    pub(super) stubs: Option<i64>,
}

/// Everything that can be asked of a shop.
pub(super) struct Reading {
    pub(super) lots: BTreeMap<String, Row>,
    pub(super) joints: BTreeMap<String, Row>,
    pub(super) wps: BTreeMap<String, Row>,
    pub(super) held: Vec<Held>,
    pub(super) welds: Vec<Row>,
    pub(super) checks: Vec<Row>,
    by_welder: BTreeMap<String, Vec<usize>>,
}

/// What a weld record may have come from: places in the list of slips.
#[derive(Debug)]
pub(super) struct Origin<'r> {
    pub(super) certainty: &'static str,
    pub(super) sources: Vec<&'r Held>,
    #[cfg_attr(not(test), expect(dead_code, reason = "no finding depends on it; the stories do"))]
    pub(super) others: Vec<&'r Held>,
    pub(super) flux: Vec<&'r Held>,
}

/// The lots of slips.
pub(super) fn lots_of(held: &[&Held]) -> BTreeSet<String> {
    held.iter().map(|h| h.lot.clone()).collect()
}

fn by_label(rows: Vec<Row>, column: &str) -> BTreeMap<String, Row> {
    rows.into_iter().map(|row| (cell(&row, column).to_owned(), row)).collect()
}

impl Reading {
    pub(super) fn new(files: &Files) -> Result<Self> {
        let held = slips(files)?;
        let mut by_welder: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (n, slip) in held.iter().enumerate() {
            by_welder.entry(slip.welder.clone()).or_default().push(n);
        }
        Ok(Reading {
            lots: by_label(rows(files, "lots.csv")?, "lot"),
            joints: by_label(rows(files, "joints.csv")?, "joint"),
            wps: by_label(rows(files, "wps.csv")?, "wps"),
            held,
            welds: rows(files, "welds.csv")?,
            checks: rows(files, "spot_checks.csv")?,
            by_welder,
        })
    }

    /// The lot with that code.
    pub(super) fn lot(&self, code: &str) -> Result<&Row> {
        self.lots.get(code).with_context(|| format!("no lot {code}"))
    }

    /// When a weld may have been.
    pub(super) fn span(weld: &Row) -> Result<Interval> {
        let from = interval(cell(weld, "from"))?;
        let to = cell(weld, "to");
        Ok((from.0, if to.is_empty() { from.1 } else { interval(to)?.1 }))
    }

    /// The slips that a welder held at some moment of a span.
    pub(super) fn held_by(&self, welder: &str, (from, to): Interval) -> Vec<&Held> {
        let places = self.by_welder.get(welder).map_or(&[][..], Vec::as_slice);
        places.iter().filter_map(|n| self.held.get(*n)).filter(|h| h.issued.0 <= to && from <= h.to).collect()
    }

    /// The procedures of a joint.
    pub(super) fn wps_of(&self, joint: &str) -> Vec<&Row> {
        let Some(joint) = self.joints.get(joint) else { return Vec::new() };
        words(joint, "wps").filter_map(|wps| self.wps.get(wps)).collect()
    }

    /// The processes of a weld record: its own, else those of the joint's procedures.
    pub(super) fn processes<'r>(&'r self, weld: &'r Row) -> Vec<&'r str> {
        match cell(weld, "process") {
            "" => self.wps_of(cell(weld, "joint")).into_iter().flat_map(|w| words(w, "process")).collect(),
            process => vec![process],
        }
    }

    /// Where a weld's metal may have come from.
    pub(super) fn origin(&self, weld: &Row) -> Result<Origin<'_>> {
        if cell(weld, "filler") == "no" {
            return Ok(Origin { certainty: "no-filler", sources: vec![], others: vec![], flux: vec![] });
        }
        let (from, to) = Self::span(weld)?;
        let processes = self.processes(weld);
        let (mut candidates, mut flux) = (Vec::new(), Vec::new());
        for slip in self.held_by(cell(weld, "welder"), (from, to)) {
            let form = cell(self.lot(&slip.lot)?, "form");
            if processes.is_empty() || processes.iter().any(|process| suits(process, form)) {
                candidates.push(slip);
            } else if form == "flux" && processes.contains(&"SAW") {
                flux.push(slip);
            }
        }
        let (lot, slip) = (cell(weld, "lot"), cell(weld, "slip"));
        let named = |h: &Held| (lot.is_empty() || h.lot == lot) && (slip.is_empty() || h.slip == slip);
        let (certainty, sources, others) = if lot.is_empty() && slip.is_empty() {
            let certainty = match lots_of(&candidates).len() {
                0 => "unknown",
                1 => "by-custody",
                _ => "one-of",
            };
            (certainty, candidates, vec![])
        } else {
            let (matching, rest): (Vec<&Held>, Vec<&Held>) = candidates.into_iter().partition(|h| named(h));
            if matching.is_empty() { ("contradicted", rest, vec![]) } else { ("recorded", matching, rest) }
        };
        let contradicted = certainty != "unknown" && self.is_contradicted(weld, (from, to), &sources)?;
        let certainty = if contradicted { "contradicted" } else { certainty };
        Ok(Origin { certainty, sources, others, flux })
    }

    /// Whether a legible spot check inside a weld's span read a class that no source has.
    fn is_contradicted(&self, weld: &Row, (from, to): Interval, sources: &[&Held]) -> Result<bool> {
        for check in &self.checks {
            if cell(check, "joint") != cell(weld, "joint")
                || cell(check, "welder") != cell(weld, "welder")
                || cell(check, "legible") != "yes"
            {
                continue;
            }
            let at = interval(cell(check, "at"))?;
            let mut read = false;
            for source in sources {
                read |= fits(cell(check, "reads"), cell(self.lot(&source.lot)?, "classification"));
            }
            if at.0 <= to && from <= at.1 && !read {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

/// Issued slips and those of hand-overs, with all that went out of them.
fn slips(files: &Files) -> Result<Vec<Held>> {
    let mut held: Vec<Held> = Vec::new();
    let mut place: BTreeMap<String, usize> = BTreeMap::new();
    for (n, issue) in rows(files, "issues.csv")?.iter().enumerate() {
        let due = cell(issue, "due_at");
        place.insert(cell(issue, "slip").to_owned(), held.len());
        held.push(Held {
            slip: cell(issue, "slip").to_owned(),
            lot: cell(issue, "lot").to_owned(),
            welder: cell(issue, "welder").to_owned(),
            quantity: cell(issue, "quantity").to_owned(),
            made_by: format!("issues.csv:{}", n + 2),
            issued: interval(cell(issue, "issued_at"))?,
            joints: words(issue, "joints").map(str::to_owned).collect(),
            due: if due.is_empty() { None } else { Some(interval(due)?) },
            handed_from: None,
            outs: Vec::new(),
            to: i64::MAX,
            closed: false,
        });
    }
    let mut outs: Vec<(String, Out)> = Vec::new();
    for (n, hand_over) in rows(files, "hand_overs.csv")?.iter().enumerate() {
        let from = cell(hand_over, "slip");
        let giver = place.get(from).and_then(|n| held.get(*n)).with_context(|| format!("no slip {from}"))?;
        let (lot, at) = (giver.lot.clone(), interval(cell(hand_over, "at"))?);
        place.insert(cell(hand_over, "new_slip").to_owned(), held.len());
        held.push(Held {
            slip: cell(hand_over, "new_slip").to_owned(),
            lot,
            welder: cell(hand_over, "to_welder").to_owned(),
            quantity: cell(hand_over, "quantity").to_owned(),
            made_by: format!("hand_overs.csv:{}", n + 2),
            issued: at,
            joints: Vec::new(),
            due: None,
            handed_from: Some(from.to_owned()),
            outs: Vec::new(),
            to: i64::MAX,
            closed: false,
        });
        let quantity = cell(hand_over, "quantity").to_owned();
        let closes = cell(hand_over, "closes") == "yes";
        outs.push((from.to_owned(), Out { quantity, stubs: None, closes, at, into_crib: false }));
    }
    for back in rows(files, "returns.csv")? {
        let stubs = cell(&back, "stubs");
        outs.push((
            cell(&back, "slip").to_owned(),
            Out {
                quantity: cell(&back, "quantity").to_owned(),
                stubs: if stubs.is_empty() { None } else { Some(stubs.parse()?) },
                closes: cell(&back, "closes") != "no",
                at: interval(cell(&back, "returned_at"))?,
                into_crib: true,
            },
        ));
    }
    for scrap in rows(files, "scraps.csv")?.iter().filter(|s| !cell(s, "slip").is_empty()) {
        let quantity = cell(scrap, "quantity").to_owned();
        let at = interval(cell(scrap, "scrapped_at"))?;
        let out = Out { quantity, stubs: None, closes: false, at, into_crib: false };
        outs.push((cell(scrap, "slip").to_owned(), out));
    }
    outs.sort_by_key(|(_, out)| out.at.1);
    for (slip, out) in outs {
        let n = place.get(&slip).with_context(|| format!("no slip {slip}"))?;
        held.get_mut(*n).with_context(|| format!("no slip {slip}"))?.outs.push(out);
    }
    for slip in &mut held {
        let (unit, issued) = amount(&slip.quantity)?;
        let mut gone = 0;
        for out in &slip.outs {
            let (other, n) = amount(&out.quantity)?;
            gone += if other == unit { n } else { 0 };
            if !slip.closed && (out.closes || gone >= issued) {
                slip.closed = true;
                slip.to = out.at.1.max(slip.issued.0);
            }
        }
    }
    Ok(held)
}

/// Whether a product form suits a process.
fn suits(process: &str, form: &str) -> bool {
    match process {
        "SMAW" => form == "covered",
        "GTAW" | "PAW" => matches!(form, "cut-length" | "spool" | "insert"),
        "GMAW" | "FCAW" => form == "spool",
        "SAW" => matches!(form, "spool" | "strip"),
        _ => false,
    }
}

/// Whether what was read fits a classification, dual ones by either half.
pub(super) fn fits(read: &str, classification: &str) -> bool {
    let parts = |text: &str| -> Vec<String> {
        let bare = text.strip_prefix("ER").or(text.strip_prefix('E')).unwrap_or(text);
        bare.split(['-', ' ']).map(str::to_owned).collect()
    };
    let read = parts(read);
    classification
        .split('/')
        .map(parts)
        .any(|lot| lot.first() == read.first() && read.iter().all(|part| lot.contains(part)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_fit_by_their_parts() {
        assert!(fits("7018", "E7018-1 H4R"));
        assert!(!fits("70S-6", "ER70S-2"));
        assert!(!fits("308", "ER308L"));
        assert!(fits("308L", "ER308/ER308L"));
    }

    #[test]
    fn times_widen_where_they_are_uncertain() {
        let minutes = |text| interval(text).map(|(from, to)| (from / 60, to / 60)).unwrap();
        assert_eq!(minutes("2026-04-05 02:15"), (4 * 1440 + 135, 4 * 1440 + 195));
        assert_eq!(minutes("2026-04-05T02:55:00+12:00").0, 4 * 1440 + 235);
        assert_eq!(minutes("2026-04-05 03:00").0, 4 * 1440 + 240);
        assert_eq!(minutes("2026-06-01 00:00").0, 61 * 1440 + 60);
        let (from, to) = interval("2026-04-05").unwrap();
        assert_eq!(to - from + 1, 25 * HOUR);
        assert!(interval("2026-06-31").is_err() && interval("2027-06-01").is_err());
    }

    #[test]
    fn quantities_read_as_written() {
        assert_eq!(amount("2.5 kg").unwrap(), (Unit::Milligrams, 2_500_000));
        assert_eq!(amount("1 lb").unwrap(), (Unit::Milligrams, 453_592));
        assert_eq!(amount("12 rods").unwrap(), (Unit::Rods, 12));
    }
}
