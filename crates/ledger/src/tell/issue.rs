//! Handing out at the window.

use crate::ask::reading::Reading;
use crate::ask::slip::SlipAndLot;
use crate::ask::{certificate_read, lot};
use crate::error::Result;
use crate::{Acting, Done, Ledger, settle, tell};
use filler::Quantity;
use filler::lot_class::Outcome;
use record::event::{Event, JointRef, Level, LotRef, RodIssued};
use record::id::SlipId;
use record::rules::{self, Balance, lot_status::LotStatus};
use record::{Stated, When};

/// An issue as typed.
#[derive(Clone, Debug)]
pub struct IssueRequest {
    /// Label of the lot.
    pub lot: String,
    /// Badge of the holder.
    pub holder: String,
    /// How much.
    pub quantity: Quantity,
    /// Joints it is asked for.
    pub joints: Vec<String>,
    /// Which quiver.
    pub quiver: Option<String>,
    /// Number of a slip already written; else the next free number.
    pub number: Option<String>,
    /// When it is due back.
    pub due: Option<When>,
    /// When it was handed out.
    pub at: Option<When>,
}

/// What there is to tell about an issue.
#[derive(Clone, Debug)]
pub struct Issued {
    /// The slip.
    pub slip: SlipAndLot,
    /// What is left in the crib of the lot.
    pub in_crib: Balance,
    /// Status of the lot at the issue.
    pub status: LotStatus,
    /// Whether a rule was set aside.
    pub overridden: bool,
}

/// The joints that must be traced to the lot, where the maker's number of this one is not known.
pub(crate) fn need_its_number(
    reading: &Reading<'_>,
    lot: &lot::Lot,
    joints: &[JointRef],
) -> Result<Vec<String>> {
    if lot.received.maker_lot.value().is_some() {
        return Ok(Vec::new());
    }
    let mut need = Vec::new();
    for joint in joints {
        if reading.joint(joint.joint)?.declared.level.value() == Some(&Level::Lot) {
            need.push(joint.number.clone());
        }
    }
    Ok(need)
}

/// The joints whose job asks something of papers that those of the lot are certainly not, each with what differs. What
/// cannot be told refuses nothing; the trace of the joint says that it was not checked.
pub(crate) fn papers_not_as_asked(
    reading: &Reading<'_>,
    lot: &lot::Lot,
    joints: &[JointRef],
) -> Result<Vec<(String, String)>> {
    let mut not_as_asked = Vec::new();
    for joint in joints {
        let compared = certificate_read::against_job(reading, &*reading.joint(joint.joint)?, lot)?;
        let differs: Vec<String> =
            compared.iter().filter(|c| c.outcome == Outcome::NotMet).map(certificate_read::said).collect();
        if !differs.is_empty() {
            not_as_asked.push((joint.number.clone(), differs.join("; ")));
        }
    }
    Ok(not_as_asked)
}

impl Ledger {
    /// Hands out metal of one lot to one holder.
    ///
    /// # Errors
    /// When a label is not known, or a rule refuses.
    pub fn issue(&mut self, acting: &Acting, request: &IssueRequest) -> Result<Done<Issued>> {
        let quiver = tell::stated("--quiver", request.quiver.as_deref())?;
        let number = request.number.as_deref().map(|n| tell::text("--slip", n)).transpose()?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let lot = lot::one(&reading, &request.lot)?;
            let holder = tell::person_ref(&reading, &request.holder)?;
            let joints =
                request.joints.iter().map(|j| tell::joint_ref(&reading, j)).collect::<Result<Vec<_>>>()?;
            let number = match number {
                Some(number) => number,
                None => tell::next_slip_number(&reading)?,
            };
            let status = lot::status(&reading, lot.id)?;
            let state = rules::issue::State {
                lot: &request.lot,
                status: &status,
                received: Some(lot.first_received()),
                in_crib: lot::in_crib(&reading, &lot)?,
                put_aside: lot::put_aside(&reading, &lot)?,
                void: lot.void,
                joints_that_need_its_number: need_its_number(&reading, &lot, &joints)?,
                papers_not_as_asked: papers_not_as_asked(&reading, &lot, &joints)?,
                // A mass taken from counted pieces is compared by the mass of the lot's own pieces.
                piece_mg: lot.received.quantity.value().filter(|_| request.quantity.is_mass()).map_or_else(
                    || lot.piece_mg_for(&request.quantity),
                    |received| lot.piece_mg_for(received),
                ),
                number_taken: tell::slip_number_taken(&reading, &number)?,
                zone: reading.zone(),
            };
            let due = request.due.as_ref();
            let against = rules::issue::decide(&state, &request.quantity, &number, &at, due, acting.now);
            let overridden = settle(against, acting, &actor)?;
            let was_overridden = overridden.is_some();
            let slip = SlipId(tell::new_id(acting.now)?);
            writing.append(&Event::RodIssued(RodIssued {
                at,
                due: Stated::from_option(request.due.clone()),
                holder,
                imported: None,
                issued_by: Stated::Value(record::event::PersonRef {
                    badge: acting.badge.clone(),
                    person: actor.id,
                }),
                joints,
                lot: LotRef { label: request.lot.clone(), lot: lot.id },
                number,
                overridden,
                quantity: Stated::Value(request.quantity),
                quiver,
                slip,
            }))?;
            let reading = Reading::new(writing.conn())?;
            Ok(Issued {
                in_crib: lot::in_crib(&reading, &lot)?,
                status,
                slip: reading.slip_and_lot(slip)?,
                overridden: was_overridden,
            })
        })
    }
}
