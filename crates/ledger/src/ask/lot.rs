//! Lots: their identity, their status, and what is in the crib of them.

use super::corrections::Struck;
use super::label;
use super::reading::Reading;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::Place;
use filler::{ProductForm, Quantity, Unit};
use record::event::{Condition, Event, LotReceived};
use record::id::LotId;
use record::rules::Balance;
use record::rules::lot_status::LotStatus;
use record::{EntryId, Instant, Stated, When};

/// A lot as the book knows it.
#[derive(Clone, Debug)]
pub struct Lot {
    /// Identity.
    pub id: LotId,
    /// The receipt that first described it.
    pub received: LotReceived,
    /// Id of that entry.
    pub entry: EntryId,
    /// Further deliveries.
    pub further: Vec<LotReceived>,
    /// Numbers of the certificates that are filed for it, in byte order.
    pub filed: Vec<String>,
    /// Whether every receipt was voided: the lot never was.
    pub void: bool,
    /// Receipts that were corrected or voided.
    pub struck: Vec<Struck>,
}

/// The identity of a lot as text: maker, maker's lot, classification, size, form. A lot of which one of these is not
/// known is only itself.
pub(crate) fn identity(lot: &LotReceived) -> String {
    let parts = [
        known(&lot.maker, Clone::clone),
        known(&lot.maker_lot, Clone::clone),
        known(&lot.classification, Clone::clone),
        known(&lot.size, |size| size.size.key()),
        known(&lot.form, ToString::to_string),
    ];
    let parts: Option<Vec<String>> = parts.into_iter().collect();
    parts.map_or_else(|| format!("only itself: {}", lot.lot), |parts| parts.join("\u{1f}"))
}

/// What is known of one part of an identity: its value, or that it does not apply, as the size of flux.
fn known<T>(stated: &Stated<T>, text: impl FnOnce(&T) -> String) -> Option<String> {
    match stated {
        Stated::Value(value) => Some(text(value)),
        Stated::NotApplicable => Some("\u{1e}does not apply".into()),
        Stated::NotAsked | Stated::Unknown | Stated::Illegible => None,
    }
}

impl Lot {
    /// Mass of a quantity of this lot in milligrams: weighed, or pieces times the piece mass, where the word for
    /// the piece fits the product form (a rod cut from a spool has not the mass of the spool).
    pub fn mass_mg(&self, quantity: &Quantity) -> Option<i64> {
        quantity.milligrams().or_else(|| self.piece_mg_for(quantity)?.checked_mul(quantity.pieces()?))
    }

    /// Piece mass, if the quantity counts such pieces.
    pub fn piece_mg_for(&self, quantity: &Quantity) -> Option<i64> {
        let spool = self.received.form.value() == Some(&ProductForm::Spool);
        let fits = match quantity.unit() {
            Unit::Rods => !spool,
            Unit::Spools => spool,
            Unit::Pieces => true,
            Unit::Kilograms | Unit::Grams | Unit::Pounds => false,
        };
        if fits { self.received.piece.as_ref().map(|p| p.mg) } else { None }
    }

    /// Code, classification, maker and maker's lot in one line.
    pub fn line(&self) -> String {
        let r = &self.received;
        let mut line = r.code.clone();
        for part in [&r.classification, &r.maker] {
            if let Some(text) = part.value() {
                line.push_str(", ");
                line.push_str(text);
            }
        }
        if let Some(text) = r.maker_lot.value() {
            line.push_str(" lot ");
            line.push_str(text);
        }
        if let Some(size) = r.size.value() {
            line.push_str(", ");
            line.push_str(&size.text);
        }
        line
    }

    /// First moment that the lot can have been in the crib.
    pub fn first_received(&self) -> Instant {
        self.further.iter().map(|r| r.at.from).fold(self.received.at.from, Instant::min)
    }
}

/// Reads a lot.
pub(crate) fn read(reading: &Reading<'_>, id: LotId) -> Result<Lot> {
    let all = reading.places("SELECT place FROM fact_lot WHERE lot = ?1 ORDER BY place", [id.bytes()])?;
    let struck = reading.struck(&all)?;
    let (places, stands) = reading.corrections().standing(all);
    let mut receipts = Vec::with_capacity(places.len());
    for (_, place) in reading.ordered(places)? {
        if let Event::LotReceived(received) = reading.event(place)? {
            receipts.push((reading.id(place)?, received));
        }
    }
    let mut receipts = receipts.into_iter();
    let Some((entry, received)) = receipts.next() else {
        return Err(Error::Damaged(format!("a fact names lot {id}, which no entry describes")));
    };
    let filed = reading.filed_numbers(id)?;
    Ok(Lot { id, received, entry, further: receipts.map(|(_, r)| r).collect(), filed, void: !stands, struck })
}

/// Lots that a label means: control code, maker's lot number, `MAKER:LABEL`, or an identity.
pub(crate) fn meanings(reading: &Reading<'_>, typed: &str) -> Result<Vec<Lot>> {
    // Scanners add blanks.
    let typed = typed.trim();
    if let Some(id) = label::as_identity(typed) {
        let known: bool = reading
            .conn()
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM fact_lot WHERE lot = ?1)")?
            .query_row([id], |row| row.get(0))?;
        return if known { Ok(vec![read(reading, LotId::from_bytes(id))?]) } else { Ok(Vec::new()) };
    }
    let lots = |label: &str| -> Result<Vec<Lot>> {
        label::things(reading, LabelKind::Lot, label)?
            .into_iter()
            .map(|id| read(reading, LotId::from_bytes(id)))
            .collect()
    };
    let found = lots(typed)?;
    if !found.is_empty() {
        return Ok(found);
    }
    // A maker's name may hold a colon, so every place is tried.
    for (at, _) in typed.match_indices(':') {
        let (maker, label) = (typed.get(..at).unwrap_or(""), typed.get(at + 1..).unwrap_or(""));
        let mut found = lots(label)?;
        found.retain(|lot| lot.received.maker.value().is_some_and(|m| m == maker));
        if !found.is_empty() {
            return Ok(found);
        }
    }
    Ok(Vec::new())
}

/// The one lot that a label means.
pub(crate) fn one(reading: &Reading<'_>, typed: &str) -> Result<Lot> {
    let mut found = meanings(reading, typed)?;
    match found.len() {
        0 => Err(Error::NotFound {
            what: "lot",
            label: typed.to_owned(),
            near: label::near(reading, LabelKind::Lot, typed)?,
        }),
        1 => Ok(found.remove(0)),
        _ => Err(Error::Ambiguous {
            what: "lot",
            label: typed.to_owned(),
            meanings: told_apart(reading, &found)?,
        }),
    }
}

/// For each of several lots, a label that means only it, and its description.
pub(crate) fn told_apart(reading: &Reading<'_>, lots: &[Lot]) -> Result<Vec<(String, String)>> {
    let mut meanings = lots
        .iter()
        .map(|lot| {
            let r = &lot.received;
            let mut candidates = vec![r.code.clone()];
            if let Some(maker) = r.maker.value() {
                candidates.push(format!("{maker}:{}", r.code));
            }
            for candidate in candidates {
                if self::meanings(reading, &candidate)?.len() == 1 {
                    return Ok((candidate, lot.line()));
                }
            }
            Ok((lot.id.to_string(), lot.line()))
        })
        .collect::<Result<Vec<_>>>()?;
    meanings.sort();
    Ok(meanings)
}

/// What one entry says about the status of a lot, from the earliest moment of its claim.
pub(crate) fn status_said(event: Event) -> Result<(When, LotStatus)> {
    let (at, status) = if let Event::LotReleased(e) = event {
        (e.at.clone(), LotStatus::Released { since: e.at.from })
    } else if let Event::LotHeld(e) = event {
        (e.at.clone(), LotStatus::OnHold { since: e.at.from, why: e.why })
    } else if let Event::LotRejected(e) = event {
        (e.at.clone(), LotStatus::Rejected { since: e.at.from, why: e.why })
    } else if let Event::LotRecalled(e) = event {
        (e.at.clone(), LotStatus::Recalled { since: e.at.from, why: e.why })
    } else {
        return Err(Error::Damaged(format!(
            "a status of a lot comes from an entry of kind {}",
            event.kind()
        )));
    };
    Ok((at, status))
}

/// Every status that stands, in the order of the record.
pub(crate) fn statuses(reading: &Reading<'_>, id: LotId) -> Result<Vec<(When, LotStatus)>> {
    let places = reading
        .standing_places("SELECT place FROM fact_lot_status WHERE lot = ?1 ORDER BY place", [id.bytes()])?;
    reading.ordered(places)?.into_iter().map(|(_, place)| status_said(reading.event(place)?)).collect()
}

/// The status of a lot: what the last entry about it says, but that a rejection stands until it is voided: nothing
/// that is said of the lot later makes it less.
pub(crate) fn status(reading: &Reading<'_>, id: LotId) -> Result<LotStatus> {
    let mut statuses = statuses(reading, id)?;
    let rejected = statuses.iter().position(|(_, status)| matches!(status, LotStatus::Rejected { .. }));
    let decides = rejected.map(|at| statuses.swap_remove(at)).or_else(|| statuses.pop());
    Ok(decides.map_or(LotStatus::Unreleased, |(_, status)| status))
}

/// Amounts moved one way and the other.
#[derive(Clone, Copy, Default)]
struct Sum {
    pieces: Option<i64>,
    mg: Option<i64>,
    /// Something was moved of which the amount is not stated, or the sum is too large.
    lost: bool,
}

impl Sum {
    fn add(&mut self, sign: i64, pieces: Option<i64>, mg: Option<i64>) {
        let mut more = |sum: &mut Option<i64>, by: Option<i64>| {
            if let Some(by) = by {
                match sum.unwrap_or(0).checked_add(by.saturating_mul(sign)) {
                    Some(total) => *sum = Some(total),
                    None => self.lost = true,
                }
            }
        };
        more(&mut self.pieces, pieces);
        more(&mut self.mg, mg);
        self.lost |= pieces.is_none() && mg.is_none();
    }

    fn add_rows(
        &mut self,
        reading: &Reading<'_>,
        sign: i64,
        sql: &str,
        values: impl rusqlite::Params,
    ) -> Result<()> {
        let mut statement = reading.conn().prepare_cached(sql)?;
        let mut rows = statement.query(values)?;
        while let Some(row) = rows.next()? {
            if reading.stands(Place(row.get(0)?)) {
                self.add(sign, row.get(1)?, row.get(2)?);
            }
        }
        Ok(())
    }

    fn balance(self, lot: &Lot) -> Balance {
        if self.lost {
            return Balance::NotKnown;
        }
        match (self.pieces, self.mg, &lot.received.piece) {
            (None, None, _) | (Some(_), Some(_), None) => Balance::NotKnown,
            (Some(pieces), None, _) => Balance::Pieces(pieces),
            (None, Some(mg), _) => Balance::Milligrams(mg),
            (Some(pieces), Some(mg), Some(piece)) => pieces
                .checked_mul(piece.mg)
                .and_then(|p| p.checked_add(mg))
                .map_or(Balance::NotKnown, Balance::Milligrams),
        }
    }
}

/// What is in the crib of a lot as stock: received − handed out from the crib + returned with every mark legible
/// − scrapped in the crib + found without a mark and marked anew with proof.
pub(crate) fn in_crib(reading: &Reading<'_>, lot: &Lot) -> Result<Balance> {
    let id = lot.id.bytes();
    let mut sum = Sum::default();
    sum.add_rows(reading, 1, "SELECT place, pieces, mg FROM fact_lot WHERE lot = ?1", [id])?;
    let issued = "SELECT place, pieces, mg FROM fact_slip WHERE lot = ?1 AND parent IS NULL";
    sum.add_rows(reading, -1, issued, [id])?;
    let credited = "SELECT place, pieces, mg FROM fact_out WHERE lot = ?1 AND credited";
    sum.add_rows(reading, 1, credited, [id])?;
    sum.add_rows(reading, -1, "SELECT place, pieces, mg FROM fact_scrap WHERE lot = ?1", [id])?;
    for quantity in re_marked(reading, lot.id)? {
        sum.add(1, quantity.pieces(), quantity.milligrams());
    }
    Ok(sum.balance(lot))
}

/// What came back of a lot and is not stock: unmarked, damaged or wet, or in a condition that nobody wrote down. What
/// was marked anew with proof is stock again.
pub(crate) fn put_aside(reading: &Reading<'_>, lot: &Lot) -> Result<Balance> {
    let mut sum = Sum::default();
    let aside = "SELECT place, pieces, mg FROM fact_out WHERE lot = ?1 AND way = 'returned' AND NOT credited";
    sum.add_rows(reading, 1, aside, [lot.id.bytes()])?;
    for quantity in re_marked(reading, lot.id)? {
        sum.add(-1, quantity.pieces(), quantity.milligrams());
    }
    if sum.pieces.is_none() && sum.mg.is_none() && !sum.lost {
        return Ok(Balance::Pieces(0));
    }
    Ok(sum.balance(lot))
}

/// Quantities that came back or were found without a mark, and were marked anew as this lot.
fn re_marked(reading: &Reading<'_>, lot: LotId) -> Result<Vec<Quantity>> {
    let mut quantities = Vec::new();
    let places = reading.standing_places(
        "SELECT place FROM fact_disposition WHERE re_marked = ?1 ORDER BY place",
        [lot.bytes()],
    )?;
    let mut seen = Vec::new();
    for place in places {
        let Event::FindingDisposed(disposed) = reading.event(place)? else {
            continue;
        };
        // Two stations may have disposed of one finding: the metal is there once.
        if seen.contains(&disposed.finding) {
            continue;
        }
        seen.push(disposed.finding);
        for entry in disposed.entries {
            let Some(first) = reading.place_of(entry)? else {
                continue;
            };
            for place in reading.corrections().newest(first) {
                let event = reading.event(place)?;
                let quantity = if let Event::RodReturned(e) = event {
                    // Said to be marked after all, it is credited as a return.
                    (e.condition.value() != Some(&Condition::Marked)).then_some(e.quantity)
                } else if let Event::WireFoundUnmarked(e) = event {
                    Some(e.quantity)
                } else {
                    None
                };
                quantities.extend(quantity.and_then(Stated::into_value));
            }
        }
    }
    Ok(quantities)
}

/// A balance in milligrams, where the piece mass allows it.
pub fn balance_mg(balance: Balance, lot: &Lot) -> Option<i64> {
    match balance {
        Balance::Milligrams(mg) => Some(mg),
        Balance::Pieces(n) => n.checked_mul(lot.received.piece.as_ref()?.mg),
        Balance::NotKnown => None,
    }
}
