//! Handing out at the window.

use super::lot_status::LotStatus;
use super::{Balance, lot_status};
use crate::refusal::Refusal;
use crate::time::{Instant, When, Zone};
use filler::Quantity;

/// What the decision looks at.
#[derive(Debug)]
pub struct State<'a> {
    /// Label of the lot.
    pub lot: &'a str,
    /// Its status now.
    pub status: &'a LotStatus,
    /// When it was first received.
    pub received: Option<Instant>,
    /// What is in the crib of it as stock.
    pub in_crib: Balance,
    /// What came back of it and is not stock any more: unmarked, damaged or wet.
    pub put_aside: Balance,
    /// Whether every receipt of it was voided.
    pub void: bool,
    /// The joints asked for that must be traced to the lot, where the lot's own number is not known.
    pub joints_that_need_its_number: Vec<String>,
    /// Where the papers of the lot are not what the job of a joint asks: the joint, and what differs.
    pub papers_not_as_asked: Vec<(String, String)>,
    /// Mass of one piece, where it is known.
    pub piece_mg: Option<i64>,
    /// Whether a slip of the wanted number is in the book.
    pub number_taken: bool,
    /// The shop's zone, for messages.
    pub zone: Zone,
}

/// Everything that speaks against handing out `quantity` of the lot at `at`.
pub fn decide(
    state: &State<'_>,
    quantity: &Quantity,
    number: &str,
    at: &When,
    due: Option<&When>,
    now: Instant,
) -> Vec<Refusal> {
    let mut against = Vec::new();
    let lot = state.lot;
    let not_issued = |reason: &str| format!("lot {lot} was not issued: {reason}");
    if state.number_taken {
        against.push(
            Refusal::absolute(
                "slip-number-taken",
                not_issued(&format!("slip {number} is in the book already.")),
                "a slip number means one issue.",
            )
            .next("leave --slip out to take the next free number"),
        );
    }
    if let Err(refusal) = super::not_in_future("the issue", at, now, state.zone) {
        against.push(refusal);
    }
    if let Some(due) = due
        && due.to < at.from
    {
        against.push(
            Refusal::absolute(
                "due-before-issue",
                not_issued("it would be due back before it goes out."),
                format!("due {}, out {}.", state.zone.local(due.to), state.zone.local(at.from)),
            )
            .next("correct --due"),
        );
    }
    if let Err(refusal) = lot_status::after_receipt("the issue", at, state.received, state.zone) {
        against.push(refusal);
    }
    if state.void {
        against.push(
            Refusal::absolute(
                "lot-void",
                not_issued("its receipt was voided."),
                "by the record it was never received.",
            )
            .next("book it in again with: rodbook receive"),
        );
    }
    match state.status {
        LotStatus::Released { .. } => {}
        LotStatus::Rejected { since, why } => against.push(
            Refusal::absolute(
                "lot-rejected",
                not_issued(&format!("it is rejected since {}.", state.zone.local(*since))),
                why.clone(),
            )
            .next("hand out a released lot: rodbook stock"),
        ),
        LotStatus::Recalled { since, why } => against.push(
            Refusal::overridable(
                "lot-not-released",
                not_issued(&format!("it is recalled since {}.", state.zone.local(*since))),
                why.clone(),
            )
            .next("put it aside; where it went says: rodbook recall")
            .next("hand out a released lot: rodbook stock"),
        ),
        LotStatus::Unreleased => against.push(
            Refusal::overridable(
                "lot-not-released",
                not_issued("it is not released."),
                "nobody has released it yet.",
            )
            .next(format!("ask an inspector for: rodbook release {lot}"))
            .next("or hand out a released lot: rodbook stock"),
        ),
        LotStatus::OnHold { since, why } => against.push(
            Refusal::overridable(
                "lot-not-released",
                not_issued(&format!("it is on hold since {}.", state.zone.local(*since))),
                why.clone(),
            )
            .next(format!("ask an inspector for: rodbook release {lot}"))
            .next("or hand out a released lot: rodbook stock"),
        ),
    }
    if quantity.pieces() == Some(0) || quantity.milligrams() == Some(0) {
        against.push(
            Refusal::absolute(
                "nothing-to-issue",
                not_issued("the quantity is zero."),
                "nothing would leave the crib.",
            )
            .next("type how much is handed out, e.g. \"24 rods\""),
        );
    }
    if !state.joints_that_need_its_number.is_empty() {
        against.push(
            Refusal::overridable(
                "lot-number-not-known",
                not_issued("its maker's lot number is not known."),
                format!(
                    "joint {} must be traced to the lot, and of this metal only the class is known.",
                    state.joints_that_need_its_number.join(", ")
                ),
            )
            .next("hand out a lot whose number is known: rodbook stock"),
        );
    }
    for (joint, differs) in &state.papers_not_as_asked {
        against.push(
            Refusal::overridable(
                "papers-not-as-asked",
                not_issued(&format!("its papers are not what the job of joint {joint} asks.")),
                format!("{differs}."),
            )
            .next("hand out a lot whose papers are as asked: rodbook stock")
            .next("or write down what the certificate says with: rodbook cert values"),
        );
    }
    let more_than_stock = state.in_crib.is_exceeded_by(quantity, state.piece_mg) == Some(true);
    let aside = match state.put_aside {
        Balance::Pieces(n) | Balance::Milligrams(n) => n > 0,
        Balance::NotKnown => true,
    };
    if more_than_stock && aside {
        // What lies there beyond the stock can only be what was put aside.
        against.push(
            Refusal::absolute(
                "put-aside",
                not_issued("what is left beyond the stock is not stock any more."),
                format!(
                    "{quantity} asked, the book has {} in the crib as stock; {} came back unmarked, damaged or wet.",
                    state.in_crib.shown(),
                    state.put_aside.shown()
                ),
            )
            .next("what was put aside is never issued; scrap it, or mark it anew with proof: rodbook findings")
            .next("hand out another released lot: rodbook stock"),
        );
    } else if more_than_stock {
        against.push(
            Refusal::overridable(
                "more-than-in-crib",
                not_issued("there is not that much of it."),
                format!("{quantity} asked, and the book has {} in the crib.", state.in_crib.shown()),
            )
            .next("count what is there; book in what was never booked in, with: rodbook receive"),
        );
    }
    against
}

#[cfg(test)]
mod tests {
    use super::*;

    fn state<'a>(status: &'a LotStatus, in_crib: Balance) -> State<'a> {
        State {
            lot: "L-1",
            status,
            received: Some(Instant(1_000)),
            in_crib,
            put_aside: Balance::Pieces(0),
            void: false,
            joints_that_need_its_number: vec![],
            papers_not_as_asked: vec![],
            piece_mg: Some(33_000),
            number_taken: false,
            zone: Zone::named("UTC").unwrap(),
        }
    }

    fn codes(state: &State<'_>, quantity: &str, at: i64) -> Vec<&'static str> {
        let quantity = Quantity::parse(quantity).unwrap();
        decide(state, &quantity, "S-1", &When::now(Instant(at)), None, Instant(2_000))
            .iter()
            .map(|r| r.code)
            .collect()
    }

    #[test]
    fn table() {
        let released = LotStatus::Released { since: Instant(1_000) };
        let held = LotStatus::OnHold { since: Instant(1_000), why: "certificate 3.1 not accepted".into() };
        let there = Balance::Pieces(24);
        assert_eq!(codes(&state(&released, there), "24 rods", 2_000), Vec::<&str>::new());
        assert_eq!(codes(&state(&released, there), "25 rods", 2_000), ["more-than-in-crib"]);
        assert_eq!(
            codes(&state(&released, Balance::Milligrams(100_000)), "4 rods", 2_000),
            ["more-than-in-crib"]
        );
        assert_eq!(
            codes(&state(&released, Balance::Milligrams(100_000)), "3 rods", 2_000),
            Vec::<&str>::new()
        );
        assert_eq!(codes(&state(&released, Balance::NotKnown), "9999 rods", 2_000), Vec::<&str>::new());
        assert_eq!(codes(&state(&released, there), "0 rods", 2_000), ["nothing-to-issue"]);
        assert_eq!(codes(&state(&released, there), "1 rod", 2_001), ["time-in-future"]);
        assert_eq!(codes(&state(&released, there), "1 rod", 999), ["before-receipt"]);
        assert_eq!(codes(&state(&held, there), "25 rods", 2_000), ["lot-not-released", "more-than-in-crib"]);
        assert_eq!(codes(&state(&LotStatus::Unreleased, there), "1 rod", 2_000), ["lot-not-released"]);
        let due = When::now(Instant(1_500));
        let quantity = Quantity::parse("1 rod").unwrap();
        let late = decide(
            &state(&released, there),
            &quantity,
            "S-1",
            &When::now(Instant(1_600)),
            Some(&due),
            Instant(2_000),
        );
        assert_eq!(late.iter().map(|r| r.code).collect::<Vec<_>>(), ["due-before-issue"]);
        let aside = State { put_aside: Balance::Pieces(6), ..state(&released, there) };
        assert_eq!(codes(&aside, "24 rods", 2_000), Vec::<&str>::new());
        assert_eq!(codes(&aside, "25 rods", 2_000), ["put-aside"]);
        let void = State { void: true, ..state(&released, there) };
        assert_eq!(codes(&void, "1 rod", 2_000), ["lot-void"]);
        let class_only = State { joints_that_need_its_number: vec!["M-1".into()], ..state(&released, there) };
        assert_eq!(codes(&class_only, "1 rod", 2_000), ["lot-number-not-known"]);
        let asked = State {
            papers_not_as_asked: vec![("M-1".into(), "lot class: S3 is asked for, S1 is there".into())],
            ..state(&released, there)
        };
        assert_eq!(codes(&asked, "1 rod", 2_000), ["papers-not-as-asked"]);
        let rejected = LotStatus::Rejected { since: Instant(1_000), why: "failed".into() };
        assert_eq!(codes(&state(&rejected, there), "1 rod", 2_000), ["lot-rejected"]);
        let recalled = LotStatus::Recalled { since: Instant(1_000), why: "maker".into() };
        assert_eq!(codes(&state(&recalled, there), "1 rod", 2_000), ["lot-not-released"]);
        let taken = State { number_taken: true, ..state(&released, there) };
        assert_eq!(codes(&taken, "1 rod", 2_000), ["slip-number-taken"]);
    }
}
