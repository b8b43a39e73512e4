//! What is refused at the counter: state and request in, nothing or a [`Refusal`] out.
//!
//! Rules look only at what is typed now. Imported history is recorded as it was; what a rule would have refused
//! shows up as a finding. Every rule has a stable code, says the number that decided, and what to do next.

pub mod amend;
pub mod certificate;
pub mod dispose;
pub mod give_back;
pub mod hand_over;
pub mod issue;
pub mod lot_status;
pub mod receive;
pub mod scrap;
pub mod shift_end;
pub mod weld;

use crate::person::Role;
use crate::refusal::Refusal;
use crate::time::{Instant, When, Zone};
use filler::Quantity;

/// How much of something is known to be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Balance {
    /// So many pieces.
    Pieces(i64),
    /// So many milligrams.
    Milligrams(i64),
    /// The entries are in units that nobody has tied together with a piece mass, or say no quantity.
    NotKnown,
}

impl Balance {
    /// The balance as people read it.
    pub fn shown(self) -> String {
        match self {
            Balance::Pieces(1) => "1 piece".into(),
            Balance::Pieces(n) => format!("{n} pieces"),
            Balance::Milligrams(mg) => shown_mass(mg),
            Balance::NotKnown => "an amount that is not known".into(),
        }
    }

    /// Whether `asked` is more than this; none where the two cannot be compared.
    pub fn is_exceeded_by(self, asked: &Quantity, piece_mg: Option<i64>) -> Option<bool> {
        match self {
            Balance::Pieces(there) => match asked.pieces() {
                Some(asked) => Some(asked > there),
                None => Some(mass_of(asked, None)? > there.checked_mul(piece_mg?)?),
            },
            Balance::Milligrams(there) => mass_of(asked, piece_mg).map(|asked| asked > there),
            Balance::NotKnown => None,
        }
    }
}

/// Milligrams of a quantity: weighed, or pieces times the piece mass.
pub fn mass_of(quantity: &Quantity, piece_mg: Option<i64>) -> Option<i64> {
    quantity.milligrams().or_else(|| quantity.pieces()?.checked_mul(piece_mg?))
}

/// A mass for reading: kilograms from 1 kg on, else grams; three and one decimals.
pub fn shown_mass(mg: i64) -> String {
    if mg.abs() >= 1_000_000 {
        let grams = half_even(mg, 1_000);
        format!("{}{}.{:03} kg", sign(mg), grams.abs() / 1000, grams.abs() % 1000)
    } else {
        let tenths = half_even(mg, 100);
        format!("{}{}.{} g", sign(mg), tenths.abs() / 10, tenths.abs() % 10)
    }
}

fn sign(n: i64) -> &'static str {
    if n < 0 { "-" } else { "" }
}

/// `n / d` rounded half to even; `d` is positive.
fn half_even(n: i64, d: i64) -> i64 {
    let (q, r) = (n.div_euclid(d), n.rem_euclid(d));
    match (2 * r).cmp(&d) {
        std::cmp::Ordering::Less => q,
        std::cmp::Ordering::Greater => q + 1,
        std::cmp::Ordering::Equal => q + (q & 1),
    }
}

/// Refuses a claimed time that has not come yet.
///
/// # Errors
/// `time-in-future` when all of the claimed time lies after the station's clock.
pub fn not_in_future(what: &str, at: &When, now: Instant, zone: Zone) -> Result<(), Refusal> {
    if at.from <= now {
        return Ok(());
    }
    Err(Refusal::absolute(
        "time-in-future",
        format!("{what} was not recorded: its time has not come yet."),
        format!(
            "claimed {}, and this station's clock says {}.",
            zone.local_with_zone(at.from),
            zone.local_with_zone(now)
        ),
    )
    .next("correct --at (or --from, --to); if the clock of this machine is wrong, set it first"))
}

/// Refuses a person who has not got a role.
///
/// # Errors
/// `role-needed` when the role is not among theirs.
pub fn needs_role(what: &str, badge: &str, roles: &[Role], needed: Role) -> Result<(), Refusal> {
    if roles.contains(&needed) {
        return Ok(());
    }
    let has: Vec<&str> = roles.iter().map(|r| r.word()).collect();
    let has = if has.is_empty() { "no role".to_owned() } else { has.join(", ") };
    Err(Refusal::absolute(
        "role-needed",
        format!("{what}: badge {badge} may not do this."),
        format!("it takes the role {}, and {badge} has {has}.", needed.word()),
    )
    .next(format!("ask a person with the role {} to do it with their own badge", needed.word())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn masses_for_reading() {
        assert_eq!(shown_mass(22_679_618), "22.680 kg");
        assert_eq!(shown_mass(33_150), "33.2 g", "half to even: 331.5 tenths");
        assert_eq!(shown_mass(33_250), "33.2 g");
        assert_eq!(shown_mass(-50), "-0.0 g");
        assert_eq!(shown_mass(999_999), "1000.0 g");
    }

    #[test]
    fn the_future_is_refused() {
        let zone = Zone::named("UTC").unwrap();
        let at = crate::time::read("2026-03-02 14:30", zone, &[]).unwrap();
        let refused = not_in_future("the return", &at, Instant(at.from.0 - 1), zone).unwrap_err();
        assert_eq!(refused.code, "time-in-future");
        assert!(!refused.may_override);
        assert_eq!(not_in_future("the return", &at, at.from, zone), Ok(()));
        let today = crate::time::read("2026-03-02", zone, &[]).unwrap();
        assert_eq!(not_in_future("the return", &today, at.from, zone), Ok(()), "a day that has begun");
    }
}
