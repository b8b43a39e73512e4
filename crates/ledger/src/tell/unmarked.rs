//! Wire that was found and that nobody can tell what it is.

use crate::ask::at_risk::{self, AtRisk};
use crate::ask::finding::{Finding, wire};
use crate::ask::reading::Reading;
use crate::ask::slip;
use crate::error::Result;
use crate::{Acting, Done, Ledger, tell};
use filler::Quantity;
use record::event::{Event, PersonRef, WireFoundUnmarked};
use record::{Stated, When, rules};

/// A find as typed.
#[derive(Clone, Debug)]
pub struct UnmarkedRequest {
    /// Where it was found.
    pub place: String,
    /// Badge of the welder who had it, if known.
    pub welder: Option<String>,
    /// How much.
    pub quantity: Option<Quantity>,
    /// Joints that it was found at.
    pub joints: Vec<String>,
    /// When.
    pub at: Option<When>,
}

/// What there is to tell about a find.
#[derive(Clone, Debug)]
pub struct Found {
    /// The find.
    pub find: WireFoundUnmarked,
    /// Its finding.
    pub finding: Option<Finding>,
    /// The welds at risk; none where nobody knows whose wire it was.
    pub at_risk: Option<AtRisk>,
}

impl Ledger {
    /// Records that wire was found without a mark. Returns the welds that it puts at risk.
    ///
    /// # Errors
    /// When a label is not known or the time is in the future.
    pub fn found_unmarked(&mut self, acting: &Acting, request: &UnmarkedRequest) -> Result<Done<Found>> {
        let place = tell::text("--at-place", &request.place)?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future("the find", &at, acting.now, reading.zone())?;
            let welder = match &request.welder {
                Some(badge) => Stated::Value(tell::person_ref(&reading, badge)?),
                None => Stated::NotAsked,
            };
            let joints =
                request.joints.iter().map(|j| tell::joint_ref(&reading, j)).collect::<Result<Vec<_>>>()?;
            let find = WireFoundUnmarked {
                at,
                by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                imported: None,
                joints,
                place,
                quantity: Stated::from_option(request.quantity),
                welder,
            };
            let written = writing.append(&Event::WireFoundUnmarked(find.clone()))?;
            let reading = Reading::new(writing.conn())?;
            let at_risk = match find.welder.value() {
                Some(welder) => Some(at_risk::of_wire(&reading, welder.person, slip::interval(&find.at))?),
                None => None,
            };
            let finding = wire::of_find(&reading, written.place, &find)?.into_iter().next();
            Ok(Found { find, finding, at_risk })
        })
    }
}
