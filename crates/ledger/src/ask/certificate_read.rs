//! What certificates say of a lot, as it was written down and checked.

use super::reading::Reading;
use crate::error::Result;
use record::event::{CertificateRead, Event};
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
