//! Releasing and holding a lot.

use crate::ask::lot;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::{Acting, Done, Ledger, tell};
use record::event::{Event, LotHeld, LotRef, LotRejected, LotReleased};
use record::id::LotId;
use record::person::Role;
use record::rules::lot_status::{LotStatus, after_receipt, may_release};
use record::{When, rules};

/// What there is to tell about a change of status.
#[derive(Clone, Debug)]
pub struct StatusChange {
    /// Identity of the lot.
    pub lot: LotId,
    /// Its description in one line.
    pub line: String,
    /// Status before.
    pub before: LotStatus,
    /// Status after.
    pub after: LotStatus,
}

impl Ledger {
    /// Releases a lot for issue.
    ///
    /// # Errors
    /// When the lot is not known or the badge is not an inspector's.
    pub fn release(
        &mut self,
        acting: &Acting,
        label: &str,
        why: Option<&str>,
        at: Option<&When>,
    ) -> Result<Done<StatusChange>> {
        let why = why.map(|w| tell::remark("--why", w)).transpose()?.unwrap_or_default();
        self.change(acting, label, "the release", at, |lot, at| {
            Event::LotReleased(LotReleased { at, imported: None, lot, why })
        })
    }

    /// Puts a lot on hold.
    ///
    /// # Errors
    /// As [`Ledger::release`].
    pub fn hold(
        &mut self,
        acting: &Acting,
        label: &str,
        why: &str,
        at: Option<&When>,
    ) -> Result<Done<StatusChange>> {
        let why = tell::remark("--why", why)?;
        self.change(acting, label, "the hold", at, |lot, at| Event::LotHeld(LotHeld { at, lot, why }))
    }

    /// Rejects a lot: it is never issued again.
    ///
    /// # Errors
    /// As [`Ledger::release`].
    pub fn reject(
        &mut self,
        acting: &Acting,
        label: &str,
        why: &str,
        at: Option<&When>,
    ) -> Result<Done<StatusChange>> {
        let why = tell::remark("--why", why)?;
        self.change(acting, label, "the rejection", at, |lot, at| {
            Event::LotRejected(LotRejected { at, lot, why })
        })
    }

    fn change(
        &mut self,
        acting: &Acting,
        label: &str,
        what: &str,
        at: Option<&When>,
        event: impl FnOnce(LotRef, When) -> Event,
    ) -> Result<Done<StatusChange>> {
        let at = tell::claimed(at, acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            rules::needs_role(
                &format!("{what} of lot {label} was not recorded"),
                &actor.badge,
                &actor.roles,
                Role::Inspector,
            )?;
            let reading = Reading::new(writing.conn())?;
            let lot = lot::one(&reading, label)?;
            rules::not_in_future(what, &at, acting.now, reading.zone())?;
            after_receipt(what, &at, Some(lot.first_received()), reading.zone())?;
            let before = lot::status(&reading, lot.id)?;
            let event = event(LotRef { label: label.to_owned(), lot: lot.id }, at);
            if matches!(event, Event::LotReleased(_)) {
                may_release(label, &before, reading.zone())?;
            }
            writing.append(&event)?;
            let after = lot::status(&Reading::new(writing.conn())?, lot.id)?;
            Ok(StatusChange { lot: lot.id, line: lot.line(), before, after })
        })
    }
}
