//! Questions asked of the book, one file per question. They read; nothing here writes.

pub mod joint_trace;
pub mod label;
pub mod lot;
pub mod reading;
pub mod slip;
pub mod stock;
pub mod where_used;
