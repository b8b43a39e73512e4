//! Everything that can be written into the record, one variant each.
//!
//! A body keeps what was typed beside what a later table could change: times as text and UTC interval, the
//! piece mass and density as used, labels beside identities. Nothing in a body needs another entry to be read.

use crate::id::{EntryId, JointId, LotId, PersonId, SlipId, StationId, WpsId};
use crate::person::Role;
use crate::stated::Stated;
use crate::time::{Shift, When};
use filler::{Marking, Process, ProductForm, Quantity, Size, Surface};
use serde::{Deserialize, Serialize, Serializer};

mod amend;
mod metal;
mod papers;
mod put_aside;

pub use amend::{
    Change, Disposition, EntryCorrected, EntryVoided, FindingDisposed, NoteWritten, Replacement, Subject,
};
pub use metal::{
    CertificateRead, Judged, MetalRead, NamedText, PapersAsked, ReadOn, TableLoaded, TableSignedOff,
};
pub use papers::{CertificateFiled, SlipReprinted};
pub use put_aside::{LotRecalled, LotRejected, RodScrapped, ScrappedSlip, WireFoundUnmarked};

macro_rules! events {
    ($($(#[$doc:meta])* $kind:literal => $variant:ident,)*) => {
        /// One thing that happened, as the record keeps it.
        #[derive(Clone, Debug, PartialEq)]
        pub enum Event {
            $($(#[$doc])* $variant($variant),)*
            /// A kind, or a shape of a known kind, that this program does not know. Kept, hashed and exported as
            /// it is; it changes no answer, and every answer says that it is there.
            NotUnderstood(NotUnderstood),
        }

        impl Event {
            /// Every kind that this program writes, in the order of this list.
            pub const KINDS: &'static [&'static str] = &[$($kind),*];

            /// The kind, as in the entry's `kind` field.
            pub fn kind(&self) -> &str {
                match self {
                    $(Self::$variant(_) => $kind,)*
                    Self::NotUnderstood(other) => &other.kind,
                }
            }

            /// The body as a JSON value.
            ///
            /// # Errors
            /// When a value has no form in JSON; none of the bodies here has such a value.
            pub fn body(&self) -> Result<serde_json::Value, serde_json::Error> {
                match self {
                    $(Self::$variant(body) => serde_json::to_value(body),)*
                    Self::NotUnderstood(other) => Ok(other.body.clone()),
                }
            }

            /// Writes the body, as [`Event::body`] gives it, in the order of its fields.
            ///
            /// # Errors
            /// Those of the serializer.
            pub(crate) fn write_body<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                match self {
                    $(Self::$variant(body) => body.serialize(serializer),)*
                    Self::NotUnderstood(other) => other.body.serialize(serializer),
                }
            }

            /// What the entry says happened: of a correction, what holds in place of the entry that it corrects.
            #[must_use]
            pub fn effect(self) -> Self {
                if let Self::EntryCorrected(correction) = &self { correction.event() } else { self }
            }

            /// The event of a kind and a body.
            pub fn from_parts(kind: &str, body: &serde_json::Value) -> Self {
                let understood = match kind {
                    $($kind => $variant::deserialize(body).ok().map(Self::$variant),)*
                    _ => None,
                };
                understood.unwrap_or_else(|| {
                    Self::NotUnderstood(NotUnderstood { kind: kind.to_owned(), body: body.clone() })
                })
            }
        }

        $(impl From<$variant> for Event {
            fn from(body: $variant) -> Self {
                Self::$variant(body)
            }
        })*
    };
}

events! {
    /// A station opened its chain: always entry 0. Corrected by nothing; a wrong name is renamed by a later entry.
    "station.opened" => StationOpened,
    /// The shop declared its shifts; holds from this entry on. Replaced by the next declaration.
    "shop.shifts_declared" => ShiftsDeclared,
    /// A person was enrolled, or enrolled anew with other roles or another name; the newest holds.
    "person.enrolled" => PersonEnrolled,
    /// A welder passed a qualification test.
    "welder.qualified" => WelderQualified,
    /// A revision of a welding procedure specification; the newest holds.
    "wps.declared" => WpsDeclared,
    /// A joint, or a newer description of the same joint; the newest holds.
    "joint.declared" => JointDeclared,
    /// A delivery of a lot was booked in. A second delivery of the same lot adds its quantity.
    "lot.received" => LotReceived,
    /// A lot was released for issue.
    "lot.released" => LotReleased,
    /// A lot was put on hold.
    "lot.held" => LotHeld,
    /// Metal of one lot was handed to one holder: a slip.
    "rod.issued" => RodIssued,
    /// Metal came back on a slip.
    "rod.returned" => RodReturned,
    /// A holder handed metal to another: a new slip of the same lot.
    "rod.handed_over" => RodHandedOver,
    /// A welder declared that nothing is left: closes every open slip of theirs.
    "welder.cleared" => WelderCleared,
    /// A weld record: what was welded, by whom, when, with what if known.
    "joint.welded" => JointWelded,
    /// An inspector looked at what was in a welder's hand.
    "mark.spot_checked" => MarkSpotChecked,
    /// Files were imported; the entries made from them name file and row.
    "files.imported" => FilesImported,
    /// A lot was rejected: it is never issued again.
    "lot.rejected" => LotRejected,
    /// A lot was recalled: what is left of it is frozen, what went out is looked for.
    "lot.recalled" => LotRecalled,
    /// A certificate was put into the book's folder of papers, and named as the paper of lots.
    "certificate.filed" => CertificateFiled,
    /// Metal is out for good: from a slip, or from the crib.
    "rod.scrapped" => RodScrapped,
    /// A slip was printed again.
    "slip.reprinted" => SlipReprinted,
    /// Wire was found that nobody can tell what it is. It is never stock again.
    "wire.found_unmarked" => WireFoundUnmarked,
    /// A finding was looked at and closed. Voided, it is open again.
    "finding.disposed" => FindingDisposed,
    /// Somebody wrote something down about a thing.
    "note.written" => NoteWritten,
    /// An entry said something wrong; this one says it anew in its place. The old one stays, struck.
    "entry.corrected" => EntryCorrected,
    /// An entry never was. It stays, struck. Voided itself, the other stands again.
    "entry.voided" => EntryVoided,
    /// What a certificate says of a lot was written down and checked against limits. Of several for one lot and
    /// certificate the newest holds.
    "certificate.read" => CertificateRead,
    /// An instrument read what a rod, or a weld, is made of.
    "metal.read" => MetalRead,
    /// The shop's own table of limits; of several for one specification the newest that is signed off holds.
    "table.loaded" => TableLoaded,
    /// Somebody compared a table of limits with a copy of the standard, and answers for it.
    "table.signed_off" => TableSignedOff,
}

/// A kind or shape written by a newer program.
#[derive(Clone, Debug, PartialEq)]
pub struct NotUnderstood {
    /// The kind as written.
    pub kind: String,
    /// The body as written.
    pub body: serde_json::Value,
}

/// Where an imported entry came from: file name and row, the header being row 1.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Imported {
    /// Name of the file, without folders.
    pub file: String,
    /// Row in the file; rows are counted as a spreadsheet does, the header is row 1.
    pub row: u64,
}

/// A rule that would have refused, set aside by a named person with a reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Override {
    /// Codes of the rules set aside.
    pub rules: Vec<String>,
    /// The reason given.
    pub why: String,
}

/// See [`Event::StationOpened`]. The format says that it has at least these keys: a key more leaves it what it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StationOpened {
    /// Public Ed25519 key, standard base64 with padding.
    pub key: String,
    /// What people call the station.
    pub name: String,
    /// The chain that this one continues after a restore.
    pub predecessor: Option<Predecessor>,
    /// What people call the shop; empty if not said.
    pub shop: String,
    /// Time zone of the shop.
    pub zone: String,
}

/// The last entry of the chain that a successor station found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Predecessor {
    /// Id of that entry.
    pub id: EntryId,
    /// Its sequence number.
    pub seq: u64,
    /// Its station.
    pub station: StationId,
}

/// See [`Event::ShiftsDeclared`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShiftsDeclared {
    /// The shifts, in local time of day.
    pub shifts: Vec<Shift>,
}

/// See [`Event::PersonEnrolled`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonEnrolled {
    /// The badge they carry.
    pub badge: String,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// `SHA-256(salt ‖ name)` in hexadecimal; the name itself is beside the record.
    pub name_hash: String,
    /// Identity of the person.
    pub person: PersonId,
    /// What they may do.
    pub roles: Vec<Role>,
}

/// A person as named in a body: identity, and the badge as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonRef {
    /// The badge as typed.
    pub badge: String,
    /// Identity.
    pub person: PersonId,
}

/// A lot as named in a body: identity, and the label as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotRef {
    /// The label as typed.
    pub label: String,
    /// Identity.
    pub lot: LotId,
}

/// A slip as named in a body: identity, and the number as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SlipRef {
    /// The number as typed.
    pub number: String,
    /// Identity.
    pub slip: SlipId,
}

/// A joint as named in a body: identity, and the number as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointRef {
    /// Identity.
    pub joint: JointId,
    /// The number as typed.
    pub number: String,
}

/// A WPS as named in a body: identity, and the number as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WpsRef {
    /// The number as typed.
    pub number: String,
    /// Identity.
    pub wps: WpsId,
}

/// Whether a weld is made onto backing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Backing {
    /// With backing.
    With,
    /// Without backing: an open root.
    Without,
}

impl Backing {
    /// The word on forms.
    pub fn word(self) -> &'static str {
        match self {
            Backing::With => "with",
            Backing::Without => "without",
        }
    }
}

/// See [`Event::WelderQualified`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WelderQualified {
    /// Tested with or without backing.
    pub backing: Stated<Backing>,
    /// F-number as written.
    pub f_number: Stated<String>,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Process tested.
    pub process: Stated<Process>,
    /// Day of the test.
    pub qualified_on: Stated<When>,
    /// Who passed it.
    pub welder: PersonRef,
}

/// A size as printed, and what it is exactly.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedSize {
    /// Exact value.
    pub size: Size,
    /// As printed.
    pub text: String,
}

impl std::fmt::Display for PrintedSize {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.text)
    }
}

/// Heat input that a procedure allows, in the convention that it is written in: values of two conventions are never
/// compared.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeatInputLimit {
    /// Word of the convention.
    pub convention: String,
    /// The most, as written, such as `55 kJ/in`.
    pub most: String,
}

/// See [`Event::WpsDeclared`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WpsDeclared {
    /// With or without backing.
    pub backing: Stated<Backing>,
    /// Classifications allowed, as printed.
    pub classifications: Vec<String>,
    /// F-numbers allowed, as written.
    pub f_numbers: Vec<String>,
    /// Heat input allowed.
    #[serde(default, skip_serializing_if = "Stated::is_not_asked")]
    pub heat_input: Stated<HeatInputLimit>,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Number of the WPS.
    pub number: String,
    /// Processes it covers.
    pub processes: Vec<Process>,
    /// Revision, as written.
    pub revision: Stated<String>,
    /// Filler sizes allowed.
    pub sizes: Vec<PrintedSize>,
    /// Filler specifications allowed, as printed.
    pub specs: Vec<String>,
    /// Identity.
    pub wps: WpsId,
}

/// How far filler must be traced for a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// To the classification.
    Class,
    /// To the lot.
    Lot,
}

impl Level {
    /// The word on forms.
    pub fn word(self) -> &'static str {
        match self {
            Level::Class => "class",
            Level::Lot => "lot",
        }
    }
}

/// See [`Event::JointDeclared`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointDeclared {
    /// What the job asks of the papers of the filler.
    #[serde(default, skip_serializing_if = "Stated::is_not_asked")]
    pub asked: Stated<PapersAsked>,
    /// Drawing number.
    pub drawing: Stated<String>,
    /// Drawing revision.
    pub drawing_revision: Stated<String>,
    /// When the joint was finished, if it is.
    pub finished_at: Stated<When>,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Job or contract.
    pub job: Stated<String>,
    /// Identity.
    pub joint: JointId,
    /// How far its filler must be traced.
    pub level: Stated<Level>,
    /// Filler metal needed, in milligrams: weld metal over efficiency.
    pub needed_mg: Stated<i64>,
    /// Standard uncertainty of the filler metal needed, in milligrams.
    pub needed_u_mg: Stated<i64>,
    /// Joint number.
    pub number: String,
    /// How the metal needed was worked out, where it was worked out from the groove.
    #[serde(default, skip_serializing_if = "Stated::is_not_asked")]
    pub worked_out: Stated<WorkedOut>,
    /// Procedures it may be welded to.
    pub wps: Vec<WpsRef>,
}

/// How the filler metal that a joint needs was worked out from its groove, resolved on that day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WorkedOut {
    /// What went in, as typed, by the name of its option.
    pub inputs: Vec<NamedText>,
    /// The part of the standard uncertainty that is the joint's own, in milligrams: it adds in quadrature over joints.
    pub own_u_mg: i64,
    /// What one standard uncertainty of each input that joints share does to the mass, in milligrams and with its sign: it
    /// adds over joints before it is squared.
    pub shared: Vec<SharedInput>,
}

/// What one standard uncertainty of an input that joints share does to the mass that one of them needs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedInput {
    /// Name of the input.
    pub input: String,
    /// Milligrams, with sign.
    pub mg: i64,
}

/// Mass of one piece, and where it comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PieceMass {
    /// Density used, as decimal text in g/cm³; none where the mass was declared.
    pub density_g_per_cm3: Option<String>,
    /// How well the density is known; none where the mass was declared.
    pub density_confidence: Option<String>,
    /// Milligrams of one piece.
    pub mg: i64,
    /// Declared, or computed from size and density.
    pub origin: PieceOrigin,
}

/// Where a piece mass comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PieceOrigin {
    /// Somebody weighed or read it.
    Declared,
    /// From size and density of a bare rod.
    Computed,
}

/// See [`Event::LotReceived`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotReceived {
    /// When it was received.
    pub at: When,
    /// Certificate number, as printed.
    pub certificate: Stated<String>,
    /// Certificate type, e.g. 3.1.
    pub certificate_type: Stated<String>,
    /// Classification as printed, with every suffix.
    pub classification: Stated<String>,
    /// The shop's control code.
    pub code: String,
    /// Product form.
    pub form: Stated<ProductForm>,
    /// Heats, as printed; none is legal.
    pub heats: Vec<String>,
    /// What was said where no heats are named.
    pub heats_stated: Stated<String>,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Identity.
    pub lot: LotId,
    /// Maker, as printed.
    pub maker: Stated<String>,
    /// The maker's lot number, as printed.
    pub maker_lot: Stated<String>,
    /// How each piece is marked.
    pub marking: Stated<Marking>,
    /// Mass of one piece, where it is known.
    pub piece: Option<PieceMass>,
    /// Quantity received.
    pub quantity: Stated<Quantity>,
    /// Size.
    pub size: Stated<PrintedSize>,
    /// Specification, as printed.
    pub spec: Stated<String>,
    /// Surface of bare wire.
    pub surface: Stated<Surface>,
}

/// See [`Event::LotReleased`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotReleased {
    /// When.
    pub at: When,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Which lot.
    pub lot: LotRef,
    /// Why, if said.
    pub why: String,
}

/// See [`Event::LotHeld`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotHeld {
    /// When.
    pub at: When,
    /// Which lot.
    pub lot: LotRef,
    /// Why.
    pub why: String,
}

/// See [`Event::RodIssued`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RodIssued {
    /// When it was handed out.
    pub at: When,
    /// When it is due back.
    pub due: Stated<When>,
    /// Who it was handed to.
    pub holder: PersonRef,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Who handed it out.
    pub issued_by: Stated<PersonRef>,
    /// Joints it was asked for; naming a joint here does not say that it got there.
    pub joints: Vec<JointRef>,
    /// Which lot.
    pub lot: LotRef,
    /// Number of the slip.
    pub number: String,
    /// A rule that was set aside, if one was.
    pub overridden: Option<Override>,
    /// How much.
    pub quantity: Stated<Quantity>,
    /// Which quiver.
    pub quiver: Stated<String>,
    /// Identity of the slip.
    pub slip: SlipId,
}

/// What returned metal is like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Condition {
    /// Every piece can be read.
    Marked,
    /// Some piece cannot be read: not stock any more.
    Unmarked,
    /// Bent, cracked, contaminated.
    Damaged,
    /// Got wet.
    Wet,
}

impl Condition {
    /// The word on forms.
    pub fn word(self) -> &'static str {
        match self {
            Condition::Marked => "marked",
            Condition::Unmarked => "unmarked",
            Condition::Damaged => "damaged",
            Condition::Wet => "wet",
        }
    }
}

/// See [`Event::RodReturned`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RodReturned {
    /// When it came back.
    pub at: When,
    /// Whether the slip is closed by it.
    pub closes: bool,
    /// What it is like.
    pub condition: Stated<Condition>,
    /// Who held it.
    pub holder: PersonId,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Lot of the slip.
    pub lot: LotId,
    /// A rule that was set aside, if one was.
    pub overridden: Option<Override>,
    /// How much came back.
    pub quantity: Stated<Quantity>,
    /// Who took it back.
    pub received_by: Stated<PersonRef>,
    /// On which slip.
    pub slip: SlipRef,
    /// Stubs counted.
    pub stubs: Stated<i64>,
}

/// See [`Event::RodHandedOver`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RodHandedOver {
    /// When.
    pub at: When,
    /// Who saw it.
    pub by: Stated<PersonRef>,
    /// Whether the old slip is closed by it.
    pub closes: bool,
    /// Who gave.
    pub from: PersonId,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// Lot of both slips.
    pub lot: LotId,
    /// The new slip.
    pub new_slip: SlipRef,
    /// A rule that was set aside, if one was.
    pub overridden: Option<Override>,
    /// How much.
    pub quantity: Stated<Quantity>,
    /// The slip it comes from.
    pub slip: SlipRef,
    /// Who took.
    pub to: PersonRef,
}

/// See [`Event::WelderCleared`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WelderCleared {
    /// When.
    pub at: When,
    /// Who.
    pub welder: PersonRef,
}

/// What was seen of the mark on the filler.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mark {
    /// Read.
    Read,
    /// Looked at and not readable.
    Unreadable,
    /// Not looked at.
    NotLooked,
}

impl Mark {
    /// The word on forms.
    pub fn word(self) -> &'static str {
        match self {
            Mark::Read => "read",
            Mark::Unreadable => "unreadable",
            Mark::NotLooked => "not-looked",
        }
    }
}

/// What was measured of the arc of a pass, each as typed with its unit.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Arc {
    /// Current in amperes.
    pub amps: Stated<String>,
    /// Energy over the length, such as `55200 J`.
    pub energy: Stated<String>,
    /// Length of the bead, such as `4 in`.
    pub length: Stated<String>,
    /// Mean instantaneous power, such as `2300 W`.
    pub power: Stated<String>,
    /// Travel speed, such as `3.5 in/min`.
    pub travel: Stated<String>,
    /// Arc voltage in volts.
    pub volts: Stated<String>,
    /// Whether the arc was pulsed or its waveform controlled: volts times amperes is not its power then.
    pub waveform_controlled: bool,
}

/// See [`Event::JointWelded`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointWelded {
    /// What was measured of the arc.
    #[serde(default, skip_serializing_if = "Stated::is_not_asked")]
    pub arc: Stated<Arc>,
    /// Original, R1, R2, cut-out, tack, temporary.
    pub cycle: Stated<String>,
    /// False for an autogenous weld.
    pub filler: bool,
    /// Whether the joint is finished with it.
    pub finished: bool,
    /// Start, as claimed.
    pub from: When,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// The joints welded with this filler; one, or several that shared it.
    pub joints: Vec<JointRef>,
    /// Lot named, if one was.
    pub lot: Stated<LotRef>,
    /// What was seen of the mark.
    pub mark: Stated<Mark>,
    /// A rule that was set aside, if one was.
    pub overridden: Option<Override>,
    /// Root, hot, fill, cap, back.
    pub pass: Stated<String>,
    /// Process.
    pub process: Stated<Process>,
    /// Who made the record.
    pub recorded_by: Stated<PersonRef>,
    /// Slip named, if one was.
    pub slip: Stated<SlipRef>,
    /// End, as claimed; not asked = the whole of `from`.
    pub to: Stated<When>,
    /// Filler used.
    pub used: Stated<Quantity>,
    /// Who welded.
    pub welder: PersonRef,
}

impl JointWelded {
    /// The closed interval that the record covers: `from`…`to`, the whole of `from` where `to` is not known.
    /// An end before the start counts at the start.
    pub fn covers(&self) -> (crate::Instant, crate::Instant) {
        let start = self.from.from;
        let end = self.to.value().map_or(self.from.to, |to| to.to);
        (start, end.max(start))
    }
}

/// See [`Event::MarkSpotChecked`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MarkSpotChecked {
    /// When.
    pub at: When,
    /// Who looked.
    pub by: Stated<PersonRef>,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// At which joint.
    pub joint: JointRef,
    /// Whether the mark could be read.
    pub legible: bool,
    /// What it says.
    pub reads: Stated<String>,
    /// In whose hand.
    pub welder: PersonRef,
}

/// See [`Event::FilesImported`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FilesImported {
    /// The files of this part of the import, in the order they were read.
    pub files: Vec<ImportedFile>,
}

/// One imported file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImportedFile {
    /// Name, without folders.
    pub name: String,
    /// Rows taken from it, without the header.
    pub rows: u64,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}
