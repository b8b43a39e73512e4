//! Joints and shifts, told by hand. Procedures and qualifications come with the import.

use crate::ask::label;
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::tell;
use crate::{Acting, Done, Ledger};
use filler::needed::JointDrawing;
use record::event::{
    Event, JointDeclared, Level, NamedText, PapersAsked, SharedInput, ShiftsDeclared, WorkedOut, WpsRef,
};
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
    /// What the job asks of the papers of the filler: certificate type, lot class, test schedule.
    pub asks: PapersTyped,
    /// The filler metal that it needs, if that is said.
    pub needs: Option<Needs>,
    /// The number that it had before, where it gets a new one.
    pub renumbers: Option<String>,
}

/// What is asked of the papers of filler metal, as typed.
#[derive(Clone, Debug, Default)]
pub struct PapersTyped {
    /// Certificate type, say 3.1.
    pub certificate_type: Option<String>,
    /// Lot class, say S3.
    pub lot_class: Option<String>,
    /// Test schedule, say J.
    pub schedule: Option<String>,
}

impl PapersTyped {
    /// Whether nothing was typed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.certificate_type.is_none() && self.lot_class.is_none() && self.schedule.is_none()
    }

    /// As a body keeps it; not asked where nothing was typed.
    pub(crate) fn read(&self) -> Result<Stated<PapersAsked>> {
        let asked = PapersAsked {
            certificate_type: tell::stated("--asks-cert-type", self.certificate_type.as_deref())?,
            lot_class: tell::stated("--asks-lot-class", self.lot_class.as_deref())?,
            schedule: tell::stated("--asks-schedule", self.schedule.as_deref())?,
        };
        Ok(if asked == PapersAsked::default() { Stated::NotAsked } else { Stated::Value(asked) })
    }
}

/// The filler metal that a joint needs, as typed.
#[derive(Clone, Debug)]
pub enum Needs {
    /// So many milligrams, and their standard uncertainty if it is known.
    Said {
        /// Milligrams.
        mg: i64,
        /// Standard uncertainty in milligrams.
        u_mg: Option<i64>,
    },
    /// To be worked out from the groove.
    Groove(JointDrawing),
}

/// What a body keeps of it: the mass, its standard uncertainty, and how they were worked out.
type NeedsRecorded = (Stated<i64>, Stated<i64>, Stated<WorkedOut>);

impl Needs {
    fn recorded(&self) -> Result<NeedsRecorded> {
        match self {
            Needs::Said { mg, u_mg } => {
                Ok((Stated::Value(*mg), Stated::from_option(*u_mg), Stated::NotAsked))
            }
            Needs::Groove(drawing) => {
                let needed = drawing.needed().map_err(|e| Error::NotUnderstood {
                    message: format!("what the joint needs was not worked out: {e}"),
                    next: "compare the measures with the drawing; try them with: rodbook calc groove".into(),
                })?;
                let inputs = drawing.recorded(&needed).into_iter();
                let worked_out = WorkedOut {
                    inputs: inputs.map(|(name, value)| NamedText { name, value }).collect(),
                    own_u_mg: needed.independent_mg,
                    shared: needed
                        .shared
                        .iter()
                        .map(|s| SharedInput { input: s.input.clone(), mg: s.mg })
                        .collect(),
                };
                Ok((Stated::Value(needed.needed_mg), Stated::Value(needed.u_mg), Stated::Value(worked_out)))
            }
        }
    }
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
    /// The filler metal that it needs and its standard uncertainty, in milligrams, as far as the book knows.
    pub needed_mg: Option<(i64, Option<i64>)>,
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
        let asked = request.asks.read()?;
        let needs = request.needs.as_ref().map(Needs::recorded).transpose()?;
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
            let mut declared = Declared {
                needed_mg: None,
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
            let (needed_mg, needed_u_mg, worked_out) = needs.unwrap_or_else(|| {
                b.map_or((Stated::NotAsked, Stated::NotAsked, Stated::NotAsked), |b| {
                    (b.needed_mg.clone(), b.needed_u_mg.clone(), b.worked_out.clone())
                })
            });
            declared.needed_mg = needed_mg.value().map(|mg| (*mg, needed_u_mg.value().copied()));
            writing.append(&Event::JointDeclared(JointDeclared {
                asked: match b {
                    Some(b) if asked.is_not_asked() => b.asked.clone(),
                    Some(_) | None => asked,
                },
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
                needed_mg,
                needed_u_mg,
                number,
                worked_out,
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
