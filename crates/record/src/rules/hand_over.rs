//! Welder to welder.

use super::give_back::{self, State};
use crate::refusal::Refusal;
use crate::time::{Instant, When};
use filler::Quantity;

/// Everything that speaks against handing `quantity` of the slip over as slip `number` at `at`.
pub fn decide(
    state: &State<'_>,
    quantity: &Quantity,
    number: &str,
    number_taken: bool,
    same_holder: bool,
    at: &When,
    now: Instant,
) -> Vec<Refusal> {
    let not = |reason: &str| format!("the hand-over of slip {} was not recorded: {reason}", state.slip);
    let mut against = give_back::against(state, quantity, at, now, "the hand-over", &not);
    if number_taken {
        against.push(
            Refusal::absolute(
                "slip-number-taken",
                not(&format!("slip {number} is in the book already.")),
                "a slip number means one issue.",
            )
            .next("leave --new-slip out to take the next free number"),
        );
    }
    if same_holder {
        against.push(
            Refusal::absolute(
                "same-holder",
                not("giver and taker are one person."),
                "custody would not change.",
            )
            .next("type the badge of the welder who takes the rods"),
        );
    }
    if quantity.pieces() == Some(0) || quantity.milligrams() == Some(0) {
        against.push(
            Refusal::absolute(
                "nothing-to-issue",
                not("the quantity is zero."),
                "nothing would change hands.",
            )
            .next("type how much is handed over, e.g. \"6 rods\""),
        );
    }
    against
}
