//! Metal that is out for good: from a slip, or from the crib.

use super::give_back::{self, State};
use super::{Balance, lot_status};
use crate::refusal::Refusal;
use crate::time::{Instant, When, Zone};
use filler::{Quantity, Unit};

/// Everything that speaks against scrapping from a slip at `at`. `quantity` is what was typed; none = all that is left.
pub fn from_slip(
    state: &State<'_>,
    void: bool,
    quantity: Option<&Quantity>,
    at: &When,
    now: Instant,
) -> Vec<Refusal> {
    let slip = state.slip;
    let not = |reason: &str| format!("the scrap from slip {slip} was not recorded: {reason}");
    let mut against = Vec::new();
    if void {
        against.push(
            Refusal::absolute(
                "slip-void",
                not("its issue was voided."),
                "by the record nothing was ever out on it.",
            )
            .next(format!("look at the slip with: rodbook slip {slip}")),
        );
    }
    let Some(quantity) = quantity else {
        // "All that is left" is an amount that cannot be too much: what is out is not compared with it.
        let state = State { out: Balance::NotKnown, closed: state.closed.clone(), ..*state };
        if let Ok(all) = Quantity::new(0, 0, Unit::Pieces) {
            against.extend(give_back::against(&state, &all, at, now, "the scrap", &not));
        }
        for refusal in against.iter_mut().filter(|r| r.code == "slip-closed") {
            // Nothing is left on a closed slip, so there is no amount that could be meant.
            refusal.may_override = false;
            refusal.next.push("if some of it is there all the same, say how much, e.g. \"2 rods\"".into());
        }
        return against;
    };
    against.extend(give_back::against(state, quantity, at, now, "the scrap", &not));
    if quantity.is_zero() {
        against.push(nothing_to_scrap(not("the quantity is zero."), "nothing would go out."));
    }
    against
}

/// What the decision about metal in the crib looks at.
#[derive(Debug)]
pub struct InCrib<'a> {
    /// Label of the lot.
    pub lot: &'a str,
    /// When it was first received.
    pub received: Option<Instant>,
    /// What is in the crib of it as stock.
    pub stock: Balance,
    /// What came back of it and is not stock any more: unmarked, damaged or wet.
    pub put_aside: Balance,
    /// Whether every receipt of it was voided.
    pub void: bool,
    /// Mass of one piece, where it is known.
    pub piece_mg: Option<i64>,
    /// The shop's zone, for messages.
    pub zone: Zone,
}

/// Everything that speaks against scrapping from the crib at `at`. `quantity` is what was typed; none = all that is there
/// as stock. The status of the lot does not matter: what is held, rejected or recalled is scrapped like any other.
pub fn from_crib(state: &InCrib<'_>, quantity: Option<&Quantity>, at: &When, now: Instant) -> Vec<Refusal> {
    let lot = state.lot;
    let not = |reason: &str| format!("the scrap of lot {lot} was not recorded: {reason}");
    let mut against = Vec::new();
    if let Err(refusal) = super::not_in_future("the scrap", at, now, state.zone) {
        against.push(refusal);
    }
    if let Err(refusal) = lot_status::after_receipt("the scrap", at, state.received, state.zone) {
        against.push(refusal);
    }
    if state.void {
        against.push(
            Refusal::absolute(
                "lot-void",
                not("its receipt was voided."),
                "by the record it was never received.",
            )
            .next("book it in again with: rodbook receive"),
        );
    }
    match quantity {
        None => match state.stock {
            Balance::NotKnown => against.push(
                Refusal::absolute(
                    "stock-not-known",
                    not("how much of it is in the crib is not known, so \"all of it\" is no amount."),
                    "some of its entries are in units that no piece mass ties together, or say no quantity.",
                )
                .next(format!("count it and say how much: rodbook scrap lot {lot} \"12 rods\" --why REASON")),
            ),
            Balance::Pieces(n) | Balance::Milligrams(n) if n <= 0 => {
                let why = format!("the book has {} in the crib.", state.stock.shown());
                against.push(nothing_to_scrap(not("none of it is in the crib as stock."), why));
            }
            Balance::Pieces(_) | Balance::Milligrams(_) => {}
        },
        Some(quantity) if quantity.is_zero() => {
            against.push(nothing_to_scrap(not("the quantity is zero."), "nothing would go out."));
        }
        Some(quantity) => {
            if state.stock.is_exceeded_by(quantity, state.piece_mg) == Some(true) {
                against.push(
                    Refusal::overridable(
                        "more-than-in-crib",
                        not("there is not that much of it."),
                        more_than_stock(state, quantity),
                    )
                    .next("count what is there; book in what was never booked in, with: rodbook receive"),
                );
            }
        }
    }
    against
}

fn more_than_stock(state: &InCrib<'_>, quantity: &Quantity) -> String {
    let aside = match state.put_aside {
        Balance::Pieces(n) | Balance::Milligrams(n) if n <= 0 => String::new(),
        Balance::Pieces(_) | Balance::Milligrams(_) | Balance::NotKnown => format!(
            " What came back unmarked, damaged or wet ({}) left the stock when it came back.",
            state.put_aside.shown()
        ),
    };
    format!("{quantity} typed, and the book has {} in the crib as stock.{aside}", state.stock.shown())
}

fn nothing_to_scrap(message: String, why: impl Into<String>) -> Refusal {
    Refusal::absolute("nothing-to-scrap", message, why).next("type how much is out for good, e.g. \"3 rods\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: [&str; 0] = [];

    fn quantity(text: &str) -> Option<Quantity> {
        (!text.is_empty()).then(|| Quantity::parse(text).unwrap())
    }

    #[test]
    fn from_a_slip() {
        let open = || State {
            slip: "S-1",
            issued: Instant(1_000),
            closed: None,
            out: Balance::Pieces(6),
            piece_mg: None,
            zone: Zone::named("UTC").unwrap(),
        };
        let codes = |state: &State<'_>, text: &str, at: i64| -> Vec<&'static str> {
            let at = When::now(Instant(at));
            from_slip(state, false, quantity(text).as_ref(), &at, Instant(2_000))
                .iter()
                .map(|r| r.code)
                .collect()
        };
        assert_eq!(codes(&open(), "", 1_500), NONE);
        assert_eq!(codes(&open(), "6 rods", 1_500), NONE);
        assert_eq!(codes(&open(), "7 rods", 1_500), ["more-than-out"]);
        assert_eq!(codes(&open(), "1 kg", 1_500), NONE, "not comparable is not checked");
        assert_eq!(codes(&open(), "0 rods", 1_500), ["nothing-to-scrap"]);
        assert_eq!(codes(&open(), "", 999), ["before-issue"]);
        assert_eq!(codes(&open(), "6 rods", 2_001), ["time-in-future"]);
        let unknown = State { out: Balance::NotKnown, ..open() };
        assert_eq!(codes(&unknown, "", 1_500), NONE, "whatever is left is gone");
        let closed = State { closed: Some((Instant(1_200), "the return of 2 rods".into())), ..open() };
        assert_eq!(codes(&closed, "1 rod", 1_500), ["slip-closed"]);
        let at = When::now(Instant(1_500));
        let all = from_slip(&closed, false, None, &at, Instant(2_000));
        assert_eq!((all.len(), all[0].code, all[0].may_override), (1, "slip-closed", false));
        let some = from_slip(&closed, false, quantity("1 rod").as_ref(), &at, Instant(2_000));
        assert!(some[0].may_override);
        let void = from_slip(&open(), true, None, &at, Instant(2_000));
        assert_eq!((void.len(), void[0].code, void[0].may_override), (1, "slip-void", false));
    }

    #[test]
    fn from_the_crib() {
        let there = |stock| InCrib {
            lot: "L-1",
            received: Some(Instant(1_000)),
            stock,
            put_aside: Balance::Pieces(0),
            void: false,
            piece_mg: Some(33_000),
            zone: Zone::named("UTC").unwrap(),
        };
        let codes = |state: &InCrib<'_>, text: &str, at: i64| -> Vec<&'static str> {
            let at = When::now(Instant(at));
            from_crib(state, quantity(text).as_ref(), &at, Instant(2_000)).iter().map(|r| r.code).collect()
        };
        let six = there(Balance::Pieces(6));
        assert_eq!(codes(&six, "", 1_500), NONE);
        assert_eq!(codes(&six, "6 rods", 1_500), NONE);
        assert_eq!(codes(&six, "7 rods", 1_500), ["more-than-in-crib"]);
        assert_eq!(codes(&six, "199 g", 1_500), ["more-than-in-crib"], "six of 33 g are 198 g");
        assert_eq!(codes(&six, "198 g", 1_500), NONE);
        assert_eq!(codes(&six, "0 rods", 1_500), ["nothing-to-scrap"]);
        assert_eq!(codes(&six, "", 999), ["before-receipt"]);
        assert_eq!(codes(&six, "", 2_001), ["time-in-future"]);
        assert_eq!(codes(&there(Balance::NotKnown), "", 1_500), ["stock-not-known"]);
        assert_eq!(codes(&there(Balance::NotKnown), "6 rods", 1_500), NONE);
        assert_eq!(codes(&there(Balance::Pieces(0)), "", 1_500), ["nothing-to-scrap"]);
        assert_eq!(codes(&there(Balance::Milligrams(-5)), "", 1_500), ["nothing-to-scrap"]);
        assert_eq!(codes(&InCrib { void: true, ..there(Balance::Pieces(6)) }, "", 1_500), ["lot-void"]);
        let aside = InCrib { put_aside: Balance::Pieces(3), ..there(Balance::Pieces(0)) };
        let refused =
            from_crib(&aside, quantity("3 rods").as_ref(), &When::now(Instant(1_500)), Instant(2_000));
        assert!(refused[0].why.contains("3 pieces) left the stock when it came back"), "{}", refused[0].why);
    }
}
