//! `joint`

use super::calc::groove::MeasuresArgs;
use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::{Context, read_time};
use crate::failure::Failure;
use crate::receipt;
use clap::{Args, ValueEnum};
use filler::needed::JointDrawing;
use ledger::tell::declare::{JointRequest, Needs, PapersTyped};
use record::event::Level;
use record::rules::shown_mass;
use serde_json::json;
use std::collections::BTreeMap;

/// How far filler must be traced.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum LevelWord {
    /// To the classification
    Class,
    /// To the lot
    Lot,
}

/// Arguments of `joint`.
#[derive(Debug, Args)]
pub struct JointArgs {
    /// Joint number
    pub number: String,
    /// Job or contract
    #[arg(long)]
    pub job: Option<String>,
    /// Drawing number
    #[arg(long)]
    pub drawing: Option<String>,
    /// Drawing revision
    #[arg(long)]
    pub drawing_revision: Option<String>,
    /// A procedure it may be welded to; can be repeated
    #[arg(long)]
    pub wps: Vec<String>,
    /// How far its filler must be traced
    #[arg(long, value_enum)]
    pub level: Option<LevelWord>,
    /// When it was finished
    #[arg(long, value_name = "TIME")]
    pub finished_at: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub asks: AsksArgs,
    /// Filler metal that it needs, in grams: weld metal over efficiency
    #[arg(long, value_name = "GRAMS", conflicts_with = "groove")]
    pub needed_g: Option<String>,
    /// Standard uncertainty of that, in grams
    #[arg(long, value_name = "GRAMS", requires = "needed_g")]
    pub needed_u_g: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub groove: GrooveOfJoint,
    /// The joint had this number until now: both find it, the new one is printed
    #[arg(long, value_name = "OLD")]
    pub renumbers: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// What an order or a job asks of the papers of filler metal.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Papers that are asked for")]
pub struct AsksArgs {
    /// Certificate type that is asked for, say 3.1 or CMTR
    #[arg(long, value_name = "TYPE")]
    pub asks_cert_type: Option<String>,
    /// Lot class that is asked for, say S3
    #[arg(long, value_name = "CLASS")]
    pub asks_lot_class: Option<String>,
    /// Test schedule that is asked for, say J
    #[arg(long, value_name = "SCHEDULE")]
    pub asks_schedule: Option<String>,
}

impl AsksArgs {
    /// As typed.
    pub fn typed(&self) -> PapersTyped {
        PapersTyped {
            certificate_type: self.asks_cert_type.clone(),
            lot_class: self.asks_lot_class.clone(),
            schedule: self.asks_schedule.clone(),
        }
    }
}

/// The groove that the metal needed is worked out from.
#[derive(Debug, Args)]
#[command(next_help_heading = "Filler metal needed, from the groove")]
pub struct GrooveOfJoint {
    /// square, fillet, single-v, double-v, single-bevel, single-u or single-j
    #[arg(long, value_name = "KIND", requires = "density", requires = "efficiency")]
    pub groove: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub measures: MeasuresArgs,
    /// Length of the weld, where it does not go once around a pipe
    #[arg(long, value_name = "LENGTH", conflicts_with = "pipe_od")]
    pub length: Option<String>,
    /// Density of the filler metal in g/cm3
    #[arg(long, value_name = "DENSITY")]
    pub density: Option<String>,
    /// Deposition efficiency, stubs excluded: 0.98 for 98 %
    #[arg(long, value_name = "SHARE")]
    pub efficiency: Option<String>,
    /// Process, which has a say in how uncertain the efficiency is
    #[arg(long, value_name = "PROCESS")]
    pub process: Option<String>,
    /// Metal in the joint over metal by geometry, where the shop knows it, say 1.10 for fillets
    #[arg(long, value_name = "FACTOR")]
    pub fill: Option<String>,
    /// Half-width of an input in place of the starting value: cap-height="0.25 mm"; can be repeated
    #[arg(long, value_name = "INPUT=HALF-WIDTH")]
    pub half_width: Vec<String>,
}

impl GrooveOfJoint {
    fn drawing(&self) -> Result<Option<JointDrawing>, Failure> {
        let Some(groove) = &self.groove else {
            let given = !self.measures.is_empty()
                || !self.half_width.is_empty()
                || [&self.length, &self.density, &self.efficiency, &self.process, &self.fill]
                    .iter()
                    .any(|o| o.is_some());
            return if given {
                Err(Failure::not_understood("there are measures of a groove, and not which groove it is.")
                    .next("name it with --groove, say --groove single-v"))
            } else {
                Ok(None)
            };
        };
        let mut half_widths = BTreeMap::new();
        for typed in &self.half_width {
            let (input, half_width) = typed.split_once('=').ok_or_else(|| {
                Failure::not_understood(format!("{typed:?} is not INPUT=HALF-WIDTH."))
                    .next("write it like --half-width cap-height=\"0.25 mm\"")
            })?;
            if half_widths.insert(input.trim().to_owned(), half_width.trim().to_owned()).is_some() {
                return Err(Failure::not_understood(format!("the half-width of {input} is given twice.")));
            }
        }
        let features = self.measures.given().into_iter();
        Ok(Some(JointDrawing {
            density: self.density.clone().unwrap_or_default(),
            efficiency: self.efficiency.clone().unwrap_or_default(),
            features: features.map(|(feature, text)| (feature.word().to_owned(), text.to_owned())).collect(),
            fill: self.fill.clone(),
            groove: groove.clone(),
            half_widths,
            length: self.length.clone(),
            pipe_od: self.measures.pipe_od.clone(),
            process: self.process.clone(),
        }))
    }
}

/// What is said of the metal needed.
fn needs(args: &JointArgs) -> Result<Option<Needs>, Failure> {
    let grams = |option: &str, text: &str| {
        filler::grams_to_mg(text).map_err(|e| {
            Failure::not_understood(format!("{option} was not understood: {e}."))
                .next("write grams, say 136.8")
        })
    };
    if let Some(needed) = &args.needed_g {
        let mg = grams("--needed-g", needed)?;
        let u_mg = args.needed_u_g.as_deref().map(|u| grams("--needed-u-g", u)).transpose()?;
        return Ok(Some(Needs::Said { mg, u_mg }));
    }
    Ok(args.groove.drawing()?.map(Needs::Groove))
}

/// Declares a joint.
pub fn run(context: &Context, args: &JointArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let finished_at =
        args.finished_at.as_deref().map(|t| read_time("--finished-at", t, zone, &[])).transpose()?;
    let request = JointRequest {
        number: args.number.clone(),
        job: args.job.clone(),
        drawing: args.drawing.clone(),
        drawing_revision: args.drawing_revision.clone(),
        wps: args.wps.clone(),
        level: args.level.map(|l| match l {
            LevelWord::Class => Level::Class,
            LevelWord::Lot => Level::Lot,
        }),
        finished_at,
        asks: args.asks.typed(),
        needs: needs(args)?,
        renumbers: args.renumbers.clone(),
    };
    let done = ledger.declare_joint(&context.acting(args.dry_run.dry_run, None), &request)?;
    let declared = &done.value;
    let (text, before) = match (&declared.before, &args.renumbers) {
        (Some(before), Some(_)) => (
            format!(
                "Joint {} is in the book; it was {before}, and that number still finds it.\n",
                declared.number
            ),
            Some(before),
        ),
        (Some(_), None) | (None, _) => (format!("Joint {} is in the book.\n", declared.number), None),
    };
    let text = match declared.needed_mg {
        Some((mg, u_mg)) if args.needed_g.is_some() || args.groove.groove.is_some() => {
            let u =
                u_mg.map_or_else(|| "uncertainty not known".to_owned(), |u| format!("u = {}", shown_mass(u)));
            format!(
                "{text}It needs {} of filler metal, {u}. A drawing is good to about a tenth.\n",
                shown_mass(mg)
            )
        }
        Some(_) | None => text,
    };
    let needed_mg = declared.needed_mg.map(|(mg, _)| mg);
    let needed_u_mg = declared.needed_mg.and_then(|(_, u)| u);
    let more = json!({
        "joint": declared.number, "renumbers": before, "needed_mg": needed_mg, "needed_u_mg": needed_u_mg,
    });
    let mut answer = receipt::answer("joint", &done, text, more);
    if declared.number != args.number.trim() {
        answer.warnings.push(format!(
            "{} is an earlier number of joint {}",
            args.number.trim(),
            declared.number
        ));
    }
    Ok(answer)
}
