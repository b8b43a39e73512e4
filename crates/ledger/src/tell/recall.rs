//! Recalling lots: all of them or none, and at once what that hits.

use crate::ask::finding::Finding;
use crate::ask::lot;
use crate::ask::reading::Reading;
use crate::ask::recall::{self, Recall};
use crate::error::Result;
use crate::{Acting, Done, Ledger, tell};
use record::event::{Event, LotRecalled, LotRef};
use record::person::Role;
use record::rules::lot_status::after_receipt;
use record::{When, rules};

impl Ledger {
    /// Recalls lots, named by any label of theirs, and says what that hits. One lot named twice is recalled once.
    ///
    /// # Errors
    /// When a lot is not known, or the badge is not an inspector's; then none is recalled.
    pub fn recall_lots(
        &mut self,
        acting: &Acting,
        labels: &[String],
        why: &str,
        at: Option<&When>,
    ) -> Result<Done<(Recall, Vec<Finding>)>> {
        let why = tell::remark("--why", why)?;
        let what = "the recall";
        let at = tell::claimed(at, acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            rules::needs_role(
                &format!("{what} of lot {} was not recorded", labels.join(", ")),
                &actor.badge,
                &actor.roles,
                Role::Inspector,
            )?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future(what, &at, acting.now, reading.zone())?;
            let mut lots = Vec::new();
            let mut events = Vec::new();
            for label in labels {
                let lot = lot::one(&reading, label)?;
                if lots.iter().any(|(id, _)| *id == lot.id) {
                    continue;
                }
                after_receipt(what, &at, Some(lot.first_received()), reading.zone())?;
                lots.push((lot.id, lot::status(&reading, lot.id)?));
                events.push(Event::LotRecalled(LotRecalled {
                    at: at.clone(),
                    lot: LotRef { label: label.clone(), lot: lot.id },
                    why: why.clone(),
                }));
            }
            writing.append_all(&events)?;
            let reading = Reading::new(writing.conn())?;
            let recall = recall::of(&reading, lots)?;
            let findings = reading.findings_of_lots(&recall.used, acting.now)?;
            Ok((recall, findings))
        })
    }
}
