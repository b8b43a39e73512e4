//! `findings`

use crate::answer::Answer;
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{finding_page, show};
use clap::{Args, ValueEnum};
use ledger::ask::finding::Finding;
use ledger::ask::findings;
use record::finding::{Code, Severity};
use serde_json::{Value, json};

/// A severity as typed.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SeverityWord {
    /// Nobody goes on until a person has decided
    Stop,
    /// Somebody must do something
    Act,
    /// Gaps to know about
    Note,
}

impl SeverityWord {
    fn severity(self) -> Severity {
        match self {
            SeverityWord::Stop => Severity::Stop,
            SeverityWord::Act => Severity::Act,
            SeverityWord::Note => Severity::Note,
        }
    }
}

/// Arguments of `findings`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook findings\n  rodbook findings --severity stop\n  rodbook findings --at-risk 3f2a9c11d0e4"
)]
pub struct FindingsArgs {
    /// Those that were closed too
    #[arg(long)]
    pub all: bool,
    /// Only of this severity
    #[arg(long, value_enum)]
    pub severity: Option<SeverityWord>,
    /// Only of this kind, say no-source; all of them are listed
    #[arg(long, value_name = "CODE")]
    pub code: Option<String>,
    /// Only those at this joint
    #[arg(long)]
    pub joint: Option<String>,
    /// Only those of this lot
    #[arg(long)]
    pub lot: Option<String>,
    /// Only those of this welder
    #[arg(long)]
    pub welder: Option<String>,
    /// Which welds the unmarked wire of this finding puts at risk
    #[arg(long, value_name = "FINDING", conflicts_with_all = ["all", "severity", "code", "joint", "lot", "welder"])]
    pub at_risk: Option<String>,
}

/// Lists findings.
pub fn run(context: &Context, args: &FindingsArgs) -> Result<Answer, Failure> {
    let code = args.code.as_deref().map(code).transpose()?;
    let ledger = context.open()?;
    let zone = ledger.zone()?;
    let (all, note) =
        ledger.ask(|reading| Ok((reading.findings(context.now)?, reading.not_understood()?)))?;
    let mut answer = if let Some(id) = &args.at_risk {
        let finding = findings::named(&all, id)?;
        let risk = ledger.ask(|reading| reading.at_risk(&finding))?;
        at_risk(&finding, risk.as_ref(), zone)?
    } else {
        // What people name is looked up, so that a slip of the pen is not an empty list.
        let (joint, lot, welder) = ledger.ask(|reading| {
            Ok((
                args.joint.as_deref().map(|j| reading.find_joint(j)).transpose()?,
                args.lot.as_deref().map(|l| reading.find_lot(l)).transpose()?,
                args.welder.as_deref().map(|w| reading.find_person(w)).transpose()?,
            ))
        })?;
        let wanted = |f: &&Finding| {
            (args.all || f.is_open())
                && code.is_none_or(|c| f.code == c)
                && args.severity.is_none_or(|s| f.severity == s.severity())
                && joint.as_ref().is_none_or(|j| f.joints.contains(&j.id))
                && lot.as_ref().is_none_or(|l| f.lot.as_ref() == Some(&l.received.code))
                && welder.as_ref().is_none_or(|w| f.welder.as_ref() == Some(&w.badge))
        };
        let shown: Vec<&Finding> = all.iter().filter(wanted).collect();
        listed(&all, &shown, zone, code.is_some())
    };
    answer.warnings.extend(show::not_understood_note(&note));
    Ok(answer)
}

fn listed(all: &[Finding], shown: &[&Finding], zone: record::Zone, in_full: bool) -> Answer {
    let mut page = Page::narrow();
    let closed = all.iter().filter(|f| !f.is_open()).count();
    let open: Vec<&Finding> = all.iter().filter(|f| f.is_open()).collect();
    if open.is_empty() {
        page.line(0, "No open findings.");
    } else {
        page.line(0, format!("FINDINGS  {} open: {}", open.len(), finding_page::counts(&open)));
    }
    if closed > 0 {
        page.line(0, format!("{} closed; --all lists them too", show::count(closed, "is", "are")));
    }
    if shown.len() != open.len() || shown.iter().any(|f| !f.is_open()) {
        page.line(0, format!("shown here: {}", shown.len()));
    }
    finding_page::list(&mut page, shown, zone, in_full);
    page.gap().rule();
    page.hanging(0, 0, "An inspector closes a finding with rodbook dispose ID --as … --why …");
    page.line(0, "rodbook informs; the inspector decides, under the governing code.");
    let json: Vec<Value> = shown.iter().map(|f| finding_page::json_of(f)).collect();
    Answer {
        text: page.finish(),
        json: json!({ "schema": "rodbook-findings/1", "findings": json }),
        table: Some(finding_page::table(shown)),
        ..Answer::default()
    }
}

fn at_risk(
    finding: &Finding,
    risk: Option<&ledger::ask::at_risk::AtRisk>,
    zone: record::Zone,
) -> Result<Answer, Failure> {
    let Some(risk) = risk else {
        return Err(Failure::not_understood(format!(
            "finding {} is not about unmarked wire, but {}.",
            finding_page::short(finding),
            finding.code.word()
        ))
        .next("rodbook findings --code unmarked-wire lists those that are"));
    };
    let mut page = Page::narrow();
    page.line(0, format!("UNMARKED WIRE {}", finding_page::short(finding)));
    page.hanging(0, 2, &finding.why);
    finding_page::at_risk(&mut page, risk, zone);
    let mut json = finding_page::at_risk_json(risk);
    if let Value::Object(fields) = &mut json {
        fields.insert("schema".into(), json!("rodbook-at-risk/1"));
        fields.insert("finding".into(), finding_page::json_of(finding));
    }
    Ok(Answer { text: page.finish(), json, ..Answer::default() })
}

/// A code as typed.
fn code(typed: &str) -> Result<Code, Failure> {
    Code::of_word(typed).ok_or_else(|| {
        let words: Vec<&str> = Code::ALL.iter().map(|c| c.word()).collect();
        Failure::not_understood(format!("there is no kind of finding called {typed:?}."))
            .next(format!("kinds: {}", words.join(", ")))
    })
}
