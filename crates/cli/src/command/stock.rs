//! `stock`

use crate::answer::{Answer, Table};
use crate::context::Context;
use crate::failure::Failure;
use crate::show;
use clap::Args;
use ledger::ask::lot::balance_mg;
use record::rules::Balance;
use serde_json::json;

/// Arguments of `stock`.
#[derive(Debug, Args)]
pub struct StockArgs {
    /// Only lots whose classification fits, say 7018 or ER70S-2
    #[arg(long = "class", value_name = "CLASS")]
    pub classification: Option<String>,
}

/// Lists what is in the crib.
pub fn run(context: &Context, args: &StockArgs) -> Result<Answer, Failure> {
    let ledger = context.open()?;
    let stock = ledger.ask(|reading| reading.stock())?;
    let stock: Vec<_> = stock
        .into_iter()
        .filter(|l| match &args.classification {
            None => true,
            Some(class) => l.lot.received.classification.value().is_some_and(|c| filler::fits(class, c)),
        })
        .collect();
    let mut table = Table::new(&[
        "lot",
        "spec",
        "classification",
        "size",
        "form",
        "maker",
        "maker_lot",
        "status",
        "in_crib",
        "in_crib_mg",
        "certificate",
    ]);
    let mut short = Table::new(&["lot", "class", "size", "status", "in_crib", "certificate"]);
    let mut lots = Vec::new();
    for l in &stock {
        let r = &l.lot.received;
        let mg = balance_mg(l.in_crib, &l.lot);
        let in_crib = match l.in_crib {
            Balance::NotKnown => "not known".to_owned(),
            Balance::Pieces(_) | Balance::Milligrams(_) => l.in_crib.shown(),
        };
        table.rows.push(vec![
            r.code.clone(),
            r.spec.cell(),
            r.classification.cell(),
            r.size.cell(),
            r.form.cell(),
            r.maker.cell(),
            r.maker_lot.cell(),
            l.status.word().to_owned(),
            in_crib.clone(),
            mg.map_or(String::new(), |m| m.to_string()),
            r.certificate.cell(),
        ]);
        short.rows.push(vec![
            r.code.clone(),
            r.classification.cell(),
            r.size.cell(),
            l.status.word().to_owned(),
            in_crib.clone(),
            show::said(&r.certificate, "none"),
        ]);
        lots.push(json!({
            "lot": r.code,
            "spec": show::stated_json(&r.spec),
            "classification": show::stated_json(&r.classification),
            "size": show::stated_json(&r.size),
            "form": show::stated_json(&r.form),
            "maker": show::stated_json(&r.maker),
            "maker_lot": show::stated_json(&r.maker_lot),
            "heats": r.heats,
            "certificate": show::stated_json(&r.certificate),
            "certificate_type": show::stated_json(&r.certificate_type),
            "status": l.status.word(),
            "in_crib": in_crib,
            "in_crib_mg": mg,
        }));
    }
    let text = if stock.is_empty() {
        match &args.classification {
            Some(class) => format!("No lot of class {class} is booked in.\n"),
            None => "No lot is booked in.\n".to_owned(),
        }
    } else {
        short.text(&["lot", "class", "size", "status", "in the crib", "certificate"], context.width())
    };
    Ok(Answer {
        text,
        json: json!({ "schema": "rodbook-stock/1", "lots": lots }),
        table: Some(table),
        ..Answer::default()
    })
}
