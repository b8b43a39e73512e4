//! Questions asked of the book, one file per question. They read; nothing here writes.

pub mod among;
pub mod at_risk;
pub mod certificate;
pub mod certificate_read;
pub mod corrections;
pub mod entry;
pub mod finding;
pub mod findings;
pub mod gaps;
pub mod heat_input;
mod held;
pub mod joint_trace;
pub mod label;
pub mod labels;
pub mod lot;
pub mod mass_check;
pub mod metal;
pub mod notes;
pub mod reading;
pub mod recall;
pub mod reconcile;
pub mod slip;
pub mod stock;
pub mod struck;
pub mod tables;
pub mod where_used;
pub(crate) mod whole_book;
