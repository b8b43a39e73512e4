//! `table`: tables of limits, what is built in, the shop's own, and who signed them off

use crate::answer::{Answer, Table};
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{receipt, show};
use clap::{Args, Subcommand};
use filler::limits::{ClassLimits, Lookup, Tables};
use ledger::ask::tables::{TableOfLimits, rules_text, subject_text};
use ledger::tell::table::{LoadRequest, SignOffRequest};
use serde_json::{Value, json};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// Arguments of `table`.
#[derive(Debug, Args)]
pub struct TableArgs {
    /// What to do.
    #[command(subcommand)]
    pub what: What,
}

/// What can be done with tables of limits.
#[derive(Debug, Subcommand)]
pub enum What {
    /// Every table of limits: which one decides, and who signed it off
    List,
    /// The limits of a specification or of one class, each with its source and how sure it is; needs no book
    Show(ShowArgs),
    /// Load the shop's own table, from its own copy of a standard; it decides once it is signed off
    Load(LoadArgs),
    /// Sign a table off: you compared it with a copy of the standard, and answer for it (inspectors)
    SignOff(SignOffArgs),
}

/// Arguments of `table show`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook table show A5.18 ER70S-2\n  rodbook table show A5.18 --format csv > a5-18.csv"
)]
pub struct ShowArgs {
    /// Specification, say A5.18
    pub spec: String,
    /// Classification as printed; every class of the specification if it is not said
    pub classification: Option<String>,
    /// The built-in table, even where the book has another that decides
    #[arg(long)]
    pub built_in: bool,
}

/// Arguments of `table load`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook table load a5-18-2021.csv --name \"our A5.18\"\n\nOne file for one specification and edition, with the columns that table show --format csv writes."
)]
pub struct LoadArgs {
    /// The limits as comma-separated values. - is standard input
    pub file: PathBuf,
    /// What the shop calls it [default: the name of the file]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Arguments of `table sign-off`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook table sign-off A5.18 --against \"our copy of A5.18:2021, tables 1 and 3\" --by I-21"
)]
pub struct SignOffArgs {
    /// Specification, say A5.18: its newest table of the shop, else the built-in one
    pub spec: String,
    /// What it was compared with: document and edition
    #[arg(long, value_name = "TEXT")]
    pub against: String,
    /// The built-in table, even where the shop has one of its own
    #[arg(long)]
    pub built_in: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Does what is asked.
pub fn run(context: &Context, args: &TableArgs) -> Result<Answer, Failure> {
    match &args.what {
        What::List => list(context),
        What::Show(args) => show_limits(context, args),
        What::Load(args) => load(context, args),
        What::SignOff(args) => sign_off(context, args),
    }
}

/// What is to be borne in mind with every table.
const CAUTION: &str = "The built-in values are working data from public documents and from recall, not the standards. Before a verdict \
     counts, somebody compares the table with the edition on order and signs it off.";

fn state(table: &TableOfLimits) -> &'static str {
    match (table.decides, table.entry.is_some(), table.signed_off.is_some()) {
        (true, _, _) => "decides",
        (false, true, false) => "not signed off, so it decides nothing",
        (false, true, true) => "a newer one decides",
        (false, false, _) => "the shop's own decides",
    }
}

fn list(context: &Context) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let tables = ledger.ask(|reading| reading.tables_of_limits())?;
    let mut page = Page::narrow();
    page.line(0, "TABLES OF LIMITS");
    let mut csv =
        Table::new(&["spec", "table", "classes", "decides", "signed_off_by", "against", "sha256", "entry"]);
    for table in &tables {
        page.gap().hanging(0, 2, table.name.clone());
        page.hanging(2, 4, format!("{}; {}", show::count(table.classes, "class", "classes"), state(table)));
        page.hanging(2, 4, signed_line(table));
        csv.rows.push(vec![
            table.spec.clone(),
            table.name.clone(),
            table.classes.to_string(),
            if table.decides { "yes" } else { "no" }.to_owned(),
            table.signed_off.as_ref().map_or(String::new(), |(_, s)| s.by.badge.clone()),
            table.signed_off.as_ref().map_or(String::new(), |(_, s)| s.against.clone()),
            table.sha256.clone(),
            table.entry.map_or(String::new(), |id| id.to_string()),
        ]);
    }
    page.gap().rule().hanging(0, 0, CAUTION);
    let json = json!({
        "schema": "rodbook-tables/1",
        "tables": tables.iter().map(json_of).collect::<Vec<_>>(),
    });
    Ok(Answer { text: page.finish(), json, table: Some(csv), ..Answer::default() })
}

fn signed_line(table: &TableOfLimits) -> String {
    match &table.signed_off {
        Some((_, sign_off)) => {
            format!("signed off by {}: compared with {}", sign_off.by.badge, sign_off.against)
        }
        None => "nobody of this shop has signed it off".into(),
    }
}

fn json_of(table: &TableOfLimits) -> Value {
    json!({
        "spec": table.spec,
        "table": table.name,
        "classes": table.classes,
        "decides": table.decides,
        "sha256": table.sha256,
        "entry": table.entry.map(|id| id.to_string()),
        "signed_off": table.signed_off.as_ref().map(|(id, s)| json!({
            "by": s.by.badge, "against": s.against, "at": s.at.from.to_string(), "entry": id.to_string(),
        })),
    })
}

/// The tables of the book, or the built-in ones where there is none.
pub(crate) fn tables(context: &Context, built_in: bool) -> Result<Tables, Failure> {
    if built_in || !context.book().exists() {
        return Ok(Tables::built_in().clone());
    }
    Ok((*context.open()?.ask(|reading| reading.limits())?).clone())
}

fn show_limits(context: &Context, args: &ShowArgs) -> Result<Answer, Failure> {
    let tables = tables(context, args.built_in)?;
    let classes: Vec<&ClassLimits> = match &args.classification {
        Some(class) => match tables.find(&args.spec, class) {
            Lookup::Found(found) => found.classes,
            Lookup::NotCovered(not) => {
                let mut failure =
                    Failure::not_found(format!("no table has {} {class}: {}.", args.spec, not.why));
                failure.next = not.near.iter().map(|near| format!("near: {near}")).collect();
                return Err(failure);
            }
        },
        None => {
            let spec = filler::specification::normal_spec(&args.spec);
            tables.classes().iter().filter(|c| Some(&c.spec) == spec.as_ref()).collect()
        }
    };
    if classes.is_empty() {
        let mut specs: Vec<&str> = tables.classes().iter().map(|c| c.spec.as_str()).collect();
        specs.sort_unstable();
        specs.dedup();
        return Err(Failure::not_found(format!("no table has the classes of {}.", args.spec))
            .next(format!("there are: {}", specs.join(", "))));
    }
    let mut page = Page::narrow();
    let mut csv = Table::new(&[
        "spec",
        "edition",
        "classification",
        "iso_or_si_alias",
        "uns",
        "applies_to",
        "element",
        "min_pct",
        "max_pct",
        "rule",
        "note",
        "source",
        "confidence",
    ]);
    for (n, class) in classes.iter().enumerate() {
        if n > 0 {
            page.gap();
        }
        page.hanging(0, 2, format!("{} {}", class.spec, class.classification));
        page.hanging(2, 4, class.table.clone());
        page.hanging(2, 4, format!("percent by mass of the {}", class.product.word().replace('-', " ")));
        for limit in &class.limits {
            let range = match (limit.min, limit.max) {
                (Some(min), Some(max)) => format!("{min} to {max}"),
                (None, Some(max)) => format!("{max} max"),
                (Some(min), None) => format!("{min} min"),
                (None, None) if limit.rules.balance => "balance".into(),
                (None, None) => "not specified".into(),
            };
            let sure = limit.confidence.word();
            page.hanging(2, 16, format!("{:<13} {range}  [{sure}]", limit.subject.to_string()));
            if !limit.note.is_empty() {
                page.hanging(16, 16, limit.note.clone());
            }
            let end = |p: Option<filler::Percent>| p.map_or(String::new(), |p| p.to_string());
            csv.rows.push(vec![
                class.spec.clone(),
                class.edition.clone(),
                class.classification.clone(),
                class.iso_name.clone(),
                class.uns.clone(),
                class.product.word().to_owned(),
                subject_text(&limit.subject),
                end(limit.min),
                end(limit.max),
                rules_text(&limit.rules),
                limit.note.clone(),
                limit.source.clone(),
                limit.confidence.word().to_owned(),
            ]);
        }
    }
    page.gap().rule().hanging(0, 0, CAUTION);
    let json = json!({
        "schema": "rodbook-limits/1",
        "classes": classes.iter().map(|class| json!({
            "spec": class.spec, "edition": class.edition, "classification": class.classification,
            "alias": class.iso_name, "uns": class.uns, "applies_to": class.product.word(), "table": class.table,
            "limits": class.limits.iter().map(|limit| json!({
                "element": limit.subject.to_string(),
                "min": limit.min.map(|p| p.to_string()), "max": limit.max.map(|p| p.to_string()),
                "rule": rules_text(&limit.rules), "note": limit.note, "source": limit.source,
                "confidence": limit.confidence.word(),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    });
    Ok(Answer { text: page.finish(), json, table: Some(csv), ..Answer::default() })
}

fn load(context: &Context, args: &LoadArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let mut limits = String::new();
    let read = if args.file == Path::new("-") {
        std::io::stdin().lock().read_to_string(&mut limits)
    } else {
        std::fs::File::open(&args.file).and_then(|file| file.take(1 << 20).read_to_string(&mut limits))
    };
    read.map_err(|e| {
        Failure::not_understood(format!("the table was not loaded: {}: {e}.", args.file.display()))
            .next("give a file of comma-separated values in UTF-8")
    })?;
    let name =
        args.name.clone().or_else(|| Some(args.file.file_stem()?.to_str()?.to_owned())).unwrap_or_default();
    let request = LoadRequest { limits, name, at: context.at(ledger.zone()?)? };
    let done = ledger.load_table(&context.acting(args.dry_run.dry_run, None), &request)?;
    let table = &done.value;
    let text = format!(
        "Loaded {}: {}. It decides nothing yet.\nNext: rodbook table sign-off {} --against \"document and edition\" --by BADGE\n",
        table.name,
        show::count(table.classes, "class", "classes"),
        table.spec
    );
    Ok(receipt::answer("table-load", &done, text, json_of(table)))
}

fn sign_off(context: &Context, args: &SignOffArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let request = SignOffRequest {
        spec: args.spec.clone(),
        built_in: args.built_in,
        against: args.against.clone(),
        at: context.at(ledger.zone()?)?,
    };
    let done = ledger.sign_off_table(&context.acting(args.dry_run.dry_run, None), &request)?;
    let table = &done.value;
    let text = format!("{}\n{}; {}.\n", table.name, signed_line(table), state(table));
    Ok(receipt::answer("table-sign-off", &done, text, json_of(table)))
}
