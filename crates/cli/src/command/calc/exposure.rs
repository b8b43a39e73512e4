//! `calc exposure`

use super::{finish, number, page};
use crate::answer::Answer;
use crate::failure::Failure;
use clap::Args;
use filler::exposure::{exposure_for, moisture_suffix_without_a_row};
use serde_json::json;

/// What is said where no row covers the designation.
const NO_LIMIT: &str = "no limit known";

/// The confidence of a figure that was not seen in a source.
const MEMORY: &str = "memory";

/// Arguments of `calc exposure`.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rodbook calc exposure --spec A5.1 --class E7018\n  rodbook calc exposure --spec A5.1 --class \"E7018-1 H4R\"\n\nA suffix that is not printed is not there: E7018 is not E7018-H4R."
)]
pub struct ExposureArgs {
    /// Specification, say A5.1
    #[arg(long, value_name = "SPEC")]
    pub spec: String,
    /// Classification as printed, with its suffixes
    #[arg(long = "class", value_name = "CLASS")]
    pub classification: String,
}

/// Looks it up.
pub(super) fn run(args: &ExposureArgs) -> Result<Answer, Failure> {
    let (spec, class) = (args.spec.trim(), args.classification.trim());
    let mut page = page("OUT OF THE OVEN", &format!("{spec} {class}"));
    let Some(row) = exposure_for(spec, class) else {
        page.line(0, format!("{NO_LIMIT}."));
        page.hanging(
            2,
            4,
            "That is no permission: the maker's advice, the procedure and the governing code say what holds.",
        );
        return Ok(Answer {
            text: finish(page),
            json: json!({
                "schema": "rodbook-calc-exposure/1",
                "spec": spec,
                "class": class,
                "hours": null,
                "table": null,
                "limit": NO_LIMIT,
                "caution": super::CAUTION,
            }),
            ..Answer::default()
        });
    };
    let table = format!("{} {}", row.document, row.clause);
    let mut notes = Vec::new();
    if row.confidence == MEMORY {
        notes.push("limit from an unverified table: the figure is from memory".to_owned());
    }
    if moisture_suffix_without_a_row(class, row) {
        notes.push(format!(
            "no row of {} has an R here; the shorter limit of the plain class is taken",
            row.spec
        ));
    }
    if !row.hours_after_test.is_empty() {
        notes.push(format!(
            "after a test of this class and maker the code can allow {} h, on its conditions (5.3.2.3); that is a permission on \
             paper, not a constant",
            row.hours_after_test
        ));
    }
    page.line(0, format!("{} h", row.hours));
    page.hanging(2, 4, &table);
    if row.confidence != MEMORY {
        page.hanging(2, 4, format!("seen: {} ({})", row.source, row.confidence));
    }
    for note in &notes {
        page.hanging(2, 4, note);
    }
    page.hanging(
        0,
        2,
        "The clock starts when the sealed container is opened or the electrode leaves an oven. Back in an oven of 120 C \
         (250 F) or more in time, and there for at least 4 h, it may be issued again (5.3.2.2). Wet: never.",
    );
    page.hanging(0, 2, "Other codes, the maker and the procedure can be stricter.");
    Ok(Answer {
        text: finish(page),
        json: json!({
            "schema": "rodbook-calc-exposure/1",
            "spec": spec,
            "class": class,
            "hours": number(Some(row.hours.clone())),
            "table": table,
            "limit": format!("{} h", row.hours),
            "source": row.source,
            "confidence": row.confidence,
            "notes": notes,
            "caution": super::CAUTION,
        }),
        ..Answer::default()
    })
}
