//! Filing a certificate: the paper into the folder beside the book, and the entry that says what it is.

use crate::ask::lot::{self, Lot};
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::papers::{Kept, Looked, PaperState};
use crate::{Acting, Done, Ledger, settle, tell};
use record::event::{CertificateFiled, Event, LotRef};
use record::number::{look_alike_key, search_key};
use record::rules::certificate::{State, decide};
use record::{Stated, When, rules, short_id};
use std::io::Read;
use std::path::PathBuf;

/// A certificate as typed.
#[derive(Clone, Debug)]
pub struct FileRequest {
    /// Certificate number, as printed.
    pub certificate: String,
    /// Certificate type, e.g. 3.1.
    pub certificate_type: Option<String>,
    /// Labels of the lots that it is about; may be empty.
    pub lots: Vec<String>,
    /// Name of the file, without folders.
    pub file: String,
    /// When it was filed.
    pub at: Option<When>,
}

/// What there is to tell about a filed certificate.
#[derive(Clone, Debug)]
pub struct Filed {
    /// What was filed.
    pub filed: CertificateFiled,
    /// The lots.
    pub lots: Vec<Lot>,
    /// The file in the folder of papers.
    pub path: PathBuf,
    /// How it came there.
    pub kept: Kept,
    /// What somebody should compare with the paper, sentence by sentence.
    pub compare: Vec<String>,
}

impl Ledger {
    /// Files a certificate. The paper is in the folder, durably, before the entry is committed: an entry never names a
    /// paper that was not there.
    ///
    /// # Errors
    /// When the paper is empty or too large, a lot is not known, or the same paper is filed already.
    pub fn file_certificate(
        &mut self,
        acting: &Acting,
        request: &FileRequest,
        paper: &mut dyn Read,
    ) -> Result<Done<Filed>> {
        let certificate = tell::text("--no", &request.certificate)?;
        if Stated::<String>::silence(&certificate).is_some() {
            return Err(Error::NotUnderstood {
                message: format!("--no was not understood: {certificate:?} is not a number"),
                next:
                    "a paper without a number is filed under a name that people will look for, say the file's"
                        .into(),
            });
        }
        let certificate_type = tell::stated("--type", request.certificate_type.as_deref())?;
        let file = tell::text("the file's name", &request.file)?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        let folder = self.papers();
        let staged = folder.stage(&file, paper, acting.dry_run)?;
        let path = folder.dir().join(staged.name(&file));
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future("the filing", &at, acting.now, reading.zone())?;
            let mut lots: Vec<Lot> = Vec::new();
            let mut named = Vec::new();
            for label in &request.lots {
                let lot = lot::one(&reading, label)?;
                if !lots.iter().any(|l| l.id == lot.id) {
                    named.push(LotRef { label: label.trim().to_owned(), lot: lot.id });
                    lots.push(lot);
                }
            }
            let already = already_filed(&reading, &certificate, &staged.sha256, &lots)?.filter(|_| {
                // Where the folder has lost the paper, or has it no longer as it was, filing it again mends that.
                match folder.look() {
                    looked @ Looked::Here(_) => {
                        folder.state(&looked, &staged.sha256, staged.bytes) == PaperState::Sound
                    }
                    Looked::NotHere(_) => false,
                }
            });
            let state = State {
                certificate: &certificate,
                already: already.as_deref(),
                void_lots: lots.iter().filter(|l| l.void).map(|l| l.received.code.as_str()).collect(),
            };
            settle(decide(&state), acting, &actor)?;
            let compare = to_compare(&reading, &certificate, &certificate_type, &staged.sha256, &lots)?;
            let filed = CertificateFiled {
                at: at.clone(),
                bytes: staged.bytes,
                certificate,
                certificate_type,
                file: file.clone(),
                lots: named,
                sha256: staged.sha256.clone(),
            };
            let kept = staged.put(&file)?;
            writing.append(&Event::CertificateFiled(filed.clone()))?;
            Ok(Filed { filed, lots, path, kept, compare })
        })
    }
}

/// The short id of an entry that files this very paper under this number for all these lots.
fn already_filed(
    reading: &Reading<'_>,
    certificate: &str,
    sha256: &str,
    lots: &[Lot],
) -> Result<Option<String>> {
    let places = reading.standing_places("SELECT place FROM fact_certificate WHERE sha256 = ?1", [sha256])?;
    for place in places {
        if let Event::CertificateFiled(filed) = reading.event(place)?
            && filed.certificate == certificate
            && lots.iter().all(|lot| filed.lots.iter().any(|l| l.lot == lot.id))
        {
            return Ok(Some(short_id::short(&reading.id(place)?.0)));
        }
    }
    Ok(None)
}

/// What does not agree with the receipts or with other papers. None of it keeps a paper from being filed: the paper may
/// be right, and the receipt wrong.
fn to_compare(
    reading: &Reading<'_>,
    certificate: &str,
    certificate_type: &Stated<String>,
    sha256: &str,
    lots: &[Lot],
) -> Result<Vec<String>> {
    let mut compare = Vec::new();
    for lot in lots {
        let code = &lot.received.code;
        let on_receipt = lot.receipt_certificates();
        if !on_receipt.is_empty() && !on_receipt.contains(certificate) {
            let numbers: Vec<&str> = on_receipt.into_iter().collect();
            compare.push(format!(
                "the receipt of lot {code} says certificate {}: compare both with the paper",
                numbers.join(", ")
            ));
            continue;
        }
        let types = std::iter::once(&lot.received).chain(&lot.further).filter_map(|r| {
            r.certificate_type.value().filter(|_| r.certificate.value().is_some_and(|c| c == certificate))
        });
        let other = certificate_type.value().and_then(|t| types.into_iter().find(|other| *other != t));
        if let Some(other) = other {
            compare.push(format!(
                "the receipt of lot {code} says type {other} for certificate {certificate}: compare both with the paper"
            ));
        }
    }
    let mut statement = reading.conn().prepare_cached(
        "SELECT DISTINCT label FROM fact_look_alike WHERE kind = 'certificate' AND look = ?1 ORDER BY label",
    )?;
    let look = look_alike_key(&search_key(certificate));
    for label in statement.query_map([look], |row| row.get::<_, String>(0))? {
        let label = label?;
        if label != certificate {
            compare.push(format!(
                "certificate {certificate:?} looks like {label:?}: compare both with the paper"
            ));
        }
    }
    for place in reading.standing_places("SELECT place FROM fact_certificate WHERE sha256 = ?1", [sha256])? {
        if let Event::CertificateFiled(filed) = reading.event(place)?
            && filed.certificate != certificate
        {
            compare.push(format!("the same file is filed as certificate {} too", filed.certificate));
        }
    }
    compare.dedup();
    Ok(compare)
}
