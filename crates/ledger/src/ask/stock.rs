//! What is in the crib, and what is out.

use super::lot::{self};
use super::reading::Reading;
use super::slip::SlipAndLot;
use super::where_used::LotInCrib;
use crate::error::Result;
use crate::log::Place;
use record::id::{LotId, SlipId};

impl Reading<'_> {
    /// Every lot with its status and what is in the crib of it, by classification, then code.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn stock(&self) -> Result<Vec<LotInCrib>> {
        stock(self)
    }

    /// Slips that are open, by when they are due, then when they were issued.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn out(&self) -> Result<Vec<SlipAndLot>> {
        out(self)
    }
}

fn stock(reading: &Reading<'_>) -> Result<Vec<LotInCrib>> {
    let mut statement = reading.conn().prepare_cached("SELECT DISTINCT lot FROM fact_lot")?;
    let lots = statement
        .query_map([], |row| row.get(0).map(LotId::from_bytes))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut stock = lots
        .into_iter()
        .map(|id| reading.lot(id))
        // A lot of which every receipt is void was never there.
        .filter(|lot| lot.as_ref().map_or(true, |lot| !lot.void))
        .map(|lot| {
            let lot = lot?;
            let id = lot.id;
            Ok(LotInCrib { status: lot::status(reading, id)?, in_crib: lot::in_crib(reading, &lot)?, lot })
        })
        .collect::<Result<Vec<_>>>()?;
    stock.sort_by(|a, b| {
        let key =
            |l: &LotInCrib| (l.lot.received.classification.cell(), l.lot.received.code.clone(), l.lot.id);
        key(a).cmp(&key(b))
    });
    Ok(stock)
}

pub(crate) fn out(reading: &Reading<'_>) -> Result<Vec<SlipAndLot>> {
    let mut statement = reading.conn().prepare_cached(
        "SELECT s.slip, (SELECT max(o.place) FROM fact_out o WHERE o.slip = s.slip AND o.closes = 1), s.place
         FROM fact_slip s",
    )?;
    let slips = statement
        .query_map([], |row| {
            Ok((
                SlipId::from_bytes(row.get(0)?),
                row.get::<_, Option<i64>>(1)?.map(Place),
                Place(row.get(2)?),
            ))
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut open = Vec::new();
    for (id, closed, begun) in slips {
        // What a standing entry closes needs no further look.
        if !reading.stands(begun) || closed.is_some_and(|place| reading.stands(place)) {
            continue;
        }
        let view = reading.slip_and_lot(id)?;
        if view.custody.to.is_none() {
            open.push(view);
        }
    }
    open.sort_by(|a, b| {
        let key = |v: &SlipAndLot| {
            let due = v.slip.due.value().map_or(i64::MAX, |d| d.to.0);
            (due, v.slip.issued.from.0, v.slip.number.clone())
        };
        key(a).cmp(&key(b))
    });
    Ok(open)
}
