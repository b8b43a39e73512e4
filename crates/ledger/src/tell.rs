//! What can be told, one file per verb. Each runs in one transaction: read the state, let the rules decide, append,
//! make the facts, read back, sign, commit, move the mark.

pub mod certificate;
pub mod certificate_read;
pub mod clear;
pub mod correct;
pub mod declare;
pub mod dispose;
pub mod enroll;
pub mod give_back;
pub mod hand_over;
pub mod init;
pub mod issue;
pub mod lot_status;
pub mod metal_read;
pub mod note;
pub mod recall;
pub mod receive;
pub mod reprint;
pub mod scrap;
pub mod shift_end;
pub mod spot_check;
pub mod table;
pub mod unmarked;
pub mod void;
pub mod weld;

use crate::ask::label;
use crate::ask::reading::{Person, Reading};
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::Writing;
use crate::{Acting, ask, facts};
use record::event::{JointRef, PersonRef, SlipRef};
use record::id::{JointId, PersonId, SlipId};
use record::{Instant, Stated, When};
use std::rc::Rc;

/// A new identity: UUIDv7, its time part from the command's clock.
pub(crate) fn new_id(now: Instant) -> Result<uuid::Uuid> {
    let mut random = [0; 10];
    init::random(&mut random)?;
    let millis = u64::try_from(now.0).unwrap_or(0).saturating_mul(1000);
    Ok(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
}

/// A label or name as typed, or what is wrong with it.
pub(crate) fn text(what: &str, typed: &str) -> Result<String> {
    record::text::label(typed).map_err(|e| Error::NotUnderstood {
        message: format!("{what} was not understood: {e}"),
        next: "type it again, or copy it from the paper by hand".into(),
    })
}

/// A reason as typed, or what is wrong with it.
pub(crate) fn remark(what: &str, typed: &str) -> Result<String> {
    record::text::remark(typed).map_err(|e| Error::NotUnderstood {
        message: format!("{what} was not understood: {e}"),
        next: "type it again".into(),
    })
}

/// An optional label: empty, `n/a`, `unknown` and `illegible` are kept as themselves.
pub(crate) fn stated(what: &str, typed: Option<&str>) -> Result<Stated<String>> {
    match typed {
        None => Ok(Stated::NotAsked),
        Some(typed) => Stated::read(typed.trim()).try_map(|t| text(what, &t)),
    }
}

impl Writing<'_> {
    /// The enrolled person behind the acting badge, who is named on the entries that follow.
    pub(crate) fn actor(&mut self, acting: &Acting) -> Result<Rc<Person>> {
        if acting.badge.is_empty() {
            return Err(Error::NotUnderstood {
                message: "nothing was written: nobody is named as acting".into(),
                next: "give your badge with --by BADGE, or set RODBOOK_BY".into(),
            });
        }
        let reading = Reading::new(self.conn())?;
        let person = person_of_badge(&reading, &acting.badge)?;
        self.act_as(&acting.badge, Some(person.id));
        Ok(person)
    }
}

/// The person who carries a badge.
pub(crate) fn person_of_badge(reading: &Reading<'_>, badge: &str) -> Result<Rc<Person>> {
    let id = label::one(reading, LabelKind::Badge, "person", badge)?;
    void::there(reading, LabelKind::Badge, badge.trim(), id)?;
    reading.person(PersonId::from_bytes(id))
}

/// A person as a body names them.
pub(crate) fn person_ref(reading: &Reading<'_>, badge: &str) -> Result<PersonRef> {
    let person = person_of_badge(reading, badge)?;
    Ok(PersonRef { badge: badge.trim().to_owned(), person: person.id })
}

/// A joint as a body names it.
pub(crate) fn joint_ref(reading: &Reading<'_>, number: &str) -> Result<JointRef> {
    let id = label::one(reading, LabelKind::Joint, "joint", number)?;
    void::there(reading, LabelKind::Joint, number.trim(), id)?;
    Ok(JointRef { joint: JointId::from_bytes(id), number: number.trim().to_owned() })
}

/// A slip as a body names it.
pub(crate) fn slip_ref(reading: &Reading<'_>, number: &str) -> Result<SlipRef> {
    let exists = "SELECT EXISTS (SELECT 1 FROM fact_slip WHERE slip = ?1)";
    let id = label::one_or_identity(reading, LabelKind::Slip, "slip", number, exists)?;
    Ok(SlipRef { number: number.trim().to_owned(), slip: SlipId::from_bytes(id) })
}

/// The next free slip number: `S-` and five figures or more, above every such number in the book.
pub(crate) fn next_slip_number(reading: &Reading<'_>) -> Result<String> {
    let conn = reading.conn();
    let last: Option<i64> =
        conn.query_row("SELECT max(running) FROM fact_slip WHERE running IS NOT NULL", [], |row| row.get(0))?;
    let mut running = last.unwrap_or(0);
    loop {
        running = running.saturating_add(1);
        let number = facts::slip_number(running);
        // A number that differs only in dashes or case would be taken for this one.
        let taken: bool = conn.query_row(
            "SELECT EXISTS (SELECT 1 FROM fact_label WHERE kind = 'slip' AND key = ?1)",
            [record::number::search_key(&number)],
            |row| row.get(0),
        )?;
        if !taken {
            return Ok(number);
        }
    }
}

/// Whether a slip of exactly this number is in the book.
pub(crate) fn slip_number_taken(reading: &Reading<'_>, number: &str) -> Result<bool> {
    Ok(!label::things(reading, LabelKind::Slip, number)?.is_empty())
}

/// The claimed time of a command, or the clock's.
pub(crate) fn claimed(at: Option<&When>, now: Instant) -> When {
    at.cloned().unwrap_or_else(|| When::now(now))
}

/// What a rule about metal leaving a slip looks at.
pub(crate) fn slip_state<'a>(
    reading: &Reading<'_>,
    view: &'a ask::slip::SlipAndLot,
    quantity: &filler::Quantity,
) -> record::rules::give_back::State<'a> {
    record::rules::give_back::State {
        slip: &view.slip.number,
        issued: view.slip.issued.from,
        closed: view.custody.to.map(|to| (to, view.custody.closed_by.clone().unwrap_or_default())),
        out: view.slip.left(&view.lot),
        // A mass taken from counted pieces is compared by the mass of the slip's own pieces.
        piece_mg: view.lot.piece_mg_for(if quantity.is_mass() {
            view.slip.quantity.value().unwrap_or(quantity)
        } else {
            quantity
        }),
        zone: reading.zone(),
    }
}
