//! One file per verb: its arguments, and what it does with them.

pub mod backup;
pub mod calc;
pub mod cert;
pub mod cert_check;
pub mod clear;
pub mod completions;
pub mod correct;
pub mod demo;
pub mod dispose;
pub mod enroll;
pub mod export;
pub mod findings;
pub mod gaps;
pub mod give_back;
pub mod hand_over;
pub mod identify;
pub mod import;
pub mod init;
pub mod issue;
pub mod joint;
pub mod lot_status;
pub mod note;
pub mod out;
pub mod reading;
pub mod rebuild;
pub mod recall;
pub mod receive;
pub mod reconcile;
pub mod restore;
pub mod scrap;
pub mod shift_end;
pub mod shifts;
pub mod slip;
pub mod spot_check;
pub mod stock;
pub mod table;
pub mod trace;
pub mod unmarked;
pub mod verify;
pub mod void;
pub mod weld;

use crate::failure::Failure;
use filler::{Quantity, Unit};

/// Reads a quantity that may have been typed as one word or two.
pub(crate) fn quantity(words: &[String]) -> Result<Quantity, Failure> {
    let text = words.join(" ");
    Quantity::parse(&text).map_err(|e| Failure::not_understood(e.to_string()).next(quantity_help()))
}

fn quantity_help() -> String {
    let units = [Unit::Rods, Unit::Pieces, Unit::Spools, Unit::Kilograms, Unit::Grams, Unit::Pounds];
    let words: Vec<&str> = units.iter().map(|u| u.word()).collect();
    format!("write a number and a unit, like \"24 rods\" or \"2.5 kg\"; units: {}", words.join(", "))
}
