//! A welder's word that nothing is left.

use crate::ask::reading::Reading;
use crate::ask::slip::SlipAndLot;
use crate::ask::stock;
use crate::error::Result;
use crate::{Acting, Done, Ledger, tell};
use record::event::{Event, WelderCleared};
use record::{When, rules};

impl Ledger {
    /// Closes every open slip of a welder. Returns the slips that it closed.
    ///
    /// # Errors
    /// When the welder is not known or the time is in the future.
    pub fn clear(
        &mut self,
        acting: &Acting,
        badge: &str,
        at: Option<&When>,
    ) -> Result<Done<Vec<SlipAndLot>>> {
        let at = tell::claimed(at, acting.now);
        self.write(acting, |writing| {
            writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let welder = tell::person_ref(&reading, badge)?;
            rules::not_in_future("the clearing", &at, acting.now, reading.zone())?;
            let open: Vec<SlipAndLot> =
                stock::out(&reading)?.into_iter().filter(|v| v.slip.holder.person == welder.person).collect();
            writing.append(&Event::WelderCleared(WelderCleared { at, welder }))?;
            let after = Reading::new(writing.conn())?;
            let mut closed = Vec::new();
            for view in open {
                let view = after.slip_and_lot(view.slip.id)?;
                if view.custody.to.is_some() {
                    closed.push(view);
                }
            }
            Ok(closed)
        })
    }
}
