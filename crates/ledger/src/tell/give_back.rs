//! Taking back at the window.

use crate::ask::reading::Reading;
use crate::ask::slip::SlipAndLot;
use crate::error::Result;
use crate::{Acting, Done, Ledger, settle, tell};
use filler::Quantity;
use record::event::{Condition, Event, PersonRef, RodReturned};
use record::{Stated, When, rules};

/// A return as typed.
#[derive(Clone, Debug)]
pub struct ReturnRequest {
    /// Number of the slip.
    pub slip: String,
    /// How much came back.
    pub quantity: Quantity,
    /// Stubs counted.
    pub stubs: Option<i64>,
    /// What it is like.
    pub condition: Condition,
    /// Whether more is still to come.
    pub more: bool,
    /// When it came back.
    pub at: Option<When>,
}

/// What there is to tell about a return.
#[derive(Clone, Debug)]
pub struct Returned {
    /// The slip after it.
    pub slip: SlipAndLot,
    /// Whether a rule was set aside.
    pub overridden: bool,
}

impl Ledger {
    /// Takes metal back on a slip; closes it unless more is to come.
    ///
    /// # Errors
    /// When the slip is not known, or a rule refuses.
    pub fn give_back(&mut self, acting: &Acting, request: &ReturnRequest) -> Result<Done<Returned>> {
        let at = tell::claimed(request.at.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let slip = tell::slip_ref(&reading, &request.slip)?;
            let view = reading.slip_and_lot(slip.slip)?;
            tell::void::not_void("the return", &view)?;
            let state = tell::slip_state(&reading, &view, &request.quantity);
            let against = rules::give_back::decide(&state, &request.quantity, &at, acting.now);
            let overridden = settle(against, acting, &actor)?;
            let (id, was_overridden) = (slip.slip, overridden.is_some());
            writing.append(&Event::RodReturned(RodReturned {
                at,
                closes: !request.more,
                condition: Stated::Value(request.condition),
                holder: view.slip.holder.person,
                imported: None,
                lot: view.lot.id,
                overridden,
                quantity: Stated::Value(request.quantity),
                received_by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                slip,
                stubs: Stated::from_option(request.stubs),
            }))?;
            let slip = Reading::new(writing.conn())?.slip_and_lot(id)?;
            Ok(Returned { slip, overridden: was_overridden })
        })
    }
}
