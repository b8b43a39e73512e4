//! `issues.csv`: what was handed out at the window, one slip a row.

use super::cells::Cells;
use super::columns::{Column, issues as column};
use super::names::{Meaning, SlipKnown};
use super::table::{Row, Table};
use super::{Import, recorded};
use crate::ask::reading::Reading;
use crate::error::Result;
use record::event::{Event, JointRef, PersonRef, RodIssued};
use record::id::SlipId;

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    import.slips.reserve(table.rows);
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            step();
            take_row(import, row)
        },
    )
}

fn take_row(import: &mut Import<'_, '_>, row: &Row<'_, '_>) -> Result<()> {
    let book = import.book;
    let mut cells = Cells::new(row, &mut import.bad, import.zone);
    let number = cells.needed_label(column::SLIP, "the number of the slip");
    let lot = import.lots.needed(book, &mut cells, column::LOT)?;
    let holder = import.people.needed(book, &mut cells, column::WELDER, "the badge of who took it")?;
    let quantity = cells.quantity(column::QUANTITY);
    let at = cells.needed_time(column::ISSUED_AT, &[]);
    let issued_by = import.people.stated(book, &mut cells, column::ISSUED_BY)?;
    let joints = import.joints.list(book, &mut cells, column::JOINTS)?;
    let quiver = cells.text(column::QUIVER);
    let due = cells.time(column::DUE_AT, &[]);
    let Some(number) = number else {
        return Ok(());
    };
    if import.slips.in_files(&number).is_some() {
        cells.refuse(column::SLIP, GIVEN_TWICE);
        return Ok(());
    }
    let in_book = slip_in_book(import.slips.in_book(book, &number)?, &mut cells, column::SLIP);
    let new = SlipId(import.ids.next()?);
    let imported = cells.imported();
    let (Some(lot), Some((badge, person)), Some(at), true) = (lot, holder, at, cells.are_sound()) else {
        let known = SlipKnown { id: new, of: None, in_book: false };
        import.slips.add(&number, in_book.unwrap_or(known));
        return Ok(());
    };
    let of = Some((lot.lot, person));
    let event = Event::RodIssued(RodIssued {
        at,
        due,
        holder: PersonRef { badge, person },
        imported,
        issued_by: issued_by.map(|(badge, person)| PersonRef { badge, person }),
        joints: joints.into_iter().map(|(number, joint)| JointRef { joint, number }).collect(),
        lot,
        number: number.to_string(),
        overridden: None,
        quantity,
        quiver,
        slip: new,
    });
    match in_book {
        None => {
            import.slips.add(&number, SlipKnown { id: new, of, in_book: false });
            import.append(event)
        }
        Some(known) => {
            import.slips.add(&number, known);
            if slip_says(book, import, known, &event)? {
                import.already_there += 1;
            } else {
                let mut cells = Cells::new(row, &mut import.bad, import.zone);
                cells.refuse(column::SLIP, OTHERWISE_IN_BOOK);
            }
            Ok(())
        }
    }
}

/// Why a number cannot be given.
pub(super) const GIVEN_TWICE: &str =
    "the number of this slip is given to an earlier row; every slip has its own";
/// Why a number cannot be given.
pub(super) const OTHERWISE_IN_BOOK: &str =
    "the book has a slip of this number that says something else; every slip has its own number";

/// The slip of that number in the book, if there is one.
pub(super) fn slip_in_book(
    meaning: Meaning<SlipKnown>,
    cells: &mut Cells<'_, '_, '_>,
    column: Column,
) -> Option<SlipKnown> {
    match meaning {
        Meaning::One(slip) => Some(slip),
        Meaning::Nothing => None,
        Meaning::Several => {
            cells.refuse(column, "in the book several slips have this number");
            None
        }
    }
}

/// Whether the entry that began a slip says the same as `event`.
pub(super) fn slip_says(
    book: &Reading<'_>,
    import: &Import<'_, '_>,
    slip: SlipKnown,
    event: &Event,
) -> Result<bool> {
    let sql = "SELECT place FROM fact_slip WHERE slip = ?1";
    Ok(recorded::same(book, import.own, sql, [slip.id.bytes()], event)?.is_some())
}
