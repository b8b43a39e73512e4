//! `returns.csv`: what came back to the window.

use super::cells::Cells;
use super::columns::returns as column;
use super::names::SlipKnown;
use super::repeats::Repeats;
use super::table::{Row, Table};
use super::{Import, recorded};
use crate::error::Result;
use record::event::{Condition, Event, PersonRef, RodReturned, SlipRef};

/// The words of the column `condition`.
const CONDITIONS: [Condition; 4] =
    [Condition::Marked, Condition::Unmarked, Condition::Damaged, Condition::Wet];

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
    let slip = import.slips.needed(book, &mut cells, column::SLIP, "the number of the slip")?;
    let quantity = cells.quantity(column::QUANTITY);
    let stubs = cells.count(column::STUBS);
    let condition = cells.word(column::CONDITION, &CONDITIONS, Condition::word);
    let closes = cells.yes_or_no(column::CLOSES, Some(true));
    let at = cells.needed_time(column::RETURNED_AT, &[]);
    let received_by = import.people.stated(book, &mut cells, column::RECEIVED_BY)?;
    let (sound, imported) = (cells.are_sound(), cells.imported());
    let (Some((number, SlipKnown { id, of: Some((lot, holder)), in_book })), Some(closes), Some(at), true) =
        (slip, closes, at, sound)
    else {
        return Ok(());
    };
    let (from, to) = (at.from.0, at.to.0);
    let event = Event::RodReturned(RodReturned {
        at,
        closes,
        condition,
        holder,
        imported,
        lot,
        overridden: None,
        quantity,
        received_by: received_by.map(|(badge, person)| PersonRef { badge, person }),
        slip: SlipRef { number, slip: id },
        stubs,
    });
    if in_book {
        let sql = "SELECT place FROM fact_out
                   WHERE slip = ?1 AND way = 'returned' AND at_from = ?2 AND at_to = ?3 ORDER BY place";
        let before = recorded::same(book, import.own, sql, (id.bytes(), from, to), &event)?;
        if import.refuse_recorded(row, before)? {
            return Ok(());
        }
    }
    import.append(event)
}
