//! The shop's own tables of limits, and who answers for a table.

use crate::ask::reading::Reading;
use crate::ask::tables::{self, TableOfLimits};
use crate::error::{Error, Result};
use crate::{Acting, Done, Ledger, tell};
use filler::limits::{TableError, Tables};
use record::event::{Event, PersonRef, TableLoaded, TableSignedOff};
use record::person::Role;
use record::{When, rules};

/// Most bytes of a table: with the rest of its entry they fit into one line of the record.
const MOST_BYTES: usize = 48 << 10;

/// Most faults of a table that a message lists.
const LISTED: usize = 12;

/// A table of limits as typed.
#[derive(Clone, Debug)]
pub struct LoadRequest {
    /// The limits as comma-separated values.
    pub limits: String,
    /// What the shop calls the table.
    pub name: String,
    /// When.
    pub at: Option<When>,
}

/// A sign-off as typed.
#[derive(Clone, Debug)]
pub struct SignOffRequest {
    /// The specification.
    pub spec: String,
    /// The built-in table, even where the shop has one of its own.
    pub built_in: bool,
    /// What the table was compared with.
    pub against: String,
    /// When.
    pub at: Option<When>,
}

fn not_taken(error: &TableError) -> Error {
    let mut faults: Vec<String> = error.faults.iter().take(LISTED).map(ToString::to_string).collect();
    let more = error.faults.len().saturating_sub(LISTED);
    if more > 0 {
        faults.push(format!("and {more} more"));
    }
    Error::NotUnderstood {
        message: format!("the table was not loaded: {}", faults.join("; ")),
        next:
            "put these cells right; the built-in rows show the columns: rodbook table show A5.18 --format csv"
                .into(),
    }
}

impl Ledger {
    /// Loads a table of limits of one specification. It decides nothing before it is signed off. Returns it.
    ///
    /// # Errors
    /// When a cell is not understood, it has several specifications or editions, or it is too large.
    pub fn load_table(&mut self, acting: &Acting, request: &LoadRequest) -> Result<Done<TableOfLimits>> {
        let name = tell::text("--name", &request.name)?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        if request.limits.len() > MOST_BYTES {
            return Err(Error::NotUnderstood {
                message: format!(
                    "the table was not loaded: it has {} bytes, and at most {MOST_BYTES} are kept in one entry",
                    request.limits.len()
                ),
                next: "leave out the classes that the shop does not use, and long notes".into(),
            });
        }
        // One spelling of line ends and no mark of the encoding, so that the bytes that are hashed are those recorded.
        let limits = request.limits.trim_start_matches('\u{feff}').replace("\r\n", "\n");
        let tables = Tables::from_csv(&limits, &name).map_err(|e| not_taken(&e))?;
        let only = |what: &str, of: &dyn Fn(&filler::limits::ClassLimits) -> String| {
            let mut all: Vec<String> = tables.classes().iter().map(of).collect();
            all.sort();
            all.dedup();
            match all.as_slice() {
                [one] => Ok(one.clone()),
                several => Err(Error::NotUnderstood {
                    message: format!(
                        "the table was not loaded: it has several {what}: {}",
                        several.join(", ")
                    ),
                    next: "load one file for each specification, of one edition".into(),
                }),
            }
        };
        let spec = only("specifications", &|class| class.spec.clone())?;
        let edition = only("editions", &|class| class.edition.clone())?;
        let sha256 = tables::sha256(&limits);
        self.write(acting, |writing| {
            writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future("the loading", &at, acting.now, reading.zone())?;
            let written = writing.append(&Event::TableLoaded(TableLoaded {
                at,
                edition,
                limits,
                name,
                sha256,
                spec,
            }))?;
            let reading = Reading::new(writing.conn())?;
            let id = reading.id(written.place)?;
            reading
                .tables_of_limits()?
                .into_iter()
                .find(|table| table.entry == Some(id))
                .ok_or_else(|| Error::Damaged("the table that was loaded is not in the book".into()))
        })
    }

    /// Signs a table off: from then on its verdicts name who answers for it, and the shop's own decides. Returns it.
    ///
    /// # Errors
    /// When there is no table of that specification, or the acting person is no inspector.
    pub fn sign_off_table(
        &mut self,
        acting: &Acting,
        request: &SignOffRequest,
    ) -> Result<Done<TableOfLimits>> {
        let against = tell::remark("--against", &request.against)?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        let spec = filler::specification::normal_spec(&request.spec).unwrap_or_else(|| request.spec.clone());
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            rules::needs_role("the table was not signed off", &acting.badge, &actor.roles, Role::Inspector)?;
            rules::not_in_future("the sign-off", &at, acting.now, reading.zone())?;
            let tables = reading.tables_of_limits()?;
            let of_spec = || tables.iter().filter(|table| table.spec == spec);
            let own = of_spec().rfind(|table| table.entry.is_some() && !request.built_in);
            let table = own.or_else(|| of_spec().find(|table| table.entry.is_none())).ok_or_else(|| {
                let mut near: Vec<String> = tables.iter().map(|t| t.spec.clone()).collect();
                near.dedup();
                Error::NotFound { what: "table of limits", label: request.spec.clone(), near }
            })?;
            writing.append(&Event::TableSignedOff(TableSignedOff {
                against,
                at,
                by: PersonRef { badge: acting.badge.clone(), person: actor.id },
                sha256: table.sha256.clone(),
                spec: table.spec.clone(),
                table: table.name.clone(),
            }))?;
            let reading = Reading::new(writing.conn())?;
            reading
                .tables_of_limits()?
                .into_iter()
                .find(|after| after.entry == table.entry && after.spec == table.spec)
                .ok_or_else(|| Error::Damaged("the table that was signed off is not in the book".into()))
        })
    }
}
