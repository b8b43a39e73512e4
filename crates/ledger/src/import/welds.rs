//! `welds.csv`: what was welded.

use super::cells::{self, Cells};
use super::columns::welds as column;
use super::names::SlipKnown;
use super::repeats::Repeats;
use super::table::{Row, Table};
use super::{Import, recorded};
use crate::ask::heat_input;
use crate::error::Result;
use filler::Process;
use record::Stated;
use record::event::{Arc, Event, JointRef, JointWelded, Mark, PersonRef, SlipRef};

/// The words of the column `mark`.
const MARKS: [Mark; 3] = [Mark::Read, Mark::Unreadable, Mark::NotLooked];

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut repeats = Repeats::default();
    let any_in_book = import.any_row("fact_weld")?;
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
    let cycle = cells.text(column::CYCLE);
    let pass = cells.text(column::PASS);
    let process = cells.stated(column::PROCESS, cells::process);
    let filler = cells.yes_or_no(column::FILLER, Some(true));
    let welder = import.people.needed(book, &mut cells, column::WELDER, "the welder's badge")?;
    let lot = import.lots.stated(book, &mut cells, column::LOT)?;
    let slip = import.slips.stated(book, &mut cells, column::SLIP)?;
    let used = cells.quantity(column::USED);
    let from = cells.needed_time(column::FROM, &import.shifts);
    let to = cells.time(column::TO, &import.shifts);
    let mark = cells.word(column::MARK, &MARKS, Mark::word);
    let recorded_by = import.people.stated(book, &mut cells, column::RECORDED_BY)?;
    let arc = arc(&mut cells, process.value());
    if let (Stated::Value(lot), Stated::Value((number, SlipKnown { of: Some((of_slip, _)), .. }))) =
        (&lot, &slip)
        && lot.lot != *of_slip
    {
        let code = import.lots.code(book, *of_slip)?;
        cells.refuse(
            column::SLIP,
            format!(
                "lot {} and slip {number} disagree: the slip is of lot {code}. Name the one that is on the paper, and \
                 leave the other out",
                lot.label
            ),
        );
    }
    if filler == Some(false) {
        let some = used.value().is_some_and(|q| !q.is_zero());
        if lot.value().is_some() || slip.value().is_some() || some {
            cells.refuse(
                column::FILLER,
                "the weld is without filler, but the row names a lot, a slip or an amount used; one of the two is wrong",
            );
        }
    }
    let (sound, imported) = (cells.are_sound(), cells.imported());
    let (Some((number, joint)), Some((badge, person)), Some(filler), Some(from), true) =
        (joint, welder, filler, from, sound)
    else {
        return Ok(());
    };
    let event = JointWelded {
        arc,
        cycle,
        filler,
        finished: false,
        from,
        imported,
        joints: vec![JointRef { joint, number }],
        lot,
        mark,
        overridden: None,
        pass,
        process,
        recorded_by: recorded_by.map(|(badge, person)| PersonRef { badge, person }),
        slip: slip.map(|(number, slip)| SlipRef { number, slip: slip.id }),
        to,
        used,
        welder: PersonRef { badge, person },
    };
    let (start, end) = event.covers();
    let event = Event::JointWelded(event);
    if any_in_book {
        let sql = "SELECT w.place FROM fact_weld w JOIN fact_weld_joint j ON j.place = w.place
                   WHERE w.welder = ?1 AND w.at_from = ?2 AND w.at_to = ?3 AND j.joint = ?4 ORDER BY w.place";
        let about = (person.bytes(), start.0, end.0, joint.bytes());
        let before = recorded::same(book, import.own, sql, about, &event)?;
        if import.refuse_recorded(row, before)? {
            return Ok(());
        }
    }
    import.append(event)
}

/// What was measured of the arc; not asked where nothing was written down.
fn arc(cells: &mut Cells<'_, '_, '_>, process: Option<&Process>) -> Stated<Arc> {
    let arc = Arc {
        amps: cells.text(column::AMPS),
        energy: cells.text(column::ENERGY),
        length: cells.text(column::LENGTH),
        power: cells.text(column::POWER),
        travel: cells.text(column::TRAVEL),
        volts: cells.text(column::VOLTS),
        waveform_controlled: cells.yes_or_no(column::WAVEFORM_CONTROLLED, Some(false)) == Some(true),
    };
    if arc == Arc::default() {
        return Stated::NotAsked;
    }
    if let Err((part, why)) = heat_input::check(&arc, process) {
        let at = match part {
            heat_input::Part::Amps => column::AMPS,
            heat_input::Part::Energy => column::ENERGY,
            heat_input::Part::Length => column::LENGTH,
            heat_input::Part::Power => column::POWER,
            heat_input::Part::Travel => column::TRAVEL,
            heat_input::Part::Volts | heat_input::Part::Together => column::VOLTS,
        };
        cells.refuse(at, why);
    }
    Stated::Value(arc)
}
