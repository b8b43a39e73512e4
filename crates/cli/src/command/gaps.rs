//! `gaps`: the completeness report

use crate::answer::{Answer, Table};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{receipt, show};
use clap::Args;
use ledger::ask::gaps::{Gaps, JointWithoutLot, Lack, SlipNumbers, WeldWithoutLot};
use ledger::ask::lot::Lot;
use ledger::ask::slip::SlipAndLot;
use record::{Instant, Zone};
use serde_json::{Value, json};
use std::rc::Rc;

/// Arguments of `gaps`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook gaps\n  rodbook gaps --job \"WVM-07 wing-valve manifold\" --format csv"
)]
pub struct GapsArgs {
    /// Only what belongs to this job
    #[arg(long)]
    pub job: Option<String>,
}

/// Lists what is missing.
pub fn run(context: &Context, args: &GapsArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let zone = ledger.zone()?;
    let (gaps, note) =
        ledger.ask(|reading| Ok((reading.gaps(args.job.as_deref())?, reading.not_understood()?)))?;
    let mut answer = Answer {
        text: text(&gaps, zone, context.now),
        json: json(&gaps, context.now),
        table: Some(table(&gaps)),
        ..Answer::default()
    };
    answer.warnings.extend(show::not_understood_note(&note));
    Ok(answer)
}

fn text(gaps: &Gaps, zone: Zone, now: Instant) -> String {
    let mut page = Page::narrow();
    page.line(0, gaps.job.as_ref().map_or("GAPS".to_owned(), |job| format!("GAPS of job {job}")));
    page.hanging(0, 2, format!("{} looked at", show::count(gaps.joints, "joint", "joints")));
    if gaps.without_level > 0 {
        page.hanging(
            0,
            2,
            format!(
                "{} not say to what level to trace: judged as level class",
                show::count(gaps.without_level, "of them does", "of them do")
            ),
        );
    }
    joints_without_lot(&mut page, gaps, zone);
    heading(&mut page, "Joints without weld record", gaps.joints_without_weld_record.len());
    for joint in &gaps.joints_without_weld_record {
        page.hanging(2, 4, &joint.declared.number);
    }
    heading(&mut page, "Lots without certificate", gaps.lots_without_certificate.len());
    for gap in &gaps.lots_without_certificate {
        let issued = if gap.slips.is_empty() {
            "not issued yet".to_owned()
        } else {
            format!("ISSUED on {}", gap.slips.join(", "))
        };
        page.hanging(2, 4, format!("{}  {}", gap.lot.received.code, show::lot_line(&gap.lot)));
        page.hanging(4, 6, issued);
    }
    if gaps.job.is_none() {
        heading(&mut page, "Certificates without lot", gaps.certificates_without_lot.len());
        for certificate in &gaps.certificates_without_lot {
            page.hanging(2, 4, format!("{}  {}", certificate.filed.certificate, certificate.filed.file));
            page.line(4, receipt::short(&certificate.entry));
        }
    }
    heading(&mut page, "Certificate numbers without a filed paper", gaps.certificates_without_paper.len());
    for gap in &gaps.certificates_without_paper {
        let others = if gap.filed_for_others { " (paper is filed, not for them)" } else { "" };
        page.hanging(2, 4, format!("{}  {}{others}", gap.number, codes(&gap.lots).join(", ")));
    }
    heading(&mut page, "Open slips", gaps.open_slips.len());
    for view in &gaps.open_slips {
        page.hanging(
            2,
            4,
            format!(
                "{}  {} with {}, out {}{}",
                view.slip.number,
                show::left(view),
                view.slip.holder.badge,
                age(hours_out(view, now)),
                if is_overdue(view, now) { ", OVERDUE" } else { "" }
            ),
        );
    }
    match &gaps.slip_numbers {
        Some(numbers) => slip_numbers(&mut page, numbers),
        None => {
            page.gap().hanging(
                0,
                2,
                "Not looked for: missing slip numbers and certificates without lot, which belong to no job",
            );
        }
    }
    page.gap().rule();
    page.line(0, format!("Times are local, {}.", zone.name()));
    page.line(0, "rodbook informs; the inspector decides, under the governing code.");
    page.finish()
}

fn heading(page: &mut Page, what: &str, n: usize) {
    page.gap().split(what, &if n == 0 { "none".to_owned() } else { n.to_string() });
}

fn joints_without_lot(page: &mut Page, gaps: &Gaps, zone: Zone) {
    heading(page, "Joints whose metal is not known", gaps.joints_without_lot.len());
    for gap in &gaps.joints_without_lot {
        page.hanging(2, 4, format!("{}  to be traced to the {}", gap.joint.declared.number, level(gap)));
        for weld in &gap.welds {
            page.hanging(4, 6, format!("{}, {}", title(weld), weld.record.welder.badge));
            page.hanging(6, 8, show::interval(zone, weld.covers.0, weld.covers.1));
            page.hanging(6, 8, lack(weld));
            page.line(6, receipt::short(&weld.entry));
        }
    }
}

fn slip_numbers(page: &mut Page, numbers: &SlipNumbers) {
    let missing = numbers.rows.iter().fold(0_u64, |sum, row| sum.saturating_add(row.missing_count()));
    heading(page, "Slip numbers missing", usize::try_from(missing).unwrap_or(usize::MAX));
    for row in &numbers.rows {
        if row.missing.is_empty() && row.explained.is_empty() {
            continue;
        }
        page.hanging(2, 4, format!("{} to {}", row.first, row.last));
        for run in &row.missing {
            page.hanging(
                4,
                6,
                if run.count == 1 {
                    format!("{} is nowhere", run.first)
                } else {
                    format!("{} to {} are nowhere ({})", run.first, run.last, run.count)
                },
            );
        }
        for explained in &row.explained {
            page.hanging(4, 6, format!("{} explained: {}", explained.number, explained.why));
        }
    }
    if numbers.of_no_row > 0 {
        page.hanging(
            2,
            4,
            format!(
                "not looked at: {} not end in digits",
                show::count(
                    usize::try_from(numbers.of_no_row).unwrap_or(usize::MAX),
                    "number does",
                    "numbers do"
                )
            ),
        );
    }
}

/// `root, original, GTAW`
fn title(weld: &WeldWithoutLot) -> String {
    let record = &weld.record;
    let parts = [show::said(&record.pass, ""), show::cycle(&record.cycle), record.process.cell()];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", ")
}

/// `lot`, `class`, or `class, not said`.
fn level(gap: &JointWithoutLot) -> String {
    if gap.joint.declared.level.value().is_some() {
        gap.judged.word().to_owned()
    } else {
        format!("{} (not said)", gap.judged.word())
    }
}

/// What a weld record lacks, in a few words.
fn lack(weld: &WeldWithoutLot) -> String {
    let lots = codes(&weld.lots);
    match &weld.lacks {
        Lack::Source => "no source in custody".into(),
        Lack::Agreement => match lots.as_slice() {
            [] => "what it names was not in custody, and nothing else was".into(),
            lots => format!("what it names was not in custody; in custody: {}", show::listed(lots, "and")),
        },
        Lack::MarkOfASource => {
            format!("a spot check read a mark that no source has; sources: {}", show::listed(&lots, "and"))
        }
        Lack::MetalOfASource => {
            format!("readings reject the class of every source: {}", show::listed(&lots, "and"))
        }
        Lack::OneLot => format!("one of {} lots: {}", lots.len(), show::listed(&lots, "or")),
        Lack::OneClass(classes) => {
            format!("one of {} classifications: {}", classes.len(), show::listed(classes, "or"))
        }
        Lack::KnownClass(lots) => format!("classification of lot {} is not known", show::listed(lots, "and")),
    }
}

/// The same as a word for programs.
fn lack_word(lacks: &Lack) -> &'static str {
    match lacks {
        Lack::Source => "no-source",
        Lack::Agreement => "contradicted",
        Lack::MarkOfASource => "contradicted-by-mark",
        Lack::MetalOfASource => "contradicted-by-reading",
        Lack::OneLot => "several-lots",
        Lack::OneClass(_) => "several-classes",
        Lack::KnownClass(_) => "class-not-known",
    }
}

fn codes(lots: &[Rc<Lot>]) -> Vec<String> {
    lots.iter().map(|l| l.received.code.clone()).collect()
}

/// Whole hours that a slip is out.
fn hours_out(view: &SlipAndLot, now: Instant) -> i64 {
    now.0.saturating_sub(view.custody.from.0).max(0) / 3600
}

fn is_overdue(view: &SlipAndLot, now: Instant) -> bool {
    view.slip.due.value().is_some_and(|due| due.to < now)
}

/// Hours as people say them.
fn age(hours: i64) -> String {
    if hours < 48 { format!("{hours} h") } else { format!("{} days", hours / 24) }
}

fn json(gaps: &Gaps, now: Instant) -> Value {
    let joints: Vec<Value> = gaps
        .joints_without_lot
        .iter()
        .map(|gap| {
            let declared = &gap.joint.declared;
            json!({
                "joint": declared.number,
                "job": show::stated_json(&declared.job),
                "level": declared.level.value().map(|l| l.word()),
                "judged_as": gap.judged.word(),
                "welds": gap.welds.iter().map(|weld| json!({
                    "entry": weld.entry.to_string(),
                    "cycle": show::cycle(&weld.record.cycle),
                    "pass": show::stated_json(&weld.record.pass),
                    "process": show::stated_json(&weld.record.process),
                    "welder": weld.record.welder.badge,
                    "from": weld.covers.0.to_string(),
                    "to": weld.covers.1.to_string(),
                    "certainty": weld.certainty.as_str(),
                    "lots": codes(&weld.lots),
                    "lacks": lack_word(&weld.lacks),
                    "why": lack(weld),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    let numbers = gaps.slip_numbers.as_ref().map(|numbers| {
        json!({
            "rows": numbers.rows.iter().map(|row| json!({
                "prefix": row.prefix,
                "first": row.first,
                "last": row.last,
                "there": row.there,
                "missing": row.missing.iter().map(|run| json!({
                    "first": run.first, "last": run.last, "count": run.count,
                })).collect::<Vec<_>>(),
                "explained": row.explained.iter().map(|e| json!({
                    "number": e.number, "why": e.why,
                })).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
            "of_no_row": numbers.of_no_row,
        })
    });
    json!({
        "schema": "rodbook-gaps/1",
        "job": gaps.job,
        "joints": gaps.joints,
        "joints_without_level": gaps.without_level,
        "joints_without_lot": joints,
        "joints_without_weld_record": gaps.joints_without_weld_record.iter().map(|j| json!({
            "joint": j.declared.number,
            "job": show::stated_json(&j.declared.job),
            "level": j.declared.level.value().map(|l| l.word()),
        })).collect::<Vec<_>>(),
        "lots_without_certificate": gaps.lots_without_certificate.iter().map(|gap| {
            let r = &gap.lot.received;
            json!({
                "lot": r.code,
                "spec": show::stated_json(&r.spec),
                "classification": show::stated_json(&r.classification),
                "maker": show::stated_json(&r.maker),
                "maker_lot": show::stated_json(&r.maker_lot),
                "issued": !gap.slips.is_empty(),
                "slips": gap.slips,
            })
        }).collect::<Vec<_>>(),
        "certificates_without_lot": gaps.job.is_none().then(|| {
            gaps.certificates_without_lot.iter().map(|c| json!({
                "certificate": c.filed.certificate,
                "type": show::stated_json(&c.filed.certificate_type),
                "file": c.filed.file,
                "sha256": c.filed.sha256,
                "entry": c.entry.to_string(),
            })).collect::<Vec<_>>()
        }),
        "certificates_without_paper": gaps.certificates_without_paper.iter().map(|gap| json!({
            "certificate": gap.number,
            "lots": codes(&gap.lots),
            "filed_for_others": gap.filed_for_others,
        })).collect::<Vec<_>>(),
        "open_slips": gaps.open_slips.iter().map(|view| json!({
            "slip": view.slip.number,
            "welder": view.slip.holder.badge,
            "lot": view.lot.received.code,
            "left": show::left(view),
            "issued_at": view.custody.from.to_string(),
            "hours_out": hours_out(view, now),
            "due_at": view.slip.due.value().map(|d| d.to.to_string()),
            "overdue": is_overdue(view, now),
        })).collect::<Vec<_>>(),
        "slip_numbers": numbers,
    })
}

/// One line for each gap.
fn table(gaps: &Gaps) -> Table {
    const COLUMNS: &[&str] = &[
        "gap",
        "job",
        "joint",
        "level",
        "cycle",
        "pass",
        "welder",
        "lot",
        "certificate",
        "slip",
        "since",
        "why",
        "entry",
    ];
    let mut table = Table::new(COLUMNS);
    let mut row = |gap: &str, cells: &[(&str, String)]| {
        let mut line = vec![String::new(); COLUMNS.len()];
        for (column, cell) in std::iter::once(&("gap", gap.to_owned())).chain(cells) {
            let place = COLUMNS.iter().position(|c| c == column).and_then(|at| line.get_mut(at));
            if let Some(place) = place {
                cell.clone_into(place);
            }
        }
        table.rows.push(line);
    };
    for gap in &gaps.joints_without_lot {
        let declared = &gap.joint.declared;
        for weld in &gap.welds {
            row(
                "joint-without-lot",
                &[
                    ("job", declared.job.cell()),
                    ("joint", declared.number.clone()),
                    ("level", gap.judged.word().to_owned()),
                    ("cycle", show::cycle(&weld.record.cycle)),
                    ("pass", weld.record.pass.cell()),
                    ("welder", weld.record.welder.badge.clone()),
                    ("lot", codes(&weld.lots).join(";")),
                    ("since", weld.covers.0.to_string()),
                    ("why", lack_word(&weld.lacks).to_owned()),
                    ("entry", weld.entry.to_string()),
                ],
            );
        }
    }
    for joint in &gaps.joints_without_weld_record {
        let declared = &joint.declared;
        row(
            "joint-without-weld-record",
            &[
                ("job", declared.job.cell()),
                ("joint", declared.number.clone()),
                ("level", declared.level.value().map_or(String::new(), |l| l.word().to_owned())),
            ],
        );
    }
    for gap in &gaps.lots_without_certificate {
        let why = if gap.slips.is_empty() { "not issued" } else { "issued" };
        row(
            "lot-without-certificate",
            &[("lot", gap.lot.received.code.clone()), ("slip", gap.slips.join(";")), ("why", why.to_owned())],
        );
    }
    for certificate in &gaps.certificates_without_lot {
        row(
            "certificate-without-lot",
            &[
                ("certificate", certificate.filed.certificate.clone()),
                ("why", certificate.filed.file.clone()),
                ("entry", certificate.entry.to_string()),
            ],
        );
    }
    for gap in &gaps.certificates_without_paper {
        let why = if gap.filed_for_others { "filed for other lots" } else { "not filed" };
        row(
            "certificate-without-paper",
            &[
                ("certificate", gap.number.clone()),
                ("lot", codes(&gap.lots).join(";")),
                ("why", why.to_owned()),
            ],
        );
    }
    for view in &gaps.open_slips {
        row(
            "open-slip",
            &[
                ("welder", view.slip.holder.badge.clone()),
                ("lot", view.lot.received.code.clone()),
                ("slip", view.slip.number.clone()),
                ("since", view.custody.from.to_string()),
                ("why", format!("{} out", show::left(view))),
                ("entry", view.slip.entry.to_string()),
            ],
        );
    }
    for numbering in gaps.slip_numbers.iter().flat_map(|numbers| &numbers.rows) {
        for run in &numbering.missing {
            let slip =
                if run.count == 1 { run.first.clone() } else { format!("{} to {}", run.first, run.last) };
            row("slip-number-missing", &[("slip", slip), ("why", format!("{} missing", run.count))]);
        }
        for explained in &numbering.explained {
            row(
                "slip-number-explained",
                &[("slip", explained.number.clone()), ("why", explained.why.clone())],
            );
        }
    }
    table
}
