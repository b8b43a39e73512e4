//! Taking back at the window.

use super::Balance;
use crate::refusal::Refusal;
use crate::time::{Instant, When, Zone};
use filler::Quantity;

/// What the decision looks at, for a return and for a hand-over alike.
#[derive(Debug)]
pub struct State<'a> {
    /// Number of the slip.
    pub slip: &'a str,
    /// When it was handed out.
    pub issued: Instant,
    /// Since when it is closed, and by what, if it is.
    pub closed: Option<(Instant, String)>,
    /// What is out on it.
    pub out: Balance,
    /// Mass of one piece, where it is known.
    pub piece_mg: Option<i64>,
    /// The shop's zone, for messages.
    pub zone: Zone,
}

/// Everything that speaks against taking `quantity` back on the slip at `at`.
pub fn decide(state: &State<'_>, quantity: &Quantity, at: &When, now: Instant) -> Vec<Refusal> {
    let not = |reason: &str| format!("the return on slip {} was not recorded: {reason}", state.slip);
    against(state, quantity, at, now, "the return", &not)
}

/// What speaks against any metal leaving the slip.
pub(super) fn against(
    state: &State<'_>,
    quantity: &Quantity,
    at: &When,
    now: Instant,
    what: &str,
    not: &dyn Fn(&str) -> String,
) -> Vec<Refusal> {
    let slip = state.slip;
    let mut against = Vec::new();
    if let Err(refusal) = super::not_in_future(what, at, now, state.zone) {
        against.push(refusal);
    }
    if at.to < state.issued {
        against.push(
            Refusal::absolute(
                "before-issue",
                not("the slip had not been issued yet."),
                format!(
                    "claimed {}, issued {}.",
                    state.zone.local_with_zone(at.to),
                    state.zone.local_with_zone(state.issued)
                ),
            )
            .next(format!("correct --at; look at the slip with: rodbook slip {slip}")),
        );
    }
    if let Some((since, by)) = &state.closed {
        against.push(
            Refusal::overridable(
                "slip-closed",
                not(&format!("it is closed since {}.", state.zone.local(*since))),
                format!("closed by {by}."),
            )
            .next(format!("look at the slip with: rodbook slip {slip}"))
            .next("if it is another slip, see what is out with: rodbook out"),
        );
    } else if state.out.is_exceeded_by(quantity, state.piece_mg) == Some(true) {
        against.push(
            Refusal::overridable(
                "more-than-out",
                not("that is more than is out on it."),
                format!("{quantity} typed, and {} out.", out_shown(state.out)),
            )
            .next("count again; rods of another slip go on their own slip"),
        );
    }
    against
}

fn out_shown(out: Balance) -> String {
    match out {
        Balance::Pieces(1) => "1 piece is".into(),
        Balance::Pieces(_) => format!("{} are", out.shown()),
        Balance::Milligrams(_) | Balance::NotKnown => format!("{} is", out.shown()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn table() {
        let open = || State {
            slip: "S-1",
            issued: Instant(1_000),
            closed: None,
            out: Balance::Pieces(6),
            piece_mg: None,
            zone: Zone::named("UTC").unwrap(),
        };
        let codes = |state: &State<'_>, quantity: &str, at: i64| -> Vec<&'static str> {
            let quantity = Quantity::parse(quantity).unwrap();
            decide(state, &quantity, &When::now(Instant(at)), Instant(2_000)).iter().map(|r| r.code).collect()
        };
        assert_eq!(codes(&open(), "6 rods", 1_500), Vec::<&str>::new());
        assert_eq!(codes(&open(), "0 rods", 1_500), Vec::<&str>::new(), "nothing left comes back as nothing");
        assert_eq!(codes(&open(), "7 rods", 1_500), ["more-than-out"]);
        assert_eq!(codes(&open(), "1 kg", 1_500), Vec::<&str>::new(), "not comparable is not checked");
        assert_eq!(codes(&open(), "6 rods", 999), ["before-issue"]);
        assert_eq!(codes(&open(), "6 rods", 2_001), ["time-in-future"]);
        let closed = State { closed: Some((Instant(1_200), "the return of 2 rods".into())), ..open() };
        assert_eq!(codes(&closed, "1 rod", 1_500), ["slip-closed"]);
    }
}
