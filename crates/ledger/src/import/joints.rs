//! `joints.csv`: joints, and how far their filler is to be traced.

use super::cells::Cells;
use super::columns::joints as column;
use super::names::Meaning;
use super::repeats::Repeats;
use super::table::Table;
use super::{Import, recorded};
use crate::error::Result;
use record::Stated;
use record::event::{Event, JointDeclared, Level, PapersAsked, WpsRef};
use record::id::JointId;
use std::collections::HashMap;

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut newest: HashMap<Box<str>, u64> = HashMap::new();
    let mut repeats = Repeats::default();
    let mut described_again = Repeats::default();
    import.joints.reserve(table.rows);
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            step();
            let book = import.book;
            let mut cells = Cells::new(row, &mut import.bad, import.zone);
            let number = cells.needed_label(column::JOINT, "the number of the joint");
            let job = cells.text(column::JOB);
            let drawing = cells.text(column::DRAWING);
            let drawing_revision = cells.text(column::DRAWING_REVISION);
            let wps = import.wps.list(book, &mut cells, column::WPS)?;
            let level = cells.word(column::LEVEL, &[Level::Class, Level::Lot], Level::word);
            let needed_mg = cells.grams(column::NEEDED_G);
            let needed_u_mg = cells.grams(column::NEEDED_U_G);
            let finished_at = cells.time(column::FINISHED_AT, &[]);
            let asked = PapersAsked {
                certificate_type: cells.text(column::ASKS_CERTIFICATE_TYPE),
                lot_class: cells.text(column::ASKS_LOT_CLASS),
                schedule: cells.text(column::ASKS_SCHEDULE),
            };
            let asked = if asked == PapersAsked::default() { Stated::NotAsked } else { Stated::Value(asked) };
            let Some(number) = number else {
                return Ok(());
            };
            let (known, in_book) = match import.joints.in_files(&number) {
                Some(joint) => (Some(joint), false),
                None => match import.joints.in_book(book, &number)? {
                    Meaning::One(joint) => (Some(joint), true),
                    Meaning::Nothing => (None, false),
                    Meaning::Several => {
                        cells.refuse(column::JOINT, "in the book several joints have this number");
                        (None, false)
                    }
                },
            };
            let (sound, imported) = (cells.are_sound(), cells.imported());
            let joint = match known {
                Some(joint) => joint,
                None => JointId(import.ids.next()?),
            };
            import.joints.add(&number, joint);
            let print = repeats.print(row.raw());
            match newest.insert(number.as_ref().into(), print) {
                Some(before) if before == print => {
                    repeats.note(row.number());
                    import.already_there += 1;
                    return Ok(());
                }
                Some(_) => described_again.note(row.number()),
                None => {}
            }
            if !sound {
                return Ok(());
            }
            let event = Event::JointDeclared(JointDeclared {
                asked,
                drawing,
                drawing_revision,
                finished_at,
                imported,
                job,
                joint,
                level,
                needed_mg,
                needed_u_mg,
                // Named by a number that it had before, it keeps the newest one.
                number: if in_book {
                    book.joint(joint)?.declared.number.clone()
                } else {
                    number.into_owned()
                },
                worked_out: Stated::NotAsked,
                wps: wps.into_iter().map(|(number, wps)| WpsRef { number, wps }).collect(),
            });
            let sql = "SELECT place FROM fact_joint WHERE joint = ?1";
            if in_book && recorded::newest_says(book, sql, joint.bytes(), &event)? {
                import.already_there += 1;
                return Ok(());
            }
            import.append(event)
        },
    )?;
    import.warnings.extend(repeats.warning(table.layout.file, "each was taken once"));
    import.warnings.extend(described_again.described_again(table.layout.file, "joint"));
    Ok(())
}
