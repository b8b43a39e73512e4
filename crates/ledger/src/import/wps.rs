//! `wps.csv`: welding procedure specifications.

use super::cells::{self, Cells};
use super::columns::wps as column;
use super::names::Meaning;
use super::repeats::Repeats;
use super::table::Table;
use super::{Import, recorded};
use crate::error::Result;
use filler::heat_input::Convention;
use record::Stated;
use record::event::{Backing, Event, HeatInputLimit, WpsDeclared};
use record::id::WpsId;
use std::collections::HashMap;

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut newest: HashMap<String, u64> = HashMap::new();
    let mut repeats = Repeats::default();
    let mut described_again = Repeats::default();
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            step();
            let book = import.book;
            let mut cells = Cells::new(row, &mut import.bad, import.zone);
            let number = cells.needed_label(column::WPS, "the number of the WPS");
            let revision = cells.text(column::REVISION);
            let processes = cells.list(column::PROCESS, cells::process);
            let specs = cells.list(column::SPEC, |s| Ok(s.to_owned()));
            let classifications = cells.list(column::CLASSIFICATIONS, |c| Ok(c.to_owned()));
            let sizes = cells.list(column::SIZES, cells::printed_size);
            let f_numbers = cells.list(column::F_NUMBER, |f| Ok(f.to_owned()));
            let convention = cells.stated(column::HEAT_INPUT_CONVENTION, |word| {
                Convention::parse(word).map_err(|e| e.to_string())
            });
            let most = cells.stated(column::HEAT_INPUT_MOST, |most| {
                // In any convention: what it is compared with comes later.
                filler::heat_input::HeatInputLimit::parse(Convention::Conventional, most)
                    .map(|_| most.to_owned())
                    .map_err(|e| e.to_string())
            });
            let heat_input = match (convention, most) {
                (Stated::Value(convention), Stated::Value(most)) => {
                    Stated::Value(HeatInputLimit { convention: convention.word().to_owned(), most })
                }
                (_, Stated::Value(_)) => {
                    cells.refuse(
                        column::HEAT_INPUT_CONVENTION,
                        "a limit of heat input needs its convention: values of two conventions are never compared",
                    );
                    Stated::NotAsked
                }
                (Stated::Value(_), _) => {
                    cells.refuse(column::HEAT_INPUT_MOST, "there is a convention and no limit");
                    Stated::NotAsked
                }
                (_, silence) => silence.map(|most| HeatInputLimit { convention: String::new(), most }),
            };
            let backing = cells.word(column::BACKING, &[Backing::With, Backing::Without], Backing::word);
            let Some(number) = number else {
                return Ok(());
            };
            let (known, in_book) = match import.wps.in_files(&number) {
                Some(wps) => (Some(wps), false),
                None => match import.wps.in_book(book, &number)? {
                    Meaning::One(wps) => (Some(wps), true),
                    Meaning::Nothing => (None, false),
                    Meaning::Several => {
                        cells.refuse(column::WPS, "in the book several procedures have this number");
                        (None, false)
                    }
                },
            };
            let (sound, imported) = (cells.are_sound(), cells.imported());
            let wps = match known {
                Some(wps) => wps,
                None => WpsId(import.ids.next()?),
            };
            import.wps.add(&number, wps);
            let print = repeats.print(row.raw());
            match newest.insert(number.to_string(), print) {
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
            let event = Event::WpsDeclared(WpsDeclared {
                backing,
                classifications,
                f_numbers,
                heat_input,
                imported,
                number: number.into_owned(),
                processes,
                revision,
                sizes,
                specs,
                wps,
            });
            let sql = "SELECT place FROM fact_wps WHERE wps = ?1";
            if in_book && recorded::newest_says(book, sql, wps.bytes(), &event)? {
                import.already_there += 1;
                return Ok(());
            }
            import.append(event)
        },
    )?;
    import.warnings.extend(repeats.warning(table.layout.file, "each was taken once"));
    import.warnings.extend(described_again.described_again(table.layout.file, "WPS"));
    Ok(())
}
