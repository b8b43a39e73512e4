//! A reading of metal: what an instrument said of a rod, a lot, a slip, found wire or weld metal.

use crate::ask::entry;
use crate::ask::joint_trace::{self, JointTrace};
use crate::ask::lot::{self, Lot};
use crate::ask::metal;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::{Acting, Done, Ledger, tell};
use filler::identify::{Alpha, Candidate, Judged, Verdict, candidate, identify};
use filler::limits::{AppliesTo, Tables};
use record::event::{Event, LotRef, MetalRead, PersonRef, ReadOn};
use record::{EntryId, Stated, When, rules};
use std::rc::Rc;

/// What was read, by what people call it.
#[derive(Clone, Debug)]
pub enum On {
    /// Wire that was found, by the entry of the find.
    Find(String),
    /// A rod in a welder's hand at a joint.
    Joint {
        /// Joint number.
        joint: String,
        /// Badge.
        welder: String,
    },
    /// A rod of a lot in the crib.
    Lot(String),
    /// A rod of a slip.
    Slip(String),
    /// The weld metal of a joint.
    WeldMetal(String),
}

/// A reading as typed.
#[derive(Clone, Debug)]
pub struct ReadingRequest {
    /// What was read.
    pub on: On,
    /// What the instrument said.
    pub reading: filler::reading::Reading,
    /// When.
    pub at: Option<When>,
}

/// What there is to tell about a reading.
#[derive(Clone, Debug)]
pub struct ReadDone {
    /// The entry.
    pub entry: EntryId,
    /// What it says.
    pub read: MetalRead,
    /// Of a reading at a joint: its trace after it.
    pub joint: Option<JointTrace>,
    /// Whether copper may be a coating: abrade and repeat.
    pub coating_suspected: bool,
    /// Of a reading on a lot or slip: the lot, and whether its class is rejected; none where no table covers the class.
    pub lot: Option<(Rc<Lot>, Option<bool>)>,
}

/// The candidates for a bare rod: every class whose limits are of the wire.
#[must_use]
pub fn wire_candidates(tables: &Tables) -> Vec<Candidate> {
    tables.classes().iter().filter(|class| class.product == AppliesTo::Wire).map(candidate).collect()
}

/// The classes that a reading of a rod rejects, the tables that were asked, and whether copper may be a coating.
/// Copper that may be a coating rejects nothing.
fn rejected(tables: &Tables, reading: &filler::reading::Reading) -> (Vec<String>, Vec<String>, bool) {
    let candidates = wire_candidates(tables);
    let Some(identification) = identify(reading, &candidates, Alpha::default()) else {
        return (Vec::new(), Vec::new(), false);
    };
    let coating = identification.judged.iter().any(Judged::coating_suspected);
    let mut rejected: Vec<String> = identification
        .judged
        .iter()
        .filter(|judged| judged.verdict == Verdict::Rejected)
        .map(|judged| format!("{} {}", judged.candidate.spec, judged.candidate.classification))
        .collect();
    let mut asked: Vec<String> = candidates.iter().map(|c| c.table.clone()).collect();
    for list in [&mut rejected, &mut asked] {
        list.sort();
        list.dedup();
    }
    (rejected, asked, coating)
}

impl Ledger {
    /// Records a reading. Returns what it rejects, and what the book says after it.
    ///
    /// # Errors
    /// When a label is not known, the entry is no find, or the time is in the future.
    pub fn read_metal(&mut self, acting: &Acting, request: &ReadingRequest) -> Result<Done<ReadDone>> {
        let at = tell::claimed(request.at.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future("the reading", &at, acting.now, reading.zone())?;
            let on = read_on(&reading, &request.on)?;
            let (rejected, tables, coating_suspected) = match &on {
                ReadOn::WeldMetal(_) => (Vec::new(), Vec::new(), false),
                ReadOn::Find(_) | ReadOn::Joint { .. } | ReadOn::Lot(_) | ReadOn::Slip(_) => {
                    rejected(&*reading.limits()?, &request.reading)
                }
            };
            let read = MetalRead {
                at,
                by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                on,
                reading: request.reading.clone(),
                rejected,
                tables,
            };
            let written = writing.append(&Event::MetalRead(read.clone()))?;
            let after = Reading::new(writing.conn())?;
            let joint = match &read.on {
                ReadOn::Joint { joint, .. } | ReadOn::WeldMetal(joint) => {
                    Some(joint_trace::of_joint(&after, joint.joint)?)
                }
                ReadOn::Find(_) | ReadOn::Lot(_) | ReadOn::Slip(_) => None,
            };
            let lot = match &read.on {
                ReadOn::Lot(lot) => Some(lot.lot),
                ReadOn::Slip(slip) => Some(after.slip(slip.slip)?.lot),
                ReadOn::Find(_) | ReadOn::Joint { .. } | ReadOn::WeldMetal(_) => None,
            };
            let lot = match lot {
                Some(id) => {
                    let lot = after.lot(id)?;
                    let rejects = metal::rejects(&read, &*after.limits()?, &lot);
                    Some((lot, rejects))
                }
                None => None,
            };
            Ok(ReadDone { entry: after.id(written.place)?, read, joint, coating_suspected, lot })
        })
    }
}

fn read_on(reading: &Reading<'_>, on: &On) -> Result<ReadOn> {
    Ok(match on {
        On::Find(typed) => {
            let (place, _) = entry::find_of_wire(reading, typed)?;
            ReadOn::Find(reading.origin_id(place)?)
        }
        On::Joint { joint, welder } => ReadOn::Joint {
            joint: tell::joint_ref(reading, joint)?,
            welder: tell::person_ref(reading, welder)?,
        },
        On::Lot(label) => {
            ReadOn::Lot(LotRef { label: label.trim().to_owned(), lot: lot::one(reading, label)?.id })
        }
        On::Slip(number) => ReadOn::Slip(tell::slip_ref(reading, number)?),
        On::WeldMetal(number) => ReadOn::WeldMetal(tell::joint_ref(reading, number)?),
    })
}
