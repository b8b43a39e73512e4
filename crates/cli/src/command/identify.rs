//! `identify`: which classes a reading of an unmarked rod fits

mod among;
mod choice;
mod sheet;

use crate::answer::{Answer, Table};
use crate::context::Context;
use crate::failure::Failure;
use choice::Choice;
use clap::Args;
use filler::identify::{
    Alpha, Candidate, Identification, Judged, Judgement, Side, Worst, candidate, identify, rule_name,
};
use filler::limits::{AppliesTo, Lookup};
use filler::reading::{Reading, ReadingError, ReadingMethod, SurfaceState};
use ledger::ask::among::Among;
use serde_json::{Value, json};

/// A reading as typed.
#[derive(Debug, Args)]
pub struct TypedReading {
    /// Percent by mass and, after the /, the uncertainty the instrument states, say Cr=18.9/0.15,Ni=9.6/0.15
    #[arg(long, value_name = "READING")]
    pub reading: String,
    /// Coverage factor: how many standard uncertainties the stated one is. A reading without it is refused
    #[arg(long, value_name = "K")]
    pub k: Option<String>,
    /// Surface that was read: as-received, abraded, button (melted) or unknown
    #[arg(long, value_name = "SURFACE", default_value = "unknown")]
    pub surface: String,
    /// How it was read: xrf, oes, libs, lab or unknown
    #[arg(long, value_name = "METHOD", default_value = "unknown")]
    pub method: String,
    /// Calibration uncertainty as a share of each value, say "1 %" [default: none]
    #[arg(long, value_name = "SHARE")]
    pub floor: Option<String>,
}

impl TypedReading {
    /// The reading.
    ///
    /// # Errors
    /// When it is not understood, or has no coverage factor.
    pub fn read(&self) -> Result<Reading, Failure> {
        let method = ReadingMethod::parse(&self.method)
            .map_err(|e| wrong("--method", e, "say how it was read: xrf, oes, libs, lab or unknown"))?;
        let surface = SurfaceState::parse(&self.surface).map_err(|e| {
            wrong("--surface", e, "say what was read: as-received, abraded, button or unknown")
        })?;
        Reading::parse(&self.reading, self.k.as_deref(), self.floor.as_deref(), method, surface).map_err(|e| {
            let (option, next) = if matches!(e, ReadingError::NoCoverage) {
                (
                    "the reading",
                    "find in the instrument's manual whether it prints 1, 2 or 3 standard uncertainties, and add say --k 2",
                )
            } else if matches!(e, ReadingError::Coverage { .. }) {
                ("--k", "write a number above zero, say --k 2")
            } else if matches!(e, ReadingError::Floor { .. }) {
                ("--floor", "write a share of the value, say --floor \"1 %\"")
            } else {
                (
                    "--reading",
                    "write each element once with its uncertainty, say --reading Cr=18.9/0.15,Ni=9.6/0.15",
                )
            };
            wrong(option, e, next)
        })
    }
}

/// Arguments of `identify`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook identify --reading Cr=18.9/0.15,Ni=12.4/0.15,Mo=2.35/0.05 --k 1 --method xrf\n  rodbook identify --reading Mn=1.55/0.12,Si=0.95/0.2,Cu=0.14/0.04 --k 2 --surface abraded --family carbon\n\nFitting is no proof: other metal can read the same."
)]
pub struct IdentifyArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub typed: TypedReading,
    /// Only classes of this family or specification: carbon, low-alloy, stainless, nickel, aluminium, copper, titanium,
    /// or one such as A5.9
    #[arg(long, value_name = "FAMILY")]
    pub family: Option<String>,
    /// Only this class; can be repeated
    #[arg(long = "class", value_name = "CLASS")]
    pub classes: Vec<String>,
    /// Product that was read: bare (rod and wire), covered or tubular (their deposited metal), any
    #[arg(long, value_name = "PRODUCT", default_value = "bare")]
    pub product: String,
    /// Rank these lots, by class and certificate; can be repeated
    #[arg(long, value_name = "LOT", conflicts_with_all = ["family", "classes"], num_args = 1..)]
    pub among: Vec<String>,
    /// Rank the lots in hand when this joint was welded
    #[arg(long, value_name = "JOINT", conflicts_with_all = ["family", "classes", "among"])]
    pub among_joint: Option<String>,
    /// Rank the lots in this welder's hands, at --at or now
    #[arg(long, value_name = "BADGE", conflicts_with_all = ["family", "classes", "among", "among_joint"])]
    pub among_welder: Option<String>,
    /// Rank the lots that found wire can be of, by custody: the short id of the find
    #[arg(long, value_name = "ENTRY", conflicts_with_all = ["family", "classes", "among", "among_joint", "among_welder"])]
    pub among_found: Option<String>,
    /// Chance of rejecting metal that does meet the limits, of each of the two tests
    #[arg(long, value_name = "CHANCE", default_value = "0.01")]
    pub alpha: String,
}

/// An option whose value was not understood: what is said of it is why.
fn wrong(option: &str, why: impl std::fmt::Display, next: &str) -> Failure {
    let mut failure = Failure::not_understood(format!("{option} was not understood.")).next(next);
    failure.why.push(format!("{why}."));
    failure
}

/// Compares a reading with the classes.
pub fn run(context: &Context, args: &IdentifyArgs) -> Result<Answer, Failure> {
    let reading = args.typed.read()?;
    let alpha = Alpha::parse(&args.alpha)
        .map_err(|e| wrong("--alpha", e, "write a number above 0 and at most 0.5, say --alpha 0.01"))?;
    if let Some(asked) = args.asked_among(context)? {
        return among_lots(context, &asked, &reading, alpha);
    }
    let tables = super::table::tables(context, false)?;
    let mut choice = choice::of(&tables, &args.product, args.family.as_deref(), &args.classes)?;
    choice.notes.extend(not_signed_off(context, &choice.candidates)?);
    answer(&reading, &choice, alpha)
}

impl IdentifyArgs {
    /// Whose lots are asked about, if any.
    fn asked_among(&self, context: &Context) -> Result<Option<Among>, Failure> {
        if !self.among.is_empty() {
            return Ok(Some(Among::Lots(self.among.clone())));
        }
        if let Some(joint) = &self.among_joint {
            return Ok(Some(Among::Joint(joint.clone())));
        }
        if let Some(welder) = &self.among_welder {
            let at = context.at(context.open()?.zone()?)?;
            return Ok(Some(Among::Welder(welder.clone(), at)));
        }
        Ok(self.among_found.clone().map(Among::Found))
    }
}

/// What is to be said of the tables that nobody in the shop answers for.
fn not_signed_off(context: &Context, candidates: &[Candidate]) -> Result<Option<String>, Failure> {
    let mut tables: Vec<&str> = candidates.iter().map(|c| c.table.as_str()).collect();
    tables.sort_unstable();
    tables.dedup();
    let all = tables.len();
    if context.book().exists() {
        let known = context.open()?.ask(|reading| reading.tables_of_limits())?;
        tables.retain(|name| !known.iter().any(|t| t.name == *name && t.signed_off.is_some()));
    }
    Ok(match tables.len() {
        0 => None,
        none if none == all => {
            Some("no table that decided is signed off by this shop (rodbook table list)".into())
        }
        some => Some(format!(
            "{some} of {all} tables that decided are not signed off by this shop (rodbook table list)"
        )),
    })
}

/// The lots that custody allows, each with what the metal and what custody says.
fn among_lots(context: &Context, asked: &Among, reading: &Reading, alpha: Alpha) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let (lots, tables) = ledger.ask(|book| Ok((book.among(asked, context.now)?, book.limits()?)))?;
    let compared = among::compare(&tables, &lots, reading, alpha);
    // The candidates as they would be without lots: the classes of these lots, each once.
    let mut candidates: Vec<Candidate> = Vec::new();
    for lot in &lots {
        let r = &lot.lot.received;
        if let (Some(spec), Some(class)) = (r.spec.value(), r.classification.value())
            && let Lookup::Found(found) = tables.find(spec, class)
        {
            for class in found.classes.iter().filter(|class| class.product == AppliesTo::Wire) {
                let known = |c: &Candidate| c.spec == class.spec && c.classification == class.classification;
                if !candidates.iter().any(known) {
                    candidates.push(candidate(class));
                }
            }
        }
    }
    let found = identify(reading, &candidates, alpha);
    let of_found = |list: fn(&Identification<'_>) -> Value| found.as_ref().map_or_else(|| json!([]), list);
    Ok(Answer {
        text: among::page(&compared, reading),
        json: json!({
            "schema": "rodbook-identify/1",
            "reading": reading,
            "alpha": alpha.chance(),
            "candidates": of_found(|f| f.judged.iter().map(candidate_json).collect()),
            "tie": of_found(|f| json!(tied(f))),
            "would_split": of_found(|f| json!(symbols(&f.would_split))),
            "notes": of_found(|f| f.notes.iter().map(|n| Value::String(n.to_string())).collect()),
            "among": compared.iter().map(among::Compared::json).collect::<Vec<_>>(),
            "conclusion": among::conclusion(&compared),
        }),
        ..Answer::default()
    })
}

/// The answer for a choice of candidates.
fn answer(reading: &Reading, choice: &Choice, alpha: Alpha) -> Result<Answer, Failure> {
    let found = identify(reading, &choice.candidates, alpha).ok_or_else(|| {
        let mut failure = Failure::not_understood("the reading was not compared.")
            .next("add an element that the method sees, or give the --method that read it");
        failure.why.push(format!("{} sees none of its elements.", reading.method()));
        failure
    })?;
    let mut notes: Vec<String> = found.notes.iter().map(ToString::to_string).collect();
    notes.extend(choice.notes.iter().cloned());
    Ok(Answer {
        text: sheet::page(reading, &found, choice, &notes, alpha),
        json: json!({
            "schema": "rodbook-identify/1",
            "reading": reading,
            "alpha": alpha.chance(),
            "compared": symbols(&found.compared),
            "left_out": symbols(&found.left_out),
            "limit_sigma": found.limit,
            "candidates": found.judged.iter().map(candidate_json).collect::<Vec<_>>(),
            "tie": tied(&found),
            "would_split": symbols(&found.would_split),
            "not_measured": symbols(&found.not_measured),
            "without_copper": found.without_copper,
            "notes": notes,
        }),
        table: Some(table(&found)),
        ..Answer::default()
    })
}

fn symbols(elements: &[filler::Element]) -> Vec<&'static str> {
    elements.iter().map(|element| element.symbol()).collect()
}

/// The tied candidates by name.
fn tied<'a>(found: &'a Identification<'_>) -> Vec<&'a str> {
    found
        .tie
        .iter()
        .filter_map(|place| found.judged.get(*place))
        .map(|one| one.candidate.classification.as_str())
        .collect()
}

/// What decides: an element's symbol, or what a rule over several limits.
fn worst_name(candidate: &Candidate, worst: &Worst) -> String {
    match worst.of {
        Ok(element) => element.symbol().to_owned(),
        Err(place) => rule_name(candidate, place),
    }
}

fn side_word(side: Side) -> &'static str {
    match side {
        Side::Below => "below",
        Side::Above => "above",
    }
}

fn worst_json(candidate: &Candidate, judgement: &Judgement) -> Value {
    judgement.worst.map_or(
        Value::Null,
        |worst| json!({ "element": worst_name(candidate, &worst), "sigma": worst.sigma }),
    )
}

fn candidate_json(one: &Judged<'_>) -> Value {
    let candidate = one.candidate;
    json!({
        "spec": candidate.spec,
        "classification": candidate.classification,
        "verdict": one.verdict.word(),
        "d2": one.judgement.d2,
        "p": one.judgement.p,
        "worst": worst_json(candidate, &one.judgement),
        "log_likelihood": one.log_likelihood,
        "breaches": one
            .breaches
            .iter()
            .map(|breach| json!({
                "of": breach.what,
                "side": side_word(breach.side),
                "limit": breach.limit,
                "sigma": breach.sigma,
            }))
            .collect::<Vec<_>>(),
        "without_copper": one.without_copper.map(|without| json!({
            "verdict": without.judgement.verdict.word(),
            "d2": without.judgement.d2,
            "p": without.judgement.p,
            "worst": worst_json(candidate, &without.judgement),
            "log_likelihood": without.log_likelihood,
        })),
        "unexpected": symbols(&one.unexpected),
        "unverified": symbols(&one.unverified),
        "table": candidate.table,
    })
}

const COLUMNS: [&str; 13] = [
    "spec",
    "classification",
    "verdict",
    "tied",
    "d2",
    "p",
    "worst",
    "worst_sigma",
    "log_likelihood",
    "breaches",
    "unexpected",
    "unverified",
    "table",
];

fn table(found: &Identification<'_>) -> Table {
    let mut table = Table::new(&COLUMNS);
    for (place, one) in found.judged.iter().enumerate() {
        let (candidate, judgement) = (one.candidate, &one.judgement);
        let (worst, sigma) = judgement.worst.map_or((String::new(), String::new()), |w| {
            (worst_name(candidate, &w), format!("{:.2}", w.sigma))
        });
        let breaches: Vec<String> =
            one.breaches.iter().map(|b| format!("{} {:.2} {}", b.what, b.sigma, side_word(b.side))).collect();
        table.rows.push(vec![
            candidate.spec.clone(),
            candidate.classification.clone(),
            one.verdict.word().to_owned(),
            if found.tie.contains(&place) { "yes" } else { "no" }.to_owned(),
            format!("{:.3}", judgement.d2),
            sheet::chance(judgement.p),
            worst,
            sigma,
            format!("{:.2}", one.log_likelihood),
            breaches.join(";"),
            symbols(&one.unexpected).join(";"),
            symbols(&one.unverified).join(";"),
            candidate.table.clone(),
        ]);
    }
    table
}
