//! What an entry names: joints, lots, people and procedures that must be there for it to stand.

use crate::ask::entry;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::facts::LabelKind;
use crate::tell::void::is_void;
use record::event::{Event, JointRef, LotRef, PersonRef, ReadOn};
use record::{Refusal, rules::amend};

type Name = (LabelKind, String, [u8; 16]);

fn joints(names: &mut Vec<Name>, joints: &[JointRef]) {
    names.extend(joints.iter().map(|j| (LabelKind::Joint, j.number.clone(), j.joint.bytes())));
}

fn person<'a>(names: &mut Vec<Name>, people: impl IntoIterator<Item = &'a PersonRef>) {
    names.extend(people.into_iter().map(|p| (LabelKind::Badge, p.badge.clone(), p.person.bytes())));
}

fn lot<'a>(names: &mut Vec<Name>, lots: impl IntoIterator<Item = &'a LotRef>) {
    names.extend(lots.into_iter().map(|l| (LabelKind::Lot, l.label.clone(), l.lot.bytes())));
}

/// Slips are left out: what leaves a slip is looked at for the slip, and a weld record may name one that never was, as
/// the paper does. The status and the papers of a lot that never was do no harm, and do not keep its receipt from being
/// voided.
fn names(event: &Event) -> Vec<Name> {
    let mut names = Vec::new();
    match event {
        Event::WelderQualified(e) => person(&mut names, [&e.welder]),
        Event::JointDeclared(e) => {
            names.extend(e.wps.iter().map(|w| (LabelKind::Wps, w.number.clone(), w.wps.bytes())));
        }
        Event::RodIssued(e) => {
            person(&mut names, std::iter::once(&e.holder).chain(e.issued_by.value()));
            joints(&mut names, &e.joints);
            lot(&mut names, [&e.lot]);
        }
        Event::RodReturned(e) => person(&mut names, e.received_by.value()),
        Event::RodHandedOver(e) => person(&mut names, std::iter::once(&e.to).chain(e.by.value())),
        Event::WelderCleared(e) => person(&mut names, [&e.welder]),
        Event::RodScrapped(e) => {
            person(&mut names, e.by.value());
            lot(&mut names, [&e.lot]);
        }
        Event::JointWelded(e) => {
            person(&mut names, std::iter::once(&e.welder).chain(e.recorded_by.value()));
            joints(&mut names, &e.joints);
            lot(&mut names, e.lot.value());
        }
        Event::MarkSpotChecked(e) => {
            person(&mut names, std::iter::once(&e.welder).chain(e.by.value()));
            joints(&mut names, std::slice::from_ref(&e.joint));
        }
        Event::WireFoundUnmarked(e) => {
            person(&mut names, e.welder.value().into_iter().chain(e.by.value()));
            joints(&mut names, &e.joints);
        }
        Event::FindingDisposed(e) => {
            person(&mut names, [&e.by]);
            lot(&mut names, e.lot.value());
        }
        Event::MetalRead(e) => {
            person(&mut names, e.by.value());
            match &e.on {
                ReadOn::Joint { joint, welder } => {
                    person(&mut names, [welder]);
                    joints(&mut names, std::slice::from_ref(joint));
                }
                ReadOn::WeldMetal(joint) => joints(&mut names, std::slice::from_ref(joint)),
                ReadOn::Find(_) | ReadOn::Lot(_) | ReadOn::Slip(_) => {}
            }
        }
        Event::TableSignedOff(e) => person(&mut names, [&e.by]),
        Event::StationOpened(_)
        | Event::ShiftsDeclared(_)
        | Event::PersonEnrolled(_)
        | Event::WpsDeclared(_)
        | Event::LotReceived(_)
        | Event::LotReleased(_)
        | Event::LotHeld(_)
        | Event::LotRejected(_)
        | Event::LotRecalled(_)
        | Event::CertificateFiled(_)
        | Event::CertificateRead(_)
        | Event::TableLoaded(_)
        | Event::SlipReprinted(_)
        | Event::NoteWritten(_)
        | Event::EntryCorrected(_)
        | Event::EntryVoided(_)
        | Event::FilesImported(_)
        | Event::NotUnderstood(_) => {}
    }
    names
}

/// The refusals of an entry for each thing that it names and that never was.
pub(super) fn void_ones(reading: &Reading<'_>, event: &Event) -> Result<Vec<([u8; 16], Refusal)>> {
    let mut refusals = Vec::new();
    for (kind, label, id) in names(event) {
        if is_void(reading, kind, id)? {
            let what = format!("{} could not stand", entry::thing(event));
            refusals.push((id, amend::thing_void(&what, word(kind), &label)));
        }
    }
    Ok(refusals)
}

/// What a label of the kind is a label of.
pub(crate) fn word(kind: LabelKind) -> &'static str {
    match kind {
        LabelKind::Lot | LabelKind::Heat | LabelKind::Certificate => "lot",
        LabelKind::Slip => "slip",
        LabelKind::Joint => "joint",
        LabelKind::Badge => "person",
        LabelKind::Wps => "WPS",
    }
}
