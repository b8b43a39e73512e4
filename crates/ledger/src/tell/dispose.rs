//! Closing a finding.

use crate::ask::finding::{self, Finding};
use crate::ask::findings;
use crate::ask::lot;
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::{Acting, Done, Ledger, tell};
use record::event::{Disposition, Event, FindingDisposed, LotRef, PersonRef};
use record::person::Role;
use record::rules::dispose::{Proof, State, decide};
use record::{Stated, When, rules};

/// A disposition as typed.
#[derive(Clone, Debug)]
pub struct DisposeRequest {
    /// Id of the finding, or its first digits.
    pub finding: String,
    /// How it ends.
    pub disposition: Disposition,
    /// Why.
    pub why: String,
    /// Lot that the metal was marked with anew.
    pub lot: Option<String>,
    /// Classification that the metal was marked with anew.
    pub classification: Option<String>,
    /// When.
    pub at: Option<When>,
}

impl Ledger {
    /// Closes a finding. Returns it as it is then.
    ///
    /// # Errors
    /// When there is no such finding, the badge is not an inspector's, or a rule refuses.
    pub fn dispose(&mut self, acting: &Acting, request: &DisposeRequest) -> Result<Done<Finding>> {
        let why = tell::remark("--why", &request.why)?;
        let classification = tell::stated("--class", request.classification.as_deref())?;
        let at = tell::claimed(request.at.as_ref(), acting.now);
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            rules::needs_role("the finding was not closed", &actor.badge, &actor.roles, Role::Inspector)?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future("the disposition", &at, acting.now, reading.zone())?;
            let mut finding = findings::named(&reading.findings(acting.now)?, &request.finding)?;
            let lot = request.lot.as_ref().map(|l| lot::one(&reading, l)).transpose()?;
            let proof = match &lot {
                Some(lot) => Proof::Lot {
                    lot: &lot.received.code,
                    held: reading
                        .at_risk(&finding)?
                        .map_or_else(Vec::new, |r| r.lots.into_iter().map(|(_, code)| code).collect()),
                },
                None if classification.value().is_some() => Proof::Class,
                None => Proof::None,
            };
            let id = finding.id.to_string();
            let state = State {
                finding: id.get(..12).unwrap_or(&id),
                code: finding.code,
                disposed: finding.disposed.as_ref().map(|d| (d.disposition, d.by.as_str())),
                is_metal: is_metal(&reading, &finding)?,
                has_joint: finding.joint.is_some(),
                proof,
            };
            let against = decide(&state, request.disposition);
            if !against.is_empty() {
                return Err(Error::Refused(against));
            }
            writing.append(&Event::FindingDisposed(FindingDisposed {
                at,
                by: PersonRef { badge: acting.badge.clone(), person: actor.id },
                classification,
                code: finding.code.word().to_owned(),
                disposition: request.disposition,
                entries: finding.entries.clone(),
                finding: finding.id,
                lot: match (&lot, &request.lot) {
                    (Some(lot), Some(label)) => Stated::Value(LotRef { label: label.clone(), lot: lot.id }),
                    _ => Stated::NotAsked,
                },
                said: finding.why.clone(),
                why,
            }))?;
            finding.disposed = finding::disposed(&Reading::new(writing.conn())?, finding.id)?;
            Ok(finding)
        })
    }
}

/// Whether the cause of a finding is metal that lies there: found wire, or an unmarked return.
fn is_metal(reading: &Reading<'_>, finding: &Finding) -> Result<bool> {
    if finding.code != record::finding::Code::UnmarkedWire {
        return Ok(false);
    }
    for entry in &finding.entries {
        if let Some(place) = reading.place_of(*entry)? {
            let event = reading.event(place)?;
            if matches!(event, Event::WireFoundUnmarked(_) | Event::RodReturned(_)) {
                return Ok(true);
            }
        }
    }
    Ok(false)
}
