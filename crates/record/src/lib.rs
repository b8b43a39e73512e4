//! What a shop can record, when it is refused, and how the record is encoded, hashed, chained and signed.
//!
//! In reading order: [`event`] lists everything that can be written, [`entry`] puts an event in its place
//! in a station's chain, [`canonical`] and [`tree`] say which bytes are hashed and how, [`checkpoint`] and
//! [`station_key`] how a station signs its head, [`rules`] what is refused. Nothing here knows a file, a
//! clock, a database or a terminal: time, ids and random bytes come in as values.

pub mod canonical;
pub mod checkpoint;
pub mod entry;
pub mod event;
pub mod finding;
pub mod id;
pub mod number;
pub mod person;
pub mod refusal;
pub mod rules;
pub mod short_id;
pub mod stated;
pub mod station_key;
pub mod text;
pub mod time;
pub mod tree;

pub use entry::{Entry, Header, Seen};
pub use event::Event;
pub use id::{EntryId, JointId, LotId, PersonId, SlipId, StationId, WpsId};
pub use refusal::Refusal;
pub use stated::Stated;
pub use time::{Instant, When, Zone};
