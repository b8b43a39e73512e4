//! Saying an entry anew, and saying that it never was.
//!
//! An amendment is refused for what the rest of the record then could not bear. What speaks against the record before
//! the amendment does not count: paper is full of things that no rule would have let pass, and a correction must not be
//! held up by what it does not touch.

use super::give_back::{self, State};
use super::{Balance, needs_role};
use crate::event::Event;
use crate::person::Role;
use crate::refusal::Refusal;
use crate::time::{Instant, When};
use filler::Quantity;

/// What is done to an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// It is said anew.
    Correct,
    /// It never was.
    Void,
}

impl Act {
    /// What was not done, in messages.
    pub fn done(self) -> &'static str {
        match self {
            Act::Correct => "corrected",
            Act::Void => "voided",
        }
    }

    fn verb(self) -> &'static str {
        match self {
            Act::Correct => "correct",
            Act::Void => "void",
        }
    }
}

/// How an entry of a kind can be amended.
enum Amendable {
    /// Said anew, and voided.
    Both,
    /// Voided only; what to do instead of correcting it.
    VoidOnly(&'static str),
    /// Neither; what to do instead.
    Neither(&'static str),
}

fn amendable(event: &Event) -> Amendable {
    match event {
        Event::WelderQualified(_)
        | Event::WpsDeclared(_)
        | Event::JointDeclared(_)
        | Event::LotReceived(_)
        | Event::LotReleased(_)
        | Event::LotHeld(_)
        | Event::LotRejected(_)
        | Event::LotRecalled(_)
        | Event::RodIssued(_)
        | Event::RodReturned(_)
        | Event::RodHandedOver(_)
        | Event::WelderCleared(_)
        | Event::RodScrapped(_)
        | Event::JointWelded(_)
        | Event::MarkSpotChecked(_)
        | Event::WireFoundUnmarked(_) => Amendable::Both,
        Event::PersonEnrolled(_) => Amendable::VoidOnly("enrol the person anew: the newest enrolment holds"),
        Event::ShiftsDeclared(_) => {
            Amendable::VoidOnly("declare the shifts anew: the newest declaration holds")
        }
        Event::CertificateFiled(_)
        | Event::CertificateRead(_)
        | Event::MetalRead(_)
        | Event::TableLoaded(_)
        | Event::TableSignedOff(_)
        | Event::SlipReprinted(_)
        | Event::FindingDisposed(_)
        | Event::NoteWritten(_)
        | Event::EntryCorrected(_)
        | Event::EntryVoided(_) => Amendable::VoidOnly("void it, and write it again as it should have been"),
        Event::StationOpened(_) => Amendable::Neither("the opening of a station stays as it is"),
        Event::FilesImported(_) => {
            Amendable::Neither("correct or void the entries that were made of the rows, one by one")
        }
        Event::NotUnderstood(_) => {
            Amendable::Neither("this program does not know what the entry means; use the newer program")
        }
    }
}

/// Refuses an act on a kind of entry that it is not for, and by somebody who may not do it. `says` is what the entry
/// says: of a void, what the entry says that it names.
///
/// # Errors
/// `cannot-be-corrected`, `cannot-be-voided` or `role-needed`.
pub fn may(
    act: Act,
    entry: &str,
    event: &Event,
    says: &Event,
    badge: &str,
    roles: &[Role],
) -> Result<(), Refusal> {
    let not = |next: &str| {
        let message = format!("entry {entry} was not {}.", act.done());
        let why = format!("it is of the kind {}, which is never {}.", event.kind(), act.done());
        let refusal = match act {
            Act::Correct => Refusal::absolute("cannot-be-corrected", message, why),
            Act::Void => Refusal::absolute("cannot-be-voided", message, why),
        };
        Err(refusal.next(next))
    };
    match (act, amendable(event)) {
        (_, Amendable::Neither(next)) | (Act::Correct, Amendable::VoidOnly(next)) => return not(next),
        (Act::Correct | Act::Void, Amendable::Both) | (Act::Void, Amendable::VoidOnly(_)) => {}
    }
    if decides(says) {
        let what = format!("entry {entry} was not {}", act.done());
        needs_role(&what, badge, roles, Role::Inspector)?;
    }
    Ok(())
}

/// Whether only an inspector may have said it, and so only an inspector may amend it.
fn decides(event: &Event) -> bool {
    match event {
        Event::LotReleased(_)
        | Event::LotHeld(_)
        | Event::LotRejected(_)
        | Event::LotRecalled(_)
        | Event::TableSignedOff(_)
        | Event::FindingDisposed(_) => true,
        Event::EntryCorrected(correction) => decides(&correction.event()),
        Event::StationOpened(_)
        | Event::ShiftsDeclared(_)
        | Event::PersonEnrolled(_)
        | Event::WelderQualified(_)
        | Event::WpsDeclared(_)
        | Event::JointDeclared(_)
        | Event::LotReceived(_)
        | Event::CertificateFiled(_)
        | Event::CertificateRead(_)
        | Event::MetalRead(_)
        | Event::TableLoaded(_)
        | Event::RodIssued(_)
        | Event::RodReturned(_)
        | Event::RodHandedOver(_)
        | Event::WelderCleared(_)
        | Event::RodScrapped(_)
        | Event::SlipReprinted(_)
        | Event::JointWelded(_)
        | Event::MarkSpotChecked(_)
        | Event::WireFoundUnmarked(_)
        | Event::NoteWritten(_)
        | Event::EntryVoided(_)
        | Event::FilesImported(_)
        | Event::NotUnderstood(_) => false,
    }
}

/// What strikes an entry.
#[derive(Clone, Debug)]
pub struct StruckBy {
    /// Short id of the entry that strikes it.
    pub entry: String,
    /// Whether that one says that it never was; else it says it anew.
    pub void: bool,
    /// Who and when, for people.
    pub by: String,
    /// Why.
    pub why: String,
    /// The entries that stand in its place now, by short id, with what they say.
    pub stands_now: Vec<(String, String)>,
}

/// The refusal of an act on an entry that does not stand any more.
#[must_use]
pub fn already_struck(act: Act, entry: &str, struck: &StruckBy) -> Refusal {
    let how = if struck.void { "voided" } else { "corrected" };
    let mut refusal = Refusal::absolute(
        "already-struck",
        format!("entry {entry} was not {}: it does not stand any more.", act.done()),
        format!("it was {how} by entry {} ({}): {}", struck.entry, struck.by, struck.why),
    );
    for (now, says) in &struck.stands_now {
        refusal =
            refusal.next(format!("what stands now is entry {now} ({says}): rodbook {} {now}", act.verb()));
    }
    if struck.stands_now.is_empty() {
        refusal = refusal
            .next(format!("if that was wrong, take it back: rodbook void {} --why \"reason\"", struck.entry));
    }
    refusal
}

/// The refusal of a correction that changes nothing.
#[must_use]
pub fn nothing_to_correct(entry: &str, fields: &[String]) -> Refusal {
    Refusal::absolute(
        "nothing-to-correct",
        format!("entry {entry} was not corrected: it says that already."),
        format!("given, and the same as it stands: {}.", fields.join(", ")),
    )
    .next("look at the entry, and give the field that is wrong with --set FIELD=VALUE")
}

/// The refusal to void the beginning of a slip from which metal has gone on; `followers` are short ids with what they
/// say, in the order to void them.
#[must_use]
pub fn has_followers(entry: &str, slip: &str, followers: &[(String, String)]) -> Refusal {
    let count = match followers.len() {
        1 => "1 entry says".to_owned(),
        n => format!("{n} entries say"),
    };
    let mut refusal = Refusal::absolute(
        "has-followers",
        format!("entry {entry} was not voided: metal has left slip {slip}."),
        format!("{count} that metal came back, went on or was scrapped from it."),
    );
    for (short, says) in followers {
        refusal = refusal.next(format!("void first {short} ({says})"));
    }
    refusal.next("or, if only what the slip says is wrong: rodbook correct")
}

/// The refusal of metal leaving a slip that never was.
#[must_use]
pub fn slip_void(what: &str, slip: &str) -> Refusal {
    Refusal::absolute(
        "slip-void",
        format!("{what}: slip {slip} is void."),
        "by the record it was never handed out.",
    )
    .next(format!("see who voided it, and why, with: rodbook slip {slip}"))
}

/// The refusal of an entry that names a thing which never was; `what` was not done.
#[must_use]
pub fn thing_void(what: &str, kind: &str, label: &str) -> Refusal {
    let message = format!("{what}: {kind} {label} is void.");
    let why = "every entry that described it was voided: by the record it never was.";
    let (refusal, again) = match kind {
        "lot" => (Refusal::absolute("lot-void", message, why), "book it in again with: rodbook receive"),
        "joint" => (Refusal::absolute("joint-void", message, why), "declare it again with: rodbook joint"),
        "person" => (Refusal::absolute("person-void", message, why), "enrol them again with: rodbook enroll"),
        _ => (Refusal::absolute("wps-void", message, why), "import it again with: rodbook import"),
    };
    refusal.next(format!("if that was wrong, void the void; else {again}"))
}

/// The refusal to void the only description of a thing that other entries name.
#[must_use]
pub fn is_in_use(entry: &str, thing: &str, users: &[(String, String)], more: usize) -> Refusal {
    let count = match users.len().saturating_add(more) {
        1 => "1 entry that stands names it".to_owned(),
        n => format!("{n} entries that stand name it"),
    };
    let mut refusal = Refusal::absolute(
        "is-in-use",
        format!("entry {entry} was not voided: nothing else describes {thing}."),
        format!("{count}."),
    );
    for (short, says) in users {
        refusal = refusal.next(format!("correct or void first {short} ({says})"));
    }
    if more > 0 {
        refusal = refusal.next(format!("and {more} more"));
    }
    refusal.next("or, if only what it says is wrong: rodbook correct")
}

/// The refusal of a number that another thing has.
#[must_use]
pub fn number_taken(what: &str, number: &str) -> Refusal {
    let message = format!("{what} {number} is in the book already, and is another one.");
    let why = format!("a number means one {what}.");
    let refusal = match what {
        "slip" => Refusal::absolute("slip-number-taken", message, why),
        "joint" => Refusal::absolute("joint-number-taken", message, why),
        "WPS" => Refusal::absolute("wps-number-taken", message, why),
        _ => Refusal::absolute("badge-taken", message, why),
    };
    refusal.next(format!(
        "compare the number with the paper; if the other {what} has the wrong one, correct that first"
    ))
}

/// The refusal of a receipt that would describe a lot which the book has as another one.
#[must_use]
pub fn is_another_lot(entry: &str, code: &str, other: &str) -> Refusal {
    Refusal::absolute(
        "is-another-lot",
        format!("entry {entry} cannot describe lot {code} so: then it is the same lot as {other}."),
        "maker, maker's lot number, classification, size and form would all be the same: that is one lot.",
    )
    .next(format!(
        "correct the lot of the slips of {code} to {other}, then void this receipt and book it in again"
    ))
    .next("or compare the maker's lot number on the box with what was typed")
}

/// What speaks against a record by which more of a lot left the crib than came into it.
#[must_use]
pub fn less_than_nothing(lot: &str, in_crib: Balance) -> Option<(i64, Refusal)> {
    let depth = match in_crib {
        Balance::Pieces(n) | Balance::Milligrams(n) => n.checked_neg().filter(|n| *n > 0)?,
        Balance::NotKnown => return None,
    };
    let refusal = Refusal::overridable(
        "more-than-in-crib",
        format!("more of lot {lot} would have left the crib than came into it."),
        format!("the book would have {} in the crib.", in_crib.shown()),
    )
    .next("count what is there; book in what was never booked in, with: rodbook receive");
    Some((depth, refusal))
}

/// The refusal to take a correction back that the slip would make again; `first` is the first entry of its chain, with
/// what it says.
#[must_use]
pub fn follows_its_slip(entry: &str, first: &(String, String)) -> Refusal {
    let (short, says) = first;
    Refusal::absolute(
        "follows-its-slip",
        format!("entry {entry} was not voided: it would be written again."),
        "what leaves a slip carries the lot and the holder of the slip.",
    )
    .next(format!("if it never was, void the entry that it corrects: rodbook void {short} ({says})"))
    .next("if the lot or the holder is wrong, correct that of the slip")
}

/// The refusal to let a correction stand again where what it corrects is void, by the entry `void`.
#[must_use]
pub fn corrects_what_is_void(entry: &str, corrects: &str, void: &str) -> Refusal {
    Refusal::absolute(
        "corrects-what-is-void",
        format!(
            "entry {entry} was not voided: the correction would stand again, and what it corrects is void."
        ),
        format!("entry {corrects} was voided by entry {void}."),
    )
    .next(format!("take that back first: rodbook void {void} --why \"reason\""))
}

/// The refusal to let an entry stand again, or be void again, where a correction, `other`, stands in its place.
#[must_use]
pub fn corrected_otherwise(entry: &str, other: &(String, String)) -> Refusal {
    let (short, says) = other;
    Refusal::absolute(
        "corrected-otherwise",
        format!("entry {entry} was not voided: what it is about was corrected otherwise since."),
        format!("entry {short} stands in its place ({says})."),
    )
    .next(format!("correct or void that one: {short}"))
}

/// The refusal of a hand-over from a slip that itself comes from its new slip.
#[must_use]
pub fn from_itself(slip: &str, new_slip: &str) -> Refusal {
    Refusal::absolute(
        "slip-from-itself",
        format!("slip {new_slip} cannot have come from slip {slip}."),
        format!("slip {slip} itself came from slip {new_slip}."),
    )
    .next("compare the numbers with the paper")
}

/// What speaks against metal having left a slip, by what the record says of the slip otherwise. `what` is a return, a
/// hand-over, a scrapping.
pub fn leaving(state: &State<'_>, quantity: &Quantity, at: &When, now: Instant, what: &str) -> Vec<Refusal> {
    let not = |reason: &str| format!("{what} on slip {} was not recorded: {reason}", state.slip);
    give_back::against(state, quantity, at, now, what, &not)
}

/// Something that speaks against the record as it is.
#[derive(Clone, Debug)]
pub struct Trouble {
    /// The thing that it is about: the same before and after an amendment.
    pub about: [u8; 32],
    /// How bad it is, where that can be counted: pieces or milligrams too many.
    pub depth: i64,
    /// What a rule says.
    pub refusal: Refusal,
}

/// Of what speaks against the record after an amendment: what did not before, or not as much.
#[must_use]
pub fn worse(before: &[Trouble], after: Vec<Trouble>) -> Vec<Refusal> {
    let mut against: Vec<Refusal> = Vec::new();
    for trouble in after {
        let was_there = before.iter().any(|b| {
            b.refusal.code == trouble.refusal.code && b.about == trouble.about && b.depth >= trouble.depth
        });
        if !was_there && !against.contains(&trouble.refusal) {
            against.push(trouble.refusal);
        }
    }
    against
}

/// A refusal of the counter, said of an amendment: what could not have been written then. The options that the counter
/// offers next are not those of an amendment.
#[must_use]
pub fn said_of(act: Act, entry: &str, refusal: Refusal) -> Refusal {
    let about = format!("entry {entry} ");
    let message = if refusal.message.starts_with(&about) {
        refusal.message
    } else {
        let message = refusal
            .message
            .replace("was not recorded:", "could not stand then:")
            .replace("was not written:", "could not stand then:")
            .replace("was not issued:", "could not have been issued then:");
        format!("{about}was not {}: {message}", act.done())
    };
    let next = refusal
        .next
        .into_iter()
        .map(|step| match (step.strip_prefix("correct --"), step.split_once("; ")) {
            (Some(_), Some((_, more))) => format!("compare the times with the paper; {more}"),
            (Some(_), None) => "compare the times with the paper".to_owned(),
            (None, _) => step,
        })
        .collect();
    Refusal { message, next, ..refusal }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::{EntryVoided, LotRef, LotReleased, PersonRef, ShiftsDeclared, WelderCleared};
    use crate::id::{EntryId, LotId, PersonId};
    use crate::time::Zone;

    fn cleared() -> Event {
        let welder = PersonRef { badge: "W-1".into(), person: PersonId(uuid::Uuid::nil()) };
        WelderCleared { at: When::now(Instant(1)), welder }.into()
    }

    fn released() -> Event {
        let lot = LotRef { label: "L-1".into(), lot: LotId(uuid::Uuid::nil()) };
        LotReleased { at: When::now(Instant(1)), imported: None, lot, why: String::new() }.into()
    }

    #[test]
    fn who_may_do_what() {
        let voided: Event = EntryVoided { voids: EntryId([1; 32]), why: "x".into() }.into();
        let shifts: Event = ShiftsDeclared { shifts: vec![] }.into();
        let code = |act, event: &Event, says: &Event, roles: &[Role]| {
            may(act, "0000-0000-0000-0000", event, says, "B", roles).err().map(|r| r.code)
        };
        let (anybody, inspector) = (&[Role::Welder][..], &[Role::Inspector][..]);
        for act in [Act::Correct, Act::Void] {
            assert_eq!(code(act, &cleared(), &cleared(), &[]), None);
            assert_eq!(code(act, &released(), &released(), anybody), Some("role-needed"));
            assert_eq!(code(act, &released(), &released(), inspector), None);
        }
        assert_eq!(code(Act::Correct, &voided, &cleared(), inspector), Some("cannot-be-corrected"));
        assert_eq!(code(Act::Void, &voided, &cleared(), anybody), None);
        assert_eq!(code(Act::Void, &voided, &released(), anybody), Some("role-needed"), "by what it names");
        assert_eq!(code(Act::Correct, &shifts, &shifts, anybody), Some("cannot-be-corrected"));
        assert_eq!(code(Act::Void, &shifts, &shifts, anybody), None);
        let unknown = Event::from_parts("rod.melted", &serde_json::json!({}));
        assert_eq!(code(Act::Void, &unknown, &unknown, inspector), Some("cannot-be-voided"));
    }

    #[test]
    fn only_what_gets_worse_is_refused() {
        let trouble = |code, about: u8, depth| Trouble {
            about: [about; 32],
            depth,
            refusal: Refusal::overridable(code, "m", format!("{about} {depth}")),
        };
        let before = [trouble("more-than-out", 1, 4), trouble("before-issue", 2, 0)];
        let codes = |after: Vec<Trouble>| -> Vec<&'static str> {
            worse(&before, after).iter().map(|r| r.code).collect()
        };
        assert_eq!(codes(vec![trouble("more-than-out", 1, 4), trouble("before-issue", 2, 0)]), [""; 0]);
        assert_eq!(codes(vec![trouble("more-than-out", 1, 3)]), [""; 0], "less than before");
        assert_eq!(codes(vec![trouble("more-than-out", 1, 5)]), ["more-than-out"]);
        assert_eq!(codes(vec![trouble("before-issue", 1, 0)]), ["before-issue"], "of another thing");
        assert_eq!(codes(vec![trouble("slip-closed", 1, 0), trouble("slip-closed", 1, 0)]), ["slip-closed"]);
        assert_eq!(codes(vec![]), [""; 0]);
    }

    #[test]
    fn what_leaves_a_slip_is_judged_as_at_the_window() {
        let state = State {
            slip: "S-1",
            issued: Instant(1_000),
            closed: None,
            out: Balance::Pieces(6),
            piece_mg: None,
            zone: Zone::named("UTC").unwrap(),
        };
        let quantity = Quantity::parse("7 rods").unwrap();
        let against = leaving(&state, &quantity, &When::now(Instant(900)), Instant(2_000), "the scrapping");
        assert_eq!(against.iter().map(|r| r.code).collect::<Vec<_>>(), ["before-issue", "more-than-out"]);
        let said = said_of(Act::Correct, "ABCD", against.into_iter().next_back().unwrap());
        assert_eq!(
            said.message,
            "entry ABCD was not corrected: the scrapping on slip S-1 could not stand then: that is more than is out on it."
        );
        assert_eq!(said.why, "7 rods typed, and 6 pieces are out.");
        let said_again = said_of(Act::Correct, "ABCD", said.clone());
        assert_eq!(said_again, said, "it is said once");
        let against = leaving(&state, &quantity, &When::now(Instant(900)), Instant(2_000), "the scrapping");
        let early = said_of(Act::Void, "ABCD", against.into_iter().next().unwrap());
        assert_eq!(early.next, ["compare the times with the paper; look at the slip with: rodbook slip S-1"]);
    }

    #[test]
    fn a_crib_holds_nothing_or_more() {
        let depth = |balance| less_than_nothing("L-1", balance).map(|(depth, _)| depth);
        assert_eq!(depth(Balance::Pieces(0)), None);
        assert_eq!(depth(Balance::Pieces(-3)), Some(3));
        assert_eq!(depth(Balance::Milligrams(-5)), Some(5));
        assert_eq!(depth(Balance::Milligrams(i64::MIN)), None, "beyond what is counted");
        assert_eq!(depth(Balance::NotKnown), None);
    }

    #[test]
    fn what_stands_now_is_named() {
        let mut struck = StruckBy {
            entry: "AAAA".into(),
            void: false,
            by: "A-1, 2026-03-02 14:30".into(),
            why: "counted again".into(),
            stands_now: vec![("BBBB".into(), "slip S-1".into())],
        };
        let refusal = already_struck(Act::Correct, "CCCC", &struck);
        assert_eq!(refusal.code, "already-struck");
        assert!(!refusal.may_override);
        assert_eq!(refusal.next, ["what stands now is entry BBBB (slip S-1): rodbook correct BBBB"]);
        struck.void = true;
        struck.stands_now.clear();
        assert!(already_struck(Act::Void, "CCCC", &struck).next[0].contains("rodbook void AAAA"));
    }
}
