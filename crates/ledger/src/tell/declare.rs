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
use record::{Refusal, Stated, When};

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
    /// The number that it had before, where it gets a new one.
    pub renumbers: Option<String>,
}

/// What there is to tell about a declaration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Declared {
    /// Identity of the joint.
    pub joint: JointId,
    /// The number that holds now.
    pub number: String,
    /// The number that held before, where it is another one.
    pub before: Option<String>,
}

/// Refuses a new number that means a joint already.
fn may_be_renumbered(before: &str, joint: JointId, number: &str, taken: &[[u8; 16]]) -> Result<()> {
    let not = format!("joint {before} was not renumbered");
    if before == number {
        return Err(Refusal::absolute(
            "joint-number-taken",
            format!("{not}: {number} is its number already."),
            "nothing would change.",
        )
        .next("give the new number first, and the old one with --renumbers")
        .into());
    }
    // Its own earlier number may come back.
    if taken.iter().any(|other| *other != joint.bytes()) {
        return Err(Refusal::absolute(
            "joint-number-taken",
            format!("{not}: there is a joint {number} already."),
            "one number would mean two joints, and their weld records could not be told apart.",
        )
        .next(format!("look at it with: rodbook trace joint {number}"))
        .next("choose a number that no joint has")
        .into());
    }
    Ok(())
}

impl Ledger {
    /// Declares a joint, or describes a known one anew.
    ///
    /// # Errors
    /// When a procedure is not known, a text is not understood, or a new number is taken.
    pub fn declare_joint(&mut self, acting: &Acting, request: &JointRequest) -> Result<Done<Declared>> {
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
                    let id = label::one(&reading, LabelKind::Wps, "WPS", number)?;
                    tell::void::there(&reading, LabelKind::Wps, number, id)?;
                    Ok(WpsRef { number: number.clone(), wps: WpsId::from_bytes(id) })
                })
                .collect::<Result<Vec<_>>>()?;
            let known = label::things(&reading, LabelKind::Joint, &number)?;
            let (joint, before) = match (&request.renumbers, known.first()) {
                (Some(old), _) => {
                    let joint = tell::joint_ref(&reading, old)?.joint;
                    let before = reading.joint(joint)?.declared.clone();
                    may_be_renumbered(&before.number, joint, &number, &known)?;
                    (joint, Some(before))
                }
                (None, Some(id)) => {
                    let joint = JointId::from_bytes(*id);
                    (joint, Some(reading.joint(joint)?.declared.clone()))
                }
                (None, None) => (JointId(tell::new_id(writing.now())?), None),
            };
            let number = match &before {
                // Described by a number that it had before: the newest one stays.
                Some(before) if request.renumbers.is_none() => before.number.clone(),
                Some(_) | None => number,
            };
            let declared = Declared {
                joint,
                before: before.as_ref().map(|b| b.number.clone()).filter(|before| *before != number),
                number: number.clone(),
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
            Ok(declared)
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
