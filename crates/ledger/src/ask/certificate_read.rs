//! What certificates say of a lot, as it was written down and checked.

use super::lot::Lot;
use super::reading::{Joint, Reading};
use crate::error::Result;
use filler::lot_class::{self, Compared, Papers};
use record::event::{CertificateRead, Event, PapersAsked};
use record::id::{EntryId, LotId};

/// The certificates of a lot that were read, in the order of the record: of those with one number, the newest.
pub(crate) fn of_lot(reading: &Reading<'_>, lot: LotId) -> Result<Vec<(EntryId, CertificateRead)>> {
    let sql = "SELECT place FROM fact_certificate_read WHERE lot = ?1 ORDER BY place";
    let places = reading.standing_places(sql, [lot.bytes()])?;
    let mut read: Vec<(EntryId, CertificateRead)> = Vec::new();
    for (_, place) in reading.ordered(places)? {
        if let Event::CertificateRead(certificate) = reading.event(place)? {
            read.retain(|(_, before)| before.certificate != certificate.certificate);
            read.push((reading.id(place)?, certificate));
        }
    }
    Ok(read)
}

impl Reading<'_> {
    /// The certificates of a lot that were read, in the order of the record: of those with one number, the newest.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn certificates_read(&self, lot: LotId) -> Result<Vec<(EntryId, CertificateRead)>> {
        of_lot(self, lot)
    }
}

/// Certificate type, lot class and schedule of a lot as its papers have them: of each, what the newest paper says that says
/// anything.
pub(crate) fn papers_of(reading: &Reading<'_>, lot: &Lot) -> Result<PapersAsked> {
    let mut papers =
        PapersAsked { certificate_type: lot.received.certificate_type.clone(), ..PapersAsked::default() };
    for (_, read) in of_lot(reading, lot.id)? {
        for (known, says) in [
            (&mut papers.certificate_type, read.certificate_type),
            (&mut papers.lot_class, read.lot_class),
            (&mut papers.schedule, read.schedule),
        ] {
            if !says.is_not_asked() {
                *known = says;
            }
        }
    }
    Ok(papers)
}

/// The three as the comparison wants them.
fn as_papers(papers: &PapersAsked) -> Papers<'_> {
    Papers {
        certificate_type: papers.certificate_type.value().map(String::as_str),
        lot_class: papers.lot_class.value().map(String::as_str),
        schedule: papers.schedule.value().map(String::as_str),
    }
}

/// What is asked of papers against what they have; what nobody asked for is left out.
pub(crate) fn compare(asked: &PapersAsked, has: &PapersAsked) -> Vec<Compared> {
    lot_class::compare(as_papers(asked), as_papers(has))
}

/// The papers of a lot against what the job of a joint asks.
pub(crate) fn against_job(reading: &Reading<'_>, joint: &Joint, lot: &Lot) -> Result<Vec<Compared>> {
    match joint.declared.asked.value() {
        Some(asked) => Ok(compare(asked, &papers_of(reading, lot)?)),
        None => Ok(Vec::new()),
    }
}

/// `certificate type: 3.1 is asked for, and it is 2.2: …`
pub fn said(compared: &Compared) -> String {
    let Compared { what, asked, there, why, .. } = compared;
    match there {
        Some(there) => format!("{what}: {asked} is asked for, and it is {there}: {why}"),
        None => format!("{what}: {asked} is asked for, and {why}"),
    }
}
