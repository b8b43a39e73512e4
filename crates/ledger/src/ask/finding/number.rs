//! Numbers that the eye takes for one another.

use super::Finding;
use crate::ask::lot::Lot;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::facts::LabelKind;
use crate::log::Place;
use record::event::Event;
use record::finding::{Code, Severity};
use record::number::{look_alike_key, search_key};
use record::{EntryId, LotId};
use std::collections::{BTreeMap, BTreeSet};

/// A number: the lots that carry it, and the entries that say so.
#[derive(Debug, Default)]
struct Carried {
    lots: BTreeSet<[u8; 16]>,
    places: Vec<Place>,
}

/// Two numbers that look alike: what makes the pair, the lots that carry one of them, and a sentence.
struct Pair {
    entries: Vec<EntryId>,
    lots: BTreeSet<[u8; 16]>,
    why: String,
}

/// All pairs of the book.
pub(crate) fn all(reading: &Reading<'_>) -> Result<Vec<Finding>> {
    let mut pairs = Vec::new();
    for kind in KINDS {
        let mut statement = reading.conn().prepare_cached(
            "SELECT look FROM fact_look_alike WHERE kind = ?1 GROUP BY look HAVING count(DISTINCT label) > 1
             ORDER BY look",
        )?;
        let looks = statement
            .query_map([kind.word()], |row| row.get(0))?
            .collect::<rusqlite::Result<Vec<String>>>()?;
        for look in looks {
            pairs.extend(of_look(reading, kind, &look)?);
        }
    }
    Ok(findings(pairs, None))
}

/// The pairs that have a number of one of these lots in them.
pub(crate) fn of_lots<'l>(
    reading: &Reading<'_>,
    lots: impl IntoIterator<Item = &'l Lot>,
) -> Result<Vec<Finding>> {
    let asked: BTreeSet<[u8; 16]> = lots.into_iter().map(|lot| lot.id.bytes()).collect();
    // What two entries make is one finding, whichever of their numbers was asked about.
    let mut near = asked.clone();
    near.extend(of_numbers(reading, &asked)?.into_iter().flat_map(|pair| pair.lots));
    Ok(findings(of_numbers(reading, &near)?, Some(&asked)))
}

/// One finding for the entries of each pair, in the order of the numbers; only those of the lots asked about, if any are.
fn findings(pairs: Vec<Pair>, asked: Option<&BTreeSet<[u8; 16]>>) -> Vec<Finding> {
    let mut by_entries: BTreeMap<Vec<EntryId>, Pair> = BTreeMap::new();
    for pair in pairs {
        match by_entries.get_mut(&pair.entries) {
            Some(same) => {
                same.lots.extend(pair.lots);
                same.why.push(' ');
                same.why.push_str(&pair.why);
            }
            None => drop(by_entries.insert(pair.entries.clone(), pair)),
        }
    }
    by_entries
        .into_values()
        .filter(|pair| asked.is_none_or(|asked| !pair.lots.is_disjoint(asked)))
        // It is of both lots, so of neither alone; the sentence names them.
        .map(|pair| Finding::new(Code::LookAlikeNumber, Severity::Act, pair.entries, pair.why))
        .collect()
}

/// The kinds of numbers that are compared by look.
const KINDS: [LabelKind; 3] = [LabelKind::Lot, LabelKind::Heat, LabelKind::Certificate];

/// The pairs of the looks that the numbers of these lots have.
fn of_numbers(reading: &Reading<'_>, lots: &BTreeSet<[u8; 16]>) -> Result<Vec<Pair>> {
    let mut numbers_of = Vec::new();
    for lot in lots {
        numbers_of.extend(numbers(reading, &*reading.lot(LotId::from_bytes(*lot))?)?);
    }
    let mut pairs = Vec::new();
    for kind in KINDS {
        let of_kind = numbers_of.iter().filter(|(of, _)| *of == kind);
        let looks: BTreeSet<String> =
            of_kind.map(|(_, number)| look_alike_key(&search_key(number))).collect();
        for look in looks {
            pairs.extend(of_look(reading, kind, &look)?);
        }
    }
    Ok(pairs)
}

/// Every number of a lot that is compared by look: those on its receipts, and certificates filed for it.
fn numbers(reading: &Reading<'_>, lot: &Lot) -> Result<Vec<(LabelKind, String)>> {
    let mut numbers = Vec::new();
    for r in std::iter::once(&lot.received).chain(&lot.further) {
        numbers.push((LabelKind::Lot, r.code.clone()));
        numbers.extend(r.maker_lot.value().map(|n| (LabelKind::Lot, n.clone())));
        numbers.extend(r.heats.iter().map(|n| (LabelKind::Heat, n.clone())));
        numbers.extend(r.certificate.value().map(|n| (LabelKind::Certificate, n.clone())));
    }
    for place in reading.standing_places("SELECT place FROM fact_certificate", [])? {
        if let Event::CertificateFiled(filed) = reading.event(place)?
            && filed.lots.iter().any(|l| l.lot == lot.id)
        {
            numbers.push((LabelKind::Certificate, filed.certificate));
        }
    }
    Ok(numbers)
}

/// The pairs among the numbers of one look.
fn of_look(reading: &Reading<'_>, kind: LabelKind, look: &str) -> Result<Vec<Pair>> {
    let mut statement = reading.conn().prepare_cached(
        "SELECT DISTINCT label FROM fact_look_alike WHERE kind = ?1 AND look = ?2 ORDER BY label",
    )?;
    let labels = statement
        .query_map((kind.word(), look), |row| row.get(0))?
        .collect::<rusqlite::Result<Vec<String>>>()?;
    if labels.len() < 2 {
        return Ok(Vec::new());
    }
    let mut carried: BTreeMap<&String, Carried> = BTreeMap::new();
    for label in &labels {
        let mut statement = reading.conn().prepare_cached(
            "SELECT thing, place FROM fact_label WHERE kind = ?1 AND key = ?2 AND label = ?3",
        )?;
        let mut rows = statement.query((kind.word(), search_key(label), label))?;
        while let Some(row) = rows.next()? {
            let place = Place(row.get(1)?);
            if reading.stands(place) {
                let by = carried.entry(label).or_default();
                by.lots.insert(row.get(0)?);
                by.places.push(place);
            }
        }
    }
    let carried: Vec<(&String, Carried)> = carried.into_iter().collect();
    let mut found = Vec::new();
    for (i, (a, by_a)) in carried.iter().enumerate() {
        for (b, by_b) in carried.iter().skip(i + 1) {
            // Two ways of writing a number on one lot's own papers name the same lot.
            if by_a.lots.len() == 1 && by_a.lots == by_b.lots {
                continue;
            }
            let (Some(first_a), Some(first_b)) =
                (first(reading, &by_a.places)?, first(reading, &by_b.places)?)
            else {
                continue;
            };
            let code = |carried: &Carried| -> Result<String> {
                let mut codes = carried
                    .lots
                    .iter()
                    .map(|id| Ok(reading.lot(LotId::from_bytes(*id))?.received.code.clone()))
                    .collect::<Result<Vec<_>>>()?;
                codes.sort();
                Ok(codes.join(", "))
            };
            let (of_a, of_b) = (code(by_a)?, code(by_b)?);
            let why = format!(
                "{} numbers {a} (lot {of_a}) and {b} (lot {of_b}) look alike.",
                match kind {
                    LabelKind::Heat => "Heat",
                    LabelKind::Certificate => "Certificate",
                    LabelKind::Lot
                    | LabelKind::Slip
                    | LabelKind::Joint
                    | LabelKind::Badge
                    | LabelKind::Wps => "Lot",
                }
            );
            let mut entries = vec![reading.origin_id(first_a)?, reading.origin_id(first_b)?];
            entries.sort_unstable();
            found.push(Pair { entries, lots: by_a.lots.union(&by_b.lots).copied().collect(), why });
        }
    }
    Ok(found)
}

/// The first of the places in the order of the record.
fn first(reading: &Reading<'_>, places: &[Place]) -> Result<Option<Place>> {
    Ok(reading.ordered(places.to_vec())?.first().map(|(_, place)| *place))
}
