//! Findings: what a person must look at. Which there are is a question to the book; here is what they are called.

use crate::id::{EntryId, HashTextError};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::fmt;

/// How much a finding presses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Nobody goes on with the weld or the metal until a person has decided.
    Stop,
    /// A person must do something.
    Act,
    /// A gap that a person should know.
    Note,
}

impl Severity {
    /// All of them, the most pressing first.
    pub const ALL: [Severity; 3] = [Severity::Stop, Severity::Act, Severity::Note];

    /// The word in every output; stable.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Stop => "stop",
            Severity::Act => "act",
            Severity::Note => "note",
        }
    }
}

macro_rules! codes {
    ($($variant:ident: $word:literal, $severity:literal, $when:literal;)*) => {
        /// What kind of finding.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = $when] $variant,)*
        }

        impl Code {
            /// All of them, by their words.
            pub const ALL: &'static [Code] = &[$(Code::$variant),*];

            /// The word in every output and in every disposition; stable.
            pub fn word(self) -> &'static str {
                match self { $(Code::$variant => $word),* }
            }

            /// Its severity, in words: some depend on the case.
            pub fn severity(self) -> &'static str {
                match self { $(Code::$variant => $severity),* }
            }

            /// When there is one, in a sentence.
            pub fn when(self) -> &'static str {
                match self { $(Code::$variant => $when),* }
            }
        }
    };
}

// In the order of their words, so that sorting by variant is sorting by word.
codes! {
    ClassNotInWps: "class-not-in-wps", "stop; note if only some of the possible sources do not fit",
        "A source of a weld record has a classification or specification that no procedure of the joint allows.";
    ContradictedSource: "contradicted-source", "stop",
        "A weld record names a lot or slip that was not in the welder's custody, or a spot check read a mark that no source has.";
    CountOver: "count-over", "act",
        "More metal is accounted for on a slip than was out on it: handed over, returned, scrapped and, on a closed slip, stubs.";
    CountShort: "count-short", "act",
        "On a closed slip whose stubs were counted, issued minus handed over, returned, scrapped and stubs leaves something.";
    JointWithoutWeldRecord: "joint-without-weld-record", "note",
        "A joint that no weld record names.";
    LateEntry: "late-entry", "note",
        "Recorded more than 24 hours after the time that it claims, unless it was imported.";
    LookAlikeNumber: "look-alike-number", "act",
        "Two lot, heat or certificate numbers of different lots that differ only in characters which the eye confuses.";
    LotNotReleased: "lot-not-released", "stop",
        "Metal was issued, or welded, of a lot that was not released at the time, or on hold, rejected or recalled.";
    LotWithoutCertificate: "lot-without-certificate", "act",
        "Metal was issued of a lot for which the book has no certificate.";
    MassOver: "mass-over", "act",
        "More metal is in joints than was out on the slips that alone can have fed them, beyond the uncertainty of both.";
    MassShort: "mass-short", "act",
        "More metal was out on closed slips than all joints that they can have fed need, beyond the uncertainty of both.";
    NoSource: "no-source", "stop",
        "A weld record for which nothing was in the welder's custody: nobody can say what the weld metal is.";
    SeveralSources: "several-sources", "act",
        "A weld record with several possible lots, at a joint that must be traced to the lot.";
    SizeNotInWps: "size-not-in-wps", "act; note if only some of the possible sources do not fit",
        "A source of a weld record has a size that no procedure of the joint allows.";
    SlipOverdue: "slip-overdue", "note",
        "A slip that is open after it was due back.";
    SlipUnused: "slip-unused", "note",
        "A closed slip of which metal is gone, and which no weld record can have used.";
    UnmarkedWire: "unmarked-wire", "stop; act for a return",
        "Wire that nobody can tell what it is: found, unreadable at a weld, illegible at a spot check, or returned unmarked.";
}

impl Code {
    /// The code of a word.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|code| code.word() == word)
    }

    /// What can be done about it, and by whom.
    pub fn next(self) -> &'static [&'static str] {
        match self {
            Code::ClassNotInWps => &[
                "compare the paper with the record: a wrong lot written down is corrected with rodbook correct",
                "else the weld does not follow its procedure: the inspector decides, under the governing code",
            ],
            Code::ContradictedSource => &[
                "compare the paper with the record: numbers that look alike, a slip written late, a borrowed rod",
                "a reading of the deposit gives the class at best, never the lot",
                "until then the weld is suspect: the inspector decides, under the governing code, up to cutting it out",
            ],
            Code::CountOver => &[
                "count again; rods of another slip or of no slip came with these",
                "until it is known which, what came back is not certainly this lot: keep it apart",
            ],
            Code::CountShort => &[
                "look for the missing pieces at the bench, in the quiver, in another welder's hands",
                "what cannot be found is unaccounted for: the inspector decides whether that matters",
            ],
            Code::JointWithoutWeldRecord => {
                &["write the weld record with rodbook weld --at, or say in a note why there is none"]
            }
            Code::LateEntry => &["compare it with the paper that it was written from"],
            Code::LookAlikeNumber => &["compare both numbers with the boxes and the certificates"],
            Code::LotNotReleased => &[
                "the inspector decides what becomes of the metal and of the welds that have it",
                "where it went: rodbook trace lot",
            ],
            Code::LotWithoutCertificate => &["get the certificate and file it with rodbook cert file"],
            Code::MassOver => &[
                "compare what the joints need with drawing and joint: rodbook joint; a groove drawn too large explains it",
                "else metal of another slip, or of none, is in them: look for what was never entered",
                "line by line: rodbook reconcile; the inspector decides, under the governing code",
            ],
            Code::MassShort => &[
                "look for rods in quivers and on benches, for weld records that are missing, for scrap nobody wrote down",
                "compare what the joints need with the drawing: rodbook joint",
                "what cannot be found is unaccounted for: the inspector decides whether that matters",
            ],
            Code::NoSource => &[
                "look for a slip that was never entered: night issue, borrowed rods, another badge",
                "a reading of the deposit gives the class at best, never the lot",
                "until then the weld is suspect: the inspector decides, under the governing code, up to cutting it out",
            ],
            Code::SeveralSources => &[
                "the welder's word or a paper slip that names the quiver; counts of rods and stubs",
                "a reading of the deposit can tell classes apart, never two lots of one class",
                "if it must be one lot and stays open: the inspector decides, under the governing code",
            ],
            Code::SizeNotInWps => &[
                "compare the paper with the record",
                "else the weld does not follow its procedure: the inspector decides, under the governing code",
            ],
            Code::SlipOverdue => &["ask the welder; close the slip with rodbook return, or rodbook clear"],
            Code::SlipUnused => &["look for the weld records that are missing, or for the metal"],
            Code::UnmarkedWire => &[
                "keep it apart: it is never issued again. Scrap it, or mark it anew with proof",
                "which welds are at risk: rodbook findings --at-risk with its id",
                "each of them can be settled by custody of one lot alone, by a reading (class only), or by cutting out",
                "the inspector decides, under the governing code",
            ],
        }
    }
}

/// Identity of a finding: the same cause has the same id in every book, on every day.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FindingId(EntryId);

impl FindingId {
    /// SHA-256 over the code's word and the sorted ids of the entries that make the finding, each in lower-case
    /// hexadecimal, every one of these lines ended by a line feed.
    pub fn of(code: Code, entries: &[EntryId]) -> Self {
        let mut sorted = entries.to_vec();
        sorted.sort_unstable();
        sorted.dedup();
        let mut hash = Sha256::new();
        hash.update(code.word());
        hash.update(b"\n");
        for id in sorted {
            hash.update(id.to_string());
            hash.update(b"\n");
        }
        Self(EntryId(hash.finalize().into()))
    }

    /// The bytes.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0.0
    }

    /// From the bytes.
    pub fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(EntryId(bytes))
    }
}

impl fmt::Display for FindingId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for FindingId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "FindingId({})", self.0)
    }
}

impl std::str::FromStr for FindingId {
    type Err = HashTextError;
    fn from_str(text: &str) -> Result<Self, HashTextError> {
        text.parse().map(Self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_sorted_by_their_words_and_found_by_them() {
        assert!(Code::ALL.is_sorted_by(|a, b| a.word() < b.word() && a < b));
        for code in Code::ALL {
            assert_eq!(Code::of_word(code.word()), Some(*code));
        }
        assert_eq!(Code::of_word("no-such-code"), None);
    }

    /// Source: `printf 'no-source\n%064x\n%064x\n' 1 2 | sha256sum`, GNU coreutils.
    #[test]
    fn an_id_can_be_made_with_a_shell() {
        let entry = |n: u8| {
            let mut bytes = [0; 32];
            if let Some(last) = bytes.last_mut() {
                *last = n;
            }
            EntryId(bytes)
        };
        let id = FindingId::of(Code::NoSource, &[entry(2), entry(1), entry(2)]);
        assert_eq!(id.to_string(), "acf242d7e88fc21129a416dd588e14b3ae7c1f760c5eca670d8b3f6ce13f2f29");
        assert_ne!(id, FindingId::of(Code::LateEntry, &[entry(1), entry(2)]));
    }
}
