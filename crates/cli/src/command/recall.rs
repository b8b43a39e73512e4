//! `recall`

use crate::answer::{Answer, Table};
use crate::args::DryRun;
use crate::command::note;
use crate::command::trace::{self, Beside};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{finding_page, receipt, show, struck};
use clap::Args;
use ledger::ask::lot::balance_mg;
use ledger::ask::recall::{JointHit, Recall, RecalledLot, RelatedLot};
use ledger::ask::slip::SlipAndLot;
use ledger::ask::where_used::{Link, Use};
use record::rules::Balance;
use record::rules::lot_status::LotStatus;
use record::{Instant, Zone};
use serde_json::{Value, json};

/// Arguments of `recall`.
#[derive(Debug, Args)]
pub struct RecallArgs {
    /// Control codes or maker's lot numbers: all are recalled, or none
    #[arg(required = true, value_name = "LOT")]
    pub lots: Vec<String>,
    /// Why: the maker's letter, a failed check
    #[arg(long, value_name = "REASON")]
    pub why: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Recalls lots, and lists what that hits.
pub fn run(context: &Context, args: &RecallArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let at = context.at(zone)?;
    let acting = context.acting(args.dry_run.dry_run, None);
    let done = ledger.recall_lots(&acting, &args.lots, &args.why, at.as_ref())?;
    let (recall, findings) = &done.value;
    let (shop, notes, struck, not_understood) = ledger.ask(|reading| {
        let notes = trace::notes_of_lots(reading, &recall.used)?;
        let struck = trace::struck_of_lots(reading, &recall.used)?;
        Ok((reading.shop_and_station()?.0, notes, struck, reading.not_understood()?))
    })?;
    let beside = Beside { findings, notes: &notes, struck: &struck };
    let since = at.map_or_else(|| zone.local(context.now), |at| show::when(zone, &at));
    let about = About { args, beside: &beside, shop: &shop, since: &since, zone, now: context.now };
    let mut answer = receipt::answer("recall", &done, about.page(done.dry_run, recall), about.json(recall));
    answer.table = Some(table(recall));
    answer.warnings.extend(show::not_understood_note(&not_understood));
    Ok(answer)
}

/// What the page says about the recall itself.
struct About<'a> {
    args: &'a RecallArgs,
    beside: &'a Beside<'a>,
    shop: &'a str,
    since: &'a str,
    zone: Zone,
    now: Instant,
}

impl About<'_> {
    fn page(&self, dry_run: bool, recall: &Recall) -> String {
        let mut page = Page::narrow();
        let zone = self.zone;
        let codes: Vec<&str> = recall.lots.iter().map(|l| l.lot.received.code.as_str()).collect();
        let word = if dry_run { "WHAT A RECALL WOULD HIT" } else { "RECALL" };
        page.split(&format!("{word} {}", codes.join(", ")), self.shop).rule();
        page.hanging(0, 2, format!("why: {}", self.args.why));
        page.line(0, format!("since {}", self.since));
        for lot in &recall.lots {
            page.gap();
            of_lot(&mut page, lot, zone);
        }
        page.gap();
        page.hanging(
            0,
            0,
            format!(
                "{} at {} can have it; {} still out.",
                show::count(recall.used.welds.len(), "weld record", "weld records"),
                show::count(recall.joints.len(), "joint", "joints"),
                show::count(recall.used.out.len(), "slip is", "slips are"),
            ),
        );
        if !recall.used.out.is_empty() {
            page.gap().line(0, "Still out: fetch it back");
            for view in &recall.used.out {
                self.out(&mut page, view);
            }
        }
        if !recall.joints.is_empty() {
            page.gap().line(0, "Joints, each by its strongest link");
            for hit in &recall.joints {
                page.hanging(2, 4, joint_line(hit));
            }
        }
        trace::uses(&mut page, &recall.used.welds, zone);
        if !recall.related.is_empty() {
            page.gap().line(0, "Not recalled, but look at these too");
            for related in &recall.related {
                let lot = &related.lot;
                page.hanging(2, 4, format!("{}: {}", lot.received.code, show::lot_line(lot)));
                page.hanging(4, 4, format!("{}; {}", shares(related), related.status.word()));
            }
        }
        struck::section(&mut page, "Struck", self.beside.struck, zone, 0);
        note::print(&mut page, self.beside.notes, zone);
        finding_page::touching(&mut page, self.beside.findings, zone);
        page.gap().rule();
        page.line(0, format!("Times are local, {}.", zone.name()));
        page.line(0, "rodbook informs; the inspector decides, under the governing code.");
        page.finish()
    }

    fn out(&self, page: &mut Page, view: &SlipAndLot) {
        let due = view.slip.due.value().map_or_else(
            || "no time to be back by".to_owned(),
            |due| {
                let late = if due.to < self.now { ", OVERDUE" } else { "" };
                format!("due {}{late}", show::when(self.zone, due))
            },
        );
        page.hanging(
            2,
            4,
            format!(
                "{}  {} of {} with {}",
                view.slip.number,
                show::left(view),
                view.lot.received.code,
                view.slip.holder.badge
            ),
        );
        page.hanging(4, 4, format!("since {}, {due}", self.zone.local(view.custody.from)));
    }

    fn json(&self, recall: &Recall) -> Value {
        let mut asked = json!({ "lots": self.args.lots });
        if let ([one], Value::Object(fields)) = (self.args.lots.as_slice(), &mut asked) {
            fields.insert("lot".into(), json!(one));
        }
        let mut json = trace::where_used_json(&recall.used, self.beside, &asked);
        let Value::Object(fields) = &mut json else {
            return json;
        };
        fields.insert("schema".into(), json!("rodbook-recall/1"));
        fields.insert("why".into(), json!(self.args.why));
        for list in ["welds", "flux_welds"] {
            let uses = recall.used.welds.iter().filter(|u| (u.link == Link::Flux) == (list == "flux_welds"));
            if let Some(Value::Array(welds)) = fields.get_mut(list) {
                for (weld, used) in welds.iter_mut().zip(uses) {
                    if let Value::Object(weld) = weld {
                        weld.insert("lots".into(), json!(codes_of(recall, used)));
                    }
                }
            }
        }
        if let Some(Value::Array(out)) = fields.get_mut("out") {
            for (slip, view) in out.iter_mut().zip(&recall.used.out) {
                if let Value::Object(slip) = slip {
                    slip.insert("lot".into(), json!(view.lot.received.code));
                    slip.insert("since".into(), json!(view.custody.from.to_string()));
                    slip.insert("due_at".into(), json!(view.slip.due.value().map(|d| d.to.to_string())));
                    let overdue = view.slip.due.value().is_some_and(|d| d.to < self.now);
                    slip.insert("overdue".into(), json!(overdue));
                }
            }
        }
        let recalled: Vec<Value> = recall.lots.iter().map(lot_json).collect();
        fields.insert("recalled".into(), Value::Array(recalled));
        let joints: Vec<Value> = recall
            .joints
            .iter()
            .map(|hit| {
                json!({
                    "joint": hit.joint.declared.number,
                    "job": show::stated_json(&hit.joint.declared.job),
                    "link": hit.link.word(),
                    "certainties": hit.certainties.iter().map(|c| c.as_str()).collect::<Vec<_>>(),
                    "weld_records": hit.records,
                })
            })
            .collect();
        fields.insert("joints".into(), Value::Array(joints));
        let related: Vec<Value> = recall
            .related
            .iter()
            .map(|r| {
                json!({
                    "lot": r.lot.received.code,
                    "lot_id": r.lot.id.to_string(),
                    "status": r.status.word(),
                    "heats": r.heats,
                    "certificates": r.certificates,
                })
            })
            .collect();
        fields.insert("related".into(), Value::Array(related));
        json
    }
}

/// What is said of one recalled lot: what it is, what it was before, and what of it is here.
fn of_lot(page: &mut Page, recalled: &RecalledLot, zone: Zone) {
    let lot = &recalled.lot;
    page.hanging(0, 2, format!("{}: {}", lot.received.code, show::lot_line(lot)));
    page.hanging(2, 2, show::papers_line(lot));
    let others: Vec<String> = recalled
        .certificates
        .iter()
        .filter(|number| lot.received.certificate.value() != Some(number))
        .cloned()
        .collect();
    if !others.is_empty() {
        page.hanging(2, 2, format!("also certificate {}", show::listed(&others, "and")));
    }
    page.hanging(2, 2, before(&recalled.before, zone));
    page.hanging(2, 2, format!("frozen in the crib: {}", recalled.in_crib.shown()));
    if recalled.put_aside != Balance::Pieces(0) && recalled.put_aside != Balance::Milligrams(0) {
        page.hanging(2, 2, format!("put aside before: {}", recalled.put_aside.shown()));
    }
}

/// What the lot was before, in words.
fn before(status: &LotStatus, zone: Zone) -> String {
    match status {
        LotStatus::Unreleased => "was not released yet".into(),
        LotStatus::Released { since } => format!("was released since {}", zone.local(*since)),
        LotStatus::OnHold { since, why } => format!("was on hold since {}: {why}", zone.local(*since)),
        LotStatus::Recalled { since, why } => {
            format!("was recalled already, since {}: {why}", zone.local(*since))
        }
        LotStatus::Rejected { since, why } => format!("was rejected since {}: {why}", zone.local(*since)),
    }
}

/// Since when, and why, of a status that has both.
fn since_and_why(status: &LotStatus) -> (Option<Instant>, Option<&str>) {
    match status {
        LotStatus::Unreleased => (None, None),
        LotStatus::Released { since } => (Some(*since), None),
        LotStatus::OnHold { since, why }
        | LotStatus::Recalled { since, why }
        | LotStatus::Rejected { since, why } => (Some(*since), Some(why)),
    }
}

fn lot_json(recalled: &RecalledLot) -> Value {
    let lot = &recalled.lot;
    let (since, why) = since_and_why(&recalled.before);
    json!({
        "lot": lot.received.code,
        "lot_id": lot.id.to_string(),
        "before": recalled.before.word(),
        "before_since": since.map(|s| s.to_string()),
        "before_why": why,
        "heats": lot.received.heats,
        "certificates": recalled.certificates,
        "in_crib": recalled.in_crib.shown(),
        "in_crib_mg": balance_mg(recalled.in_crib, lot),
        "put_aside": recalled.put_aside.shown(),
        "put_aside_mg": balance_mg(recalled.put_aside, lot),
    })
}

/// Codes of the recalled lots that hang on a weld record.
fn codes_of<'r>(recall: &'r Recall, used: &Use) -> Vec<&'r str> {
    let hangs = |recalled: &&RecalledLot| used.lots.iter().any(|(id, _)| *id == recalled.lot.id);
    recall.lots.iter().filter(hangs).map(|l| l.lot.received.code.as_str()).collect()
}

fn joint_line(hit: &JointHit) -> String {
    let certainties: Vec<&str> = hit.certainties.iter().map(|c| c.as_str()).collect();
    format!(
        "{}  {}, {} ({})",
        hit.joint.declared.number,
        hit.link.word(),
        certainties.join(" and "),
        show::count(hit.records, "weld record", "weld records")
    )
}

fn shares(related: &RelatedLot) -> String {
    let mut parts = Vec::new();
    if !related.heats.is_empty() {
        parts.push(format!("same heat {}", related.heats.join(", ")));
    }
    if !related.certificates.is_empty() {
        parts.push(format!("same certificate {}", related.certificates.join(", ")));
    }
    parts.join("; ")
}

/// A line of the table; what does not apply is empty.
#[derive(Default)]
struct Line {
    what: &'static str,
    lot: String,
    amount: String,
    slip: String,
    joint: String,
    cycle: String,
    pass: String,
    welder: String,
    from: String,
    to: String,
    due_at: String,
    link: &'static str,
    certainty: String,
    of: String,
    entry: String,
}

const COLUMNS: [&str; 15] = [
    "what",
    "lot",
    "amount",
    "slip",
    "joint",
    "cycle",
    "pass",
    "welder",
    "from",
    "to",
    "due_at",
    "link",
    "certainty",
    "of",
    "entry",
];

impl Line {
    /// The cells, in the order of the columns.
    fn cells(self) -> Vec<String> {
        vec![
            self.what.to_owned(),
            self.lot,
            self.amount,
            self.slip,
            self.joint,
            self.cycle,
            self.pass,
            self.welder,
            self.from,
            self.to,
            self.due_at,
            self.link.to_owned(),
            self.certainty,
            self.of,
            self.entry,
        ]
    }
}

/// One line per stock in the crib, per slip that is out, per weld record at a joint.
fn table(recall: &Recall) -> Table {
    let mut table = Table::new(&COLUMNS);
    for recalled in &recall.lots {
        for (what, balance) in [("crib", recalled.in_crib), ("put-aside", recalled.put_aside)] {
            let lot = recalled.lot.received.code.clone();
            table.rows.push(Line { what, lot, amount: balance.shown(), ..Line::default() }.cells());
        }
    }
    for view in &recall.used.out {
        let line = Line {
            what: "slip",
            lot: view.lot.received.code.clone(),
            amount: show::left(view),
            slip: view.slip.number.clone(),
            welder: view.slip.holder.badge.clone(),
            from: view.custody.from.to_string(),
            due_at: view.slip.due.value().map_or(String::new(), |d| d.to.to_string()),
            entry: view.slip.entry.to_string(),
            ..Line::default()
        };
        table.rows.push(line.cells());
    }
    for used in &recall.used.welds {
        let record = &used.weld.record;
        let line = Line {
            what: "weld",
            lot: codes_of(recall, used).join(";"),
            joint: used.joint.declared.number.clone(),
            cycle: show::cycle(&record.cycle),
            pass: record.pass.cell(),
            welder: record.welder.badge.clone(),
            from: used.weld.covers.0.to_string(),
            to: used.weld.covers.1.to_string(),
            link: used.link.word(),
            certainty: used.weld.certainty.to_string(),
            of: used.of.to_string(),
            entry: used.weld.entry.to_string(),
            ..Line::default()
        };
        table.rows.push(line.cells());
    }
    table
}
