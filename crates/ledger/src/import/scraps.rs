//! `scraps.csv`: what is out for good, from a slip or from the crib.

use super::cells::Cells;
use super::columns::scraps as column;
use super::names::SlipKnown;
use super::repeats::Repeats;
use super::table::{Row, Table};
use super::{Import, recorded};
use crate::error::Result;
use record::Stated;
use record::event::{Event, LotRef, PersonRef, RodScrapped, ScrappedSlip, SlipRef};

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut repeats = Repeats::default();
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            step();
            repeats.is_repeat(row.raw(), row.number());
            take_row(import, row)
        },
    )?;
    import.warnings.extend(repeats.warning(table.layout.file, "each was recorded"));
    Ok(())
}

fn take_row(import: &mut Import<'_, '_>, row: &Row<'_, '_>) -> Result<()> {
    let book = import.book;
    let mut cells = Cells::new(row, &mut import.bad, import.zone);
    let slip = import.slips.stated(book, &mut cells, column::SLIP)?;
    let lot = import.lots.stated(book, &mut cells, column::LOT)?;
    let quantity = cells.quantity(column::QUANTITY);
    let why = cells.remark(column::WHY);
    let at = cells.needed_time(column::SCRAPPED_AT, &[]);
    let by = import.people.stated(book, &mut cells, column::BY)?;
    // Which of the two is meant is asked of the cells themselves: a label that means nothing is reported already.
    let named = |column| !cells.names_nothing(column);
    match (named(column::SLIP), named(column::LOT)) {
        (true, true) => cells.refuse(
            column::LOT,
            "the row names a slip and a lot; name the slip if the metal was out on it, or the lot if it was in the crib",
        ),
        (false, false) => cells.refuse(
            column::SLIP,
            "the row names neither a slip nor a lot; name the slip if the metal was out on it, or the lot if it was in \
             the crib",
        ),
        (false, true) if row.cell(column::QUANTITY).is_empty() => cells.refuse(
            column::QUANTITY,
            "how much went out of the crib is needed; write unknown if nobody knows",
        ),
        (true, false) | (false, true) => {}
    }
    let (sound, imported) = (cells.are_sound(), cells.imported());
    let (Some(at), true) = (at, sound) else {
        return Ok(());
    };
    let (lot, slip, in_book) = if let Stated::Value((number, SlipKnown { id, of, in_book })) = slip {
        // Without lot and holder: the row that gives the slip cannot be taken, and is reported itself.
        let Some((lot, holder)) = of else {
            return Ok(());
        };
        let label = import.lots.code(book, lot)?;
        // No amount = all that was left on it, as at the counter.
        let closes = quantity == Stated::NotAsked;
        let slip = ScrappedSlip { closes, holder, slip: SlipRef { number, slip: id } };
        (LotRef { label, lot }, Some(slip), in_book)
    } else if let Stated::Value(lot) = lot {
        (lot, None, true)
    } else {
        return Ok(());
    };
    let (from, to, lot_id, slip_id) = (at.from.0, at.to.0, lot.lot, slip.as_ref().map(|s| s.slip.slip));
    let event = Event::RodScrapped(RodScrapped {
        at,
        by: by.map(|(badge, person)| PersonRef { badge, person }),
        imported,
        lot,
        overridden: None,
        quantity,
        slip,
        why,
    });
    if in_book {
        let before = match slip_id {
            Some(slip) => {
                let sql = "SELECT place FROM fact_out
                           WHERE slip = ?1 AND way = 'scrapped' AND at_from = ?2 AND at_to = ?3 ORDER BY place";
                recorded::same(book, import.own, sql, (slip.bytes(), from, to), &event)?
            }
            None => {
                let sql = "SELECT place FROM fact_scrap WHERE lot = ?1 ORDER BY place";
                recorded::same(book, import.own, sql, [lot_id.bytes()], &event)?
            }
        };
        if import.refuse_recorded(row, before)? {
            return Ok(());
        }
    }
    import.append(event)
}
