//! Closing a finding.

use crate::event::Disposition;
use crate::finding::Code;
use crate::refusal::Refusal;

/// What the metal of a finding is proved to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Proof<'a> {
    /// Nothing is said.
    None,
    /// The lot, by custody: said to be `lot`, while the welder held these lots since the last clean spot check.
    Lot {
        /// The lot's code.
        lot: &'a str,
        /// Codes of all lots that the wire can be of.
        held: Vec<String>,
    },
    /// The classification, by a reading or the like.
    Class,
}

/// What the decision looks at.
#[derive(Debug)]
pub struct State<'a> {
    /// First digits of the finding.
    pub finding: &'a str,
    /// What kind it is.
    pub code: Code,
    /// How and by whom it was closed before, if it was.
    pub disposed: Option<(Disposition, &'a str)>,
    /// Whether its cause is metal that is still there: found wire, or an unmarked return.
    pub is_metal: bool,
    /// Whether its cause has a joint.
    pub has_joint: bool,
    /// What the metal is proved to be.
    pub proof: Proof<'a>,
}

/// Everything that speaks against closing the finding that way.
pub fn decide(state: &State<'_>, disposition: Disposition) -> Vec<Refusal> {
    let finding = state.finding;
    let not = |reason: &str| format!("finding {finding} was not closed: {reason}");
    let mut against = Vec::new();
    if let Some((how, by)) = state.disposed {
        against.push(
            Refusal::absolute(
                "already-disposed",
                not("it is closed already."),
                format!("{by} closed it as {}.", how.word()),
            )
            .next("to open it again, void the entry that closed it: rodbook void"),
        );
    }
    match disposition {
        Disposition::ReMarked if !state.is_metal => against.push(
            Refusal::absolute(
                "nothing-to-mark",
                not("there is no metal that could be marked anew."),
                format!("{} here is not about wire that lies there.", state.code.word()),
            )
            .next("close it as what it is: proved, accepted, cut-out or mistaken"),
        ),
        Disposition::ReMarked => against.extend(no_proof(state, &not)),
        Disposition::Scrapped if !state.is_metal => against.push(
            Refusal::absolute(
                "nothing-to-scrap",
                not("there is no metal that could be scrapped."),
                format!("{} here is not about wire that lies there.", state.code.word()),
            )
            .next("a weld is cut out: --as cut-out"),
        ),
        Disposition::CutOut if !state.has_joint => against.push(
            Refusal::absolute(
                "no-joint",
                not("it is about no joint, so there is nothing to cut out."),
                "its cause names no joint.",
            )
            .next("close it as what it is: proved, accepted, scrapped or mistaken"),
        ),
        Disposition::Proved
        | Disposition::Accepted
        | Disposition::CutOut
        | Disposition::Scrapped
        | Disposition::Mistaken => {
            if state.proof != Proof::None {
                against.push(
                    Refusal::absolute(
                        "not-re-marked",
                        not("--lot and --class say what metal was marked with anew."),
                        format!("it is to be closed as {}.", disposition.word()),
                    )
                    .next("write the proof into --why, or close it with --as re-marked"),
                );
            }
        }
    }
    against
}

/// Marking anew takes proof: of the lot by custody of that one lot alone, else of the class only.
fn no_proof(state: &State<'_>, not: &dyn Fn(&str) -> String) -> Option<Refusal> {
    let next = "with a reading the class alone is proved: --class, and the metal is no lot's any more";
    match &state.proof {
        Proof::Class => None,
        Proof::None => Some(
            Refusal::absolute(
                "no-proof",
                not("marking anew takes proof of what it is."),
                "neither --lot nor --class is given.",
            )
            .next("--lot if custody proves it: the welder held that lot and no other since the last clean spot check")
            .next(next),
        ),
        Proof::Lot { lot, held } if held.as_slice() == [(*lot).to_owned()] => None,
        Proof::Lot { lot, held } => Some(
            Refusal::absolute(
                "no-proof",
                not(&format!("custody does not prove that it is lot {lot}.")),
                match held.as_slice() {
                    [] => "by the record the welder held nothing since the last clean spot check.".to_owned(),
                    [one] => format!("the welder held lot {one} and no other since the last clean spot check."),
                    several => format!(
                        "the welder held {} lots since the last clean spot check: {}.",
                        several.len(),
                        several.join(", ")
                    ),
                },
            )
            .next(next)
            .next("or scrap it: --as scrapped"),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(state: &State<'_>, disposition: Disposition) -> Vec<&'static str> {
        decide(state, disposition).iter().map(|r| r.code).collect()
    }

    #[test]
    fn table() {
        let wire = |proof| State {
            finding: "3f2a",
            code: Code::UnmarkedWire,
            disposed: None,
            is_metal: true,
            has_joint: false,
            proof,
        };
        let none: Vec<&str> = vec![];
        let held = |lots: &[&str]| lots.iter().map(|l| (*l).to_owned()).collect::<Vec<_>>();
        assert_eq!(codes(&wire(Proof::None), Disposition::Scrapped), none);
        assert_eq!(codes(&wire(Proof::None), Disposition::ReMarked), ["no-proof"]);
        assert_eq!(codes(&wire(Proof::Class), Disposition::ReMarked), none);
        assert_eq!(codes(&wire(Proof::Class), Disposition::Scrapped), ["not-re-marked"]);
        let proof = |lots| Proof::Lot { lot: "L-1", held: held(lots) };
        assert_eq!(codes(&wire(proof(&["L-1"])), Disposition::ReMarked), none);
        assert_eq!(codes(&wire(proof(&["L-1", "L-2"])), Disposition::ReMarked), ["no-proof"]);
        assert_eq!(codes(&wire(proof(&["L-2"])), Disposition::ReMarked), ["no-proof"]);
        assert_eq!(codes(&wire(proof(&[])), Disposition::ReMarked), ["no-proof"]);
        assert_eq!(codes(&wire(Proof::None), Disposition::CutOut), ["no-joint"]);
        let weld = State { is_metal: false, has_joint: true, ..wire(Proof::None) };
        assert_eq!(codes(&weld, Disposition::CutOut), none);
        assert_eq!(codes(&weld, Disposition::Scrapped), ["nothing-to-scrap"]);
        assert_eq!(codes(&weld, Disposition::ReMarked), ["nothing-to-mark"]);
        let closed = State { disposed: Some((Disposition::Accepted, "I-21")), ..weld };
        assert_eq!(codes(&closed, Disposition::Proved), ["already-disposed"]);
        assert!(decide(&closed, Disposition::Proved).iter().all(|r| !r.may_override));
    }
}
