//! The program from outside: what it prints, how it ends, what it leaves on the disk.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stderr,
    unreachable_pub,
    reason = "a test may panic, and says what it measured"
)]

mod calc;
mod care;
mod cert_check;
mod certificates;
mod chain;
mod concurrent;
mod correcting;
mod crib;
mod demo;
mod docs_check;
mod dry_run;
mod exit_codes;
mod export;
mod findings;
mod heat_input;
mod identify;
mod import;
mod interrupt;
mod kill;
mod labels;
mod lots;
mod mass;
mod metal;
mod opening;
mod papers;
mod people;
mod pipes;
mod places;
mod planted;
mod random;
mod readme;
mod recall;
mod reconcile;
mod reference;
mod shop;
mod tables;
mod typed;
mod welding;
mod window;
