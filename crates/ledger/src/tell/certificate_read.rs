//! What a certificate says of a lot: written down, checked against the limits of its class, and compared with what was asked.

use super::declare::PapersTyped;
use crate::ask::certificate_read::{compare, said};
use crate::ask::lot::{self, Lot};
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::log::Writing;
use crate::{Acting, Done, Ledger, tell};
use filler::analysis::Analysis;
use filler::certificate_check::{CertificateCheck, Question, check};
use filler::limits::AppliesTo;
use filler::lot_class::{Compared, Outcome};
use filler::reading::SurfaceState;
use filler::strengths::Strengths;
use record::event::{CertificateRead, Event, Judged, LotRef, NamedText, PapersAsked};
use record::{EntryId, Stated, When, rules};
use std::rc::Rc;

/// What a certificate says, as typed.
#[derive(Clone, Debug, Default)]
pub struct ValuesTyped {
    /// The analysis, such as `C=0.05,Mn=1.15`.
    pub analysis: Option<String>,
    /// Strengths by name: tensile, yield, elongation, impact.
    pub strengths: Vec<(&'static str, String)>,
    /// What was analysed.
    pub product: Option<AppliesTo>,
    /// The surface that was analysed.
    pub surface: Option<SurfaceState>,
    /// Lot class, as printed.
    pub lot_class: Option<String>,
    /// Test schedule, as printed.
    pub schedule: Option<String>,
    /// What the order asks of the papers.
    pub asks: PapersTyped,
}

impl ValuesTyped {
    /// Whether nothing was typed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.analysis.is_none()
            && self.strengths.is_empty()
            && self.lot_class.is_none()
            && self.schedule.is_none()
            && self.asks.is_empty()
    }

    /// The analysis and the strengths.
    ///
    /// # Errors
    /// When a value is not understood.
    pub fn understood(&self) -> Result<(Analysis, Strengths)> {
        let wrong = |message: String, next: &str| Error::NotUnderstood { message, next: next.into() };
        let analysis = Analysis::parse(self.analysis.as_deref().unwrap_or("")).map_err(|e| {
            wrong(
                format!("the analysis was not understood: {e}"),
                "write it as on the certificate: --analysis C=0.05,Mn=1.15,Cu=<0.01; tr or - is not reported",
            )
        })?;
        let pairs = self.strengths.iter().map(|(name, text)| (*name, text.as_str()));
        let strengths = Strengths::from_pairs(pairs).map_err(|e| {
            wrong(e.to_string(), "write each with its unit: --tensile \"74 ksi\", --impact \"40 J at -30 C\"")
        })?;
        Ok((analysis, strengths))
    }
}

/// Values of a certificate, for lots of the book.
#[derive(Clone, Debug)]
pub struct ValuesRequest {
    /// Certificate number.
    pub certificate: Option<String>,
    /// Certificate type.
    pub certificate_type: Option<String>,
    /// The lots that it is about.
    pub lots: Vec<String>,
    /// What it says.
    pub values: ValuesTyped,
    /// When it was read.
    pub at: Option<When>,
}

/// What came of a check.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The entry.
    pub entry: EntryId,
    /// The lot.
    pub lot: Rc<Lot>,
    /// What was recorded.
    pub read: CertificateRead,
    /// The check in full.
    pub check: CertificateCheck,
    /// Who answers for the table; empty where no table decided.
    pub sign_off: String,
    /// The papers against what was asked.
    pub papers: Vec<PaperAgainst>,
    /// Why the lot should be on hold; none where nothing speaks against it.
    pub hold: Option<String>,
}

/// One of the three fields of the papers against what was asked of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PaperAgainst {
    /// `certificate type`, `lot class` or `test schedule`.
    pub field: &'static str,
    /// As asked.
    pub asked: String,
    /// As the papers have it.
    pub has: String,
    /// Whether it is met; none where that cannot be told.
    pub met: Option<bool>,
    /// Why.
    pub why: String,
}

impl Ledger {
    /// Writes down what a certificate says of lots, and checks it.
    ///
    /// # Errors
    /// When a value is not understood, no lot is named, or a label is not known.
    pub fn read_certificate(
        &mut self,
        acting: &Acting,
        request: &ValuesRequest,
    ) -> Result<Done<Vec<Checked>>> {
        let values = Values::read(&request.values)?;
        let certificate = tell::stated("the certificate number", request.certificate.as_deref())?;
        let certificate_type = tell::stated("--type", request.certificate_type.as_deref())?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        if request.lots.is_empty() {
            return Err(Error::NotUnderstood {
                message: "nothing was written: no lot is named".into(),
                next: "name the lots that the certificate is about with --lot".into(),
            });
        }
        self.write(acting, |writing| {
            writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future("the certificate check", &at, acting.now, reading.zone())?;
            let mut lots = Vec::new();
            for label in &request.lots {
                let lot = LotRef { label: label.trim().to_owned(), lot: lot::one(&reading, label)?.id };
                if !lots.iter().any(|known: &LotRef| known.lot == lot.lot) {
                    lots.push(lot);
                }
            }
            lots.into_iter()
                .map(|lot| values.write(writing, lot, &certificate, &certificate_type, &at))
                .collect()
        })
    }
}

/// What a certificate says, understood.
pub(crate) struct Values {
    analysis: Analysis,
    strengths: Strengths,
    typed: ValuesTyped,
    lot_class: Stated<String>,
    schedule: Stated<String>,
}

impl Values {
    /// Understands what was typed.
    pub(crate) fn read(typed: &ValuesTyped) -> Result<Self> {
        let (analysis, strengths) = typed.understood()?;
        Ok(Self {
            analysis,
            strengths,
            lot_class: tell::stated("--lot-class", typed.lot_class.as_deref())?,
            schedule: tell::stated("--schedule", typed.schedule.as_deref())?,
            typed: typed.clone(),
        })
    }

    /// Checks it for a lot of the book and writes the entry.
    pub(crate) fn write(
        &self,
        writing: &mut Writing<'_>,
        lot: LotRef,
        certificate: &Stated<String>,
        certificate_type: &Stated<String>,
        at: &When,
    ) -> Result<Checked> {
        let reading = Reading::new(writing.conn())?;
        let of_lot = reading.lot(lot.lot)?;
        let (spec, classification) = (&of_lot.received.spec, &of_lot.received.classification);
        let check = check(
            &*reading.limits()?,
            &Question {
                spec: spec.value().map_or("", String::as_str),
                classification: classification.value().map_or("", String::as_str),
                analysis: &self.analysis,
                strengths: &self.strengths,
                product: self.typed.product,
                surface: self.typed.surface.unwrap_or(SurfaceState::Unknown),
            },
        );
        let sign_off =
            if check.table.is_empty() { String::new() } else { reading.sign_off_of(&check.table)? };
        let named = |(name, value): (String, &str)| NamedText { name, value: value.to_owned() };
        let asked = self.typed.asks.read()?.into_value().unwrap_or_default();
        let certificate_type = or_else(certificate_type, &of_lot.received.certificate_type);
        let mut notes = check.notes.clone();
        notes.extend((!sign_off.is_empty()).then(|| sign_off.clone()));
        let read = CertificateRead {
            analysis: self.analysis.pairs().map(named).collect(),
            at: at.clone(),
            certificate: or_else(certificate, &of_lot.received.certificate),
            certificate_type,
            judged: Judged { notes, table: check.table.clone(), verdict: check.verdict.word().to_owned() },
            lot,
            lot_class: self.lot_class.clone(),
            product: Stated::from_option(self.typed.product.map(|p| p.word().to_owned())),
            schedule: self.schedule.clone(),
            strengths: self
                .typed
                .strengths
                .iter()
                .map(|(name, text)| named(((*name).to_owned(), text)))
                .collect(),
            surface: Stated::from_option(self.typed.surface.map(|s| s.word().to_owned())),
            asked,
        };
        let papers = papers_against(&read.asked, &read);
        let written = writing.append(&Event::CertificateRead(read.clone()))?;
        let entry = Reading::new(writing.conn())?.id(written.place)?;
        let mut hold: Vec<String> = check.reason_to_hold().into_iter().collect();
        hold.extend(papers.iter().filter(|p| p.met == Some(false)).map(|p| p.why.clone()));
        Ok(Checked {
            entry,
            lot: of_lot,
            read,
            check,
            sign_off,
            papers,
            hold: (!hold.is_empty()).then(|| hold.join("; ")),
        })
    }
}

/// What was said, or what was said before where nobody asked this time.
fn or_else(said: &Stated<String>, before: &Stated<String>) -> Stated<String> {
    if said.is_not_asked() { before.clone() } else { said.clone() }
}

impl From<Compared> for PaperAgainst {
    fn from(compared: Compared) -> Self {
        Self {
            met: match compared.outcome {
                Outcome::Met => Some(true),
                Outcome::NotMet => Some(false),
                Outcome::NotKnown => None,
            },
            why: said(&compared),
            field: compared.what,
            asked: compared.asked,
            has: compared.there.unwrap_or_default(),
        }
    }
}

/// The three fields of a certificate against what was asked of them; a field that nobody asked for is left out.
fn papers_against(asked: &PapersAsked, read: &CertificateRead) -> Vec<PaperAgainst> {
    let has = PapersAsked {
        certificate_type: read.certificate_type.clone(),
        lot_class: read.lot_class.clone(),
        schedule: read.schedule.clone(),
    };
    compare(asked, &has).into_iter().map(PaperAgainst::from).collect()
}
