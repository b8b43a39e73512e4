//! `reconcile`

use crate::answer::{Answer, Table};
use crate::context::Context;
use crate::failure::Failure;
use crate::mass_page;
use crate::page::Page;
use crate::show;
use clap::Args;
use ledger::ask::reconcile::{Asked, Counted, Reconciliation, Row, Sums};
use record::Zone;
use record::rules::shown_mass;
use serde_json::{Map, Value, json};
use trace::{Balance, Measure, NotChecked, Total, Verdict};

/// Arguments of `reconcile`.
#[derive(Debug, Args)]
#[group(multiple = false)]
pub struct ReconcileArgs {
    /// This slip
    #[arg(long, value_name = "SLIP")]
    pub slip: Option<String>,
    /// The slips of this welder
    #[arg(long, value_name = "BADGE")]
    pub welder: Option<String>,
    /// The slips that are sources of this joint's weld records
    #[arg(long, value_name = "JOINT")]
    pub joint: Option<String>,
    /// The slips of this lot
    #[arg(long, value_name = "LOT")]
    pub lot: Option<String>,
    /// The slips that are sources of the weld records of this job's joints
    #[arg(long, value_name = "JOB")]
    pub job: Option<String>,
    /// The slips that begin in the shop's shift that begins then
    #[arg(long, value_name = "TIME")]
    pub shift: Option<String>,
}

impl ReconcileArgs {
    fn asked(&self) -> Asked {
        // The parser sees to it that at most one of them is there.
        let named = [
            self.slip.clone().map(Asked::Slip),
            self.welder.clone().map(Asked::Welder),
            self.joint.clone().map(Asked::Joint),
            self.lot.clone().map(Asked::Lot),
            self.job.clone().map(Asked::Job),
            self.shift.clone().map(Asked::Shift),
        ];
        named.into_iter().flatten().next().unwrap_or(Asked::All)
    }
}

/// Counts what went out against what came back, then compares masses.
pub fn run(context: &Context, args: &ReconcileArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let asked = args.asked();
    let (answer, zone, not_understood) =
        ledger.ask(|reading| Ok((reading.reconcile(&asked)?, reading.zone(), reading.not_understood()?)))?;
    Ok(Answer {
        text: page(&asked, &answer, zone),
        json: json(&asked, &answer),
        table: Some(table(&answer.count)),
        warnings: show::not_understood_note(&not_understood).into_iter().collect(),
        ..Answer::default()
    })
}

/// What was asked, as `kind` and name; none for the whole book.
fn kind_and_name(asked: &Asked) -> Option<(&'static str, &str)> {
    match asked {
        Asked::Slip(name) => Some(("slip", name)),
        Asked::Welder(name) => Some(("welder", name)),
        Asked::Joint(name) => Some(("joint", name)),
        Asked::Lot(name) => Some(("lot", name)),
        Asked::Job(name) => Some(("job", name)),
        Asked::Shift(name) => Some(("shift", name)),
        Asked::All => None,
    }
}

/// A figure as people read it.
fn shown(measure: Measure, figure: i128) -> String {
    match measure {
        Measure::Pieces => figure.to_string(),
        Measure::Mg => i64::try_from(figure).map_or_else(|_| format!("{figure} mg"), shown_mass),
    }
}

/// Why a count says nothing, in words.
fn why(reason: NotChecked) -> &'static str {
    match reason {
        NotChecked::Open => "still open",
        NotChecked::StubsNotCounted => "no stubs counted",
        NotChecked::Weighed => "weighed, and stubs do not weigh",
        NotChecked::NotComparable => "units that cannot be compared",
    }
}

fn verdict(row: &Row) -> String {
    let measure = row.account.map_or(Measure::Pieces, |a| a.measure);
    match row.verdict {
        Verdict::Balanced => "within".into(),
        Verdict::Short(n) => format!("SHORT {}", shown(measure, n)),
        Verdict::Over(n) => format!("OVER {}", shown(measure, n)),
        Verdict::NotChecked(reason) => format!("not checked: {}", why(reason)),
    }
}

/// The word of a verdict, its figure and its reason, for programs.
fn verdict_parts(verdict: Verdict) -> (&'static str, Option<i128>, Option<NotChecked>) {
    match verdict {
        Verdict::Balanced => ("within", None, None),
        Verdict::Short(n) => ("short", Some(n), None),
        Verdict::Over(n) => ("over", Some(n), None),
        Verdict::NotChecked(reason) => ("not-checked", None, Some(reason)),
    }
}

fn page(asked: &Asked, whole: &Reconciliation, zone: Zone) -> String {
    let answer = &whole.count;
    let mut page = Page::narrow();
    match kind_and_name(asked) {
        Some((kind, name)) => page.line(0, format!("COUNT of {kind} {name}")),
        None => page.line(0, "COUNT: slips that do not come out even"),
    };
    page.rule();
    if answer.all.slips == 0 {
        page.line(
            0,
            match asked {
                Asked::Joint(_) | Asked::Job(_) => "No slip is a source of its weld records.",
                Asked::Slip(_) | Asked::Welder(_) | Asked::Lot(_) | Asked::Shift(_) | Asked::All => {
                    "There is no slip to count."
                }
            },
        );
        perhaps(&mut page, whole);
        return page.finish();
    }
    let (over, short): (Vec<&Row>, Vec<&Row>) = (
        answer.rows.iter().filter(|r| matches!(r.verdict, Verdict::Over(_))).collect(),
        answer.rows.iter().filter(|r| matches!(r.verdict, Verdict::Short(_))).collect(),
    );
    let rest: Vec<&Row> = answer
        .rows
        .iter()
        .filter(|r| matches!(r.verdict, Verdict::Balanced | Verdict::NotChecked(_)))
        .collect();
    let unchecked: usize = answer.not_checked.iter().map(|(_, n)| n).sum();
    page.hanging(
        0,
        2,
        format!(
            "{}: {} short, {} over, {} within, {unchecked} not checked.",
            show::count(answer.all.slips, "slip", "slips"),
            short.len(),
            over.len(),
            answer.all.slips.saturating_sub(short.len() + over.len() + unchecked),
        ),
    );
    for (reason, n) in &answer.not_checked {
        page.hanging(2, 4, format!("{n} not checked: {}", why(*reason)));
    }
    perhaps(&mut page, whole);
    for (heading, rows) in [("Short", &short), ("Over", &over), ("The others", &rest)] {
        if rows.is_empty() {
            continue;
        }
        page.gap().line(0, format!("{heading} ({})", rows.len()));
        for row in rows {
            of_slip(&mut page, row, asked, zone);
        }
    }
    if let Asked::Joint(_) | Asked::Job(_) = asked {
        page.gap().hanging(
            0,
            0,
            "A slip is not divided among joints: what is short or over on it may belong to any joint that it can have fed.",
        );
    }
    if answer.all.slips > 1 {
        page.gap().line(0, "Sums");
        of_sums(&mut page, "all", &answer.all);
        for (kind, groups) in [("lot", &answer.lots), ("welder", &answer.welders)] {
            // The sums of the one lot or welder are those of all.
            for (name, sums) in groups.iter().filter(|_| groups.len() > 1 && *asked != Asked::All) {
                of_sums(&mut page, &format!("{kind} {name}"), sums);
            }
        }
    }
    mass_page::section(&mut page, &whole.mass);
    if let Some(systems) = &whole.systems {
        mass_page::systems(&mut page, systems);
    }
    page.gap().rule();
    page.line(0, format!("Times are local, {}.", zone.name()));
    page.hanging(0, 0, "The count is exact; the mass check is coarse. Its starting values are from memory, to be set by the shop.");
    page.line(0, "rodbook informs; the inspector decides, under the governing code.");
    page.finish()
}

/// Slips of which only the day is known.
fn perhaps(page: &mut Page, answer: &Reconciliation) {
    if !answer.perhaps.is_empty() {
        let slips = show::count(answer.perhaps.len(), "slip", "slips");
        page.hanging(
            2,
            4,
            format!(
                "{slips} not counted, which may be of this shift or of another: {}",
                show::listed(&answer.perhaps, "and")
            ),
        );
    }
}

/// One slip: what it is, the figures, and what the weld records say.
fn of_slip(page: &mut Page, row: &Row, asked: &Asked, zone: Zone) {
    let slip = &row.view.slip;
    page.hanging(
        2,
        4,
        format!("{}  {}, {}: {}", slip.number, row.view.lot.received.code, slip.holder.badge, verdict(row)),
    );
    let until = row.view.custody.to.map_or_else(|| "open".to_owned(), |to| format!("to {}", zone.local(to)));
    page.hanging(4, 4, format!("{} {until}", zone.local(row.view.custody.from)));
    let Some(account) = &row.account else {
        let issued = slip.quantity.value().map_or_else(|| "not stated".to_owned(), ToString::to_string);
        page.hanging(4, 6, format!("issued {issued}; what left it is not in one unit with that"));
        return;
    };
    let balance = &account.balance;
    let of = |figure| shown(account.measure, figure);
    let mut parts = vec![format!("issued {}", of(balance.issued))];
    for (word, figure) in [
        ("handed over", balance.handed_over),
        ("back marked", row.returned_marked),
        ("back otherwise", row.returned_otherwise),
        ("scrapped", balance.scrapped),
    ] {
        if figure != 0 {
            parts.push(format!("{word} {}", of(figure)));
        }
    }
    page.hanging(4, 6, parts.join("; "));
    page.hanging(4, 6, rest_line(balance, &of));
    let recorded = &row.recorded;
    if recorded.records > 0 {
        let mut line = format!(
            "recorded as used {} in {}",
            of(recorded.used),
            show::count(recorded.records, "weld record", "weld records")
        );
        if recorded.not_said > 0 {
            line.push_str(&format!(", {} of which say no such amount", recorded.not_said));
        }
        if recorded.shared > 0 {
            line.push_str(&format!(
                ", {} of which name the lot while another slip of it was in hand too",
                recorded.shared
            ));
        }
        page.hanging(4, 6, line);
    }
    if let Asked::Joint(_) | Asked::Job(_) = asked {
        page.hanging(4, 6, format!("can have fed {}", show::listed(&row.joints, "and")));
    }
}

/// What is to be said of the rest.
fn rest_line(balance: &Balance, of: &dyn Fn(i128) -> String) -> String {
    let mut line = format!("rest {}", of(balance.rest));
    for (word, figure) in [
        ("used by the stubs", balance.used),
        ("UNACCOUNTED", balance.unaccounted),
        ("used or unaccounted", balance.used_or_unaccounted),
        ("still out", balance.still_out),
    ] {
        if figure != 0 {
            line.push_str(&format!(", {} {word}", of(figure)));
        }
    }
    match balance.stubs {
        Some(stubs) => line.push_str(&format!("; {stubs} stubs")),
        None => line.push_str("; no stubs counted"),
    }
    if balance.over_out > 0 {
        line.push_str(&format!("; {} MORE left it than was issued", of(balance.over_out)));
    }
    if balance.over_stubs > 0 {
        line.push_str(&format!("; {} stubs MORE than the rest", balance.over_stubs));
    }
    line
}

fn of_sums(page: &mut Page, name: &str, sums: &Sums) {
    page.hanging(2, 4, format!("{name}: {}", show::count(sums.slips, "slip", "slips")));
    let none = sums
        .slips
        .saturating_sub(sums.pieces.map_or(0, |t| t.slips).saturating_add(sums.mg.map_or(0, |t| t.slips)));
    for total in sums.pieces.iter().chain(&sums.mg) {
        let balance = &total.balance;
        let of = |figure| shown(total.measure, figure);
        let unit = match total.measure {
            Measure::Pieces => "pieces",
            Measure::Mg => "by mass",
        };
        page.hanging(
            4,
            6,
            format!(
                "{unit} ({}): issued {}; handed over {}; back {}; scrapped {}; {}",
                total.slips,
                of(balance.issued),
                of(balance.handed_over),
                of(balance.returned),
                of(balance.scrapped),
                rest_line(balance, &of)
            ),
        );
    }
    if none > 0 {
        page.hanging(4, 6, format!("{none} in no sum: units that cannot be compared"));
    }
}

/// A figure for programs: a number, or text where a number cannot hold it.
fn figure(figure: i128) -> Value {
    i64::try_from(figure).map_or_else(|_| json!(figure.to_string()), |n| json!(n))
}

fn balance_json(balance: &Balance) -> Map<String, Value> {
    let mut fields = Map::new();
    for (name, value) in [
        ("issued", balance.issued),
        ("handed_over", balance.handed_over),
        ("returned", balance.returned),
        ("scrapped", balance.scrapped),
        ("rest", balance.rest),
        ("over_out", balance.over_out),
        ("used", balance.used),
        ("unaccounted", balance.unaccounted),
        ("used_or_unaccounted", balance.used_or_unaccounted),
        ("still_out", balance.still_out),
        ("over_stubs", balance.over_stubs),
    ] {
        fields.insert(name.into(), figure(value));
    }
    fields.insert("stubs".into(), balance.stubs.map_or(Value::Null, figure));
    fields
}

fn row_json(row: &Row) -> Value {
    let (word, n, reason) = verdict_parts(row.verdict);
    let slip = &row.view.slip;
    let mut json = json!({
        "slip": slip.number,
        "lot": row.view.lot.received.code,
        "welder": slip.holder.badge,
        "issued_at": row.view.custody.from.to_string(),
        "closed_at": row.view.custody.to.map(|t| t.to_string()),
        "quantity": show::stated_json(&slip.quantity),
        "measure": row.account.map(|a| a.measure.as_str()),
        "returned_marked": row.account.map(|_| figure(row.returned_marked)),
        "returned_otherwise": row.account.map(|_| figure(row.returned_otherwise)),
        "recorded": {
            "weld_records": row.recorded.records,
            "used": row.account.map(|_| figure(row.recorded.used)),
            "not_said": row.recorded.not_said,
            "shared": row.recorded.shared,
        },
        "verdict": word,
        "by": n.map(figure),
        "why": reason.map(NotChecked::as_str),
        "joints": row.joints,
        "entry": slip.entry.to_string(),
    });
    if let (Value::Object(fields), Some(account)) = (&mut json, &row.account) {
        fields.extend(balance_json(&account.balance));
    }
    json
}

fn total_json(total: &Total) -> Value {
    let mut fields = balance_json(&total.balance);
    for (name, n) in [
        ("slips", total.slips),
        ("within", total.balanced),
        ("short", total.short),
        ("over", total.over),
        ("not_checked", total.not_checked),
        ("left_out", total.left_out),
    ] {
        fields.insert(name.into(), json!(n));
    }
    Value::Object(fields)
}

fn sums_json(sums: &Sums) -> Value {
    json!({
        "slips": sums.slips,
        "pieces": sums.pieces.as_ref().map(total_json),
        "mg": sums.mg.as_ref().map(total_json),
    })
}

fn json(asked: &Asked, whole: &Reconciliation) -> Value {
    let answer = &whole.count;
    let groups = |kind: &str, groups: &[(String, Sums)]| -> Vec<Value> {
        groups
            .iter()
            .map(|(name, sums)| {
                let mut json = sums_json(sums);
                if let Value::Object(fields) = &mut json {
                    fields.insert(kind.into(), json!(name));
                }
                json
            })
            .collect()
    };
    let asked_json = kind_and_name(asked).map_or_else(
        || json!({}),
        |(kind, name)| Value::Object(Map::from_iter([(kind.into(), json!(name))])),
    );
    let not_checked: Map<String, Value> =
        answer.not_checked.iter().map(|(why, n)| (why.as_str().to_owned(), json!(n))).collect();
    json!({
        "schema": "rodbook-reconcile/1",
        "asked": asked_json,
        "slips": answer.rows.iter().map(row_json).collect::<Vec<_>>(),
        "all": sums_json(&answer.all),
        "lots": groups("lot", &answer.lots),
        "welders": groups("welder", &answer.welders),
        "not_checked": not_checked,
        "mass": mass_page::json(&whole.mass, whole.systems.as_ref()),
        "perhaps": whole.perhaps,
        "shared_with_other_joints": matches!(asked, Asked::Joint(_) | Asked::Job(_)),
    })
}

const COLUMNS: [&str; 26] = [
    "slip",
    "lot",
    "welder",
    "issued_at",
    "closed_at",
    "measure",
    "issued",
    "handed_over",
    "returned_marked",
    "returned_otherwise",
    "scrapped",
    "rest",
    "over_out",
    "stubs",
    "used",
    "unaccounted",
    "used_or_unaccounted",
    "still_out",
    "over_stubs",
    "recorded_used",
    "weld_records",
    "verdict",
    "by",
    "why",
    "joints",
    "entry",
];

fn table(answer: &Counted) -> Table {
    let mut table = Table::new(&COLUMNS);
    for row in &answer.rows {
        let (word, n, reason) = verdict_parts(row.verdict);
        let balance = row.account.map(|a| a.balance);
        let of =
            |figure: fn(&Balance) -> i128| balance.as_ref().map_or(String::new(), |b| figure(b).to_string());
        let if_any = |figure: i128| row.account.map_or(String::new(), |_| figure.to_string());
        table.rows.push(vec![
            row.view.slip.number.clone(),
            row.view.lot.received.code.clone(),
            row.view.slip.holder.badge.clone(),
            row.view.custody.from.to_string(),
            row.view.custody.to.map_or(String::new(), |t| t.to_string()),
            row.account.map_or(String::new(), |a| a.measure.to_string()),
            of(|b| b.issued),
            of(|b| b.handed_over),
            if_any(row.returned_marked),
            if_any(row.returned_otherwise),
            of(|b| b.scrapped),
            of(|b| b.rest),
            of(|b| b.over_out),
            balance.and_then(|b| b.stubs).map_or(String::new(), |n| n.to_string()),
            of(|b| b.used),
            of(|b| b.unaccounted),
            of(|b| b.used_or_unaccounted),
            of(|b| b.still_out),
            of(|b| b.over_stubs),
            if_any(row.recorded.used),
            row.recorded.records.to_string(),
            word.to_owned(),
            n.map_or(String::new(), |n| n.to_string()),
            reason.map_or(String::new(), |r| r.as_str().to_owned()),
            row.joints.join(";"),
            row.view.slip.entry.to_string(),
        ]);
    }
    table
}
