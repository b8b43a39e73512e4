//! Lots: their identity, their status, and what is in the crib of them.

use super::label;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::{Place, entry_at, id_and_clock};
use filler::{ProductForm, Quantity, Unit};
use record::event::{Event, LotReceived};
use record::id::LotId;
use record::rules::Balance;
use record::rules::lot_status::LotStatus;
use record::{EntryId, Instant, Stated};
use rusqlite::{Connection, params};

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
pub(crate) fn read(conn: &Connection, id: LotId) -> Result<Lot> {
    let mut statement = conn.prepare_cached("SELECT place FROM fact_lot WHERE lot = ?1 ORDER BY place")?;
    let places: Vec<i64> =
        statement.query_map([id.bytes()], |row| row.get(0))?.collect::<rusqlite::Result<_>>()?;
    let mut receipts = Vec::with_capacity(places.len());
    for place in places.into_iter().map(Place) {
        let (entry, clock) = id_and_clock(conn, place)?;
        if let Event::LotReceived(received) = entry_at(conn, place)?.event {
            receipts.push((clock, entry, received));
        }
    }
    receipts.sort_by_key(|(clock, entry, _)| (*clock, *entry));
    let mut receipts = receipts.into_iter();
    let Some((_, entry, received)) = receipts.next() else {
        return Err(Error::Damaged(format!("a fact names lot {id}, which no entry describes")));
    };
    Ok(Lot { id, received, entry, further: receipts.map(|(_, _, r)| r).collect() })
}

/// Lots that a label means: control code, maker's lot number, `MAKER:LABEL`, or an identity.
pub(crate) fn meanings(conn: &Connection, typed: &str) -> Result<Vec<Lot>> {
    // Scanners add blanks.
    let typed = typed.trim();
    if let Some(id) = label::as_identity(typed) {
        let known: bool = conn
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM fact_lot WHERE lot = ?1)")?
            .query_row([id], |row| row.get(0))?;
        return if known { Ok(vec![read(conn, LotId::from_bytes(id))?]) } else { Ok(Vec::new()) };
    }
    let lots = |label: &str| -> Result<Vec<Lot>> {
        label::things(conn, LabelKind::Lot, label)?
            .into_iter()
            .map(|id| read(conn, LotId::from_bytes(id)))
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
pub(crate) fn one(conn: &Connection, typed: &str) -> Result<Lot> {
    let mut found = meanings(conn, typed)?;
    match found.len() {
        0 => Err(Error::NotFound {
            what: "lot",
            label: typed.to_owned(),
            near: label::near(conn, LabelKind::Lot, typed)?,
        }),
        1 => Ok(found.remove(0)),
        _ => Err(Error::Ambiguous {
            what: "lot",
            label: typed.to_owned(),
            meanings: told_apart(conn, &found)?,
        }),
    }
}

/// For each of several lots, a label that means only it, and its description.
pub(crate) fn told_apart(conn: &Connection, lots: &[Lot]) -> Result<Vec<(String, String)>> {
    lots.iter()
        .map(|lot| {
            let r = &lot.received;
            let mut candidates = vec![r.code.clone()];
            if let Some(maker) = r.maker.value() {
                candidates.push(format!("{maker}:{}", r.code));
            }
            for candidate in candidates {
                if meanings(conn, &candidate)?.len() == 1 {
                    return Ok((candidate, lot.line()));
                }
            }
            Ok((lot.id.to_string(), lot.line()))
        })
        .collect()
}

/// The status of a lot: what the last entry about it says.
pub(crate) fn status(conn: &Connection, id: LotId) -> Result<LotStatus> {
    let mut statement = conn.prepare_cached(
        "SELECT f.place FROM fact_lot_status f JOIN entry e ON e.place = f.place
         WHERE f.lot = ?1 ORDER BY e.clock DESC, e.id DESC LIMIT 1",
    )?;
    let place: Option<i64> =
        rusqlite::OptionalExtension::optional(statement.query_row([id.bytes()], |row| row.get(0)))?;
    let Some(place) = place else {
        return Ok(LotStatus::Unreleased);
    };
    let event = entry_at(conn, Place(place))?.event;
    if let Event::LotReleased(e) = event {
        Ok(LotStatus::Released { since: e.at.from })
    } else if let Event::LotHeld(e) = event {
        Ok(LotStatus::OnHold { since: e.at.from, why: e.why })
    } else {
        Err(Error::Damaged(format!("a status of a lot comes from an entry of kind {}", event.kind())))
    }
}

/// Sums of one direction of movement.
#[derive(Clone, Copy, Default)]
struct Sum {
    pieces: i64,
    mg: i64,
    in_pieces: bool,
    in_mass: bool,
    unstated: bool,
}

impl Sum {
    fn read(conn: &Connection, sql: &str, lot: LotId) -> Result<Self> {
        conn.prepare_cached(sql)?
            .query_row(params![lot.bytes()], |row| {
                Ok(Self {
                    pieces: row.get::<_, Option<i64>>(0)?.unwrap_or(0),
                    mg: row.get::<_, Option<i64>>(1)?.unwrap_or(0),
                    in_pieces: row.get::<_, i64>(2)? > 0,
                    in_mass: row.get::<_, i64>(3)? > 0,
                    unstated: row.get::<_, i64>(4)? > 0,
                })
            })
            .map_err(Error::from)
    }
}

const SUMS: &str =
    "sum(pieces), sum(mg), count(pieces), count(mg), count(*) FILTER (WHERE pieces IS NULL AND mg IS NULL)";

/// What is in the crib of a lot: received − handed out from the crib + returned with every mark legible.
pub(crate) fn in_crib(conn: &Connection, lot: &Lot) -> Result<Balance> {
    let received = Sum::read(conn, &format!("SELECT {SUMS} FROM fact_lot WHERE lot = ?1"), lot.id)?;
    let issued =
        Sum::read(conn, &format!("SELECT {SUMS} FROM fact_slip WHERE lot = ?1 AND parent IS NULL"), lot.id)?;
    let credited =
        Sum::read(conn, &format!("SELECT {SUMS} FROM fact_out WHERE lot = ?1 AND credited"), lot.id)?;
    let all = [(received, 1), (issued, -1), (credited, 1)];
    if all.iter().any(|(s, _)| s.unstated) {
        return Ok(Balance::NotKnown);
    }
    let (in_pieces, in_mass) = (all.iter().any(|(s, _)| s.in_pieces), all.iter().any(|(s, _)| s.in_mass));
    let pieces = all.iter().try_fold(0_i64, |sum, (s, sign)| sum.checked_add(s.pieces.checked_mul(*sign)?));
    let mg = all.iter().try_fold(0_i64, |sum, (s, sign)| sum.checked_add(s.mg.checked_mul(*sign)?));
    let (Some(pieces), Some(mg)) = (pieces, mg) else {
        return Ok(Balance::NotKnown);
    };
    Ok(match (in_pieces, in_mass, &lot.received.piece) {
        (false, false, _) | (true, true, None) => Balance::NotKnown,
        (true, false, _) => Balance::Pieces(pieces),
        (false, true, _) => Balance::Milligrams(mg),
        (true, true, Some(piece)) => pieces
            .checked_mul(piece.mg)
            .and_then(|p| p.checked_add(mg))
            .map_or(Balance::NotKnown, Balance::Milligrams),
    })
}

/// A balance in milligrams, where the piece mass allows it.
pub fn balance_mg(balance: Balance, lot: &Lot) -> Option<i64> {
    match balance {
        Balance::Milligrams(mg) => Some(mg),
        Balance::Pieces(n) => n.checked_mul(lot.received.piece.as_ref()?.mg),
        Balance::NotKnown => None,
    }
}
