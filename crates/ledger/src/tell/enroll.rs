//! People.

use crate::ask::label;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::facts::LabelKind;
use crate::log::Writing;
use crate::tell::{self, init::random};
use crate::{Acting, Done, Ledger};
use record::event::{Event, Imported, PersonEnrolled};
use record::id::PersonId;
use record::person::{Role, SALT_LENGTH, name_hash};
use rusqlite::params;

impl Ledger {
    /// Enrols a person, or gives an enrolled one another name or other roles. While nobody is enrolled yet, anybody may
    /// enrol the first person.
    ///
    /// # Errors
    /// When the acting badge is not enrolled, or a text is not understood.
    pub fn enroll(
        &mut self,
        acting: &Acting,
        badge: &str,
        name: &str,
        roles: &[Role],
    ) -> Result<Done<PersonId>> {
        let (badge, name) = (tell::text("the badge", badge)?, tell::text("--name", name)?);
        self.write(acting, |writing| {
            let anybody: bool =
                writing
                    .conn()
                    .query_row("SELECT EXISTS (SELECT 1 FROM fact_person)", [], |row| row.get(0))?;
            if anybody {
                writing.actor(acting)?;
            } else if !acting.badge.is_empty() {
                writing.act_as(&tell::text("--by", &acting.badge)?, None);
            }
            enroll(writing, &badge, &name, roles, None)
        })
    }
}

/// Appends the enrolment; a badge that is known keeps its person.
pub(crate) fn enroll(
    writing: &mut Writing<'_>,
    badge: &str,
    name: &str,
    roles: &[Role],
    imported: Option<Imported>,
) -> Result<PersonId> {
    let reading = Reading::new_or_empty(writing.conn())?;
    let known = match &reading {
        Some(reading) => label::things(reading, LabelKind::Badge, badge)?,
        None => Vec::new(),
    };
    let person = match known.first() {
        Some(id) => PersonId::from_bytes(*id),
        None => PersonId(tell::new_id(writing.now())?),
    };
    append(writing, person, badge, name, roles, imported)?;
    Ok(person)
}

/// Appends the enrolment of a person whose identity is decided, with a fresh salt.
pub(crate) fn append(
    writing: &mut Writing<'_>,
    person: PersonId,
    badge: &str,
    name: &str,
    roles: &[Role],
    imported: Option<Imported>,
) -> Result<()> {
    let mut salt = [0; SALT_LENGTH];
    random(&mut salt)?;
    let mut roles = roles.to_vec();
    roles.sort_unstable();
    roles.dedup();
    let written = writing.append(&Event::PersonEnrolled(PersonEnrolled {
        badge: badge.to_owned(),
        imported,
        name_hash: name_hash(&salt, name),
        person,
        roles,
    }))?;
    writing
        .conn()
        .prepare_cached("INSERT INTO person_name (place, name, salt) VALUES (?1, ?2, ?3)")?
        .execute(params![written.place.0, name, salt])?;
    Ok(())
}
