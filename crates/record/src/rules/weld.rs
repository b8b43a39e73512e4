//! Weld records and spot checks.

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
}
