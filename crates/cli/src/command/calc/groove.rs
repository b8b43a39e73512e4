//! `calc groove`

use super::{density, finish, measure_if, not_worked_out, number, page, wrong};
use crate::answer::Answer;
use crate::failure::Failure;
use clap::Args;
use filler::exact::Exact;
use filler::groove::{Feature, Features, Groove, Kind};
use filler::measure::Dimension;
use serde_json::json;

/// The measures of a groove or fillet, as options.
#[derive(Debug, Args)]
#[command(next_help_heading = "Groove or fillet")]
pub struct MeasuresArgs {
    /// Thickness of the plate, or wall of the pipe
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub thickness: Option<String>,
    /// Root opening
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub gap: Option<String>,
    /// Root face
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub root_face: Option<String>,
    /// Groove angle in degrees: the whole angle between the faces
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    pub included: Option<String>,
    /// Bevel angle in degrees: that of one side, in place of --included
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    pub bevel: Option<String>,
    /// Depth of the outer groove of a double-v [default: half of what the root face leaves]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub outer_depth: Option<String>,
    /// Groove angle of the inner groove of a double-v [default: as the outer one]
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true)]
    pub inner_included: Option<String>,
    /// Root radius of a single-u or single-j
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub radius: Option<String>,
    /// Leg of a fillet; on pipe, the one along it
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub leg: Option<String>,
    /// The other leg, if it differs
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub other_leg: Option<String>,
    /// Throat of a flat fillet with equal legs, in place of --leg
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub throat: Option<String>,
    /// How far a fillet's face stands above a flat one
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub convexity: Option<String>,
    /// Width of the cap
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub cap_width: Option<String>,
    /// How much wider than the groove the cap is, both sides together, in place of --cap-width
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub cap_overlap: Option<String>,
    /// Height of the cap
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub cap_height: Option<String>,
    /// Width of the root reinforcement
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub root_width: Option<String>,
    /// How much wider than the gap it is, both sides together, in place of --root-width
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub root_overlap: Option<String>,
    /// Height of the root reinforcement
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub root_height: Option<String>,
    /// Outside diameter of the pipe, for the volume once around
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub pipe_od: Option<String>,
}

/// Arguments of `calc groove`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook calc groove --kind single-v --thickness \"10 mm\" --gap \"2 mm\" --included 60\n  rodbook calc groove --kind fillet --leg \"1/4 in\" --density 7.85\n  rodbook calc groove --kind single-v --thickness \"6.02 mm\" --gap \"3.2 mm\" --root-face \"1.6 mm\" --included 75 \\\n    --cap-overlap \"2 mm\" --cap-height \"1.5 mm\" --pipe-od \"114.3 mm\"\n\nGeometry alone is a predictor good to about 10 %: flat V joints shrink, fillets run large. A joint that was weighed\nsays more."
)]
pub struct GrooveArgs {
    /// square, fillet, single-v, double-v, single-bevel, single-u or single-j
    #[arg(long, value_name = "KIND")]
    pub kind: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub measures: MeasuresArgs,
    /// Density in g/cm3, or with lb/in3 behind it, for the mass per length
    #[arg(long, value_name = "DENSITY", allow_hyphen_values = true)]
    pub density: Option<String>,
}

impl MeasuresArgs {
    /// What is given, with the measure it is of.
    pub(crate) fn given(&self) -> Vec<(Feature, &str)> {
        [
            (Feature::Thickness, &self.thickness),
            (Feature::Gap, &self.gap),
            (Feature::RootFace, &self.root_face),
            (Feature::Included, &self.included),
            (Feature::Bevel, &self.bevel),
            (Feature::OuterDepth, &self.outer_depth),
            (Feature::InnerIncluded, &self.inner_included),
            (Feature::Radius, &self.radius),
            (Feature::Leg, &self.leg),
            (Feature::OtherLeg, &self.other_leg),
            (Feature::Throat, &self.throat),
            (Feature::Convexity, &self.convexity),
            (Feature::CapWidth, &self.cap_width),
            (Feature::CapOverlap, &self.cap_overlap),
            (Feature::CapHeight, &self.cap_height),
            (Feature::RootWidth, &self.root_width),
            (Feature::RootOverlap, &self.root_overlap),
            (Feature::RootHeight, &self.root_height),
        ]
        .into_iter()
        .filter_map(|(measure, text)| Some((measure, text.as_deref()?)))
        .collect()
    }

    /// Whether none is given.
    pub(crate) fn is_empty(&self) -> bool {
        self.given().is_empty() && self.pipe_od.is_none()
    }
}

/// A groove as asked for, with its volume on the pipe if it is on one.
pub(super) struct Asked {
    pub(super) groove: Groove,
    /// mm², rounded to 10⁻⁶: exact from here on.
    pub(super) area_mm2: Exact,
    /// Once around the pipe, mm³, rounded to 10⁻³.
    pub(super) around_mm3: Option<Exact>,
    pub(super) pipe_od: Option<filler::measure::Measure>,
}

/// Reads the kind and the measures of a groove.
pub(super) fn read(kind: &str, args: &MeasuresArgs) -> Result<Asked, Failure> {
    let kind: Kind = kind.parse().map_err(|e| wrong("--kind", e, "write one of these words"))?;
    let mut measures = Features::new();
    for (measure, text) in args.given() {
        let option = format!("--{}", measure.word());
        let next = if measure.is_angle() {
            "write degrees, such as 60"
        } else {
            "write a length, such as \"10 mm\""
        };
        measures = measures.with(measure, measure.read(text).map_err(|e| wrong(&option, e, next))?);
    }
    let failure = |e| not_worked_out("the groove", e, "check the measures against the drawing");
    let groove = Groove::new(kind, &measures).map_err(failure)?;
    let pipe_od = measure_if("--pipe-od", args.pipe_od.as_ref(), Dimension::Length)?;
    let around = pipe_od
        .as_ref()
        .map(|od| groove.volume_mm3_on_pipe(od.base().to_f64()).map_err(failure))
        .transpose()?;
    let rounded = |text: String| Exact::parse(&text).map_err(|_| super::too_large("the groove"));
    let area_mm2 = rounded(format!("{:.6}", groove.area_mm2()))?;
    let around_mm3 = around.map(|volume| rounded(format!("{volume:.3}"))).transpose()?;
    Ok(Asked { groove, area_mm2, around_mm3, pipe_od })
}

/// Works it out.
pub(super) fn run(args: &GrooveArgs) -> Result<Answer, Failure> {
    let asked = read(&args.kind, &args.measures)?;
    let dense = density(args.density.as_ref(), None, None)?;
    let around_cm3 = asked.around_mm3.and_then(|v| v.over(Exact::whole(1000)));
    let g_per_m = dense.as_ref().and_then(|d| asked.area_mm2.times(d.g_per_cm3));
    let kg_per_m = g_per_m.and_then(|g| g.over(Exact::whole(1000)));
    let around_g = dense.as_ref().zip(around_cm3).and_then(|(d, v)| v.times(d.g_per_cm3));
    let area = || asked.area_mm2.decimal(2);
    let mut page = page("WELD METAL", asked.groove.kind().word());
    page.line(0, format!("area {} mm2", area().unwrap_or_default()));
    page.line(0, format!("volume {} cm3 for each metre on plate", area().unwrap_or_default()));
    if let (Some(od), Some(_)) = (&asked.pipe_od, around_cm3) {
        page.line(0, format!("volume {} cm3 once around {od}", super::shown(around_cm3, 2)));
        page.hanging(
            2,
            4,
            "2 pi x sum of area x centroid radius (Pappus and Guldin), the groove opening outward",
        );
    }
    if let Some(dense) = &dense {
        page.line(0, format!("mass {} kg for each metre on plate", super::shown(kg_per_m, 3)));
        if around_g.is_some() {
            page.line(0, format!("mass {} g once around", super::shown(around_g, 1)));
        }
        page.hanging(2, 4, format!("density {}", dense.shown));
    }
    page.hanging(
        2,
        4,
        "source: plane geometry; a cap is 2/3 x width x height, which two data books' tables confirm",
    );
    page.hanging(
        0,
        2,
        "Geometry alone is good to about 10 %: flat V joints shrink by 7 to 9 %, fillets run about 10 % large in the leg.",
    );
    Ok(Answer {
        text: finish(page),
        json: json!({
            "schema": "rodbook-calc-groove/1",
            "kind": asked.groove.kind().word(),
            "area_mm2": number(asked.area_mm2.decimal(6)),
            "volume_cm3_per_m": number(asked.area_mm2.decimal(6)),
            "volume_cm3": number(around_cm3.and_then(|v| v.decimal(6))),
            "pipe_od": asked.pipe_od.map(|od| od.to_string()),
            "kg_per_m": number(kg_per_m.and_then(|m| m.decimal(6))),
            "mass_g": number(around_g.and_then(|m| m.decimal(3))),
            "caution": super::CAUTION,
        }),
        ..Answer::default()
    })
}
