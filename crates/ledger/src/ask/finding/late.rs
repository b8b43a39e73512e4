//! Entries that were written long after what they say.

use crate::ask::entry;
use crate::ask::finding::Finding;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::log::{Place, entry_at};
use record::event::{Event, Imported, MetalRead, ReadOn};
use record::finding::{Code, Severity};
use record::id::LotId;
use record::{Instant, When};

/// Later than this after the latest moment of its claim, an entry is late, unless it was imported. Seconds.
pub(crate) const LATE_SECONDS: i64 = 24 * 3600;

/// The finding of an entry, given the latest moment of its claim; `what` it is, for people.
///
/// A correction is not written late: what counts is when the first entry of its chain was written.
pub(crate) fn of_entry(
    reading: &Reading<'_>,
    place: Place,
    claimed: Instant,
    imported: bool,
    what: &str,
) -> Result<Option<Finding>> {
    if imported {
        return Ok(None);
    }
    let origin = reading.corrections().origin(place);
    let recorded = entry_at(reading.conn(), origin)?.header.time;
    let late = recorded.0.saturating_sub(claimed.0);
    if late <= LATE_SECONDS {
        return Ok(None);
    }
    let zone = reading.zone();
    let why = format!("{what} of {} was written on {}.", zone.local(claimed), zone.local(recorded));
    Ok(Some(Finding::new(Code::LateEntry, Severity::Note, vec![reading.id(origin)?], why)))
}

/// The late entries that belong to no slip, weld record, spot check or found wire: receipts, statuses, clears, scraps
/// from the crib, papers and their checks, readings, tables, slips printed again, notes and dispositions.
pub(crate) fn of_the_rest(reading: &Reading<'_>) -> Result<Vec<Finding>> {
    let mut late = Vec::new();
    for sql in [
        "SELECT place FROM fact_lot",
        "SELECT place FROM fact_lot_status",
        "SELECT place FROM fact_clear",
        "SELECT place FROM fact_scrap",
        "SELECT place FROM fact_certificate",
        "SELECT place FROM fact_certificate_read",
        "SELECT place FROM fact_metal_read",
        "SELECT place FROM fact_table",
        "SELECT place FROM fact_table_signed",
        "SELECT place FROM fact_reprint",
        "SELECT place FROM fact_note",
        "SELECT place FROM fact_disposition",
    ] {
        for place in reading.standing_places(sql, [])? {
            late.extend(of_place(reading, place)?);
        }
    }
    Ok(late)
}

/// The late entries about a lot itself.
pub(crate) fn of_lot(reading: &Reading<'_>, lot: LotId) -> Result<Vec<Finding>> {
    let mut late = Vec::new();
    for sql in [
        "SELECT place FROM fact_lot WHERE lot = ?1",
        "SELECT place FROM fact_lot_status WHERE lot = ?1",
        "SELECT place FROM fact_scrap WHERE lot = ?1",
        "SELECT place FROM fact_certificate_read WHERE lot = ?1",
    ] {
        for place in reading.standing_places(sql, [lot.bytes()])? {
            late.extend(of_place(reading, place)?);
        }
    }
    Ok(late)
}

fn of_place(reading: &Reading<'_>, place: Place) -> Result<Option<Finding>> {
    let event = reading.event(place)?;
    // Labels as typed may be identities or maker's numbers: a finding names a lot by its code.
    let code = |lot: LotId| -> Result<String> { Ok(reading.lot(lot)?.received.code.clone()) };
    let of_lot = |imported: &Option<Imported>, at: When, what: &str, lot: LotId| -> Result<Option<Finding>> {
        let code = code(lot)?;
        let found = of_entry(reading, place, at.to, imported.is_some(), &format!("{what} of lot {code}"))?;
        Ok(found.map(|f| f.of_lot(Some(&code))))
    };
    Ok(if let Event::LotReceived(e) = event {
        of_lot(&e.imported, e.at, "The receipt", e.lot)?
    } else if let Event::LotReleased(e) = event {
        of_lot(&e.imported, e.at, "The release", e.lot.lot)?
    } else if let Event::LotHeld(e) = event {
        of_lot(&None, e.at, "The hold", e.lot.lot)?
    } else if let Event::LotRejected(e) = event {
        of_lot(&None, e.at, "The rejection", e.lot.lot)?
    } else if let Event::LotRecalled(e) = event {
        of_lot(&None, e.at, "The recall", e.lot.lot)?
    } else if let Event::RodScrapped(e) = event {
        of_lot(&e.imported, e.at, "The scrapping", e.lot.lot)?
    } else if let Event::WelderCleared(e) = event {
        let what = format!("The clearing of {}", e.welder.badge);
        of_entry(reading, place, e.at.to, false, &what)?.map(|f| f.of_welder(Some(&e.welder.badge)))
    } else if let Event::CertificateFiled(e) = event {
        let what = format!("The filing of certificate {}", e.certificate);
        let only = match e.lots.as_slice() {
            [lot] => Some(code(lot.lot)?),
            _ => None,
        };
        of_entry(reading, place, e.at.to, false, &what)?.map(|f| f.of_lot(only.as_ref()))
    } else if let Event::CertificateRead(e) = event {
        of_lot(&None, e.at, "The certificate check", e.lot.lot)?
    } else if let Event::MetalRead(e) = event {
        of_reading(reading, place, &e)?
    } else if let Event::TableLoaded(e) = event {
        of_entry(reading, place, e.at.to, false, &format!("The loading of table {}", e.name))?
    } else if let Event::TableSignedOff(e) = event {
        of_entry(reading, place, e.at.to, false, &format!("The sign-off of table {}", e.table))?
    } else if let Event::SlipReprinted(e) = event {
        let slip = reading.slip(e.slip.slip)?;
        let what = format!("The reprint of slip {}", slip.number);
        let code = code(slip.lot)?;
        of_entry(reading, place, e.at.to, false, &what)?
            .map(|f| f.of_slip(&slip.number).of_lot(Some(&code)).of_welder(Some(&slip.holder.badge)))
    } else if let Event::NoteWritten(e) = event {
        of_entry(reading, place, e.at.to, false, &format!("The note about {}", e.label))?
    } else if let Event::FindingDisposed(e) = event {
        of_entry(reading, place, e.at.to, false, &format!("The closing of a finding {}", e.code))?
    } else {
        None
    })
}

/// A reading that was written late, at what it was made on.
fn of_reading(reading: &Reading<'_>, place: Place, e: &MetalRead) -> Result<Option<Finding>> {
    let what = format!("The {}", entry::thing(&Event::MetalRead(e.clone())));
    let Some(late) = of_entry(reading, place, e.at.to, false, &what)? else {
        return Ok(None);
    };
    Ok(Some(match &e.on {
        ReadOn::Find(_) => late,
        ReadOn::Joint { joint, welder } => {
            late.at_joints(&[&*reading.joint(joint.joint)?]).of_welder(Some(&welder.badge))
        }
        ReadOn::WeldMetal(joint) => late.at_joints(&[&*reading.joint(joint.joint)?]),
        ReadOn::Lot(lot) => late.of_lot(Some(&reading.lot(lot.lot)?.received.code)),
        ReadOn::Slip(slip) => {
            let slip = reading.slip(slip.slip)?;
            let code = reading.lot(slip.lot)?.received.code.clone();
            late.of_slip(&slip.number).of_lot(Some(&code)).of_welder(Some(&slip.holder.badge))
        }
    }))
}
