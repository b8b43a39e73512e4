//! A second, plain reading of the demo shop for the tests: rows, times, custody, certainty. It shares nothing with the
//! generator but the files.

use std::collections::{BTreeMap, BTreeSet};

pub(super) type Row = BTreeMap<String, String>;

/// All rows of one file.
pub(super) fn rows(files: &[(&'static str, Vec<u8>)], name: &str) -> Vec<Row> {
    let (_, bytes) = files.iter().find(|(file, _)| *file == name).unwrap();
    read(bytes)
}

pub(super) fn read(bytes: &[u8]) -> Vec<Row> {
    csv::Reader::from_reader(bytes).deserialize().map(|row| row.unwrap()).collect()
}

/// A time as the minutes it may mean, since 2026-04-01 00:00+13:00, both ends included.
///
/// Pacific/Auckland is at +13:00 until 2026-04-05 03:00 local, then at +12:00 (IANA time zone database).
pub(super) fn interval(text: &str) -> (i64, i64) {
    let number = |range: std::ops::Range<usize>| text[range].parse::<i64>().unwrap();
    assert_eq!(&text[..5], "2026-", "{text}");
    let (month, day) = (number(5..7), number(8..10));
    let before = match month {
        3 => -31,
        4 => 0,
        5 => 30,
        _ => panic!("{text}"),
    };
    assert!((1..=31).contains(&day), "{text}");
    let midnight = (before + day - 1) * 1440;
    let change = 4 * 1440 + 180;
    let local = |wall: i64| match wall {
        w if w < change - 60 => (w, w),
        w if w < change => (w, w + 60),
        w => (w + 60, w + 60),
    };
    if text.len() == 10 {
        return (local(midnight).0, local(midnight + 1440).1);
    }
    let (hour, minute) = (number(11..13), number(14..16));
    assert!(hour < 24 && minute < 60, "{text}");
    let wall = midnight + hour * 60 + minute;
    match &text[16..] {
        "" => local(wall),
        ":00+13:00" => (wall, wall),
        ":00+12:00" => (wall + 60, wall + 60),
        _ => panic!("{text}"),
    }
}

/// Milligrams or pieces of a quantity as written.
pub(super) fn amount(text: &str) -> (&str, i64) {
    let (number, unit) = text.split_once(' ').unwrap();
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    let hundredths = format!("{whole}{part:0<2}").parse::<i64>().unwrap();
    match unit {
        "rod" | "rods" => ("rods", hundredths / 100),
        "spool" | "spools" => ("spools", hundredths / 100),
        "kg" => ("mg", hundredths * 10_000),
        "lb" => ("mg", hundredths * 45_359_237 / 10_000),
        _ => panic!("{text}"),
    }
}

/// A slip in somebody's custody.
#[derive(Debug)]
pub(super) struct Held {
    pub(super) slip: String,
    pub(super) lot: String,
    pub(super) welder: String,
    pub(super) quantity: String,
    pub(super) from: i64,
    pub(super) to: i64,
    pub(super) closed: bool,
}

/// Everything a test wants to ask.
pub(super) struct Reading {
    pub(super) lots: BTreeMap<String, Row>,
    pub(super) held: Vec<Held>,
    pub(super) welds: Vec<Row>,
    pub(super) returns: Vec<Row>,
    pub(super) hand_overs: Vec<Row>,
    checks: Vec<Row>,
    processes: BTreeMap<String, BTreeSet<String>>,
}

/// What a weld record may have come from.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Origin {
    pub(super) certainty: &'static str,
    pub(super) sources: BTreeSet<String>,
    pub(super) others: BTreeSet<String>,
}

impl Reading {
    pub(super) fn new(files: &[(&'static str, Vec<u8>)]) -> Self {
        let (returns, hand_overs) = (rows(files, "returns.csv"), rows(files, "hand_overs.csv"));
        let mut held: Vec<Held> = rows(files, "issues.csv")
            .iter()
            .map(|i| Held {
                slip: i["slip"].clone(),
                lot: i["lot"].clone(),
                welder: i["welder"].clone(),
                quantity: i["quantity"].clone(),
                from: interval(&i["issued_at"]).0,
                to: i64::MAX,
                closed: false,
            })
            .collect();
        for h in &hand_overs {
            let lot = held.iter().find(|s| s.slip == h["slip"]).unwrap().lot.clone();
            held.push(Held {
                slip: h["new_slip"].clone(),
                lot,
                welder: h["to_welder"].clone(),
                quantity: h["quantity"].clone(),
                from: interval(&h["at"]).0,
                to: i64::MAX,
                closed: false,
            });
        }
        for slip in &mut held {
            let mut gone = 0;
            let mut moments: Vec<(i64, &str, &str)> = returns
                .iter()
                .filter(|r| r["slip"] == slip.slip)
                .map(|r| (interval(&r["returned_at"]).1, r["closes"].as_str(), r["quantity"].as_str()))
                .chain(
                    hand_overs
                        .iter()
                        .filter(|h| h["slip"] == slip.slip)
                        .map(|h| (interval(&h["at"]).1, h["closes"].as_str(), h["quantity"].as_str())),
                )
                .collect();
            moments.sort_unstable();
            for (at, closes, quantity) in moments {
                gone += amount(quantity).1;
                if closes != "no"
                    || amount(quantity).0 == amount(&slip.quantity).0 && gone >= amount(&slip.quantity).1
                {
                    slip.to = slip.to.min(at);
                    slip.closed = true;
                }
            }
        }
        let wps: BTreeMap<String, String> =
            rows(files, "wps.csv").iter().map(|w| (w["wps"].clone(), w["process"].clone())).collect();
        let processes = rows(files, "joints.csv")
            .iter()
            .map(|j| {
                let all = j["wps"].split(';').flat_map(|w| wps[w].split(';')).map(str::to_owned);
                (j["joint"].clone(), all.collect())
            })
            .collect();
        Reading {
            lots: rows(files, "lots.csv").into_iter().map(|l| (l["lot"].clone(), l)).collect(),
            held,
            welds: rows(files, "welds.csv"),
            returns,
            hand_overs,
            checks: rows(files, "spot_checks.csv"),
            processes,
        }
    }

    pub(super) fn span(weld: &Row) -> (i64, i64) {
        let from = interval(&weld["from"]);
        (from.0, if weld["to"].is_empty() { from.1 } else { interval(&weld["to"]).1 })
    }

    pub(super) fn origin(&self, weld: &Row) -> Origin {
        let lots_of = |held: &[&Held]| held.iter().map(|h| h.lot.clone()).collect::<BTreeSet<_>>();
        if weld["filler"] == "no" {
            return Origin { certainty: "no-filler", sources: BTreeSet::new(), others: BTreeSet::new() };
        }
        let (from, to) = Self::span(weld);
        let one = BTreeSet::from([weld["process"].clone()]);
        let processes = if weld["process"].is_empty() { &self.processes[&weld["joint"]] } else { &one };
        let suits = |form: &str| {
            processes.iter().any(|process| match process.as_str() {
                "SMAW" => form == "covered",
                "GTAW" => matches!(form, "cut-length" | "spool" | "insert"),
                "GMAW" => form == "spool",
                "SAW" => matches!(form, "spool" | "strip"),
                _ => panic!("{process}"),
            })
        };
        let candidates: Vec<&Held> = self
            .held
            .iter()
            .filter(|h| {
                h.welder == weld["welder"]
                    && h.from <= to
                    && from <= h.to
                    && suits(&self.lots[&h.lot]["form"])
            })
            .collect();
        let named = |h: &Held| {
            (weld["lot"].is_empty() || h.lot == weld["lot"])
                && (weld["slip"].is_empty() || h.slip == weld["slip"])
        };
        let (certainty, sources, others) = if weld["lot"].is_empty() && weld["slip"].is_empty() {
            let certainty = match lots_of(&candidates).len() {
                0 => "unknown",
                1 => "by-custody",
                _ => "one-of",
            };
            (certainty, candidates, vec![])
        } else {
            let (matching, rest): (Vec<&Held>, Vec<&Held>) =
                candidates.iter().copied().partition(|h| named(h));
            if matching.is_empty() { ("contradicted", rest, vec![]) } else { ("recorded", matching, rest) }
        };
        let contradicted = self.checks.iter().any(|c| {
            let at = interval(&c["at"]);
            c["joint"] == weld["joint"]
                && c["welder"] == weld["welder"]
                && c["legible"] == "yes"
                && at.0 <= to
                && from <= at.1
                && !sources.iter().any(|h| fits(&c["reads"], &self.lots[&h.lot]["classification"]))
        });
        Origin {
            certainty: if contradicted && certainty != "unknown" { "contradicted" } else { certainty },
            sources: lots_of(&sources),
            others: lots_of(&others),
        }
    }
}

/// Whether what was read fits a classification, dual ones by either half.
fn fits(read: &str, classification: &str) -> bool {
    let parts = |text: &str| -> Vec<String> {
        let bare = text.strip_prefix("ER").or(text.strip_prefix('E')).unwrap_or(text);
        bare.split(['-', ' ']).map(str::to_owned).collect()
    };
    let read = parts(read);
    classification
        .split('/')
        .map(parts)
        .any(|lot| lot[0] == read[0] && read.iter().all(|part| lot.contains(part)))
}

#[test]
fn classes_fit_by_their_parts() {
    assert!(fits("7018", "E7018-1 H4R"));
    assert!(!fits("70S-6", "ER70S-2"));
    assert!(!fits("308", "ER308L"));
    assert!(fits("308L", "ER308/ER308L"));
}

#[test]
fn times_widen_where_they_are_uncertain() {
    assert_eq!(interval("2026-04-05 02:15"), (4 * 1440 + 135, 4 * 1440 + 195));
    assert_eq!(interval("2026-04-05T02:55:00+12:00").0, 4 * 1440 + 235);
    assert_eq!(interval("2026-04-05 03:00").0, 4 * 1440 + 240);
    let (from, to) = interval("2026-04-05");
    assert_eq!(to - from, 25 * 60);
}
