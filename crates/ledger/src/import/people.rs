//! `people.csv`: who is who. Read before anything is written, because the person acting may be in it.

use super::cells::{self, Cells};
use super::columns::people as column;
use super::names::Meaning;
use super::repeats::Repeats;
use super::table::Table;
use super::{Import, recorded};
use crate::error::Result;
use crate::tell::enroll;
use record::event::{Event, Imported};
use record::id::PersonId;
use record::person::Role;
use std::collections::HashMap;

/// A row as read.
pub(super) struct PersonRow {
    row: u64,
    badge: String,
    name: String,
    roles: Vec<Role>,
    person: PersonId,
}

/// Reads the rows and gives each badge its person.
pub(super) fn read(import: &mut Import<'_, '_>, table: &Table<'_>) -> Result<Vec<PersonRow>> {
    let mut people = Vec::new();
    let mut newest: HashMap<String, u64> = HashMap::new();
    let mut repeats = Repeats::default();
    let mut described_again = Repeats::default();
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            let mut cells = Cells::new(row, &mut import.bad, import.zone);
            let badge = cells.needed_label(column::BADGE, "a badge");
            let name = cells.needed(column::NAME, "a name", |n| cells::label(n).map(|n| n.into_owned()));
            let mut roles = cells.list(column::ROLES, |word| {
                Role::parse(word).ok_or_else(|| {
                    let all: Vec<_> = Role::ALL.iter().map(|r| r.word()).collect();
                    format!("{word:?} is not a role; write one of: {}, separated by ;", all.join(", "))
                })
            });
            roles.sort_unstable();
            roles.dedup();
            let Some(badge) = badge else {
                return Ok(());
            };
            let known = match import.people.meaning(import.book, &badge)? {
                Meaning::One(person) => Some(person),
                Meaning::Nothing => None,
                Meaning::Several => {
                    cells.refuse(column::BADGE, "in the book several people carry this badge");
                    None
                }
            };
            let sound = cells.are_sound();
            let person = match known {
                Some(person) => person,
                None => PersonId(import.ids.next()?),
            };
            import.people.add(&badge, person);
            let print = repeats.print(row.raw());
            match newest.insert(badge.to_string(), print) {
                Some(before) if before == print => {
                    repeats.note(row.number());
                    import.people_repeated += 1;
                    return Ok(());
                }
                Some(_) => described_again.note(row.number()),
                None => {}
            }
            if let (Some(name), true) = (name, sound) {
                people.push(PersonRow { row: row.number(), badge: badge.into_owned(), name, roles, person });
            }
            Ok(())
        },
    )?;
    import.warnings.extend(repeats.warning(table.layout.file, "each person was taken once"));
    import.warnings.extend(described_again.described_again(table.layout.file, "person"));
    Ok(people)
}

/// Enrols those that the book has not got as they are here.
pub(super) fn write(
    import: &mut Import<'_, '_>,
    people: Vec<PersonRow>,
    step: &mut dyn FnMut(),
) -> Result<()> {
    import.already_there += std::mem::take(&mut import.people_repeated);
    for person in people {
        step();
        if is_in_book(import, &person)? {
            import.already_there += 1;
        } else if import.bad.is_empty() {
            let imported = Imported { file: column::LAYOUT.file.into(), row: person.row };
            enroll::append(
                import.writing,
                person.person,
                &person.badge,
                &person.name,
                &person.roles,
                Some(imported),
            )?;
            import.entries += 1;
        }
    }
    Ok(())
}

/// Whether the newest entry about a person gives them this badge, this name and these roles.
fn is_in_book(import: &Import<'_, '_>, row: &PersonRow) -> Result<bool> {
    let sql = "SELECT place FROM fact_person WHERE person = ?1";
    let newest = recorded::newest_place(import.book, sql, [row.person.bytes()])?;
    let Some(place) = newest else {
        return Ok(false);
    };
    let Event::PersonEnrolled(enrolled) = import.book.event(place)? else {
        return Ok(false);
    };
    let name: Option<String> = rusqlite::OptionalExtension::optional(
        import
            .book
            .conn()
            .prepare_cached("SELECT name FROM person_name WHERE place = ?1")?
            .query_row([place.0], |r| r.get(0)),
    )?;
    let mut roles = enrolled.roles;
    roles.sort_unstable();
    Ok(enrolled.badge == row.badge && roles == row.roles && name.as_ref() == Some(&row.name))
}
