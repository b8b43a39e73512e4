//! `calc deposit`

use super::groove::MeasuresArgs;
use super::{
    Dense, density, efficiency, exact_number, finish, groove, measure, measure_if, not_worked_out, page,
    rods, shown, too_large, wrong,
};
use crate::answer::Answer;
use crate::failure::Failure;
use clap::Args;
use filler::consumption::{
    Needed, Pieces, StubBasis, deposit_g, deposition_rate_kg_per_h, mass_g, needed, stubs_g, whole_pieces,
};
use filler::exact::Exact;
use filler::measure::{Dimension, Measure};
use filler::{Size, piece_mass_mg};
use serde_json::json;

const WHAT: &str = "the deposit";

/// Arguments of `calc deposit`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook calc deposit --kind single-v --thickness \"6.02 mm\" --gap \"3.2 mm\" --root-face \"1.6 mm\" --included 75 \\\n    --pipe-od \"114.3 mm\" --joints 12 --density 7.85 --efficiency 0.98 --rod \"3/32 in x 36 in\" --stub \"3 in\"\n  rodbook calc deposit --kind fillet --leg \"6 mm\" --length \"2.5 m\" --density 7.85 --efficiency 0.90\n  rodbook calc deposit --deposit \"1641.5 g\" --efficiency 0.98 --rod \"2.4 mm x 1000 mm\" --piece-g 35.9 --stub \"75 mm\"\n\nAn efficiency leaves stubs out, unless --efficiency-includes-stub says which stub it includes."
)]
pub struct DepositArgs {
    /// Kind of groove: square, fillet, single-v, double-v, single-bevel, single-u or single-j
    #[arg(long, value_name = "KIND")]
    pub kind: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub measures: MeasuresArgs,
    /// Area of weld metal, in place of a groove, say "77.7 mm2"
    #[arg(long, value_name = "AREA", allow_hyphen_values = true)]
    pub area: Option<String>,
    /// Volume of weld metal of one joint, in place of a groove, say "17.25 cm3"
    #[arg(long, value_name = "VOLUME", allow_hyphen_values = true)]
    pub volume: Option<String>,
    /// Mass of weld metal of one joint, in place of a groove, say "120 g"
    #[arg(long, value_name = "MASS", allow_hyphen_values = true)]
    pub deposit: Option<String>,
    /// Length of the weld, where it is not once around a pipe
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub length: Option<String>,
    /// How many such joints
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..))]
    pub joints: u32,
    /// Density in g/cm3, or with lb/in3 behind it
    #[arg(long, value_name = "DENSITY", allow_hyphen_values = true)]
    pub density: Option<String>,
    /// Specification, to look the density up, with --class
    #[arg(long, value_name = "SPEC")]
    pub spec: Option<String>,
    /// Classification as printed, to look the density up, with --spec
    #[arg(long = "class", value_name = "CLASS")]
    pub classification: Option<String>,
    /// Deposition efficiency, say 0.98: deposit over metal melted
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true)]
    pub efficiency: Option<String>,
    /// The stub that the efficiency includes, say "2 in"
    #[arg(long, value_name = "LENGTH", requires = "efficiency")]
    pub efficiency_includes_stub: Option<String>,
    /// Size of the rods or electrodes, say "3/32 in x 36 in"
    #[arg(long, value_name = "SIZE", requires = "efficiency")]
    pub rod: Option<String>,
    /// Stub left of each
    #[arg(long, value_name = "LENGTH", requires = "rod", allow_hyphen_values = true)]
    pub stub: Option<String>,
    /// Product form: covered electrodes need --piece-g [default: cut-length]
    #[arg(long, value_name = "FORM")]
    pub form: Option<String>,
    /// Mass of one piece in grams, as weighed or declared
    #[arg(long, value_name = "GRAMS", requires = "rod")]
    pub piece_g: Option<String>,
    /// Arc time, for the deposition rate
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    pub arc_time: Option<String>,
}

/// Rods for a deposit.
struct Rods {
    /// None when the mass of a piece is not known.
    count: Option<i64>,
    piece_mg: Option<i64>,
    stubs_g: Option<Exact>,
    /// Why there is no count.
    why_not: Option<String>,
}

/// Works it out.
pub(super) fn run(args: &DepositArgs) -> Result<Answer, Failure> {
    let dense = density(args.density.as_ref(), args.spec.as_ref(), args.classification.as_ref())?;
    let (one, from) = of_one_joint(args, dense.as_ref())?;
    let deposit = one.times(Exact::whole(args.joints.into())).ok_or_else(|| too_large(WHAT))?;
    let pieces = pieces(args)?;
    let efficiency = args
        .efficiency
        .as_deref()
        .map(|text| efficiency::read(text, args.efficiency_includes_stub.as_ref()))
        .transpose()?;
    let filler = efficiency
        .as_ref()
        .map(|e| needed(deposit, e, pieces.as_ref().map(|(_, p)| p)).map_err(efficiency::failure))
        .transpose()?;
    let rods = match (&pieces, &filler) {
        (Some((size, pieces)), Some(filler)) => Some(rods_for(args, size, pieces, filler, dense.as_ref())?),
        (None, _) | (_, None) => None,
    };
    let rate = measure_if("--arc-time", args.arc_time.as_ref(), Dimension::Time)?
        .map(|time| deposition_rate_kg_per_h(deposit, time.base()).ok_or_else(|| too_large(WHAT)))
        .transpose()?;

    let mut page = page("DEPOSIT AND FILLER", &joints(args.joints));
    page.line(0, format!("deposit {} g", shown(Some(deposit), 1)));
    page.hanging(2, 4, from.clone());
    if let Some(dense) = &dense {
        page.hanging(2, 4, format!("density {}", dense.shown));
    }
    if let Some(rate) = rate {
        page.line(0, format!("deposition rate {} kg/h", shown(Some(rate), 2)));
    }
    let basis = efficiency.as_ref().map(|e| match e.stubs() {
        StubBasis::Excluded => "stubs left out".to_owned(),
        StubBasis::Included(stub) => format!("a stub of {stub} included"),
    });
    if let (Some(filler), Some(efficiency), Some(basis)) = (&filler, &efficiency, &basis) {
        page.line(0, format!("filler {} g", shown(Some(filler.filler_g), 1)));
        page.hanging(
            2,
            4,
            format!(
                "of which melted {} g; efficiency {} ({basis})",
                shown(Some(filler.melted_g), 1),
                shown(Some(efficiency.value()), 3)
            ),
        );
        page.hanging(2, 4, "deposit / (efficiency without stubs x (L - s) / L)");
    }
    if let Some(rods) = &rods {
        match (rods.count, &rods.why_not) {
            (Some(count), _) => {
                page.line(0, format!("{count} pieces"));
                let each = rods.piece_mg.and_then(|mg| Exact::fraction(mg, 1000));
                page.hanging(2, 4, format!("{} g each, counted up to whole ones", shown(each, 2)));
                if let Some(stubs) = rods.stubs_g {
                    page.hanging(2, 4, format!("their stubs weigh {} g", shown(Some(stubs), 1)));
                }
            }
            (None, Some(why)) => {
                page.hanging(0, 2, format!("pieces not counted: {why}"));
            }
            (None, None) => {}
        }
    }
    if args.kind.is_some() {
        page.hanging(
            0,
            2,
            "From geometry alone the deposit is good to about 10 %; a joint that was weighed says more.",
        );
    }
    let one_piece = rods.as_ref().and_then(|r| r.piece_mg).and_then(|mg| Exact::fraction(mg, 1000));
    Ok(Answer {
        text: finish(page),
        json: json!({
            "schema": "rodbook-calc-deposit/1",
            "deposit_g": exact_number(Some(deposit), 3),
            "joints": args.joints,
            "deposit_from": from,
            "filler_g": exact_number(filler.map(|f| f.filler_g), 3),
            "melted_g": exact_number(filler.map(|f| f.melted_g), 3),
            "rods": rods.as_ref().and_then(|r| r.count),
            "rods_not_counted": rods.as_ref().and_then(|r| r.why_not.clone()),
            "rod_g": exact_number(one_piece, 3),
            "stubs_g": exact_number(rods.as_ref().and_then(|r| r.stubs_g), 3),
            "efficiency": exact_number(efficiency.as_ref().map(filler::consumption::Efficiency::value), 6),
            "efficiency_stubs": basis,
            "rate_kg_per_h": exact_number(rate, 6),
            "density_g_per_cm3": exact_number(dense.map(|d| d.g_per_cm3), 6),
            "caution": super::CAUTION,
        }),
        ..Answer::default()
    })
}

fn joints(count: u32) -> String {
    if count == 1 { "one joint".to_owned() } else { format!("{count} joints") }
}

/// Grams of one joint, and where they come from.
fn of_one_joint(args: &DepositArgs, dense: Option<&Dense>) -> Result<(Exact, String), Failure> {
    let area = measure_if("--area", args.area.as_ref(), Dimension::Area)?;
    let volume = measure_if("--volume", args.volume.as_ref(), Dimension::Volume)?;
    let mass = measure_if("--deposit", args.deposit.as_ref(), Dimension::Mass)?;
    let length = measure_if("--length", args.length.as_ref(), Dimension::Length)?;
    let ways = [args.kind.is_some(), area.is_some(), volume.is_some(), mass.is_some()];
    if ways.iter().filter(|way| **way).count() != 1 {
        return Err(not_worked_out(
            WHAT,
            "it is worked out from one thing: a groove, an area, a volume or a mass.",
            "give one of --kind with its measures, --area, --volume, --deposit",
        ));
    }
    if args.kind.is_none() && !args.measures.is_empty() {
        return Err(not_worked_out(WHAT, "measures are given, and no kind of groove.", "give --kind"));
    }
    let no_length = || {
        not_worked_out(
            WHAT,
            "the length of the weld is missing.",
            "give --length, or --pipe-od for a groove once around a pipe",
        )
    };
    let length_too_many = |what: &str| {
        not_worked_out(WHAT, format!("{what}, and --length is given as well."), "leave one of them out")
    };
    let need_density = || {
        dense.map(|d| d.g_per_cm3).ok_or_else(|| {
            not_worked_out(WHAT, "the density is missing.", "give --density in g/cm3, or --spec and --class")
        })
    };
    let large = || too_large(WHAT);
    if let Some(mass) = mass {
        if length.is_some() {
            return Err(length_too_many("a mass is that of the whole joint"));
        }
        return Ok((mass.base(), format!("given: {mass} for each joint")));
    }
    if let Some(volume) = volume {
        if length.is_some() {
            return Err(length_too_many("a volume is that of the whole joint"));
        }
        let grams = mass_g(volume.base(), need_density()?).ok_or_else(large)?;
        return Ok((grams, format!("volume {volume} for each joint")));
    }
    let (area, from) = match (&args.kind, area) {
        (Some(kind), _) => {
            let asked = groove::read(kind, &args.measures)?;
            if let (Some(around), Some(od)) = (asked.around_mm3, &asked.pipe_od) {
                if length.is_some() {
                    return Err(length_too_many("the weld goes once around the pipe"));
                }
                let grams = mass_g(around, need_density()?).ok_or_else(large)?;
                let cm3 = shown(around.over(Exact::whole(1000)), 2);
                return Ok((grams, format!("{kind}, {cm3} cm3 once around {od}")));
            }
            (asked.area_mm2, format!("{kind}, {} mm2", shown(Some(asked.area_mm2), 2)))
        }
        (None, Some(area)) => (area.base(), format!("area {area}")),
        (None, None) => return Err(no_length()),
    };
    let length = length.ok_or_else(no_length)?;
    let grams = deposit_g(area, length.base(), need_density()?).ok_or_else(large)?;
    Ok((grams, format!("{from} over {length}")))
}

/// The pieces of `--rod`, with their stub.
fn pieces(args: &DepositArgs) -> Result<Option<(Size, Pieces)>, Failure> {
    let Some(text) = &args.rod else { return Ok(None) };
    let next = "write the diameter and the length, such as \"3/32 in x 36 in\"";
    let size = Size::parse(text).map_err(|e| wrong("--rod", e, next))?;
    let length = size.length().ok_or_else(|| wrong("--rod", "it has no length.", next))?;
    let length =
        Measure::above_zero(&length.to_string(), Dimension::Length).map_err(|e| wrong("--rod", e, next))?;
    let stub = args.stub.as_deref().map(|text| measure("--stub", text, Dimension::Length)).transpose()?;
    Ok(Some((size, Pieces::new(length, stub).map_err(efficiency::failure)?)))
}

fn rods_for(
    args: &DepositArgs,
    size: &Size,
    pieces: &Pieces,
    filler: &Needed,
    dense: Option<&Dense>,
) -> Result<Rods, Failure> {
    let declared = rods::piece_g(args.piece_g.as_deref())?;
    let form = rods::form(args.form.as_deref())?;
    let piece_mg = match (declared, rods::refuse_covering(form), dense) {
        (Some(mg), _, _) => mg,
        (None, Err(refused), _) => {
            let why = refused.why.join(" ") + " Weigh ten, and give --piece-g.";
            return Ok(Rods { count: None, piece_mg: None, stubs_g: None, why_not: Some(why) });
        }
        (None, Ok(()), Some(dense)) => piece_mass_mg(size, &dense.density)
            .filter(|mg| *mg > 0)
            .ok_or_else(|| too_large("the mass of a rod"))?,
        (None, Ok(()), None) => {
            return Err(not_worked_out(
                "the number of rods",
                "the density is missing.",
                "give --density in g/cm3, --spec and --class, or --piece-g",
            ));
        }
    };
    let count = whole_pieces(filler.filler_g, piece_mg).ok_or_else(|| too_large("the number of rods"))?;
    Ok(Rods {
        count: Some(count),
        piece_mg: Some(piece_mg),
        stubs_g: stubs_g(count, piece_mg, pieces),
        why_not: None,
    })
}
