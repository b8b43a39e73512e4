//! `qualifications.csv`: who passed which test.

use super::cells::{self, Cells};
use super::columns::qualifications as column;
use super::repeats::Repeats;
use super::table::Table;
use super::{Import, recorded};
use crate::error::Result;
use record::event::{Backing, Event, PersonRef, WelderQualified};

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut repeats = Repeats::default();
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            step();
            let book = import.book;
            let mut cells = Cells::new(row, &mut import.bad, import.zone);
            let welder = import.people.needed(book, &mut cells, column::WELDER, "the welder's badge")?;
            let process = cells.stated(column::PROCESS, cells::process);
            let f_number = cells.text(column::F_NUMBER);
            let backing = cells.word(column::BACKING, &[Backing::With, Backing::Without], Backing::word);
            let qualified_on = cells.time(column::QUALIFIED_ON, &[]);
            let imported = cells.imported();
            let (Some((badge, person)), true) = (welder, cells.are_sound()) else {
                return Ok(());
            };
            let event = Event::WelderQualified(WelderQualified {
                backing,
                f_number,
                imported,
                process,
                qualified_on,
                welder: PersonRef { badge, person },
            });
            let sql = "SELECT place FROM fact_qualification WHERE welder = ?1";
            if repeats.is_repeat(row.raw(), row.number())
                || recorded::same(book, import.own, sql, [person.bytes()], &event)?.is_some()
            {
                import.already_there += 1;
                return Ok(());
            }
            import.append(event)
        },
    )?;
    import.warnings.extend(repeats.warning(table.layout.file, "each was taken once"));
    Ok(())
}
