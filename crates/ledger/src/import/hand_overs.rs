//! `hand_overs.csv`: welder to welder. Lot and giver of the new slip are those of the old one, which may itself come
//! from a row further down; such a row waits until its old slip is there, so that an entry never names a later one.

use super::Import;
use super::cells::Cells;
use super::columns::{Column, hand_overs as column};
use super::issues::{GIVEN_TWICE, OTHERWISE_IN_BOOK, slip_in_book, slip_says};
use super::names::{Meaning, SlipKnown};
use super::table::{Row, Table};
use crate::error::{BadRow, Result};
use record::event::{Event, Imported, PersonRef, RodHandedOver, SlipRef};
use record::id::{PersonId, SlipId};
use record::{Stated, When};
use std::collections::HashMap;

/// A row as read; what its old slip says of lot and giver is still to come.
struct HandOver {
    row: u64,
    imported: Option<Imported>,
    parent: String,
    number: String,
    new: SlipId,
    in_book: Option<SlipKnown>,
    to: (String, PersonId),
    at: When,
    by: Stated<PersonRef>,
    closes: bool,
    quantity: Stated<filler::Quantity>,
}

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    // Rows by the old slip they wait for.
    let mut waiting: HashMap<String, Vec<HandOver>> = HashMap::new();
    import.slips.reserve(table.rows);
    table.for_each(
        import,
        |i| &mut i.bad,
        |import, row| {
            step();
            let Some(hand_over) = read(import, row)? else {
                return Ok(());
            };
            match parent(import, &hand_over)? {
                Parent::Known(slip) => settle(import, hand_over, slip, &mut waiting),
                Parent::NotYet => {
                    waiting.entry(hand_over.parent.clone()).or_default().push(hand_over);
                    Ok(())
                }
            }
        },
    )?;
    refuse_waiting(import, waiting)
}

fn read(import: &mut Import<'_, '_>, row: &Row<'_, '_>) -> Result<Option<HandOver>> {
    let book = import.book;
    let mut cells = Cells::new(row, &mut import.bad, import.zone);
    let parent = cells.needed_label(column::SLIP, "the number of the slip it comes from");
    let number = cells.needed_label(column::NEW_SLIP, "the number of the new slip");
    let to = import.people.needed(book, &mut cells, column::TO_WELDER, "the badge of who took it")?;
    let quantity = cells.quantity(column::QUANTITY);
    let closes = cells.yes_or_no(column::CLOSES, Some(false));
    let at = cells.needed_time(column::AT, &[]);
    let by = import.people.stated(book, &mut cells, column::BY)?;
    let Some(number) = number else {
        return Ok(None);
    };
    if import.slips.in_files(&number).is_some() {
        cells.refuse(column::NEW_SLIP, GIVEN_TWICE);
        return Ok(None);
    }
    if parent.as_ref() == Some(&number) {
        cells.refuse(column::NEW_SLIP, "the new slip has the number of the slip it comes from");
        return Ok(None);
    }
    let in_book = slip_in_book(import.slips.in_book(book, &number)?, &mut cells, column::NEW_SLIP);
    let new = SlipId(import.ids.next()?);
    let (sound, imported) = (cells.are_sound(), cells.imported());
    // Its lot and holder are set when the row is settled.
    import.slips.add(&number, in_book.unwrap_or(SlipKnown { id: new, of: None, in_book: false }));
    let (Some(parent), Some(to), Some(closes), Some(at), true) = (parent, to, closes, at, sound) else {
        return Ok(None);
    };
    Ok(Some(HandOver {
        row: row.number(),
        imported,
        parent: parent.into_owned(),
        number: number.into_owned(),
        new,
        in_book,
        to,
        at,
        by: by.map(|(badge, person)| PersonRef { badge, person }),
        closes,
        quantity,
    }))
}

enum Parent {
    Known(SlipKnown),
    NotYet,
}

fn parent(import: &mut Import<'_, '_>, hand_over: &HandOver) -> Result<Parent> {
    Ok(match import.slips.meaning(import.book, &hand_over.parent)? {
        Meaning::One(slip) if slip.of.is_some() => Parent::Known(slip),
        Meaning::One(_) | Meaning::Nothing | Meaning::Several => Parent::NotYet,
    })
}

/// Makes the entry of a row whose old slip is there, and of the rows that waited for its new slip.
fn settle(
    import: &mut Import<'_, '_>,
    hand_over: HandOver,
    parent: SlipKnown,
    waiting: &mut HashMap<String, Vec<HandOver>>,
) -> Result<()> {
    let mut ready = vec![(hand_over, parent)];
    while let Some((hand_over, parent)) = ready.pop() {
        let Some((lot, giver)) = parent.of else {
            continue;
        };
        let HandOver { imported, number, new, in_book, to: (badge, person), .. } = hand_over;
        let event = Event::RodHandedOver(RodHandedOver {
            at: hand_over.at,
            by: hand_over.by,
            closes: hand_over.closes,
            from: giver,
            imported,
            lot,
            new_slip: SlipRef { number: number.clone(), slip: new },
            overridden: None,
            quantity: hand_over.quantity,
            slip: SlipRef { number: hand_over.parent, slip: parent.id },
            to: PersonRef { badge, person },
        });
        let slip = match in_book {
            None => {
                let slip = SlipKnown { id: new, of: Some((lot, person)), in_book: false };
                import.slips.add(&number, slip);
                import.append(event)?;
                slip
            }
            Some(slip) => {
                if slip_says(import.book, import, slip, &event)? {
                    import.already_there += 1;
                } else {
                    refuse(import, hand_over.row, column::NEW_SLIP, &number, OTHERWISE_IN_BOOK.into());
                }
                slip
            }
        };
        let children = waiting.remove(&number).unwrap_or_default();
        // The last is taken first.
        ready.extend(children.into_iter().rev().map(|child| (child, slip)));
    }
    Ok(())
}

/// Reports the rows whose old slip never came.
fn refuse_waiting(import: &mut Import<'_, '_>, waiting: HashMap<String, Vec<HandOver>>) -> Result<()> {
    let mut waiting: Vec<HandOver> = waiting.into_values().flatten().collect();
    waiting.sort_unstable_by_key(|h| h.row);
    let (circle, first) = never_came(&waiting);
    for hand_over in circle {
        let why = "the slips of these rows come from each other in a circle".to_owned();
        refuse(import, hand_over.row, column::SLIP, &hand_over.parent, why);
    }
    for hand_over in first {
        let why = match import.slips.meaning(import.book, &hand_over.parent)? {
            // The row that gives it cannot be taken, and is reported itself.
            Meaning::One(_) => None,
            Meaning::Nothing => {
                let listed = import.bad.is_listed(column::LAYOUT.place());
                import.slips.unknown(import.book, listed, &hand_over.parent)?
            }
            Meaning::Several => Some("in the book several slips have this number".to_owned()),
        };
        if let Some(why) = why {
            refuse(import, hand_over.row, column::SLIP, &hand_over.parent, why);
        }
    }
    Ok(())
}

/// Of rows that wait for their old slips: those that wait for each other in a circle, and those whose old slip is not
/// the new slip of another. The rest waits for one of these.
fn never_came(waiting: &[HandOver]) -> (Vec<&HandOver>, Vec<&HandOver>) {
    let gives: HashMap<&str, usize> =
        waiting.iter().enumerate().map(|(i, h)| (h.number.as_str(), i)).collect();
    let (mut circle, mut first) = (Vec::new(), Vec::new());
    // Which walk has been at a row; every row is walked over once.
    let mut walked = vec![0_usize; waiting.len()];
    for start in 0..waiting.len() {
        let walk = start + 1;
        let (mut at, mut path) = (start, Vec::new());
        while let (Some(hand_over), Some(by @ 0)) = (waiting.get(at), walked.get_mut(at)) {
            *by = walk;
            path.push(at);
            match gives.get(hand_over.parent.as_str()) {
                None => {
                    first.push(hand_over);
                    break;
                }
                Some(next) => at = *next,
            }
        }
        if let Some(from) = path.iter().position(|i| *i == at).filter(|_| !ends(&gives, waiting, at)) {
            circle.extend(path.into_iter().skip(from).filter_map(|i| waiting.get(i)));
        }
    }
    circle.sort_unstable_by_key(|h| h.row);
    (circle, first)
}

/// Whether a row's old slip is given by no other row.
fn ends(gives: &HashMap<&str, usize>, waiting: &[HandOver], at: usize) -> bool {
    waiting.get(at).is_none_or(|h| !gives.contains_key(h.parent.as_str()))
}

fn refuse(import: &mut Import<'_, '_>, row: u64, column: Column, value: &str, why: String) {
    let bad = BadRow {
        file: column::LAYOUT.file.into(),
        row,
        column: column.name.into(),
        value: value.to_owned(),
        why,
    };
    import.bad.add(column::LAYOUT.place(), column.at, bad);
}
