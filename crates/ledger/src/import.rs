//! The import of a shop's own files: people, qualifications, procedures, joints, lots, slips, weld records, what was
//! scrapped and what was found.
//!
//! Everything happens in one transaction: one row that cannot be taken, and nothing is written. In reading order:
//! [`source`] finds and hashes the files, [`records`] and [`table`] make rows of them, [`cells`] makes values of cells,
//! [`names`] and [`lots`] say what labels mean, and one module for each file makes entries of its rows. An import
//! records what happened: no rule of the counter refuses a row, the findings show what would have been refused.

mod bad_rows;
mod bulk;
mod cells;
mod columns;
mod found_wire;
mod hand_overs;
mod ids;
mod issues;
mod joints;
mod lots;
mod names;
mod near;
mod people;
mod qualifications;
mod recorded;
mod records;
mod repeats;
mod returns;
mod scraps;
mod source;
mod spot_checks;
mod table;
mod welds;
mod wps;

use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::{Place, Writing, entry_at, id_and_clock};
use crate::{Acting, Done, Ledger, tell};
use bad_rows::BadRows;
use ids::Ids;
use lots::Lots;
use names::{Meaning, Names, SlipKnown};
use record::event::{Event, FilesImported, ImportedFile};
use record::id::{JointId, PersonId, WpsId};
use record::time::Shift;
use record::{Refusal, Zone, short_id};
use recorded::Own;
use rusqlite::{Connection, OptionalExtension as _};
use source::Source;
use std::path::Path;
use table::{Row, Table};

/// Rows between two reports of progress.
const PROGRESS: u64 = 4_096;
/// Entries that are written at a time.
const WAITING: usize = 4_096;
/// Memory for pages of the book while importing, in KiB: enough that the index of entry ids, which are hashes and
/// land anywhere, stays in it for a few million entries.
const CACHE_KIB: i64 = 256 * 1024;

/// How far an import is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Progress {
    /// The file being read.
    pub file: String,
    /// Rows read of it.
    pub done: u64,
    /// Rows it has.
    pub of: u64,
}

/// What was taken from one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileCount {
    /// Its name.
    pub name: String,
    /// Rows below the header that are not blank.
    pub rows: u64,
    /// Entries made of them; a lot that is released makes two.
    pub entries: u64,
    /// Rows that say what the book had already, and made no entry.
    pub already_there: u64,
}

/// What there is to tell about an import.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Imported {
    /// The files, in the order they were read.
    pub files: Vec<FileCount>,
    /// What a person should look at, though nothing was refused.
    pub warnings: Vec<String>,
}

impl Ledger {
    /// Imports a folder of CSV files, or one of them. `again` takes files that were imported before, and rows that the
    /// book has already, a second time.
    ///
    /// # Errors
    /// [`Error::BadRows`] with every row that cannot be taken, [`Error::Refused`] when a file was imported before,
    /// [`Error::NotUnderstood`] when there is no such file or nobody is named as acting. Nothing is written then.
    pub fn import(
        &mut self,
        acting: &Acting,
        dir: &Path,
        again: bool,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<Done<Imported>> {
        if acting.badge.is_empty() {
            return Err(Error::NotUnderstood {
                message: "nothing was imported: nobody is named as acting".into(),
                next: "give your badge with --by BADGE, or set RODBOOK_BY".into(),
            });
        }
        let badge = tell::text("--by", &acting.badge)?;
        let (sources, warnings) = source::read(dir)?;
        let before: i64 = self.conn.pragma_query_value(None, "cache_size", |row| row.get(0))?;
        self.conn.pragma_update(None, "cache_size", -CACHE_KIB)?;
        let done = self.write(acting, |writing| run(writing, &badge, &sources, warnings, again, progress));
        self.conn.pragma_update(None, "cache_size", before)?;
        done
    }
}

/// What an import knows while it runs.
struct Import<'w, 'c> {
    writing: &'w mut Writing<'c>,
    conn: &'c Connection,
    /// What the book had before: labels, and which entries stand.
    book: &'w Reading<'c>,
    people: Names<PersonId>,
    joints: Names<JointId>,
    wps: Names<WpsId>,
    slips: Names<SlipKnown>,
    lots: Lots,
    ids: Ids,
    own: Own,
    zone: Zone,
    shifts: Vec<Shift>,
    again: bool,
    bad: BadRows,
    warnings: Vec<String>,
    /// Entries that are made and not yet written. Nothing that is asked of the book meanwhile is about them.
    waiting: Vec<Event>,
    entries: u64,
    already_there: u64,
    people_repeated: u64,
}

fn run(
    writing: &mut Writing<'_>,
    badge: &str,
    sources: &[Source],
    warnings: Vec<String>,
    again: bool,
    progress: &mut dyn FnMut(Progress),
) -> Result<Imported> {
    let conn = writing.conn();
    let reading = Reading::new(conn)?;
    let (zone, shifts) = (reading.zone(), reading.shifts()?);
    let mut bad = BadRows::default();
    let tables: Vec<(&Source, Option<Table<'_>>)> =
        sources.iter().map(|source| (source, Table::open(source, &mut bad))).collect();
    if !again {
        refuse_imported_before(conn, &tables, zone)?;
    }
    let own = Own::from(writing.next_place()?);
    let rows = tables.iter().filter_map(|(_, table)| table.as_ref()).map(|t| t.rows).sum();
    let taken_down = bulk::take_down(conn, rows)?;
    let ids = Ids::new(writing.now())?;
    let mut import = Import {
        writing,
        conn,
        book: &reading,
        people: Names::new(
            &reading,
            LabelKind::Badge,
            "person with the badge",
            columns::people::LAYOUT.file,
        )?,
        joints: Names::new(&reading, LabelKind::Joint, "joint", columns::joints::LAYOUT.file)?,
        wps: Names::new(&reading, LabelKind::Wps, "WPS", columns::wps::LAYOUT.file)?,
        slips: Names::new(&reading, LabelKind::Slip, "slip", "issues.csv or hand_overs.csv")?,
        lots: Lots::default(),
        ids,
        own,
        zone,
        shifts,
        again,
        bad,
        warnings,
        waiting: Vec::with_capacity(WAITING),
        entries: 0,
        already_there: 0,
        people_repeated: 0,
    };
    import.note_broken(&tables);
    let table = |file: &str| {
        tables.iter().filter_map(|(_, table)| table.as_ref()).find(|table| table.layout.file == file)
    };
    let people = match table(columns::people::LAYOUT.file) {
        Some(table) => people::read(&mut import, table)?,
        None => Vec::new(),
    };
    let person = match import.people.meaning(import.book, badge)? {
        Meaning::One(person) => Some(person),
        Meaning::Nothing | Meaning::Several => None,
    };
    import.writing.act_as(badge, person);
    import.append(Event::FilesImported(FilesImported {
        files: tables
            .iter()
            .map(|(source, table)| ImportedFile {
                name: source.layout.file.to_owned(),
                rows: table.as_ref().map_or(0, |t| t.rows),
                sha256: source.sha256.clone(),
            })
            .collect(),
    }))?;
    import.write_waiting()?;
    let mut files = Vec::with_capacity(tables.len());
    let mut people = Some(people);
    for table in tables.iter().filter_map(|(_, table)| table.as_ref()) {
        (import.entries, import.already_there) = (0, 0);
        let mut seen = Progress { file: table.layout.file.to_owned(), done: 0, of: table.rows };
        progress(seen.clone());
        let mut step = || {
            seen.done += 1;
            if seen.done.is_multiple_of(PROGRESS) {
                progress(seen.clone());
            }
        };
        take(&mut import, table, &mut people, &mut step)?;
        import.write_waiting()?;
        progress(Progress { file: table.layout.file.to_owned(), done: table.rows, of: table.rows });
        files.push(FileCount {
            name: table.layout.file.to_owned(),
            rows: table.rows,
            entries: import.entries,
            already_there: import.already_there,
        });
    }
    if !import.bad.is_empty() {
        let count = import.bad.count();
        return Err(Error::BadRows { rows: import.bad.into_list(), count });
    }
    taken_down.put_up(conn)?;
    Ok(Imported { files, warnings: import.warnings })
}

/// Makes entries of one file's rows.
fn take(
    import: &mut Import<'_, '_>,
    table: &Table<'_>,
    people: &mut Option<Vec<people::PersonRow>>,
    step: &mut dyn FnMut(),
) -> Result<()> {
    let file = table.layout.file;
    if file == columns::people::LAYOUT.file {
        people::write(import, people.take().unwrap_or_default(), step)
    } else if file == columns::qualifications::LAYOUT.file {
        qualifications::take(import, table, step)
    } else if file == columns::wps::LAYOUT.file {
        wps::take(import, table, step)
    } else if file == columns::joints::LAYOUT.file {
        joints::take(import, table, step)
    } else if file == columns::lots::LAYOUT.file {
        lots::take(import, table, step)
    } else if file == columns::issues::LAYOUT.file {
        issues::take(import, table, step)
    } else if file == columns::hand_overs::LAYOUT.file {
        hand_overs::take(import, table, step)
    } else if file == columns::returns::LAYOUT.file {
        returns::take(import, table, step)
    } else if file == columns::welds::LAYOUT.file {
        welds::take(import, table, step)
    } else if file == columns::scraps::LAYOUT.file {
        scraps::take(import, table, step)
    } else if file == columns::found_wire::LAYOUT.file {
        found_wire::take(import, table, step)
    } else {
        spot_checks::take(import, table, step)
    }
}

/// Refuses files that were imported before, byte for byte. A file without rows has nothing to be imported twice.
fn refuse_imported_before(
    conn: &Connection,
    tables: &[(&Source, Option<Table<'_>>)],
    zone: Zone,
) -> Result<()> {
    let mut refusals = Vec::new();
    for (source, table) in tables {
        if table.as_ref().is_some_and(|t| t.rows == 0) {
            continue;
        }
        let before: Option<(i64, String)> = conn
            .prepare_cached("SELECT place, name FROM fact_file WHERE sha256 = ?1 ORDER BY place LIMIT 1")?
            .query_row([&source.sha256], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        if let Some((place, name)) = before {
            let place = Place(place);
            let time = zone.local_with_zone(entry_at(conn, place)?.header.time);
            let first = if refusals.is_empty() { "nothing was imported: " } else { "" };
            let as_name =
                if name == source.layout.file { String::new() } else { format!(", under the name {name}") };
            refusals.push(
                Refusal::absolute(
                    "file-imported-before",
                    format!("{first}{} was imported before, on {time}{as_name}.", source.layout.file),
                    format!(
                        "entry {} names a file with the same SHA-256 {}.",
                        short_id::short(&id_and_clock(conn, place)?.0.0),
                        source.sha256
                    ),
                )
                .next("remove it from the folder if it is the same history")
                .next("import with --again to record it a second time"),
            );
        }
    }
    if refusals.is_empty() { Ok(()) } else { Err(Error::Refused(refusals)) }
}

impl Import<'_, '_> {
    /// Appends an entry. With a bad row nothing will be kept, so nothing more is written; rows are still read for
    /// what is wrong with them.
    fn append(&mut self, event: Event) -> Result<()> {
        if self.bad.is_empty() {
            self.waiting.push(event);
            self.entries += 1;
            if self.waiting.len() >= WAITING {
                self.write_waiting()?;
            }
        }
        Ok(())
    }

    /// Writes the entries that wait.
    fn write_waiting(&mut self) -> Result<()> {
        self.writing.append_all(&self.waiting)?;
        self.waiting.clear();
        Ok(())
    }

    /// Whether a table of facts has any row.
    fn any_row(&self, table: &'static str) -> Result<bool> {
        let sql = format!("SELECT EXISTS (SELECT 1 FROM {table})");
        Ok(self.conn.query_row(&sql, [], |row| row.get(0))?)
    }

    /// Says to the names which of the files could not be read at all.
    fn note_broken(&mut self, tables: &[(&Source, Option<Table<'_>>)]) {
        for (source, _) in tables.iter().filter(|(_, table)| table.is_none()) {
            let file = source.layout.file;
            if file == columns::people::LAYOUT.file {
                self.people.file_is_broken();
            } else if file == columns::joints::LAYOUT.file {
                self.joints.file_is_broken();
            } else if file == columns::wps::LAYOUT.file {
                self.wps.file_is_broken();
            } else if file == columns::lots::LAYOUT.file {
                self.lots.file_is_broken();
            } else if file == columns::issues::LAYOUT.file || file == columns::hand_overs::LAYOUT.file {
                self.slips.file_is_broken();
            }
        }
    }

    /// Refuses a row that the book has an entry for, unless it is to be taken again.
    fn refuse_recorded(&mut self, row: &Row<'_, '_>, place: Option<Place>) -> Result<bool> {
        let Some(place) = place.filter(|_| !self.again) else {
            return Ok(false);
        };
        let short = short_id::short(&self.book.id(place)?.0);
        self.bad.add(
            row.file(),
            0,
            crate::error::BadRow {
                file: row.file_name().into(),
                row: row.number(),
                column: String::new(),
                value: String::new(),
                why: format!(
                    "it is recorded already, as entry {short}; remove the row, or import with --again to record it \
                     a second time"
                ),
            },
        );
        Ok(true)
    }
}
