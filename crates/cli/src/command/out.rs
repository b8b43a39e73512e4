//! `out`

use crate::answer::{Answer, Table};
use crate::context::Context;
use crate::failure::Failure;
use crate::{command, show};
use clap::Args;
use serde_json::{Value, json};

/// Arguments of `out`.
#[derive(Debug, Args)]
pub struct OutArgs {
    /// Only slips of this welder
    #[arg(long, value_name = "BADGE")]
    pub welder: Option<String>,
}

/// Lists what is out.
pub fn run(context: &Context, args: &OutArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let zone = ledger.zone()?;
    let out = ledger.ask(|reading| {
        let welder = args.welder.as_deref().map(|badge| reading.find_person(badge)).transpose()?;
        let mut out = reading.out()?;
        out.retain(|v| welder.as_ref().is_none_or(|w| w.id == v.slip.holder.person));
        Ok(out)
    })?;
    let mut table =
        Table::new(&["slip", "lot", "classification", "welder", "left", "issued_at", "due_at", "overdue"]);
    let mut short = Table::new(&["slip", "lot", "class", "with", "out", "since", "due"]);
    let mut slips = Vec::new();
    for view in &out {
        let due = view.slip.due.value();
        let overdue = due.is_some_and(|d| d.to < context.now);
        let class = view.lot.received.classification.cell();
        table.rows.push(vec![
            view.slip.number.clone(),
            view.lot.received.code.clone(),
            class.clone(),
            view.slip.holder.badge.clone(),
            show::left(view),
            view.custody.from.to_string(),
            due.map_or(String::new(), |d| d.to.to_string()),
            if overdue { "yes" } else { "no" }.to_owned(),
        ]);
        short.rows.push(vec![
            view.slip.number.clone(),
            view.lot.received.code.clone(),
            class,
            view.slip.holder.badge.clone(),
            show::left(view),
            zone.local(view.custody.from),
            due.map_or("not said".into(), |d| {
                format!("{}{}", zone.local(d.to), if overdue { " OVERDUE" } else { "" })
            }),
        ]);
        let mut json = command::slip::json(view);
        if let Value::Object(fields) = &mut json {
            fields.insert("overdue".into(), json!(overdue));
        }
        slips.push(json);
    }
    let text = if out.is_empty() {
        "Nothing is out.\n".to_owned()
    } else {
        short.text(&["slip", "lot", "class", "with", "out", "since", "due"], context.width())
    };
    Ok(Answer {
        text,
        json: json!({ "schema": "rodbook-out/1", "slips": slips }),
        table: Some(table),
        ..Answer::default()
    })
}
