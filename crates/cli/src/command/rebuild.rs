//! `rebuild`

use crate::answer::Answer;
use crate::context::Context;
use crate::failure::Failure;
use clap::Args;
use serde_json::json;

/// Arguments of `rebuild`.
#[derive(Debug, Args)]
pub struct RebuildArgs {}

/// Makes the derived tables anew.
pub fn run(context: &Context, _args: &RebuildArgs) -> Result<Answer, Failure> {
    let mut ledger = context.open_for_writing()?;
    let bar = context.progress("rebuilding");
    let entries = ledger.rebuild(&mut |done, of| {
        bar.set_length(of);
        bar.set_position(done);
    });
    bar.finish_and_clear();
    let entries = entries?;
    Ok(Answer {
        text: format!("The derived tables are made anew from {entries} entries.\n"),
        json: json!({ "schema": "rodbook-rebuild/1", "entries": entries }),
        ..Answer::default()
    })
}
