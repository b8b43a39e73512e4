//! What metal is made of: what certificates say, what instruments read, and the tables both are judged by.

use super::{JointRef, LotRef, PersonRef, SlipRef};
use crate::id::EntryId;
use crate::stated::Stated;
use crate::time::When;
use filler::reading::Reading;
use serde::{Deserialize, Serialize};

/// A value as typed, by its name.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedText {
    /// The name: an option, an element, a strength.
    pub name: String,
    /// As typed.
    pub value: String,
}

/// A verdict as it was reached then: a later table does not change what was decided.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Judged {
    /// What else there is to say of it, in words.
    pub notes: Vec<String>,
    /// The table that decided; empty where none covers the class.
    pub table: String,
    /// The word of the verdict.
    pub verdict: String,
}

/// What was asked for, by order or job, of the papers of a lot.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PapersAsked {
    /// Certificate type.
    pub certificate_type: Stated<String>,
    /// Lot class.
    pub lot_class: Stated<String>,
    /// Test schedule.
    pub schedule: Stated<String>,
}

/// See [`super::Event::CertificateRead`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CertificateRead {
    /// Mass percentages as printed, by symbol of the element, in the order typed.
    pub analysis: Vec<NamedText>,
    /// What the order or the job asks of the papers.
    pub asked: PapersAsked,
    /// When it was read.
    pub at: When,
    /// Certificate number, as printed.
    pub certificate: Stated<String>,
    /// Certificate type, as printed.
    pub certificate_type: Stated<String>,
    /// The verdict on it.
    pub judged: Judged,
    /// The lot that it is about.
    pub lot: LotRef,
    /// Lot class, as printed.
    pub lot_class: Stated<String>,
    /// What was analysed: `wire` or `weld-metal`.
    pub product: Stated<String>,
    /// Test schedule, as printed.
    pub schedule: Stated<String>,
    /// Strengths as printed, by name: `tensile`, `yield`, `elongation`, `impact`.
    pub strengths: Vec<NamedText>,
    /// Surface that was analysed: `as-received`, `abraded`, `button`.
    pub surface: Stated<String>,
}

/// What an instrument was held against.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadOn {
    /// Wire that was found: the entry of the find.
    Find(EntryId),
    /// A rod in a welder's hand at a joint.
    Joint {
        /// The joint.
        joint: JointRef,
        /// In whose hand.
        welder: PersonRef,
    },
    /// A rod of a lot in the crib.
    Lot(LotRef),
    /// A rod of a slip.
    Slip(SlipRef),
    /// The weld metal of a joint: diluted by what it was welded onto.
    WeldMetal(JointRef),
}

/// See [`super::Event::MetalRead`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MetalRead {
    /// When.
    pub at: When,
    /// Who read it.
    pub by: Stated<PersonRef>,
    /// What was read.
    pub on: ReadOn,
    /// What the instrument says, with its uncertainties.
    pub reading: Reading,
    /// Classes that it rejects, each as specification and class, by the tables of that day; sorted.
    pub rejected: Vec<String>,
    /// Names of the tables that decided.
    pub tables: Vec<String>,
}

/// See [`super::Event::TableLoaded`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TableLoaded {
    /// When.
    pub at: When,
    /// Edition of the specification, as typed.
    pub edition: String,
    /// The limits, as comma-separated values.
    pub limits: String,
    /// What the shop calls the table.
    pub name: String,
    /// SHA-256 of the limits, in hexadecimal.
    pub sha256: String,
    /// Specification that it is of.
    pub spec: String,
}

/// See [`super::Event::TableSignedOff`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TableSignedOff {
    /// What it was compared with: document and edition.
    pub against: String,
    /// When.
    pub at: When,
    /// Who answers for it.
    pub by: PersonRef,
    /// SHA-256 of its limits, in hexadecimal.
    pub sha256: String,
    /// Specification that it is of.
    pub spec: String,
    /// Name of the table.
    pub table: String,
}
