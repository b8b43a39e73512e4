//! Status of a lot.

use crate::refusal::Refusal;
use crate::time::{Instant, When, Zone};

/// What may be done with a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LotStatus {
    /// Nobody has released it yet.
    Unreleased,
    /// May be issued.
    Released {
        /// Since when.
        since: Instant,
    },
    /// May not be issued.
    OnHold {
        /// Since when.
        since: Instant,
        /// Why.
        why: String,
    },
    /// Frozen, and looked for wherever it went.
    Recalled {
        /// Since when.
        since: Instant,
        /// Why.
        why: String,
    },
    /// Never issued again.
    Rejected {
        /// Since when.
        since: Instant,
        /// Why.
        why: String,
    },
}

impl LotStatus {
    /// The word on lists.
    pub fn word(&self) -> &'static str {
        match self {
            LotStatus::Unreleased => "unreleased",
            LotStatus::Released { .. } => "released",
            LotStatus::OnHold { .. } => "on-hold",
            LotStatus::Recalled { .. } => "recalled",
            LotStatus::Rejected { .. } => "rejected",
        }
    }
}

/// Refuses to release a lot that was rejected: that is for good.
///
/// # Errors
/// `lot-rejected` when the lot is rejected.
pub fn may_release(lot: &str, before: &LotStatus, zone: Zone) -> Result<(), Refusal> {
    match before {
        LotStatus::Rejected { since, why } => Err(Refusal::absolute(
            "lot-rejected",
            format!("lot {lot} was not released: it is rejected since {}.", zone.local(*since)),
            why.clone(),
        )
        .next("a rejected lot is not released again; if the rejection itself is wrong, void its entry")),
        LotStatus::Unreleased
        | LotStatus::Released { .. }
        | LotStatus::OnHold { .. }
        | LotStatus::Recalled { .. } => Ok(()),
    }
}

/// Refuses a status that would be older than the lot's receipt.
///
/// # Errors
/// `before-receipt` when all of the claimed time lies before the lot was received.
pub fn after_receipt(what: &str, at: &When, received: Option<Instant>, zone: Zone) -> Result<(), Refusal> {
    match received {
        Some(received) if at.to < received => Err(Refusal::absolute(
            "before-receipt",
            format!("{what} was not recorded: the lot had not been received yet."),
            format!("claimed {}, received {}.", zone.local_with_zone(at.to), zone.local_with_zone(received)),
        )
        .next("correct --at, or compare the receipt with the delivery note")),
        Some(_) | None => Ok(()),
    }
}
