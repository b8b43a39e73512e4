//! Weld records and spot checks.

use crate::number::search_key;
use crate::refusal::Refusal;
use crate::time::{Instant, When, Zone};

/// Everything that speaks against a weld record of that time.
pub fn decide(from: &When, to: Option<&When>, now: Instant, zone: Zone) -> Vec<Refusal> {
    let mut against = Vec::new();
    for time in std::iter::once(from).chain(to) {
        if let Err(refusal) = super::not_in_future("the weld record", time, now, zone) {
            against.push(refusal);
            break;
        }
    }
    if let Some(to) = to
        && to.to < from.from
    {
        against.push(
            Refusal::absolute(
                "ends-before-it-starts",
                "the weld record was not written: it ends before it starts.",
                format!("from {}, to {}.", zone.local_with_zone(from.from), zone.local_with_zone(to.to)),
            )
            .next("correct --from or --to"),
        );
    }
    against
}

/// The usual cycles of a weld, apart from the repairs R1, R2, …
pub const CYCLES: [&str; 4] = ["original", CUT_OUT, "tack", "temporary"];
/// The cycle of a record that says that the weld was cut out.
pub const CUT_OUT: &str = "cut-out";
/// The usual pass groups.
pub const PASSES: [&str; 6] = ["root", "hot", "fill", "cap", "back", "tack"];

/// Whether a cycle is one of the usual words: one of [`CYCLES`], or R with the number of the repair.
pub fn is_usual_cycle(word: &str) -> bool {
    let repair = |word: &str| {
        word.strip_prefix('R').is_some_and(|n| {
            !n.starts_with('0') && !n.is_empty() && n.len() <= 3 && n.bytes().all(|b| b.is_ascii_digit())
        })
    };
    CYCLES.contains(&word) || repair(word)
}

/// Whether a pass group is one of the usual words.
pub fn is_usual_pass(word: &str) -> bool {
    PASSES.contains(&word)
}

/// Whether a record of that cycle says that the weld was cut out, in whatever spelling: `cut-out`, `Cut out`, `CUTOUT`.
pub fn says_cut_out(cycle: &str) -> bool {
    search_key(cycle) == search_key(CUT_OUT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn table() {
        let zone = Zone::named("UTC").unwrap();
        let t = |s| When::now(Instant(s));
        let codes = |from, to: Option<i64>| -> Vec<&'static str> {
            decide(&t(from), to.map(t).as_ref(), Instant(100), zone).iter().map(|r| r.code).collect()
        };
        assert_eq!(codes(50, Some(60)), Vec::<&str>::new());
        assert_eq!(codes(50, Some(50)), Vec::<&str>::new());
        assert_eq!(codes(50, Some(49)), ["ends-before-it-starts"]);
        assert_eq!(codes(50, Some(101)), ["time-in-future"]);
        assert_eq!(codes(101, None), ["time-in-future"]);
    }

    #[test]
    fn usual_words() {
        for cycle in ["original", "R1", "R2", "R12", "cut-out", "tack", "temporary"] {
            assert!(is_usual_cycle(cycle), "{cycle}");
        }
        for cycle in ["Original", "r1", "R", "R0", "R01", "R1234", "RI", "cutout", "repair 1", ""] {
            assert!(!is_usual_cycle(cycle), "{cycle}");
        }
        assert!(is_usual_pass("root") && !is_usual_pass("Root") && !is_usual_pass("fill 2"));
        for cycle in ["cut-out", "Cut-Out", "cut out", "CUTOUT"] {
            assert!(says_cut_out(cycle), "{cycle}");
        }
        assert!(!says_cut_out("cut-outs") && !says_cut_out("original"));
    }
}
