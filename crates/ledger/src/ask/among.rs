//! The lots that custody allows for a joint, a welder or found wire: whose metal a reading can be compared with.
//!
//! What a rod is by its metal, and what it can be by custody, are two kinds of evidence. Neither is worked into the other
//! here: each lot comes with what custody says of it, and the caller holds its class and its certificates against a
//! reading.

use super::joint_trace;
use super::lot::{self, Lot};
use super::reading::Reading;
use super::slip::SlipAndLot;
use super::{at_risk, certificate_read, entry, slip};
use crate::error::{Error, Result};
use record::event::CertificateRead;
use record::id::LotId;
use record::{EntryId, Instant, When};
use std::rc::Rc;

/// Whose lots.
#[derive(Clone, Debug)]
pub enum Among {
    /// These lots, whatever custody says.
    Lots(Vec<String>),
    /// Those in the hands of the welders of a joint while it was welded.
    Joint(String),
    /// Those in a welder's hands, at a time or now.
    Welder(String, Option<When>),
    /// Those that the welder who had found wire held since the last clean spot check.
    Found(String),
}

/// A lot, with what custody and its certificates say.
#[derive(Clone, Debug)]
pub struct AmongLot {
    /// The lot.
    pub lot: Rc<Lot>,
    /// What custody says of it, sentence by sentence.
    pub custody: Vec<String>,
    /// Its certificates that were read, the newest last.
    pub certificates: Vec<(EntryId, CertificateRead)>,
}

#[derive(Default)]
struct Lots(Vec<(LotId, Vec<String>)>);

impl Lots {
    fn add(&mut self, lot: LotId, says: Option<String>) {
        let at = self.0.iter().position(|(id, _)| *id == lot).unwrap_or_else(|| {
            self.0.push((lot, Vec::new()));
            self.0.len().saturating_sub(1)
        });
        if let Some((_, custody)) = self.0.get_mut(at) {
            custody.extend(says.filter(|says| !custody.contains(says)));
        }
    }
}

impl Reading<'_> {
    /// The lots among which a rod is looked for.
    ///
    /// # Errors
    /// When a label is not known, or the entry is no find.
    pub fn among(&self, among: &Among, now: Instant) -> Result<Vec<AmongLot>> {
        let mut lots = Lots::default();
        match among {
            Among::Lots(labels) => {
                for label in labels {
                    lots.add(lot::one(self, label)?.id, None);
                }
            }
            Among::Joint(number) => {
                for weld in joint_trace::of_joint(self, self.find_joint(number)?.id)?.welds {
                    let pass = weld.record.pass.value().map_or(String::new(), |pass| format!(" of {pass}"));
                    let on = format!("{}, {}", weld.record.welder.badge, self.zone().local(weld.covers.0));
                    for source in &weld.sources {
                        let says = format!(
                            "slip {}: a source of the weld record{pass} ({on}), {}",
                            source.slip.number, weld.certainty
                        );
                        lots.add(source.lot.id, Some(says));
                    }
                    for other in &weld.others {
                        let says = format!(
                            "slip {}: in hand too, not named, at the weld record{pass} ({on})",
                            other.slip.number
                        );
                        lots.add(other.lot.id, Some(says));
                    }
                }
            }
            Among::Welder(badge, at) => {
                let welder = self.find_person(badge)?.id;
                let (from, to) = at.as_ref().map_or((now, now), |at| (at.from, at.to));
                for id in self.slips_held(welder, from, to)? {
                    let view = self.slip_and_lot(id)?;
                    if view.custody.from <= to && view.custody.to.is_none_or(|end| from <= end) {
                        lots.add(view.lot.id, Some(self.held(&view)));
                    }
                }
            }
            Among::Found(typed) => {
                let (_, find) = entry::find_of_wire(self, typed)?;
                let Some(welder) = find.welder.value() else {
                    return Err(Error::NotUnderstood {
                        message: "nobody wrote down whose wire it was, so custody allows every lot".into(),
                        next: "name the lots with --among, or correct the find with: rodbook correct".into(),
                    });
                };
                let at_risk = at_risk::of_wire(self, welder.person, slip::interval(&find.at))?;
                let since = at_risk.since.map_or_else(
                    || "held before it; no clean spot check is recorded".to_owned(),
                    |since| format!("held since the last clean spot check, {}", self.zone().local(since)),
                );
                for (lot, _) in at_risk.lots {
                    lots.add(lot, Some(format!("{}: {since}", welder.badge)));
                }
            }
        }
        lots.0
            .into_iter()
            .map(|(id, custody)| {
                Ok(AmongLot {
                    lot: self.lot(id)?,
                    custody,
                    certificates: certificate_read::of_lot(self, id)?,
                })
            })
            .collect()
    }

    fn held(&self, view: &SlipAndLot) -> String {
        let from = self.zone().local(view.custody.from);
        match view.custody.to {
            Some(to) => format!("slip {}: held {from} to {}", view.slip.number, self.zone().local(to)),
            None => format!("slip {}: out since {from}, open", view.slip.number),
        }
    }
}
