//! `receive`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::certificate_page::{self, ValuesArgs};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{receipt, show};
use clap::Args;
use filler::{Marking, ProductForm, Surface};
use ledger::tell::receive::ReceiveRequest;
use record::Stated;
use record::rules::lot_status::LotStatus;
use record::rules::shown_mass;
use serde_json::json;

/// Arguments of `receive`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook receive --lot R-1028 --maker \"Tarvemire Wire\" --maker-lot 4117-B --heat 7K2214 \\\n    --spec A5.18 --class ER70S-2 --size \"3/32 in x 36 in\" --form cut-length --quantity \"50 lb\" \\\n    --cert TW-26-0388 --cert-type 3.1\n\nn/a, unknown and illegible are kept as such wherever a value may be missing."
)]
pub struct ReceiveArgs {
    /// The shop's own code for the lot: what people type and scan
    #[arg(long, value_name = "CODE")]
    pub lot: String,
    /// Maker, as printed
    #[arg(long)]
    pub maker: Option<String>,
    /// The maker's lot number, as printed
    #[arg(long, value_name = "NUMBER")]
    pub maker_lot: Option<String>,
    /// Heat, as printed; none or several are legal
    #[arg(long)]
    pub heat: Vec<String>,
    /// Specification, say A5.18
    #[arg(long)]
    pub spec: Option<String>,
    /// Classification as printed, with every suffix
    #[arg(long = "class", value_name = "CLASS")]
    pub classification: Option<String>,
    /// Size, say "3/32 in x 36 in" or "2.4 mm x 1000 mm"
    #[arg(long)]
    pub size: Option<String>,
    /// cut-length, covered, spool, flux, insert or strip
    #[arg(long)]
    pub form: Option<String>,
    /// copper-coated or bare
    #[arg(long)]
    pub surface: Option<String>,
    /// stamped, flag-tag, ink or package-only
    #[arg(long)]
    pub marking: Option<String>,
    /// How much, say "50 lb" or "120 rods"
    #[arg(long)]
    pub quantity: Option<String>,
    /// Mass of one piece in grams, where it was weighed or is printed
    #[arg(long, value_name = "GRAMS")]
    pub piece_g: Option<String>,
    /// Certificate number
    #[arg(long, value_name = "NUMBER")]
    pub cert: Option<String>,
    /// Certificate type, say 3.1
    #[arg(long, value_name = "TYPE")]
    pub cert_type: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub values: ValuesArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Reads an optional word of a fixed list; silences are kept.
fn word<T>(
    option: &str,
    typed: Option<&str>,
    parse: impl FnOnce(&str) -> Result<T, filler::WordError>,
) -> Result<Stated<T>, Failure> {
    match typed.map(str::trim) {
        None => Ok(Stated::NotAsked),
        Some(typed) => match Stated::silence(typed) {
            Some(silence) => Ok(silence),
            None => parse(typed).map(Stated::Value).map_err(|e| {
                Failure::not_understood(format!("{option} was not understood: {e}"))
                    .next(format!("see the words that {option} takes with: rodbook receive --help"))
            }),
        },
    }
}

/// Books in a delivery.
pub fn run(context: &Context, args: &ReceiveArgs) -> Result<Answer, Failure> {
    let quantity = match args.quantity.as_deref().map(str::trim) {
        None => Stated::NotAsked,
        Some(typed) => match Stated::silence(typed) {
            Some(silence) => silence,
            None => Stated::Value(super::quantity(&[typed.to_owned()])?),
        },
    };
    let piece_mg = args
        .piece_g
        .as_deref()
        .map(|g| {
            filler::grams_to_mg(g).map_err(|e| {
                Failure::not_understood(format!("--piece-g was not understood: {e}"))
                    .next("write grams, say 33.1")
            })
        })
        .transpose()?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request = ReceiveRequest {
        code: args.lot.clone(),
        maker: args.maker.clone(),
        maker_lot: args.maker_lot.clone(),
        heats: args.heat.clone(),
        spec: args.spec.clone(),
        classification: args.classification.clone(),
        size: args.size.clone(),
        form: word("--form", args.form.as_deref(), ProductForm::parse)?,
        surface: word("--surface", args.surface.as_deref(), Surface::parse)?,
        marking: word("--marking", args.marking.as_deref(), Marking::parse)?,
        quantity,
        piece_mg,
        certificate: args.cert.clone(),
        certificate_type: args.cert_type.clone(),
        values: args.values.typed()?,
        at: context.at(zone)?,
    };
    let done = ledger.receive(&context.acting(args.dry_run.dry_run, None), &request)?;
    let received = &done.value;
    let r = &received.lot.received;
    let mut text = format!(
        "{} {}: {}.\n",
        if received.further { "Further delivery of lot" } else { "Booked in lot" },
        r.code,
        show::lot_line(&received.lot)
    );
    text.push_str(&format!("{}.\n", capital(&show::papers_line(&received.lot))));
    if let Some(piece) = &r.piece {
        let how = match (&piece.density_g_per_cm3, &piece.density_confidence) {
            (Some(density), Some(confidence)) => {
                format!("computed from the size with {density} g/cm3, confidence of that value: {confidence}")
            }
            _ => "as declared".into(),
        };
        text.push_str(&format!("One piece is {}, {how}.\n", shown_mass(piece.mg)));
    }
    text.push_str(&match &received.status {
        LotStatus::Unreleased => {
            format!("Not released yet: an inspector does that with rodbook release {}.\n", r.code)
        }
        LotStatus::Released { since } => format!("Released since {}.\n", zone.local(*since)),
        LotStatus::OnHold { since, why } => format!("On hold since {}: {why}\n", zone.local(*since)),
        LotStatus::Recalled { since, why } => format!("Recalled since {}: {why}\n", zone.local(*since)),
        LotStatus::Rejected { since, why } => format!("Rejected since {}: {why}\n", zone.local(*since)),
    });
    if let Some(checked) = &received.checked {
        let mut page = Page::narrow();
        certificate_page::print(&mut page, checked);
        text.push_str(&page.finish());
    }
    let more = json!({
        "certificate_check": received.checked.as_ref().map(certificate_page::json),
        "lot": r.code,
        "lot_id": received.lot.id.to_string(),
        "further_delivery": received.further,
        "status": received.status.word(),
        "piece_mg": r.piece.as_ref().map(|p| p.mg),
    });
    let mut answer = receipt::answer("receive", &done, text, more);
    for (label, line) in &received.also_means {
        answer.warnings.push(format!(
            "{} now means another lot too: {line}. Every command will ask; type {label} for that one",
            r.code
        ));
    }
    answer.warnings.extend(received.look_alikes.iter().map(|l| format!("{l}: compare both with the paper")));
    Ok(answer)
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
