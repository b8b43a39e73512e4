//! Booking in a lot.

use crate::refusal::Refusal;

/// Refuses to book one lot in under two control codes.
///
/// # Errors
/// `lot-has-another-code` when the same lot (maker, maker's lot, classification, size, form) is in the book under
/// another code.
pub fn decide(code: &str, code_in_book: Option<&str>) -> Result<(), Refusal> {
    match code_in_book {
        Some(other) if other != code => Err(Refusal::absolute(
            "lot-has-another-code",
            format!("lot {code} was not booked in: it is in the book already, as {other}."),
            "maker, maker's lot number, classification, size and form are all the same: that is one lot.",
        )
        .next(format!("use --lot {other} to book in a further delivery of it"))
        .next("if it is another lot, compare the maker's lot number on the box with what was typed")),
        Some(_) | None => Ok(()),
    }
}
