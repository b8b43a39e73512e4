//! What a slip gives to look at: the lot's status and papers at the issue, the count, and whether it was closed and used.

use super::weld::status_at;
use super::{Finding, late};
use crate::ask::lot::Lot;
use crate::ask::reading::Reading;
use crate::ask::slip::{SlipAndLot, Way};
use crate::error::Result;
use record::event::Condition;
use record::finding::{Code, Severity};
use record::rules::lot_status::LotStatus;
use record::{Instant, rules};
use trace::account::{Account, Measure, Verdict, account};

/// The findings of a slip. `used` says whether any weld record can have metal of it.
pub(crate) fn of_slip(
    reading: &Reading<'_>,
    view: &SlipAndLot,
    used: impl FnOnce() -> Result<bool>,
    now: Instant,
) -> Result<Vec<Finding>> {
    let (slip, lot) = (&view.slip, &view.lot);
    if slip.void {
        return Ok(Vec::new());
    }
    let begun = reading.origin_id(slip.place)?;
    let zone = reading.zone();
    let code = Some(&lot.received.code);
    let holder = Some(&slip.holder.badge);
    let new = |code_of, severity, entry, why: String| {
        Finding::new(code_of, severity, vec![entry], why).of_slip(&slip.number).of_lot(code).of_welder(holder)
    };
    let mut found = Vec::new();
    if slip.parent.is_none() {
        let status = status_at(&reading.statuses(lot.id)?, slip.issued.to);
        if !matches!(status, LotStatus::Released { .. }) {
            let why = format!(
                "Lot {} was {} when slip {} was issued, {}.",
                lot.received.code,
                status.word(),
                slip.number,
                zone.local(slip.issued.from)
            );
            found.push(new(Code::LotNotReleased, Severity::Stop, begun, why));
        }
        if !has_certificate(lot) {
            let why = format!(
                "Slip {} was issued of lot {}, for which the book has no certificate.",
                slip.number, lot.received.code
            );
            found.push(new(Code::LotWithoutCertificate, Severity::Act, begun, why));
        }
    }
    let counted = count(reading, view)?;
    if let Some(counted) = &counted {
        let over = counted.balance.over_out;
        match counted.verdict() {
            Verdict::Short(n) => {
                let why =
                    format!("Slip {} is short of {}: {}.", slip.number, pieces(counted, n), sum(counted));
                found.push(new(Code::CountShort, Severity::Act, begun, why));
            }
            Verdict::Over(n) => {
                let why =
                    format!("Slip {} has {} too many: {}.", slip.number, pieces(counted, n), sum(counted));
                found.push(new(Code::CountOver, Severity::Act, begun, why));
            }
            Verdict::Balanced | Verdict::NotChecked(_) if over > 0 => {
                let why =
                    format!("Slip {} has {} too many: {}.", slip.number, pieces(counted, over), sum(counted));
                found.push(new(Code::CountOver, Severity::Act, begun, why));
            }
            Verdict::Balanced | Verdict::NotChecked(_) => {}
        }
    }
    match (view.custody.to, slip.due.value()) {
        (None, Some(due)) if due.to < now => {
            let why =
                format!("Slip {} was due back on {} and is still open.", slip.number, zone.local(due.to));
            found.push(new(Code::SlipOverdue, Severity::Note, begun, why));
        }
        _ => {}
    }
    // A scrap that closes the slip is of all that was left on it, however much nobody knows that was.
    let rest_scrapped = slip.outs.iter().any(|out| match &out.way {
        Way::Scrapped(e) => e.quantity.value().is_none() && e.slip.as_ref().is_some_and(|s| s.closes),
        Way::Returned(_) | Way::HandedOver(_) => false,
    });
    let something_gone = !rest_scrapped && counted.as_ref().is_none_or(|c| c.balance.rest > 0);
    if view.custody.to.is_some() && something_gone && !used()? {
        let gone = counted.as_ref().map_or_else(|| "metal".to_owned(), |c| pieces(c, c.balance.rest));
        let why =
            format!("Slip {} is closed with {gone} gone, and no weld record can have used any.", slip.number);
        found.push(new(Code::SlipUnused, Severity::Note, begun, why));
    }
    let what = format!("Slip {}", slip.number);
    found.extend(
        late::of_entry(reading, slip.place, slip.issued.to, slip.imported.is_some(), &what)?
            .map(|f| f.of_slip(&slip.number).of_lot(code).of_welder(holder)),
    );
    for out in &slip.outs {
        let (imported, what) = match &out.way {
            Way::Returned(e) => {
                if e.condition.value() == Some(&Condition::Unmarked) {
                    let quantity = e.quantity.value().map_or_else(|| "metal".into(), ToString::to_string);
                    let why = format!(
                        "{quantity} came back unmarked on slip {} on {}.",
                        slip.number,
                        zone.local(e.at.from)
                    );
                    found.push(new(Code::UnmarkedWire, Severity::Act, reading.origin_id(out.place)?, why));
                }
                (e.imported.is_some(), format!("The return on slip {}", slip.number))
            }
            Way::Scrapped(e) => (e.imported.is_some(), format!("The scrapping on slip {}", slip.number)),
            // The new slip that it began is looked at by itself.
            Way::HandedOver(_) => continue,
        };
        found.extend(
            late::of_entry(reading, out.place, out.at().to, imported, &what)?
                .map(|f| f.of_slip(&slip.number).of_lot(code).of_welder(holder)),
        );
    }
    Ok(found)
}

/// What was counted on a slip; none where the amounts cannot be compared.
pub(crate) fn count(reading: &Reading<'_>, view: &SlipAndLot) -> Result<Option<Account>> {
    let traced = reading.traced(view.slip.id)?;
    let stubs = view.slip.outs.iter().filter_map(|out| match &out.way {
        Way::Returned(e) => e.stubs.value().copied(),
        Way::HandedOver(_) | Way::Scrapped(_) => None,
    });
    let stubs = stubs.fold(None, |sum: Option<i64>, n| Some(sum.unwrap_or(0).saturating_add(n)));
    Ok(account(&traced.amount, &traced.outs, stubs, view.custody.to.is_some()))
}

/// `3 pieces`, `1 piece`, `120.0 g`
fn pieces(account: &Account, n: i128) -> String {
    match account.measure {
        Measure::Pieces if n == 1 => "1 piece".into(),
        Measure::Pieces => format!("{n} pieces"),
        Measure::Mg => i64::try_from(n).map_or_else(|_| format!("{n} mg"), rules::shown_mass),
    }
}

/// `24 out, 4 handed over, 6 back, 0 scrapped, 12 stubs`
fn sum(account: &Account) -> String {
    let b = &account.balance;
    let mut parts = vec![format!("{} out", pieces(account, b.issued))];
    for (n, word) in [(b.handed_over, "handed over"), (b.returned, "back"), (b.scrapped, "scrapped")] {
        if n > 0 {
            parts.push(format!("{} {word}", pieces(account, n)));
        }
    }
    if let Some(stubs) = b.stubs {
        parts.push(format!("{stubs} stubs"));
    }
    parts.join(", ")
}

/// Whether the book has a certificate for a lot: a number on a receipt, or a filed paper.
fn has_certificate(lot: &Lot) -> bool {
    let mut receipts = std::iter::once(&lot.received).chain(&lot.further);
    !lot.filed.is_empty() || receipts.any(|r| r.certificate.value().is_some())
}
