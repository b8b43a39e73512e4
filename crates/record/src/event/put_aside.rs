//! Metal that is not to be used: rejected, recalled, scrapped, found without a mark.

use super::{Imported, JointRef, LotRef, Override, PersonRef, SlipRef};
use crate::id::PersonId;
use crate::stated::Stated;
use crate::time::When;
use filler::Quantity;
use serde::{Deserialize, Serialize};

/// See [`super::Event::LotRejected`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotRejected {
    /// When.
    pub at: When,
    /// Which lot.
    pub lot: LotRef,
    /// Why.
    pub why: String,
}

/// See [`super::Event::LotRecalled`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotRecalled {
    /// When.
    pub at: When,
    /// Which lot.
    pub lot: LotRef,
    /// Why.
    pub why: String,
}

/// The slip that scrapped metal came from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScrappedSlip {
    /// Whether nothing is left on the slip, whatever the quantities say.
    pub closes: bool,
    /// Who held it.
    pub holder: PersonId,
    /// The slip.
    pub slip: SlipRef,
}

/// See [`super::Event::RodScrapped`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RodScrapped {
    /// When.
    pub at: When,
    /// Who saw it go.
    pub by: Stated<PersonRef>,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Which lot.
    pub lot: LotRef,
    /// A rule that was set aside, if one was.
    pub overridden: Option<Override>,
    /// How much.
    pub quantity: Stated<Quantity>,
    /// The slip it was out on; none for metal in the crib.
    pub slip: Option<ScrappedSlip>,
    /// Why.
    pub why: String,
}

/// See [`super::Event::WireFoundUnmarked`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireFoundUnmarked {
    /// When.
    pub at: When,
    /// Who found it.
    pub by: Stated<PersonRef>,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Joints that it was found at or may be in, as far as the finder says.
    pub joints: Vec<JointRef>,
    /// Where it was found.
    pub place: String,
    /// How much.
    pub quantity: Stated<Quantity>,
    /// In whose hands or at whose bench.
    pub welder: Stated<PersonRef>,
}
