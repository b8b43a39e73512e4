//! Filed certificates: what the record says of them, and what the folder of papers has.

use super::label;
use super::lot::{self, Lot};
use super::reading::Reading;
use super::where_used::{Link, of_lots};
use crate::Ledger;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::{self, Place};
use crate::papers::{PaperState, Papers};
use crate::verify::{Outcome, Problem, Report};
use record::event::{CertificateFiled, Event};
use record::id::LotId;
use record::{EntryId, Instant, short_id};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::rc::Rc;

/// A certificate that was filed.
#[derive(Clone, Debug)]
pub struct FiledCertificate {
    /// The entry.
    pub entry: EntryId,
    /// Badge of who filed it.
    pub by: String,
    /// When the station says that it was written.
    pub recorded: Instant,
    /// What was filed.
    pub filed: CertificateFiled,
    /// The lots that it is about, those that were voided left out.
    pub lots: Vec<Rc<Lot>>,
}

/// A filed certificate with its paper.
#[derive(Clone, Debug)]
pub struct PaperOnFile {
    /// The certificate.
    pub certificate: FiledCertificate,
    /// What became of its paper.
    pub state: PaperState,
    /// Where the paper is changed or missing: numbers of the joints that have a lot of it among their sources.
    pub joints: Vec<String>,
}

/// Filed certificates, with what the folder of papers has.
#[derive(Clone, Debug)]
pub struct PapersOnFile {
    /// The folder.
    pub folder: Papers,
    /// Whether it was looked into; why not, if not.
    pub not_here: Option<String>,
    /// The certificates, by number, then in record order.
    pub papers: Vec<PaperOnFile>,
    /// Files in the folder that no entry names, where all certificates were asked for.
    pub strangers: Vec<String>,
}

/// Everything about one certificate number.
#[derive(Clone, Debug)]
pub struct CertificateNumber {
    /// The number.
    pub number: String,
    /// Lots of that number, with whether a receipt has it, and whether paper is filed for them under it.
    pub lots: Vec<LotOfNumber>,
    /// The papers.
    pub on_file: PapersOnFile,
}

/// A lot that carries a certificate number.
#[derive(Clone, Debug)]
pub struct LotOfNumber {
    /// The lot.
    pub lot: Rc<Lot>,
    /// Whether one of its receipts has the number.
    pub on_receipt: bool,
    /// Whether paper is filed for it under the number.
    pub filed: bool,
    /// Whether its values were written down under the number.
    pub read: bool,
}

impl Lot {
    /// Certificate numbers on its receipts, each once, in byte order.
    pub fn receipt_certificates(&self) -> BTreeSet<&str> {
        let receipts = std::iter::once(&self.received).chain(&self.further);
        receipts.filter_map(|r| r.certificate.value().map(String::as_str)).collect()
    }
}

impl Reading<'_> {
    /// Filed certificates that stand, by number, then in record order.
    pub(crate) fn filed_certificates(&self) -> Result<Vec<FiledCertificate>> {
        let places = self.standing_places("SELECT place FROM fact_certificate", [])?;
        let mut all = self
            .ordered(places)?
            .into_iter()
            .map(|(order, place)| Ok((order, filed_at(self, place)?)))
            .collect::<Result<Vec<_>>>()?;
        all.sort_by(|(a, x), (b, y)| (&x.filed.certificate, a).cmp(&(&y.filed.certificate, b)));
        Ok(all.into_iter().map(|(_, filed)| filed).collect())
    }
}

fn filed_at(reading: &Reading<'_>, place: Place) -> Result<FiledCertificate> {
    let entry = log::entry_at(reading.conn(), place)?;
    let event = entry.event.effect();
    let Event::CertificateFiled(filed) = event else {
        return Err(Error::Damaged(format!("a certificate is filed by an entry of kind {}", event.kind())));
    };
    let mut lots: Vec<Rc<Lot>> = Vec::new();
    for named in &filed.lots {
        let lot = reading.lot(named.lot)?;
        if !lot.void && !lots.iter().any(|l| l.id == lot.id) {
            lots.push(lot);
        }
    }
    Ok(FiledCertificate {
        entry: reading.id(place)?,
        by: entry.header.by,
        recorded: entry.header.time,
        filed,
        lots,
    })
}

/// Numbers of the certificates that are filed and stand, by lot. Decodes nothing: lots are read with it.
pub(crate) fn numbers_by_lot(reading: &Reading<'_>) -> Result<HashMap<LotId, Vec<String>>> {
    let conn = reading.conn();
    let any: bool = conn
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM fact_certificate)")?
        .query_row([], |row| row.get(0))?;
    let mut numbers: HashMap<LotId, Vec<String>> = HashMap::new();
    if !any {
        return Ok(numbers);
    }
    let mut statement = conn.prepare_cached(
        "SELECT thing, label, place FROM fact_label
         WHERE kind = 'certificate' AND place IN (SELECT place FROM fact_certificate)",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        if reading.stands(Place(row.get(2)?)) {
            numbers.entry(LotId::from_bytes(row.get(0)?)).or_default().push(row.get(1)?);
        }
    }
    for numbers in numbers.values_mut() {
        numbers.sort();
        numbers.dedup();
    }
    Ok(numbers)
}

/// Joints that have one of the lots among the sources of a weld record, by number.
fn joints_fed_by(reading: &Reading<'_>, lots: &[Rc<Lot>]) -> Result<Vec<String>> {
    if lots.is_empty() {
        return Ok(Vec::new());
    }
    let ids: Vec<LotId> = lots.iter().map(|l| l.id).collect();
    let joints: BTreeSet<String> = of_lots(reading, &ids)?
        .welds
        .into_iter()
        .filter(|u| u.link == Link::Source)
        .map(|u| u.joint.declared.number.clone())
        .collect();
    Ok(joints.into_iter().collect())
}

impl Ledger {
    /// Every filed certificate, or those of one lot, with what became of its paper. Reads the papers.
    ///
    /// # Errors
    /// When no lot, or more than one, has that label, or the book cannot be read.
    pub fn papers_on_file(&self, lot: Option<&str>) -> Result<PapersOnFile> {
        let (wanted, every_hash) = self.ask(|reading| {
            let lot = lot.map(|label| lot::one(reading, label)).transpose()?;
            let mut all = reading.filed_certificates()?;
            let hashes: BTreeSet<String> = all.iter().map(|c| c.filed.sha256.clone()).collect();
            if let Some(lot) = &lot {
                all.retain(|c| c.lots.iter().any(|l| l.id == lot.id));
            }
            Ok((all, hashes))
        })?;
        self.on_file(wanted, lot.is_none().then_some(&every_hash))
    }

    /// The papers and lots of one certificate number.
    ///
    /// # Errors
    /// [`Error::NotFound`] when neither a receipt nor a filed certificate has the number.
    pub fn certificate_number(&self, typed: &str) -> Result<CertificateNumber> {
        let number = typed.trim().to_owned();
        let (lots, papers) = self.ask(|reading| {
            let mut papers = reading.filed_certificates()?;
            let near_papers: Vec<String> = papers.iter().map(|c| c.filed.certificate.clone()).collect();
            papers.retain(|c| c.filed.certificate == number);
            let things = label::things(reading, LabelKind::Certificate, &number)?;
            if things.is_empty() && papers.is_empty() {
                let mut near = label::near(reading, LabelKind::Certificate, &number)?;
                // A certificate that was filed for no lot has no label of its own.
                let key = record::number::search_key(&number);
                near.extend(near_papers.into_iter().filter(|n| record::number::search_key(n) == key));
                near.dedup();
                return Err(Error::NotFound { what: "certificate", label: number.clone(), near });
            }
            let lots = things
                .into_iter()
                .map(|id| {
                    let lot = reading.lot(LotId::from_bytes(id))?;
                    let certificates = reading.certificates_read(lot.id)?;
                    Ok(LotOfNumber {
                        read: certificates.iter().any(|(_, read)| read.certificate.value() == Some(&number)),
                        on_receipt: lot.receipt_certificates().contains(number.as_str()),
                        filed: lot.filed.contains(&number),
                        lot,
                    })
                })
                .collect::<Result<Vec<_>>>()?;
            Ok((lots, papers))
        })?;
        let mut lots = lots;
        lots.sort_by(|a, b| (&a.lot.received.code, a.lot.id).cmp(&(&b.lot.received.code, b.lot.id)));
        Ok(CertificateNumber { number, lots, on_file: self.on_file(papers, None)? })
    }

    /// Compares papers with what was filed; outside any transaction, because that takes as long as the disk takes.
    /// `every_hash` are those that any entry names, where files that none names are to be told.
    fn on_file(
        &self,
        certificates: Vec<FiledCertificate>,
        every_hash: Option<&BTreeSet<String>>,
    ) -> Result<PapersOnFile> {
        use crate::papers::Looked;
        let folder = self.papers();
        let looked = folder.look();
        let (not_here, strangers) = match &looked {
            Looked::NotHere(why) => (Some(why.clone()), Vec::new()),
            Looked::Here(listing) => {
                (None, every_hash.map_or_else(Vec::new, |all| listing.strangers(&|hash| all.contains(hash))))
            }
        };
        let mut states: BTreeMap<(String, u64), PaperState> = BTreeMap::new();
        for certificate in &certificates {
            let filed = &certificate.filed;
            // One paper may be filed several times; it is read once.
            states
                .entry((filed.sha256.clone(), filed.bytes))
                .or_insert_with(|| folder.state(&looked, &filed.sha256, filed.bytes));
        }
        let papers = self.ask(|reading| {
            certificates
                .into_iter()
                .map(|certificate| {
                    let key = (certificate.filed.sha256.clone(), certificate.filed.bytes);
                    let state = states.get(&key).cloned().unwrap_or(PaperState::Missing);
                    let joints =
                        if state.is_bad() { joints_fed_by(reading, &certificate.lots)? } else { Vec::new() };
                    Ok(PaperOnFile { certificate, state, joints })
                })
                .collect::<Result<Vec<_>>>()
        })?;
        Ok(PapersOnFile { folder, not_here, papers, strangers })
    }

    /// Compares the folder of papers with the record, and adds to the report of [`Ledger::verify`] what it finds.
    /// Returns the papers that are changed or missing. A book in which no certificate is filed has nothing to compare.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn check_papers(&self, report: &mut Report) -> Result<Vec<PaperOnFile>> {
        const NAME: &str = "certificate files";
        if !report.is_sound() {
            // Tables of a damaged book may be gone; then there is nothing to say about papers either.
            let any = "SELECT EXISTS (SELECT 1 FROM fact_certificate)";
            if self.conn.query_row(any, [], |row| row.get(0)).unwrap_or(false) {
                let why = "the record is damaged; papers are compared with a sound one only";
                report.checks.push((NAME, Outcome::NotChecked(why.into())));
            }
            return Ok(Vec::new());
        }
        let on_file = match self.papers_on_file(None) {
            Err(Error::OutdatedFacts) => {
                let why = "the tables were made by another version of the program; run rodbook rebuild";
                report.checks.push((NAME, Outcome::NotChecked(why.into())));
                return Ok(Vec::new());
            }
            other => other?,
        };
        if on_file.papers.is_empty() {
            return Ok(Vec::new());
        }
        let (bad, others): (Vec<PaperOnFile>, Vec<PaperOnFile>) =
            on_file.papers.into_iter().partition(|p| p.state.is_bad());
        let unread: Vec<&str> = others
            .iter()
            .filter_map(
                |p| if let PaperState::NotChecked(why) = &p.state { Some(why.as_str()) } else { None },
            )
            .collect();
        let outcome = match (bad.len(), unread.first(), others.len()) {
            (0, None, n) => Outcome::Sound(format!("{n} filed, each as it was filed")),
            (0, Some(why), n) => {
                Outcome::NotChecked(format!("{why}; {} of {n} papers were not looked at", unread.len()))
            }
            (bad, _, good) => Outcome::Broken(format!("{bad} of {} are changed or missing", bad + good)),
        };
        report.checks.push((NAME, outcome));
        report.problems.extend(bad.iter().map(|paper| Problem {
            station: None,
            seq: None,
            what: paper.problem(),
        }));
        Ok(bad)
    }
}

impl PaperOnFile {
    /// What is wrong with the paper and what hangs on it, in one sentence.
    fn problem(&self) -> String {
        let filed = &self.certificate.filed;
        let how = match &self.state {
            PaperState::Changed(how) => format!("is not what was filed: {how}"),
            PaperState::Missing => "is missing in the folder of papers".to_owned(),
            PaperState::Sound | PaperState::NotChecked(_) => self.state.word().to_owned(),
        };
        let lots: Vec<&str> = self.certificate.lots.iter().map(|l| l.received.code.as_str()).collect();
        let about = match lots.as_slice() {
            [] => "no lot".to_owned(),
            [one] => format!("lot {one}"),
            several => format!("lots {}", several.join(", ")),
        };
        let joints = match self.joints.as_slice() {
            [] => "no joint has metal of it".to_owned(),
            joints => format!("joints with metal of it: {}", joints.join(", ")),
        };
        format!(
            "the paper of certificate {} ({}, entry {}) {how}. It is about {about}; {joints}",
            filed.certificate,
            filed.file,
            short_id::short(&self.certificate.entry.0),
        )
    }
}
