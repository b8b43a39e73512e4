//! A welder's whole return at the end of a shift: one entry for each slip, all of them or none.

use super::scrap::of_rules;
use crate::ask::reading::Reading;
use crate::ask::slip::SlipAndLot;
use crate::ask::stock;
use crate::error::{Error, Result};
use crate::{Acting, Done, Ledger, settle, tell};
use filler::{Quantity, Unit};
use record::event::{Condition, Event, PersonRef, RodReturned};
use record::rules::shift_end::{NamedSlip, OpenSlip};
use record::{Refusal, Stated, When, rules};

/// What came back on one slip, as typed.
#[derive(Clone, Debug)]
pub struct Back {
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
    /// The argument as typed, for the command that is offered.
    pub typed: String,
}

/// The return of a welder as typed.
#[derive(Clone, Debug)]
pub struct ShiftEndRequest {
    /// Badge of the welder.
    pub welder: String,
    /// What came back, slip by slip.
    pub back: Vec<Back>,
    /// Whether open slips that are not named stay open.
    pub only: bool,
    /// When.
    pub at: Option<When>,
}

/// What there is to tell about it.
#[derive(Clone, Debug)]
pub struct ShiftEnded {
    /// The badge that the welder carries.
    pub welder: String,
    /// The slips named, as they are after it, in the order typed.
    pub slips: Vec<SlipAndLot>,
    /// What is still out with the welder.
    pub still_out: Vec<SlipAndLot>,
    /// Whether a rule was set aside.
    pub overridden: bool,
}

impl Ledger {
    /// Takes back what a welder brings at the end of a shift. With nothing out and nothing named, nothing is written.
    ///
    /// # Errors
    /// When a label is not known, a slip is named twice, or a rule refuses one of the returns: then none is recorded.
    pub fn shift_end(&mut self, acting: &Acting, request: &ShiftEndRequest) -> Result<Done<ShiftEnded>> {
        let at = tell::claimed(request.at.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let welder = tell::person_of_badge(&reading, &request.welder)?;
            let mut named = Vec::with_capacity(request.back.len());
            for back in &request.back {
                let slip = tell::slip_ref(&reading, &back.slip)?;
                if named.iter().any(|(other, ..): &(record::event::SlipRef, _, _)| other.slip == slip.slip) {
                    return Err(Error::NotUnderstood {
                        message: format!("slip {} is named twice", slip.number),
                        next: "say once what came back on it, all together".into(),
                    });
                }
                let view = reading.slip_and_lot(slip.slip)?;
                tell::void::not_void("the return", &view)?;
                named.push((slip, view, back));
            }
            // A slip that was issued after the shift ended is no part of it.
            let open: Vec<OpenSlip> = stock::out(&reading)?
                .iter()
                .filter(|v| v.slip.holder.person == welder.id && v.slip.issued.from <= at.to)
                .map(|v| OpenSlip {
                    number: v.slip.number.clone(),
                    left: v.slip.left_shown(&v.lot),
                    unit: v.slip.quantity.value().map_or(Unit::Pieces, Quantity::unit).word(),
                })
                .collect();
            let numbers: Vec<NamedSlip> = named
                .iter()
                .map(|(_, view, _)| NamedSlip {
                    number: view.slip.number.clone(),
                    of_another: (view.slip.holder.person != welder.id)
                        .then(|| view.slip.holder.badge.clone()),
                })
                .collect();
            let typed: Vec<String> = request.back.iter().map(|back| format!("{:?}", back.typed)).collect();
            let mut against: Vec<Refusal> =
                rules::shift_end::decide(&welder.badge, &open, &numbers, &typed, request.only);
            let mut codes = Vec::with_capacity(named.len());
            for (_, view, back) in &named {
                let state = tell::slip_state(&reading, view, &back.quantity);
                let of_slip = rules::give_back::decide(&state, &back.quantity, &at, acting.now);
                codes.push(of_slip.iter().map(|r| r.code.to_owned()).collect::<Vec<_>>());
                against.extend(of_slip);
            }
            let overridden = settle(against, acting, &actor)?;
            let mut ids = Vec::with_capacity(named.len());
            for ((slip, view, back), codes) in named.into_iter().zip(codes) {
                ids.push(slip.slip);
                writing.append(&Event::RodReturned(RodReturned {
                    at: at.clone(),
                    closes: !back.more,
                    condition: Stated::Value(back.condition),
                    holder: view.slip.holder.person,
                    imported: None,
                    lot: view.lot.id,
                    overridden: of_rules(overridden.as_ref(), codes),
                    quantity: Stated::Value(back.quantity),
                    received_by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                    slip,
                    stubs: Stated::from_option(back.stubs),
                }))?;
            }
            let after = Reading::new(writing.conn())?;
            let slips = ids.into_iter().map(|id| after.slip_and_lot(id)).collect::<Result<Vec<_>>>()?;
            let mut still_out = stock::out(&after)?;
            still_out.retain(|v| v.slip.holder.person == welder.id);
            Ok(ShiftEnded {
                welder: welder.badge.clone(),
                slips,
                still_out,
                overridden: overridden.is_some(),
            })
        })
    }
}
