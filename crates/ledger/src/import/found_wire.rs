//! `found_wire.csv`: wire that was found, and nobody can tell what it is.

use super::cells::Cells;
use super::columns::found_wire as column;
use super::repeats::Repeats;
use super::table::{Row, Table};
use super::{Import, recorded};
use crate::error::Result;
use record::event::{Event, JointRef, PersonRef, WireFoundUnmarked};

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut repeats = Repeats::default();
    let any_in_book = import.any_row("fact_unmarked")?;
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            step();
            repeats.is_repeat(row.raw(), row.number());
            take_row(import, row, any_in_book)
        },
    )?;
    import.warnings.extend(repeats.warning(table.layout.file, "each was recorded"));
    Ok(())
}

fn take_row(import: &mut Import<'_, '_>, row: &Row<'_, '_>, any_in_book: bool) -> Result<()> {
    let book = import.book;
    let mut cells = Cells::new(row, &mut import.bad, import.zone);
    let at = cells.needed_time(column::FOUND_AT, &[]);
    let place = cells.needed_label(column::PLACE, "the place where it was found");
    let by = import.people.stated(book, &mut cells, column::BY)?;
    let welder = import.people.stated(book, &mut cells, column::WELDER)?;
    let quantity = cells.quantity(column::QUANTITY);
    let joints = import.joints.list(book, &mut cells, column::JOINTS)?;
    let (sound, imported) = (cells.are_sound(), cells.imported());
    let (Some(at), Some(place), true) = (at, place, sound) else {
        return Ok(());
    };
    let about = (at.from.0, at.to.0);
    let person = |(badge, person)| PersonRef { badge, person };
    let event = Event::WireFoundUnmarked(WireFoundUnmarked {
        at,
        by: by.map(person),
        imported,
        joints: joints.into_iter().map(|(number, joint)| JointRef { joint, number }).collect(),
        place: place.into_owned(),
        quantity,
        welder: welder.map(person),
    });
    if any_in_book {
        let sql = "SELECT place FROM fact_unmarked WHERE at_from = ?1 AND at_to = ?2 ORDER BY place";
        let before = recorded::same(book, import.own, sql, about, &event)?;
        if import.refuse_recorded(row, before)? {
            return Ok(());
        }
    }
    import.append(event)
}
