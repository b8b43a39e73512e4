//! What an entry is about: where to look for what the record can no longer bear.

use crate::facts::LabelKind;
use record::event::{Condition, Event};
use record::id::{LotId, PersonId, SlipId};
use std::collections::BTreeSet;

/// The things that entries are about.
#[derive(Clone, Debug, Default)]
pub(super) struct Touched {
    /// Slips that begin, or that metal leaves.
    pub(super) slips: BTreeSet<SlipId>,
    /// Lots that are in the crib or not.
    pub(super) lots: BTreeSet<LotId>,
    /// Lots that are described.
    pub(super) receipts: BTreeSet<LotId>,
    /// Holders whose slips are closed by their word.
    pub(super) cleared: BTreeSet<PersonId>,
    /// Numbers of joints, procedures and people.
    pub(super) labels: Vec<(LabelKind, String, [u8; 16])>,
}

impl Touched {
    /// Adds what an entry is about.
    pub(super) fn add(&mut self, event: &Event) {
        match event {
            Event::RodIssued(e) => {
                self.slips.insert(e.slip);
                self.lots.insert(e.lot.lot);
            }
            Event::RodReturned(e) => {
                self.slips.insert(e.slip.slip);
                if e.condition.value() == Some(&Condition::Marked) {
                    self.lots.insert(e.lot);
                }
            }
            Event::RodHandedOver(e) => {
                self.slips.extend([e.slip.slip, e.new_slip.slip]);
            }
            Event::RodScrapped(e) => match &e.slip {
                Some(from) => {
                    self.slips.insert(from.slip.slip);
                }
                None => {
                    self.lots.insert(e.lot.lot);
                }
            },
            Event::WelderCleared(e) => {
                self.cleared.insert(e.welder.person);
            }
            Event::LotReceived(e) => {
                self.lots.insert(e.lot);
                self.receipts.insert(e.lot);
            }
            Event::FindingDisposed(e) => {
                self.lots.extend(e.lot.value().map(|l| l.lot));
            }
            Event::JointDeclared(e) => {
                self.labels.push((LabelKind::Joint, e.number.clone(), e.joint.bytes()));
            }
            Event::WpsDeclared(e) => {
                self.labels.push((LabelKind::Wps, e.number.clone(), e.wps.bytes()));
            }
            Event::PersonEnrolled(e) => {
                self.labels.push((LabelKind::Badge, e.badge.clone(), e.person.bytes()));
            }
            Event::EntryCorrected(e) => self.add(&e.event()),
            Event::StationOpened(_)
            | Event::ShiftsDeclared(_)
            | Event::WelderQualified(_)
            | Event::LotReleased(_)
            | Event::LotHeld(_)
            | Event::LotRejected(_)
            | Event::LotRecalled(_)
            | Event::CertificateFiled(_)
            | Event::CertificateRead(_)
            | Event::MetalRead(_)
            | Event::TableLoaded(_)
            | Event::TableSignedOff(_)
            | Event::SlipReprinted(_)
            | Event::JointWelded(_)
            | Event::MarkSpotChecked(_)
            | Event::WireFoundUnmarked(_)
            | Event::NoteWritten(_)
            | Event::EntryVoided(_)
            | Event::FilesImported(_)
            | Event::NotUnderstood(_) => {}
        }
    }
}
