//! Custody and certainty: which slips can have fed a weld.
//!
//! A slip proves that a holder held a lot between two times. It does not prove that a joint got it. So the answer
//! for one weld record is a set of slips with a [`Certainty`], never a guess. Plain values in, plain values out:
//! nothing here knows how the record is stored, what time it is, or who asks.
//!
//! Every rule errs toward more candidates, and every interval is closed at both ends:
//!
//! 1. A slip is in its holder's [`custody()`] from its issue until the first of: a closing return, hand-over or
//!    scrap; a `clear` of its holder; the moment what left it reaches what was issued. For ever if none.
//! 2. Candidates are the slips of the weld's welder whose custody overlaps the weld and whose product form suits
//!    the process ([`form`]). Nothing else removes one.
//! 3. A name on the weld record splits the candidates into sources and others; [`sources()`] says how certain
//!    that is.
//! 4. A legible spot check can contradict, never narrow: one rod looked at says nothing of the others. So can a
//!    [`reading`].
//!
//! Ask for one weld with [`sources()`]; for many over the same slips, build [`Holdings`] once. The other direction,
//! from a lot to the welds, is [`where_used`]. The count of a slip is [`account()`], the balance of masses [`mass_check`]; what unmarked wire puts at risk is
//! [`at_risk`].

pub mod account;
pub mod amount;
pub mod answer;
pub mod at_risk;
pub mod certainty;
pub mod custody;
pub mod form;
pub mod holdings;
pub mod interval;
pub mod mass_check;
pub mod reading;
pub mod slip;
pub mod sources;
pub mod spot_check;
pub mod weld;
pub mod where_used;

pub use account::{Account, Balance, Measure, NotChecked, Total, Verdict, account};
pub use amount::Amount;
pub use answer::{Answer, Reason};
pub use at_risk::{AtRisk, HandOver, UnmarkedWire};
pub use certainty::Certainty;
pub use custody::{ClosedBy, Custody, custody};
pub use holdings::Holdings;
pub use interval::Interval;
pub use reading::{ReadOn, Reading};
pub use slip::{Clear, Out, OutKind, Slip};
pub use sources::sources;
pub use spot_check::SpotCheck;
pub use weld::{Named, Weld};

/// Identity of a thing (a UUID as a number): lot, slip, joint, person, weld record. Labels are not identities.
pub type Id = u128;

/// Place in the record's order, later = greater. The caller packs clock, station and sequence into it; it is the
/// order in which things were recorded and breaks ties between things that are said to have happened together.
pub type Order = u128;
