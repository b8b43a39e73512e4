//! Spot checks at the bench.

use crate::ask::joint_trace::{self, JointTrace};
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::{Acting, Done, Ledger, tell};
use record::event::{Event, MarkSpotChecked, PersonRef};
use record::{Stated, When, rules};

/// A spot check as typed.
#[derive(Clone, Debug)]
pub struct SpotCheckRequest {
    /// Joint number.
    pub joint: String,
    /// Badge of the welder.
    pub welder: String,
    /// Whether the mark could be read.
    pub legible: bool,
    /// What it says.
    pub reads: Option<String>,
    /// When.
    pub at: Option<When>,
}

impl Ledger {
    /// Records what an inspector saw in a welder's hand. Returns the trace of the joint after it.
    ///
    /// # Errors
    /// When a label is not known or the time is in the future.
    pub fn spot_check(&mut self, acting: &Acting, request: &SpotCheckRequest) -> Result<Done<JointTrace>> {
        let reads = tell::stated("--reads", request.reads.as_deref())?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let joint = tell::joint_ref(&reading, &request.joint)?;
            let welder = tell::person_ref(&reading, &request.welder)?;
            rules::not_in_future("the spot check", &at, acting.now, reading.zone())?;
            let id = joint.joint;
            writing.append(&Event::MarkSpotChecked(MarkSpotChecked {
                at,
                by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                imported: None,
                joint,
                legible: request.legible,
                reads,
                welder,
            }))?;
            joint_trace::of_joint(&Reading::new(writing.conn())?, id)
        })
    }
}
