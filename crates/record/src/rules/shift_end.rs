//! A welder's whole return at the end of a shift.

use crate::refusal::Refusal;

/// A slip that is open with the welder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenSlip {
    /// Its number.
    pub number: String,
    /// What is out on it, in its own words.
    pub left: String,
    /// The word for its pieces or its mass, for the command that is offered.
    pub unit: &'static str,
}

/// A slip that was named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedSlip {
    /// Its number.
    pub number: String,
    /// The badge of its holder, where that is somebody else.
    pub of_another: Option<String>,
}

/// Refuses slips of other welders, and a return that leaves out an open slip of the welder. `typed` are the arguments as
/// they were typed, one for each slip named, each in the quotes of a command line; `only` says that what is left out stays out.
pub fn decide(
    welder: &str,
    open: &[OpenSlip],
    named: &[NamedSlip],
    typed: &[String],
    only: bool,
) -> Vec<Refusal> {
    let not = |reason: &str| format!("the return of {welder} was not recorded: {reason}");
    let mut against: Vec<Refusal> = named
        .iter()
        .filter_map(|slip| {
            let holder = slip.of_another.as_ref()?;
            Some(
                Refusal::absolute(
                    "slip-of-another",
                    not(&format!("slip {} is not theirs.", slip.number)),
                    format!("it was handed to {holder}."),
                )
                .next(format!("see what {welder} has with: rodbook out --welder {welder}"))
                .next(format!("what {holder} gives back goes into: rodbook shift-end {holder}")),
            )
        })
        .collect();
    let left: Vec<&OpenSlip> =
        open.iter().filter(|slip| !named.iter().any(|n| n.number == slip.number)).collect();
    if !only && !left.is_empty() {
        let listed: Vec<String> = left.iter().map(|s| format!("{} ({} out)", s.number, s.left)).collect();
        let mut command = format!("rodbook shift-end {welder}");
        for (argument, _) in typed.iter().zip(named).filter(|(_, slip)| slip.of_another.is_none()) {
            command.push(' ');
            command.push_str(argument);
        }
        for slip in &left {
            command.push_str(&format!(" \"{}: 0 {}\"", slip.number, slip.unit));
        }
        let (what, are) = if left.len() == 1 { ("an open slip", "is") } else { ("open slips", "are") };
        let mut refusal = Refusal::absolute(
            "slips-left",
            not(&format!("{what} of theirs {are} not named.")),
            format!("left out: {}.", listed.join(", ")),
        )
        .next(format!("say what came back on each; if nothing did: {command}"));
        if !named.is_empty() {
            refusal = refusal.next("or add --only, and the others stay open with the welder");
        }
        against.push(refusal);
    }
    against
}

#[cfg(test)]
mod tests {
    use super::*;

    fn open(number: &str) -> OpenSlip {
        OpenSlip { number: number.into(), left: "4 rods".into(), unit: "rods" }
    }

    fn named(number: &str, of_another: Option<&str>) -> NamedSlip {
        NamedSlip { number: number.into(), of_another: of_another.map(str::to_owned) }
    }

    #[test]
    fn table() {
        let codes = |open: &[OpenSlip], named: &[NamedSlip], only| -> Vec<&'static str> {
            let against = decide("W-1", open, named, &[], only);
            assert!(against.iter().all(|r| !r.may_override), "nobody may set these aside");
            against.iter().map(|r| r.code).collect()
        };
        let both = [open("S-1"), open("S-2")];
        let none: [&str; 0] = [];
        assert_eq!(codes(&both, &[named("S-1", None), named("S-2", None)], false), none);
        assert_eq!(codes(&both, &[named("S-1", None)], false), ["slips-left"]);
        assert_eq!(codes(&both, &[named("S-1", None)], true), none);
        assert_eq!(codes(&both, &[], false), ["slips-left"]);
        assert_eq!(codes(&[], &[], false), none);
        assert_eq!(codes(&both, &[named("S-3", Some("W-2"))], false), ["slip-of-another", "slips-left"]);
        assert_eq!(codes(&both, &[named("S-3", Some("W-2"))], true), ["slip-of-another"]);
    }

    #[test]
    fn the_command_that_is_offered_has_what_was_typed_and_what_was_left_out() {
        let typed = ["\"S-3: 1 rod\"".to_owned(), "\"S-1: 2 rods, 3 stubs\"".to_owned()];
        let named = [named("S-3", Some("W-2")), named("S-1", None)];
        let against = decide("W-1", &[open("S-1"), open("S-2")], &named, &typed, false);
        assert_eq!((against.len(), against[0].code), (2, "slip-of-another"));
        let against = against.get(1..).unwrap();
        assert_eq!(against[0].why, "left out: S-2 (4 rods out).");
        assert_eq!(
            against[0].next[0],
            "say what came back on each; if nothing did: rodbook shift-end W-1 \"S-1: 2 rods, 3 stubs\" \"S-2: 0 rods\""
        );
    }
}
