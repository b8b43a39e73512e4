//! One stage of work at a bench: some passes of one joint by one welder with one lot, from drawing to return.

use anyhow::Result;

use super::book::{Book, Key, Named, Return, Slip, SlipKey, SpotCheck, Weld};
use super::catalogue::Welder;
use super::lots::{Lot, lot};
use super::quantity::Quantity;
use super::random::Random;
use super::time::{DAY, JUNE, MAY, Minute, Stamp, at};

/// Spot checks wanted in the quarter.
const MOST_CHECKS: usize = 400;
/// Weld records with a date only, those of the stories aside.
const MOST_DATED: usize = 40;

/// One pass and what it takes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pass {
    pub(super) cycle: &'static str,
    pub(super) name: &'static str,
    /// Rods; of spools hundredths of a kilogram.
    pub(super) amount: u32,
}

/// A stage as planned.
#[derive(Debug, Clone)]
pub(super) struct Stage {
    pub(super) joint: String,
    pub(super) process: &'static str,
    pub(super) lot: &'static Lot,
    pub(super) passes: Vec<Pass>,
}

/// What was left of the last slip of a stage, and the return that took it back.
#[derive(Debug, Clone, Copy)]
pub(super) struct Left {
    pub(super) slip: SlipKey,
    pub(super) returned: Key,
    pub(super) rods: u32,
}

/// When and by whom.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bench {
    pub(super) welder: &'static Welder,
    pub(super) from: Minute,
    pub(super) to: Minute,
    pub(super) shift_end: Minute,
}

/// A slip with rods in hand.
struct InHand {
    slip: SlipKey,
    left: u32,
    used: u32,
}

/// A slip as most are written: local time, joint and due time mostly given.
pub(super) fn written(bench: &Bench, lot: &'static Lot, quantity: Quantity, at: Minute) -> Slip {
    Slip {
        number: String::new(),
        lot,
        welder: bench.welder.badge,
        quantity,
        at: Stamp::Local(at),
        by: bench.welder.attendant,
        joints: String::new(),
        quiver: if lot.is_covered() { bench.welder.quiver } else { "" },
        due: Some(Stamp::Local(bench.shift_end)),
        handed_from: None,
        closed_at: None,
    }
}

/// Rods in one draw, and how the slip states it. Cellulosic rods are handed out by the pound.
fn draw(random: &mut Random, lot: &Lot) -> (u32, Quantity) {
    if lot.is_cellulosic() {
        // Sixteen whole rods of 26.8 g in a pound.
        return (16, Quantity::HundredthsLb(100));
    }
    let rods = if lot.is_covered() {
        random.pick(&[(7, 12), (3, 15), (1, 20)], 12)
    } else {
        random.pick(&[(6, 10), (2, 12), (2, 8)], 10)
    };
    (rods, Quantity::Rods(rods))
}

fn back(lot: &Lot, rods: u32) -> Quantity {
    if lot.is_cellulosic() {
        Quantity::pounds_within(u64::from(rods) * lot.piece_mg())
    } else {
        Quantity::Rods(rods)
    }
}

fn condition(random: &mut Random, lot: &Lot, rods: u32) -> &'static str {
    if rods == 0 {
        return "n/a";
    }
    let found = random.pick(&[(95, "marked"), (3, "damaged"), (2, "wet")], "marked");
    if found == "wet" && !lot.is_covered() { "marked" } else { found }
}

/// Takes a slip back for good.
fn take_back(book: &mut Book, random: &mut Random, bench: &Bench, hand: &InHand, at: Minute) -> Result<Key> {
    let lot = book.slip(hand.slip)?.lot;
    let counted = !lot.is_cellulosic() && random.chance(75);
    let condition = condition(random, lot, hand.left);
    book.take_back(Return {
        slip: hand.slip,
        quantity: back(lot, hand.left),
        stubs: counted.then_some(hand.used),
        condition,
        closes: if random.chance(15) { "yes" } else { "" },
        at: local(random, at),
        by: bench.welder.attendant,
        withdrawn: false,
    })
}

/// Mostly local, sometimes with the offset.
fn local(random: &mut Random, minute: Minute) -> Stamp {
    if random.rarely(25) { Stamp::with_offset(minute) } else { Stamp::Local(minute) }
}

/// Welds a stage with rods: draws what is needed as it is needed, welds, gives back.
pub(super) fn with_rods(
    book: &mut Book,
    random: &mut Random,
    stage: &Stage,
    bench: &Bench,
    carried: Option<(SlipKey, u32)>,
) -> Result<Option<Left>> {
    let mut hands: Vec<InHand> =
        carried.map(|(slip, left)| InHand { slip, left, used: 0 }).into_iter().collect();
    let passes = u32::try_from(stage.passes.len())?.max(1);
    let step = (bench.to - bench.from) / passes;
    // A rod for the next joint, drawn early and put beside the other: the classic way to lose a lot.
    let beside = beside(book, random, stage, bench)?;
    for (n, pass) in (0_u32..).zip(&stage.passes) {
        let start = bench.from + n * step;
        close_the_empty(book, random, bench, &mut hands, start)?;
        let mut minute = start + random.between(2, 4);
        while hands.iter().map(|h| h.left).sum::<u32>() < pass.amount {
            let (rods, quantity) = draw(random, stage.lot);
            let mut slip = written(bench, stage.lot, quantity, minute);
            slip.at = local(random, minute);
            if random.chance(70) {
                slip.joints = stage.joint.clone();
            }
            if random.rarely(20) {
                slip.due = Some(Stamp::Local(minute + 15));
            } else if random.chance(20) {
                slip.due = None;
            }
            hands.push(InHand { slip: book.issue(slip), left: rods, used: 0 });
            minute += 1;
        }
        let from = start + random.between(7, 11);
        let to = start + step - random.between(3, 6);
        weld(book, random, stage, bench, *pass, (from, to), &mut hands)?;
    }
    if let Some(slip) = beside {
        let hand = InHand { slip, left: 5, used: 0 };
        take_back(book, random, bench, &hand, bench.to)?;
    }
    let mut left = None;
    for hand in &hands {
        let at = bench.to + random.below(4);
        let returned = take_back(book, random, bench, hand, at)?;
        left = (hand.left > 0).then_some(Left { slip: hand.slip, returned, rods: hand.left });
    }
    Ok(left)
}

/// The two look-alike lots of bare carbon-steel rod that the crib hands out at a time.
pub(super) fn carbon_rods(now: Minute) -> (&'static str, &'static str) {
    if now < at(MAY + 1, 0, 0) {
        ("R-1028", "R-1082")
    } else if now < at(JUNE + 1, 0, 0) {
        ("R-1101", "R-1102")
    } else {
        ("R-1121", "R-1123")
    }
}

/// Five rods of a look-alike lot, drawn for later and not used.
fn beside(book: &mut Book, random: &mut Random, stage: &Stage, bench: &Bench) -> Result<Option<SlipKey>> {
    if stage.process != "GTAW" || stage.lot.spec != "A5.18" || !random.chance(24) {
        return Ok(None);
    }
    let (first, second) = carbon_rods(bench.from);
    let other = lot(if stage.lot.code == first { second } else { first })?;
    Ok(Some(book.issue(written(bench, other, Quantity::Rods(5), bench.from + 1))))
}

/// Gives back slips of which nothing is left, most of the time at the next draw.
fn close_the_empty(
    book: &mut Book,
    random: &mut Random,
    bench: &Bench,
    hands: &mut Vec<InHand>,
    at: Minute,
) -> Result<()> {
    let mut kept = Vec::new();
    for hand in hands.drain(..) {
        if hand.left == 0 && random.chance(60) {
            take_back(book, random, bench, &hand, at)?;
        } else {
            kept.push(hand);
        }
    }
    *hands = kept;
    // Some rods of an open slip come back early.
    for hand in hands.iter_mut().filter(|hand| hand.left > 6) {
        if random.rarely(60) {
            hand.left -= 2;
            let lot = book.slip(hand.slip)?.lot;
            book.take_back(Return {
                slip: hand.slip,
                quantity: back(lot, 2),
                stubs: None,
                condition: "marked",
                closes: "no",
                at: Stamp::Local(at),
                by: bench.welder.attendant,
                withdrawn: false,
            })?;
        }
    }
    Ok(())
}

/// Takes rods from the slips in hand, the oldest first, and records the weld.
fn weld(
    book: &mut Book,
    random: &mut Random,
    stage: &Stage,
    bench: &Bench,
    pass: Pass,
    (from, to): (Minute, Minute),
    hands: &mut [InHand],
) -> Result<()> {
    let mut wanted = pass.amount;
    let mut fed: Vec<SlipKey> = Vec::new();
    for hand in hands.iter_mut() {
        let taken = hand.left.min(wanted);
        if taken > 0 {
            hand.left -= taken;
            hand.used += taken;
            wanted -= taken;
            fed.push(hand.slip);
        }
    }
    let one_slip = match fed.as_slice() {
        [only] => Some(*only),
        _ => None,
    };
    let mg = u64::from(pass.amount) * stage.lot.piece_mg();
    record(book, random, stage, bench, pass, (from, to), Quantity::Rods(pass.amount), mg, one_slip)
}

/// Records a weld as people do: mostly with the amount, often with the lot or the slip, sometimes only with a date.
#[allow(clippy::too_many_arguments, reason = "one weld record has that many parts")]
fn record(
    book: &mut Book,
    random: &mut Random,
    stage: &Stage,
    bench: &Bench,
    pass: Pass,
    (from, to): (Minute, Minute),
    amount: Quantity,
    mg: u64,
    one_slip: Option<SlipKey>,
) -> Result<()> {
    let joint = book.joint(&stage.joint)?;
    if matches!(pass.cycle, "original" | "tack") {
        joint.deposited_mg += mg;
    }
    let (looked_at, dated_only, by_lot) = (joint.looked_at, joint.dated_only, joint.level == "lot");
    let dated = book.welds.iter().filter(|w| matches!(w.from, Stamp::Date(_))).count();
    let date_only = !looked_at && to / DAY == from / DAY && dated < MOST_DATED && random.rarely(10);
    let no_process = random.chance(7);
    // Whoever has two lots in hand, or writes down no time, names the lot where it matters.
    let must_name =
        date_only || (by_lot || no_process) && book.holds_several_lots(bench.welder.badge, from, to);
    let named = match (one_slip, random.below(if must_name { 64 } else { 100 })) {
        (_, 0..=35) => Named::Lot(stage.lot.code),
        (Some(slip), 36..=53) => Named::Slip(slip),
        (Some(slip), 54..=63) => Named::Both(stage.lot.code, slip),
        (None, 36..=63) => Named::Lot(stage.lot.code),
        (_, _) => Named::Nothing,
    };
    let spooled = matches!(stage.process, "GMAW" | "SAW");
    let check = !date_only
        && !dated_only
        && pass.amount > 1
        && book.checks.len() < MOST_CHECKS
        && random.chance(if spooled { 6 } else { 10 });
    let mark = if spooled {
        random.pick(&[(5, "not-looked"), (3, "")], "")
    } else {
        random.pick(&[(65, "read"), (24, "not-looked"), (11, "")], "")
    };
    let weld = Weld {
        joint: stage.joint.clone(),
        cycle: pass.cycle,
        pass: pass.name,
        process: if no_process && !spooled { "" } else { stage.process },
        filler: if random.chance(20) { "yes" } else { "" },
        welder: bench.welder.badge,
        named,
        used: random.chance(82).then_some(amount),
        from: if date_only { Stamp::Date(from) } else { local(random, from) },
        to: (!date_only && (check || !random.chance(6))).then_some(local(random, to)),
        mark,
        by: random
            .pick(&[(5, bench.welder.attendant), (3, bench.welder.badge), (2, bench.welder.inspector)], ""),
    };
    book.record(weld);
    let joint = book.joint(&stage.joint)?;
    joint.dated_only |= date_only;
    joint.looked_at |= check;
    if check {
        book.look(SpotCheck {
            joint: stage.joint.clone(),
            welder: bench.welder.badge,
            at: Stamp::Local(from + (to - from) / 3),
            by: bench.welder.inspector,
            legible: "yes",
            reads: stage.lot.reads,
        });
    }
    Ok(())
}

/// Welds a stage from a spool: the spool out, welds by mass, the rest back by mass. Flux goes along with SAW wire.
pub(super) fn from_spool(book: &mut Book, random: &mut Random, stage: &Stage, bench: &Bench) -> Result<()> {
    let total: u32 = stage.passes.iter().map(|p| p.amount).sum();
    let full = u32::try_from(stage.lot.piece_mg() / 10_000)?;
    let part = total + random.between(40, 300);
    let (quantity, out) = if random.chance(50) || part >= full {
        (Quantity::Spools(1), full)
    } else {
        (Quantity::HundredthsKg(part), part)
    };
    let mut slip = written(bench, stage.lot, quantity, bench.from + 2);
    slip.joints = stage.joint.clone();
    let spool = book.issue(slip);
    let mut out_now = vec![(spool, out - total)];
    if stage.process == "SAW" {
        let flux = total / 100 * 100 + 300;
        let mut slip = written(
            bench,
            lot(if bench.from < at(MAY + 1, 0, 0) { "R-1065" } else { "R-1116" })?,
            Quantity::HundredthsKg(flux),
            bench.from + 3,
        );
        slip.joints = stage.joint.clone();
        out_now.push((book.issue(slip), flux - total * 9 / 10));
    }
    let step = (bench.to - bench.from) / u32::try_from(stage.passes.len())?.max(1);
    for (n, pass) in (0_u32..).zip(&stage.passes) {
        let start = bench.from + n * step;
        let span = (start + random.between(7, 11), start + step - random.between(3, 6));
        let mg = u64::from(pass.amount) * 10_000;
        let amount = Quantity::HundredthsKg(pass.amount);
        record(book, random, stage, bench, *pass, span, amount, mg, Some(spool))?;
    }
    for (slip, left) in out_now {
        let at = bench.to + random.below(4);
        book.take_back(Return {
            slip,
            quantity: Quantity::HundredthsKg(left),
            stubs: None,
            condition: "marked",
            closes: "",
            at: local(random, at),
            by: bench.welder.attendant,
            withdrawn: false,
        })?;
    }
    Ok(())
}
