//! `spot_checks.csv`: what the inspector saw in a welder's hand.

use super::cells::Cells;
use super::columns::spot_checks as column;
use super::repeats::Repeats;
use super::table::{Row, Table};
use super::{Import, recorded};
use crate::error::Result;
use record::event::{Event, JointRef, MarkSpotChecked, PersonRef};

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut repeats = Repeats::default();
    let any_in_book = import.any_row("fact_spot_check")?;
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
    let joint = import.joints.needed(book, &mut cells, column::JOINT, "the number of the joint")?;
    let welder = import.people.needed(book, &mut cells, column::WELDER, "the welder's badge")?;
    let at = cells.needed_time(column::AT, &[]);
    let by = import.people.stated(book, &mut cells, column::BY)?;
    let legible = cells.yes_or_no(column::LEGIBLE, None);
    let reads = cells.text(column::READS);
    let (sound, imported) = (cells.are_sound(), cells.imported());
    let (Some((number, joint)), Some((badge, person)), Some(at), Some(legible), true) =
        (joint, welder, at, legible, sound)
    else {
        return Ok(());
    };
    let about = (joint.bytes(), person.bytes(), at.from.0, at.to.0);
    let event = Event::MarkSpotChecked(MarkSpotChecked {
        at,
        by: by.map(|(badge, person)| PersonRef { badge, person }),
        imported,
        joint: JointRef { joint, number },
        legible,
        reads,
        welder: PersonRef { badge, person },
    });
    if any_in_book {
        let sql = "SELECT place FROM fact_spot_check
                   WHERE joint = ?1 AND welder = ?2 AND at_from = ?3 AND at_to = ?4 ORDER BY place";
        let before = recorded::same(book, import.own, sql, about, &event)?;
        if import.refuse_recorded(row, before)? {
            return Ok(());
        }
    }
    import.append(event)
}
