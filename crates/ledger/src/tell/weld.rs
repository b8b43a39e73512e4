//! Weld records.

use crate::ask::joint_trace::{self, WeldTrace};
use crate::ask::lot;
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::{Acting, Done, Ledger, tell};
use filler::{Process, Quantity};
use record::event::{Event, JointRef, JointWelded, LotRef, Mark, PersonRef};
use record::{Refusal, Stated, When, rules};

/// A weld record as typed.
#[derive(Clone, Debug)]
pub struct WeldRequest {
    /// Joint number.
    pub joint: String,
    /// Further joints that were welded with the same filler.
    pub also: Vec<String>,
    /// Badge of the welder.
    pub welder: String,
    /// Root, hot, fill, cap, back.
    pub pass: Option<String>,
    /// Original, R1, cut-out, tack, temporary.
    pub cycle: Option<String>,
    /// Process.
    pub process: Option<Process>,
    /// Label of the lot, if it is known.
    pub lot: Option<String>,
    /// Number of the slip, if it is known.
    pub slip: Option<String>,
    /// False for an autogenous weld.
    pub filler: bool,
    /// How much was used.
    pub used: Option<Quantity>,
    /// Start.
    pub from: Option<When>,
    /// End.
    pub to: Option<When>,
    /// What was seen of the mark.
    pub mark: Option<Mark>,
    /// Whether the joint is finished.
    pub finished: bool,
}

impl Ledger {
    /// Records what was welded. Returns the answer to which rod went into it, as the book has it now.
    ///
    /// # Errors
    /// When a label is not known, lot and slip disagree, or the time is in the future.
    pub fn weld(&mut self, acting: &Acting, request: &WeldRequest) -> Result<Done<Vec<WeldTrace>>> {
        let cycle = tell::stated("--cycle", request.cycle.as_deref())?;
        let pass = tell::stated("--pass", request.pass.as_deref())?;
        let from = tell::claimed(request.from.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let mut joints: Vec<JointRef> = Vec::new();
            for number in std::iter::once(&request.joint).chain(&request.also) {
                let joint = tell::joint_ref(&reading, number)?;
                if !joints.iter().any(|j| j.joint == joint.joint) {
                    joints.push(joint);
                }
            }
            let welder = tell::person_ref(&reading, &request.welder)?;
            let lot = match &request.lot {
                Some(label) => {
                    Stated::Value(LotRef { label: label.clone(), lot: lot::one(writing.conn(), label)?.id })
                }
                None => Stated::NotAsked,
            };
            let slip = match &request.slip {
                Some(number) => Stated::Value(tell::slip_ref(&reading, number)?),
                None => Stated::NotAsked,
            };
            if let (Some(lot), Some(slip)) = (lot.value(), slip.value()) {
                let of_slip = reading.slip(slip.slip)?.lot;
                if of_slip != lot.lot {
                    return Err(lot_and_slip_disagree(
                        &lot.label,
                        &slip.number,
                        &reading.lot(of_slip)?.received.code,
                    ));
                }
            }
            let against: Vec<Refusal> =
                rules::weld::decide(&from, request.to.as_ref(), acting.now, reading.zone());
            if !against.is_empty() {
                return Err(Error::Refused(against));
            }
            let ids: Vec<_> = joints.iter().map(|j| j.joint).collect();
            let written = writing.append(&Event::JointWelded(JointWelded {
                cycle,
                filler: request.filler,
                finished: request.finished,
                from,
                imported: None,
                joints,
                lot,
                mark: Stated::from_option(request.mark),
                overridden: None,
                pass,
                process: Stated::from_option(request.process.clone()),
                recorded_by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                slip,
                to: Stated::from_option(request.to.clone()),
                used: Stated::from_option(request.used),
                welder,
            }))?;
            let after = Reading::new(writing.conn())?;
            ids.into_iter().map(|joint| joint_trace::of_weld(&after, written.place, joint)).collect()
        })
    }
}

/// The error of a weld that names a lot and a slip of another lot.
pub(crate) fn lot_and_slip_disagree(lot: &str, slip: &str, lot_of_slip: &str) -> Error {
    Error::NotUnderstood {
        message: format!("lot {lot} and slip {slip} disagree: the slip is of lot {lot_of_slip}"),
        next: "name the one that is on the paper, and leave the other out".into(),
    }
}
