//! Joints and shifts, told by hand. Procedures and qualifications come with the import.

use crate::ask::label;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::facts::LabelKind;
use crate::tell;
use crate::{Acting, Done, Ledger};
use record::event::{Event, JointDeclared, Level, ShiftsDeclared, WpsRef};
use record::id::{JointId, WpsId};
use record::time::Shift;
use record::{Stated, When};

/// A joint as typed.
#[derive(Clone, Debug, Default)]
pub struct JointRequest {
    /// Joint number.
    pub number: String,
    /// Job or contract.
    pub job: Option<String>,
    /// Drawing number.
    pub drawing: Option<String>,
    /// Drawing revision.
    pub drawing_revision: Option<String>,
    /// Procedures.
    pub wps: Vec<String>,
    /// How far its filler must be traced.
    pub level: Option<Level>,
    /// When it was finished.
    pub finished_at: Option<When>,
}

impl Ledger {
    /// Declares a joint, or describes a known one anew.
    ///
    /// # Errors
    /// When a procedure is not known or a text is not understood.
    pub fn declare_joint(&mut self, acting: &Acting, request: &JointRequest) -> Result<Done<JointId>> {
        let number = tell::text("the joint number", &request.number)?;
        let job = tell::stated("--job", request.job.as_deref())?;
        let drawing = tell::stated("--drawing", request.drawing.as_deref())?;
        let drawing_revision = tell::stated("--drawing-revision", request.drawing_revision.as_deref())?;
        self.write(acting, |writing| {
            writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let wps = request
                .wps
                .iter()
                .map(|number| {
                    let id = label::one(reading.conn(), LabelKind::Wps, "WPS", number)?;
                    Ok(WpsRef { number: number.clone(), wps: WpsId::from_bytes(id) })
                })
                .collect::<Result<Vec<_>>>()?;
            let known = label::things(reading.conn(), LabelKind::Joint, &number)?;
            let (joint, before) = match known.first() {
                Some(id) => {
                    let joint = JointId::from_bytes(*id);
                    (joint, Some(reading.joint(joint)?.declared.clone()))
                }
                None => (JointId(tell::new_id(writing.now())?), None),
            };
            // What is not said this time stays as it was said before.
            let keep = |said: Stated<String>, before: Option<&Stated<String>>| match (said, before) {
                (Stated::NotAsked, Some(before)) => before.clone(),
                (said, _) => said,
            };
            let b = before.as_ref();
            writing.append(&Event::JointDeclared(JointDeclared {
                drawing: keep(drawing, b.map(|b| &b.drawing)),
                drawing_revision: keep(drawing_revision, b.map(|b| &b.drawing_revision)),
                finished_at: match (&request.finished_at, b) {
                    (None, Some(b)) => b.finished_at.clone(),
                    (said, _) => Stated::from_option(said.clone()),
                },
                imported: None,
                job: keep(job, b.map(|b| &b.job)),
                joint,
                level: match (request.level, b) {
                    (None, Some(b)) => b.level.clone(),
                    (said, _) => Stated::from_option(said),
                },
                needed_mg: b.map_or(Stated::NotAsked, |b| b.needed_mg.clone()),
                needed_u_mg: b.map_or(Stated::NotAsked, |b| b.needed_u_mg.clone()),
                number,
                wps: match b {
                    Some(b) if wps.is_empty() => b.wps.clone(),
                    Some(_) | None => wps,
                },
            }))?;
            Ok(joint)
        })
    }

    /// Declares the shop's shifts, from now on.
    ///
    /// # Errors
    /// When the acting badge is not enrolled.
    pub fn declare_shifts(&mut self, acting: &Acting, shifts: &[Shift]) -> Result<Done<()>> {
        self.write(acting, |writing| {
            writing.actor(acting)?;
            writing.append(&Event::ShiftsDeclared(ShiftsDeclared { shifts: shifts.to_vec() }))?;
            Ok(())
        })
    }
}
