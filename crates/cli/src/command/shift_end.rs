//! `shift-end`

use crate::answer::{Answer, Table};
use crate::args::{DryRun, Overriding};
use crate::context::Context;
use crate::failure::Failure;
use crate::page::Page;
use crate::{command, receipt, show};
use clap::Args;
use filler::Quantity;
use ledger::Written;
use ledger::tell::shift_end::{Back, ShiftEndRequest, ShiftEnded};
use record::Zone;
use record::event::Condition;
use serde_json::json;

/// What may stand behind the amount.
const CONDITIONS: [Condition; 4] =
    [Condition::Marked, Condition::Unmarked, Condition::Damaged, Condition::Wet];

/// Arguments of `shift-end`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rodbook shift-end W-12 \"S-00042: 6 rods, 18 stubs\" \"S-00043: 2 rods, unmarked\" \"S-00044: 0 rods\"\n\nWithout any slip: says which are open. The return of one slip is as that of rodbook return; marked if no condition\nis said; more = the slip stays open."
)]
pub struct ShiftEndArgs {
    /// Badge of the welder
    pub welder: String,
    /// What came back on a slip: "SLIP: QUANTITY[, N stubs][, marked|unmarked|damaged|wet][, more]"
    #[arg(value_name = "SLIP: BACK")]
    pub back: Vec<String>,
    /// The open slips that are not named stay open
    #[arg(long, requires = "back")]
    pub only: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub overriding: Overriding,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Takes everything back.
pub fn run(context: &Context, args: &ShiftEndArgs) -> Result<Answer, Failure> {
    let back = args.back.iter().map(|text| read(text)).collect::<Result<Vec<_>, _>>()?;
    let mut ledger = context.open_for_writing()?;
    let zone = ledger.zone()?;
    let request =
        ShiftEndRequest { welder: args.welder.clone(), back, only: args.only, at: context.at(zone)? };
    let acting = context.acting(args.dry_run.dry_run, args.overriding.overriding.as_deref());
    let done = ledger.shift_end(&acting, &request)?;
    let ended = &done.value;
    let more = json!({
        "welder": ended.welder,
        "slips": ended.slips.iter().map(command::slip::json).collect::<Vec<_>>(),
        "still_out": ended.still_out.iter().map(command::slip::json).collect::<Vec<_>>(),
    });
    let entries = if done.dry_run { &[] } else { done.entries.as_slice() };
    let text = page(&request, ended, entries, zone);
    let mut answer = if entries.is_empty() && !done.dry_run {
        // The closing line of a receipt names the last entry, and none was written.
        let json = receipt::answer("shift-end", &done, String::new(), more).json;
        Answer { text: text + "Nothing was written.\n", json, ..Answer::default() }
    } else {
        receipt::answer("shift-end", &done, text, more)
    };
    answer.table = Some(table(&request, ended));
    answer.warnings.extend(receipt::set_aside(ended.overridden, &done));
    Ok(answer)
}

/// Reads `S-00042: 6 rods, 18 stubs, unmarked, more`.
fn read(text: &str) -> Result<Back, Failure> {
    let wrong = |why: String| {
        Failure::not_understood(format!("{text:?} was not understood: {why}.")).next(
            "write for each slip: \"S-00042: 6 rods, 18 stubs, marked\"; only slip and amount must be there",
        )
    };
    // The amount has neither of the two, so a slip number may.
    let Some((slip, back)) = text.rsplit_once([':', '=']) else {
        return Err(wrong("no colon stands between the slip and what came back".into()));
    };
    let slip = slip.trim();
    if slip.is_empty() {
        return Err(wrong("the number of the slip is missing".into()));
    }
    let mut parts = back.split(',').map(str::trim);
    let amount = parts.next().unwrap_or_default();
    let quantity = Quantity::parse(amount).map_err(|e| wrong(e.to_string()))?;
    let mut read = Back {
        slip: slip.to_owned(),
        quantity,
        stubs: None,
        condition: Condition::Marked,
        more: false,
        typed: text.trim().to_owned(),
    };
    let mut condition = None;
    for part in parts {
        if let Some(n) = stubs(part) {
            if read.stubs.replace(n).is_some() {
                return Err(wrong("the stubs stand in it twice".into()));
            }
        } else if let Some(word) = CONDITIONS.into_iter().find(|c| c.word().eq_ignore_ascii_case(part)) {
            if condition.replace(word).is_some() {
                return Err(wrong("two conditions stand in it; what differs goes on as two returns".into()));
            }
        } else if part.eq_ignore_ascii_case("more") {
            read.more = true;
        } else {
            return Err(wrong(format!(
                "{part:?} is neither a count of stubs, nor marked, unmarked, damaged or wet, nor more"
            )));
        }
    }
    read.condition = condition.unwrap_or(Condition::Marked);
    Ok(read)
}

/// `18 stubs`
fn stubs(part: &str) -> Option<i64> {
    let mut words = part.split_whitespace();
    let (number, word) = (words.next()?, words.next()?);
    let counted = matches!(word.to_ascii_lowercase().as_str(), "stub" | "stubs") && words.next().is_none();
    number.parse::<u32>().ok().filter(|_| counted).map(i64::from)
}

fn page(request: &ShiftEndRequest, ended: &ShiftEnded, entries: &[Written], zone: Zone) -> String {
    let mut page = Page::narrow();
    page.line(0, format!("SHIFT END {}", ended.welder)).rule();
    for (i, (view, back)) in ended.slips.iter().zip(&request.back).enumerate() {
        let received = &view.lot.received;
        let class = show::said(&received.classification, "class not known");
        page.hanging(0, 2, format!("{}  {}  {class}", view.slip.number, received.code));
        let stubs = match back.stubs {
            None => String::new(),
            Some(1) => ", 1 stub".into(),
            Some(n) => format!(", {n} stubs"),
        };
        page.hanging(2, 4, format!("back: {}, {}{stubs}", back.quantity, back.condition.word()));
        match view.custody.to {
            Some(to) => page.line(2, format!("CLOSED {}", zone.local(to))),
            None => page.line(2, format!("OPEN, out: {}", show::left(view))),
        };
        // One entry for each slip, in the order typed; a dry run has none.
        if let Some(written) = entries.get(i) {
            page.line(2, receipt::short(&written.id));
        }
    }
    if !ended.slips.is_empty() {
        page.gap();
    }
    if ended.still_out.is_empty() {
        page.line(0, format!("Nothing is out with {}.", ended.welder));
    } else {
        page.line(0, format!("Still out with {}", ended.welder));
        for view in &ended.still_out {
            page.hanging(
                2,
                4,
                format!("{}  {}  {}", view.slip.number, view.lot.received.code, show::left(view)),
            );
        }
    }
    let has = |condition| request.back.iter().any(|b| b.condition == condition && !b.quantity.is_zero());
    if has(Condition::Unmarked) {
        page.line(0, "Unmarked: not stock any more. Keep it apart; what it is only proof can say.");
    }
    if has(Condition::Damaged) || has(Condition::Wet) {
        page.line(0, "Damaged or wet: not stock any more. Keep it apart until it is scrapped.");
    }
    page.rule();
    page.finish()
}

fn table(request: &ShiftEndRequest, ended: &ShiftEnded) -> Table {
    let mut table = Table::new(&["slip", "lot", "back", "stubs", "condition", "closed_at", "left"]);
    for (view, back) in ended.slips.iter().zip(&request.back) {
        table.rows.push(vec![
            view.slip.number.clone(),
            view.lot.received.code.clone(),
            back.quantity.to_string(),
            back.stubs.map_or(String::new(), |n| n.to_string()),
            back.condition.word().to_owned(),
            view.custody.to.map_or(String::new(), |t| t.to_string()),
            show::left(view),
        ]);
    }
    for view in &ended.still_out {
        if ended.slips.iter().any(|other| other.slip.id == view.slip.id) {
            continue;
        }
        table.rows.push(vec![
            view.slip.number.clone(),
            view.lot.received.code.clone(),
            String::new(),
            String::new(),
            String::new(),
            String::new(),
            show::left(view),
        ]);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_came_back() {
        let back = read(" S-00042: 6 rods, 18 stubs ").unwrap();
        assert_eq!(
            (back.slip.as_str(), back.stubs, back.condition, back.more),
            ("S-00042", Some(18), Condition::Marked, false)
        );
        assert_eq!(back.quantity, Quantity::parse("6 rods").unwrap());
        let back = read("A:7=2.5 kg,More, Unmarked ,1 stub").unwrap();
        assert_eq!(
            (back.slip.as_str(), back.stubs, back.condition, back.more),
            ("A:7", Some(1), Condition::Unmarked, true)
        );
        for wrong in [
            "",
            "S-1",
            "S-1:",
            ": 6 rods",
            "S-1: six rods",
            "S-1: 6",
            "S-1: 6 rods, -1 stubs",
            "S-1: 6 rods, rusty",
            "S-1: 6 rods, 1 stub, 2 stubs",
            "S-1: 6 rods, wet, damaged",
            "S-1: 6 rods,",
            "S-1: 18 stubs",
            "S-1: -6 rods",
            "S-1: 6 rods, 3 stubs more",
        ] {
            let failure = read(wrong).unwrap_err();
            assert_eq!((failure.exit, failure.next.len()), (2, 1), "{wrong}");
        }
    }
}
