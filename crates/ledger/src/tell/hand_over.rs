//! Welder to welder.

use crate::ask::reading::Reading;
use crate::ask::slip::SlipAndLot;
use crate::error::Result;
use crate::{Acting, Done, Ledger, settle, tell};
use filler::Quantity;
use record::event::{Event, PersonRef, RodHandedOver, SlipRef};
use record::id::SlipId;
use record::{Stated, When, rules};

/// A hand-over as typed.
#[derive(Clone, Debug)]
pub struct HandOverRequest {
    /// Number of the slip it comes from.
    pub slip: String,
    /// Badge of the welder who takes.
    pub to: String,
    /// How much.
    pub quantity: Quantity,
    /// Whether nothing stays with the giver.
    pub closes: bool,
    /// Number of a slip already written; else the next free number.
    pub number: Option<String>,
    /// When.
    pub at: Option<When>,
}

/// What there is to tell about a hand-over.
#[derive(Clone, Debug)]
pub struct HandedOver {
    /// The giver's slip after it.
    pub from: SlipAndLot,
    /// The taker's new slip.
    pub to: SlipAndLot,
    /// Whether a rule was set aside.
    pub overridden: bool,
}

impl Ledger {
    /// Records that a welder handed metal to another: a new slip of the same lot.
    ///
    /// # Errors
    /// When a label is not known, or a rule refuses.
    pub fn hand_over(&mut self, acting: &Acting, request: &HandOverRequest) -> Result<Done<HandedOver>> {
        let at = tell::claimed(request.at.as_ref(), acting.now);
        let number = request.number.as_deref().map(|n| tell::text("--new-slip", n)).transpose()?;
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let slip = tell::slip_ref(&reading, &request.slip)?;
            let to = tell::person_ref(&reading, &request.to)?;
            let view = reading.slip_and_lot(slip.slip)?;
            tell::void::not_void("the hand-over", &view)?;
            let number = match number {
                Some(number) => number,
                None => tell::next_slip_number(&reading)?,
            };
            let against = rules::hand_over::decide(
                &tell::slip_state(&reading, &view, &request.quantity),
                &request.quantity,
                &number,
                tell::slip_number_taken(&reading, &number)?,
                to.person == view.slip.holder.person,
                &at,
                acting.now,
            );
            let overridden = settle(against, acting, &actor)?;
            let was_overridden = overridden.is_some();
            let (old, new) = (slip.slip, SlipId(tell::new_id(acting.now)?));
            writing.append(&Event::RodHandedOver(RodHandedOver {
                at,
                by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                closes: request.closes,
                from: view.slip.holder.person,
                imported: None,
                lot: view.lot.id,
                new_slip: SlipRef { number, slip: new },
                overridden,
                quantity: Stated::Value(request.quantity),
                slip,
                to,
            }))?;
            let reading = Reading::new(writing.conn())?;
            Ok(HandedOver {
                from: reading.slip_and_lot(old)?,
                to: reading.slip_and_lot(new)?,
                overridden: was_overridden,
            })
        })
    }
}
