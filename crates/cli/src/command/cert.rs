//! `cert`: certificates, and the folder of papers

use crate::answer::{Answer, Table};
use crate::args::DryRun;
use crate::certificate_page::{self, ValuesArgs};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{receipt, show};
use clap::{Args, Subcommand};
use filler::reading::SurfaceState;
use ledger::ask::certificate::{CertificateNumber, PaperOnFile, PapersOnFile};
use ledger::papers::{self, Kept, PaperState, PapersCopied};
use ledger::tell::certificate::FileRequest;
use ledger::tell::certificate_read::ValuesRequest;
use record::{Instant, Zone};
use serde_json::{Value, json};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Arguments of `cert`.
#[derive(Debug, Args)]
pub struct CertArgs {
    /// What to do.
    #[command(subcommand)]
    pub what: What,
}

/// What can be done with certificates.
#[derive(Debug, Subcommand)]
pub enum What {
    /// Check what a certificate says against the limits of its class; no book is needed
    Check(Box<super::cert_check::CertCheckArgs>),
    /// File a certificate: the paper into the folder beside the book, and the entry that says what it is
    File(FileArgs),
    /// Write down what a certificate says of a lot, and check it against the limits of its class
    Values(Box<CertValuesArgs>),
    /// Every filed certificate, and whether its paper is there as it was filed
    Files(FilesArgs),
    /// The papers and lots of one certificate number
    Show(ShowArgs),
}

/// Arguments of `cert file`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook cert file scans/TW-26-0388.pdf --no TW-26-0388 --type 3.1 --lot R-1028\n\nThe file is copied; it is compared by its SHA-256 from then on (cert files, verify)."
)]
pub struct FileArgs {
    /// The paper, say a PDF or a scan; at most 64 MiB. - is standard input
    pub file: PathBuf,
    /// Certificate number, as printed
    #[arg(long = "no", value_name = "NUMBER")]
    pub number: String,
    /// Certificate type, say 3.1
    #[arg(long = "type", value_name = "TYPE")]
    pub certificate_type: Option<String>,
    /// Lot that it is about; can be repeated
    #[arg(long, value_name = "LOT")]
    pub lot: Vec<String>,
    /// What the file is called [default: its name]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Arguments of `cert values`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook cert values TW-26-0388 --lot R-1028 --analysis C=0.05,Mn=1.15,Si=0.55,P=0.010,S=0.012,Cu=0.18 \\\n    --type 3.1 --lot-class S3 --asks-cert-type 3.1\n\nOf several for one lot and number the newest holds. A failing or incomplete check proposes a hold; it decides nothing."
)]
pub struct CertValuesArgs {
    /// Certificate number, as printed
    pub number: String,
    /// Lot that it is about; can be repeated
    #[arg(long, value_name = "LOT", required = true)]
    pub lot: Vec<String>,
    /// Certificate type, say 3.1
    #[arg(long = "type", value_name = "TYPE")]
    pub certificate_type: Option<String>,
    /// The surface that was analysed: as-received, abraded (the coating is not in the analysis), button
    #[arg(long, value_name = "SURFACE")]
    pub surface: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub values: ValuesArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Arguments of `cert files`.
#[derive(Debug, Args)]
pub struct FilesArgs {
    /// Only those about this lot
    #[arg(long, value_name = "LOT")]
    pub lot: Option<String>,
}

/// Arguments of `cert show`.
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// Certificate number, as printed
    pub number: String,
}

/// Does what is asked.
pub fn run(context: &Context, args: &CertArgs) -> Result<Answer, Failure> {
    match &args.what {
        What::Check(args) => super::cert_check::run(context, args).map(|answer| timeless(context, answer)),
        What::File(args) => file(context, args),
        What::Values(args) => values(context, args),
        What::Files(args) => files(context, args).map(|answer| timeless(context, answer)),
        What::Show(args) => show(context, args).map(|answer| timeless(context, answer)),
    }
}

/// A question has no time at which it happened.
fn timeless(context: &Context, mut answer: Answer) -> Answer {
    if context.global.at.is_some() {
        answer.warnings.push("--at has no effect here".into());
    }
    answer
}

fn file(context: &Context, args: &FileArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let (name, mut paper): (Option<String>, Box<dyn Read>) = if args.file == Path::new("-") {
        (None, Box::new(std::io::stdin().lock()))
    } else {
        let (name, file) = papers::open(&args.file)?;
        (Some(name), Box::new(file))
    };
    let name = args.name.clone().or(name).ok_or_else(|| {
        Failure::not_understood("what comes from standard input has no name.")
            .next("say what the paper is called with --name, say --name TW-26-0388.pdf")
    })?;
    let request = FileRequest {
        certificate: args.number.clone(),
        certificate_type: args.certificate_type.clone(),
        lots: args.lot.clone(),
        file: name,
        at: context.at(ledger.zone()?)?,
    };
    let done = ledger.file_certificate(&context.acting(args.dry_run.dry_run, None), &request, &mut paper)?;
    let filed = &done.value.filed;
    let lots: Vec<String> = done.value.lots.iter().map(|l| l.received.code.clone()).collect();
    let about = match lots.as_slice() {
        [] => "for no lot".to_owned(),
        [one] => format!("for lot {one}"),
        several => format!("for lots {}", show::listed(several, "and")),
    };
    let kind = filed.certificate_type.value().map_or(String::new(), |t| format!(" ({t})"));
    let mut text = format!(
        "Filed certificate {}{kind} {about}: {}, {}.\n",
        filed.certificate,
        filed.file,
        bytes(filed.bytes)
    );
    if !done.dry_run {
        text.push_str(&match done.value.kept {
            Kept::New => format!("The paper is kept as {}\n", done.value.path.display()),
            Kept::WasThere => "The same paper was in the folder already; it is kept once.\n".to_owned(),
            Kept::InPlaceOfChanged => format!(
                "The paper is kept as {}\nA changed file of that name was put aside there.\n",
                done.value.path.display()
            ),
        });
    }
    let more = json!({
        "certificate": filed.certificate,
        "type": show::stated_json(&filed.certificate_type),
        "file": filed.file,
        "bytes": filed.bytes,
        "sha256": filed.sha256,
        "lots": lots,
        "path": done.value.path.display().to_string(),
    });
    let mut answer = receipt::answer("cert-file", &done, text, more);
    if lots.is_empty() {
        answer.warnings.push(
            "no lot is named, and a certificate without a lot is a gap; file it again with --lot once that is known"
                .into(),
        );
    }
    answer.warnings.extend(done.value.compare);
    Ok(answer)
}

fn values(context: &Context, args: &CertValuesArgs) -> Result<Answer, Failure> {
    let surface = args.surface.as_deref().map(SurfaceState::parse).transpose();
    let mut typed = args.values.typed()?;
    typed.surface = surface.map_err(|e| Failure::not_understood(format!("{e}.")))?;
    let mut ledger = context.open_for_writing()?;
    let request = ValuesRequest {
        certificate: Some(args.number.clone()),
        certificate_type: args.certificate_type.clone(),
        lots: args.lot.clone(),
        values: typed,
        at: context.at(ledger.zone()?)?,
    };
    let done = ledger.read_certificate(&context.acting(args.dry_run.dry_run, None), &request)?;
    let mut page = Page::narrow();
    for (n, checked) in done.value.iter().enumerate() {
        if n > 0 {
            page.gap();
        }
        page.hanging(
            0,
            2,
            format!("CERTIFICATE {} FOR LOT {}", args.number.trim(), checked.lot.received.code),
        );
        certificate_page::print(&mut page, checked);
    }
    page.gap().hanging(0, 0, "rodbook informs; whoever releases the lot decides, under the governing code.");
    let more = json!({ "checks": done.value.iter().map(certificate_page::json).collect::<Vec<_>>() });
    Ok(receipt::answer("cert-values", &done, page.finish(), more))
}

fn files(context: &Context, args: &FilesArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let zone = ledger.zone()?;
    let on_file = ledger.papers_on_file(args.lot.as_deref())?;
    let mut page = Page::narrow();
    let of = args.lot.as_deref().map_or(String::new(), |lot| format!(" of lot {lot}"));
    if on_file.papers.is_empty() {
        page.line(0, format!("No certificate{of} is filed."));
    } else {
        page.line(0, format!("CERTIFICATES{of}  {}", states(&on_file)));
        folder_line(&mut page, &on_file);
        for paper in &on_file.papers {
            page.gap();
            one(&mut page, paper, zone);
        }
    }
    if !on_file.strangers.is_empty() {
        page.gap().hanging(
            0,
            2,
            format!(
                "{} in the folder that no entry names: {}",
                show::count(on_file.strangers.len(), "file is", "files are"),
                on_file.strangers.join(", ")
            ),
        );
    }
    if !on_file.papers.is_empty() {
        page.gap().rule();
        page.line(0, format!("Times are local, {}.", zone.name()));
    }
    let json = json!({
        "schema": "rodbook-certificates/1",
        "lot": args.lot,
        "folder": folder_json(&on_file),
        "certificates": on_file.papers.iter().map(paper_json).collect::<Vec<_>>(),
        "not_named": on_file.strangers,
    });
    Ok(Answer {
        text: page.finish(),
        json,
        table: Some(table(&on_file.papers)),
        warnings: warnings(&on_file),
        ..Answer::default()
    })
}

fn show(context: &Context, args: &ShowArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let zone = ledger.zone()?;
    let found = ledger.certificate_number(&args.number)?;
    let CertificateNumber { number, lots, on_file } = &found;
    let mut page = Page::narrow();
    page.line(0, format!("CERTIFICATE {number}"));
    if on_file.papers.is_empty() {
        page.line(0, "No paper of that number is filed.");
    } else {
        folder_line(&mut page, on_file);
    }
    for paper in &on_file.papers {
        page.gap();
        one(&mut page, paper, zone);
    }
    page.gap();
    if lots.is_empty() {
        page.line(0, "No lot has that number.");
    } else {
        page.line(0, show::count(lots.len(), "lot", "lots"));
    }
    for lot in lots {
        page.hanging(2, 4, format!("{}  {}", lot.lot.received.code, show::lot_line(&lot.lot)));
        page.hanging(
            4,
            6,
            match (lot.on_receipt, lot.filed) {
                (true, true) => "number on the receipt; paper filed for it",
                (true, false) => "number on the receipt; NO PAPER FILED for it",
                (false, true) => "paper filed for it; the receipt has another number, or none",
                (false, false) if lot.read => {
                    "its values were written down for the lot; NO PAPER FILED for it"
                }
                (false, false) => "had the number before it was corrected",
            },
        );
    }
    page.gap().rule();
    page.hanging(0, 2, format!("Where its lots went: rodbook trace cert {number}"));
    let mut table = Table::new(&[
        "certificate",
        "lot",
        "spec",
        "classification",
        "maker",
        "maker_lot",
        "on_receipt",
        "filed",
    ]);
    let yes = |is: bool| if is { "yes" } else { "no" }.to_owned();
    let mut lots_json = Vec::new();
    for lot in lots {
        let r = &lot.lot.received;
        table.rows.push(vec![
            number.clone(),
            r.code.clone(),
            r.spec.cell(),
            r.classification.cell(),
            r.maker.cell(),
            r.maker_lot.cell(),
            yes(lot.on_receipt),
            yes(lot.filed),
        ]);
        lots_json.push(json!({
            "lot": r.code,
            "spec": show::stated_json(&r.spec),
            "classification": show::stated_json(&r.classification),
            "maker": show::stated_json(&r.maker),
            "maker_lot": show::stated_json(&r.maker_lot),
            "on_receipt": lot.on_receipt,
            "filed": lot.filed,
            "values_read": lot.read,
        }));
    }
    let json = json!({
        "schema": "rodbook-certificate/1",
        "certificate": number,
        "folder": folder_json(on_file),
        "papers": on_file.papers.iter().map(paper_json).collect::<Vec<_>>(),
        "lots": lots_json,
    });
    Ok(Answer {
        text: page.finish(),
        json,
        table: Some(table),
        warnings: warnings(on_file),
        ..Answer::default()
    })
}

/// `3 filed: 1 sound, 1 CHANGED, 1 MISSING`
fn states(on_file: &PapersOnFile) -> String {
    let n = |wanted: &str| on_file.papers.iter().filter(|p| p.state.word() == wanted).count();
    let parts: Vec<String> = ["sound", "changed", "missing", "not-checked"]
        .into_iter()
        .filter(|word| n(word) > 0)
        .map(|word| format!("{} {}", n(word), state_word(word)))
        .collect();
    format!("{} filed: {}", on_file.papers.len(), parts.join(", "))
}

/// The word of a state for people; what is wrong is in capitals.
fn state_word(word: &str) -> String {
    match word {
        "changed" | "missing" => word.to_uppercase(),
        _ => word.replace('-', " "),
    }
}

fn folder_line(page: &mut Page, on_file: &PapersOnFile) {
    match &on_file.not_here {
        None => page.hanging(0, 2, format!("in {}", on_file.folder.dir().display())),
        Some(why) => page.hanging(0, 2, format!("not checked: {why}")),
    };
}

fn folder_json(on_file: &PapersOnFile) -> Value {
    json!({
        "path": on_file.folder.dir().display().to_string(),
        "here": on_file.not_here.is_none(),
        "why": on_file.not_here,
    })
}

fn one(page: &mut Page, paper: &PaperOnFile, zone: Zone) {
    let certificate = &paper.certificate;
    let filed = &certificate.filed;
    let kind = filed.certificate_type.value().map_or(String::new(), |t| format!(" ({t})"));
    page.split(&format!("{}{kind}", filed.certificate), &state_word(paper.state.word()));
    page.hanging(2, 4, format!("{}, {}", filed.file, bytes(filed.bytes)));
    page.hanging(
        2,
        4,
        match lot_codes(paper).as_slice() {
            [] => "FOR NO LOT".to_owned(),
            [one] => format!("for lot {one}"),
            several => format!("for lots {}", show::listed(several, "and")),
        },
    );
    page.hanging(2, 4, format!("filed {} by {}", show::when(zone, &filed.at), certificate.by));
    page.line(4, receipt::short(&certificate.entry));
    if let Some(why) = why(&paper.state) {
        page.hanging(2, 4, format!("! {why}"));
    }
    if paper.state.is_bad() {
        page.hanging(
            2,
            4,
            match paper.joints.as_slice() {
                [] => "no joint has metal of its lots".to_owned(),
                joints => format!("joints with metal of its lots: {}", joints.join(", ")),
            },
        );
        page.hanging(2, 4, "> put the paper back: rodbook cert file, from the original");
    }
}

/// What is to be said about a state beyond its word.
fn why(state: &PaperState) -> Option<String> {
    match state {
        PaperState::Sound => None,
        PaperState::Changed(how) => Some(format!("it is not the paper that was filed: {how}")),
        PaperState::Missing => Some("it is not in the folder of papers".into()),
        PaperState::NotChecked(why) => Some(why.clone()),
    }
}

fn lot_codes(paper: &PaperOnFile) -> Vec<String> {
    paper.certificate.lots.iter().map(|l| l.received.code.clone()).collect()
}

/// When the paper was filed, as claimed.
fn filed_at(paper: &PaperOnFile) -> Instant {
    paper.certificate.filed.at.from
}

fn paper_json(paper: &PaperOnFile) -> Value {
    let certificate = &paper.certificate;
    let filed = &certificate.filed;
    json!({
        "certificate": filed.certificate,
        "type": show::stated_json(&filed.certificate_type),
        "file": filed.file,
        "bytes": filed.bytes,
        "sha256": filed.sha256,
        "lots": lot_codes(paper),
        "filed_at": filed_at(paper).to_string(),
        "recorded_at": certificate.recorded.to_string(),
        "by": certificate.by,
        "state": paper.state.word(),
        "why": why(&paper.state),
        "joints": paper.state.is_bad().then_some(&paper.joints),
        "entry": certificate.entry.to_string(),
        "short": receipt::short(&certificate.entry),
    })
}

fn table(papers: &[PaperOnFile]) -> Table {
    let mut table = Table::new(&[
        "certificate",
        "certificate_type",
        "file",
        "bytes",
        "sha256",
        "lots",
        "filed_at",
        "by",
        "state",
        "why",
        "joints",
        "entry",
    ]);
    for paper in papers {
        let filed = &paper.certificate.filed;
        table.rows.push(vec![
            filed.certificate.clone(),
            filed.certificate_type.cell(),
            filed.file.clone(),
            filed.bytes.to_string(),
            filed.sha256.clone(),
            lot_codes(paper).join(";"),
            filed_at(paper).to_string(),
            paper.certificate.by.clone(),
            paper.state.word().to_owned(),
            why(&paper.state).unwrap_or_default(),
            paper.joints.join(";"),
            paper.certificate.entry.to_string(),
        ]);
    }
    table
}

fn warnings(on_file: &PapersOnFile) -> Vec<String> {
    let bad = on_file.papers.iter().filter(|p| p.state.is_bad()).count();
    if bad == 0 {
        return Vec::new();
    }
    vec![format!("{} changed or missing", show::count(bad, "paper is", "papers are"))]
}

/// A size as people read it.
fn bytes(n: u64) -> String {
    if n == 1 { "1 byte".into() } else { format!("{n} bytes") }
}

/// What there is to say about papers that went along with a copy: lines of text, the JSON field, warnings.
pub(crate) fn went_along(copied: Option<&PapersCopied>) -> (String, Value, Vec<String>) {
    let Some(copied) = copied else {
        return (String::new(), Value::Null, Vec::new());
    };
    let text = format!(
        "{} went along into {}\n",
        show::count(usize::try_from(copied.files).unwrap_or(usize::MAX), "paper", "papers"),
        copied.folder.display()
    );
    let json = json!({
        "folder": copied.folder.display().to_string(),
        "files": copied.files,
        "not_as_named": copied.not_as_named,
        "left": copied.left,
    });
    let mut warnings = Vec::new();
    if !copied.not_as_named.is_empty() {
        warnings.push(format!(
            "{} not what was filed: {}. See: rodbook cert files",
            show::count(copied.not_as_named.len(), "paper is", "papers are"),
            copied.not_as_named.join(", ")
        ));
    }
    if !copied.left.is_empty() {
        warnings.push(format!(
            "not copied from the folder of papers, because it is no paper or cannot be read: {}",
            copied.left.join(", ")
        ));
    }
    (text, json, warnings)
}
