//! The quiet shop: three weeks in May 2026 at a second invented shop where everything is written down in time, so that
//! a list of findings must be empty. It has what a real shop has, done right: hand-overs, tacks, repairs, partial
//! returns, two lots in hand and named, scraps, lots held and released again.

use anyhow::Result;

use super::book::{Book, Named, Return, Scrap, ScrapOf, Slip, SlipKey, SpotCheck, Weld};
use super::catalogue::{Person, Shift, Shop, Team, Welder, person};
use super::joint::{Bore, Joint, Material, Progress};
use super::lots::{INCH, Lot, METRIC, OSTRABECK, QUENNISFORD, TARVEMIRE, covered, lot, rod, spool};
use super::quantity::Quantity;
use super::random::Random;
use super::time::{MAY, Minute, Stamp, at};

const PEOPLE: [Person; 8] = [
    person("A-51", "Rowena Cinderby", "attendant"),
    person("A-52", "Hal Mossgrave", "attendant"),
    person("W-41", "Ione Quarrendale", "welder"),
    person("W-42", "Stellan Brackwater", "welder"),
    person("W-43", "Fenna Oakhollow", "welder"),
    person("W-44", "Idris Pennhallow", "welder"),
    person("I-61", "Maud Silverthwaite", "inspector"),
    person("Q-71", "Lorcan Eastmere", "auditor"),
];

const fn bench(badge: &'static str, shift: Shift, quiver: &'static str, mate: &'static str) -> Welder {
    let attendant = match shift {
        Shift::Day => "A-51",
        Shift::Night => "A-52",
    };
    Welder { badge, shift, team: Team::Carbon, attendant, inspector: "I-61", quiver, mate, days: (34, 52) }
}

/// The four welders. W-44 welds stainless, W-42 the supports too.
pub(super) const WELDERS: [Welder; 4] = [
    bench("W-41", Shift::Day, "Q-41", "W-43"),
    bench("W-42", Shift::Day, "Q-42", "W-43"),
    bench("W-43", Shift::Night, "Q-43", "W-42"),
    bench("W-44", Shift::Night, "Q-44", "W-41"),
];

const QUALIFICATIONS: [[&str; 5]; 9] = [
    ["W-41", "GTAW", "6", "without", "2026-02-02"],
    ["W-41", "SMAW", "4", "without", "2026-02-02"],
    ["W-42", "GTAW", "6", "without", "2026-02-03"],
    ["W-42", "SMAW", "4", "without", "2026-02-03"],
    ["W-42", "GMAW", "6", "with", "2026-02-04"],
    ["W-43", "GTAW", "6", "without", "2026-01-20"],
    ["W-43", "SMAW", "4", "without", "2026-01-20"],
    ["W-44", "GTAW", "6", "without", "2026-01-22"],
    ["W-44", "SMAW", "4", "without", "2026-01-22"],
];

#[rustfmt::skip]
const WPS: [[&str; 8]; 3] = [
    ["TWPS-1", "0", "GTAW;SMAW", "A5.18;A5.1", "ER70S-2;ER70S-6;E7018", "3/32 in;1/8 in", "6;4", "without"],
    ["TWPS-2", "1", "GTAW", "A5.9", "ER316L", "2.4 mm", "6", "without"],
    ["TWPS-3", "0", "GMAW", "A5.18", "ER70S-6", "0.045 in", "6", "with"],
];

/// The lots: two of carbon-steel rod, electrodes, stainless rod, spools, and one that was rejected and never went out.
pub(super) const LOTS: [Lot; 6] = [
    rod(
        "K-301",
        [TARVEMIRE, "4411-A", "7K3301"],
        ["A5.18", "ER70S-2", "70S-2"],
        [INCH, "copper-coated", "50 lb"],
        ["TW-26-0611", "3.1"],
        ["2026-04-27 09:00", "2026-04-27 14:00"],
    ),
    rod(
        "K-302",
        [TARVEMIRE, "4424-A", "7K3317"],
        ["A5.18", "ER70S-6", "70S-6"],
        [INCH, "copper-coated", "50 lb"],
        ["TW-26-0623", "3.1"],
        ["2026-04-27 09:00", "2026-04-27 14:05"],
    ),
    covered(
        "K-303",
        [QUENNISFORD, "C7-0332", "59027"],
        ["E7018-1 H4R", "7018-1 H4R"],
        ["1/8 in x 14 in", "33.6", "60 kg"],
        "QE-7930",
        ["2026-04-28 10:30", "2026-04-29 08:00"],
    ),
    rod(
        "K-304",
        [OSTRABECK, "9F117", "33D29"],
        ["A5.9", "ER316L", "316L"],
        [METRIC, "bare", "20 kg"],
        ["OM-3377/26", "3.1"],
        ["2026-04-28 10:30", "2026-04-29 08:10"],
    ),
    spool(
        "K-305",
        [TARVEMIRE, "W-5290", "7K3344"],
        ["A5.18", "ER70S-6"],
        ["0.045 in", "15000", "75 kg"],
        "TW-26-0640",
        ["2026-04-27 09:00", "2026-04-27 14:10"],
    ),
    rod(
        "K-306",
        [OSTRABECK, "9F142", "33D36"],
        ["A5.9", "ER316L", "316L"],
        [METRIC, "bare", "10 kg"],
        ["OM-3390/26", "3.1"],
        ["2026-05-11 13:00", ""],
    ),
];

/// The quiet shop.
pub(super) static QUIET: Shop =
    Shop { people: &PEOPLE, qualifications: &QUALIFICATIONS, wps: &WPS, lots: &LOTS };

/// `lot,status,at,by,why`: what happened to lots after their release; no import file has a place for it. Nobody is
/// handed, or welds with, a lot on hold.
pub(super) const STATUSES: [[&str; 5]; 4] = [
    ["K-302", "held", "2026-05-08 23:30", "I-61", "one figure of the certificate is smudged"],
    ["K-302", "released", "2026-05-11 05:45", "I-61", "the maker sent a clean certificate"],
    ["K-306", "held", "2026-05-11 13:30", "I-61", "label and certificate differ"],
    ["K-306", "rejected", "2026-05-14 10:00", "I-61", "sent back to the maker"],
];

/// Working days: 4 to 8, 11 to 15, 18 to 22 May.
const DAYS: u32 = 15;

fn calendar(day: u32) -> u32 {
    MAY + 4 + day / 5 * 7 + day % 5
}

/// One welder at one joint in one part of a shift.
struct Stint {
    welder: &'static Welder,
    joint: usize,
    day: u32,
    from: Minute,
}

struct Weeks<'a> {
    book: &'a mut Book,
    random: &'a mut Random,
    /// Turns through the ways of naming a lot.
    turn: usize,
}

/// Three weeks of work at 60 joints.
pub(super) fn shop(random: &mut Random) -> Result<Book> {
    let joints = (1..=60).map(joint).collect();
    let mut book = Book::new(&QUIET, ("V-", 1), joints);
    let mut weeks = Weeks { book: &mut book, random, turn: 0 };
    for day in 0..DAYS {
        weeks.day(day)?;
    }
    weeks.scraps();
    book.close(random)?;
    Ok(book)
}

/// Joints go round the four benches; every fourth is stainless, every tenth a support.
fn joint(number: u32) -> Joint {
    let (material, wps) = match number {
        n if n % 4 == 0 => (Material::Stainless, "TWPS-2"),
        n if n % 20 == 2 => (Material::Support, "TWPS-3"),
        _ => (Material::Carbon, "TWPS-1"),
    };
    Joint {
        name: format!("T-{number:03}"),
        job: "TNF-1 test loop",
        drawing: format!("TNF-1-{:02}", 1 + number / 12),
        revision: "A",
        material,
        wps,
        level: if number % 3 == 1 { "class" } else { "lot" },
        bore: Bore::Small,
        progress: Progress::Open(0),
        begin: 0,
        deposited_mg: 0,
        finished_at: None,
        needed_g: None,
        drawn_halves: 2,
        dated_only: false,
        looked_at: false,
    }
}

impl Weeks<'_> {
    fn day(&mut self, day: u32) -> Result<()> {
        let date = calendar(day);
        let place = usize::try_from(day)? * 4;
        let [first, second, third, fourth] = &WELDERS;
        let of = |welder, n: usize, from| Stint { welder, joint: place + n, day, from };
        let supports = place % 20 == 0;
        let rest = self.root(&of(first, 0, at(date, 6, 10)), None, day % 3 == 1 && !supports)?;
        if supports {
            self.support(&of(second, 1, at(date, 6, 12)))?;
        } else {
            let taken = match rest {
                Some((slip, rods)) => {
                    let at_ten = Stamp::Local(at(date, 8, 52));
                    let quantity = Quantity::Rods(rods);
                    Some((self.book.hand_over(slip, "W-42", quantity, "yes", at_ten, "A-51")?, rods))
                }
                None => None,
            };
            // Who takes over welds after the hand-over, and has no other slip.
            let from = if taken.is_some() { at(date, 8, 55) } else { at(date, 6, 12) };
            self.root(&of(second, 1, from), taken, false)?;
        }
        let given = self.fill(&of(first, 0, at(date, 10, 40)), None, day % 4 == 2)?;
        if !supports {
            self.fill(&of(second, 1, at(date, 10, 42)), None, false)?;
        }
        // The second shift fills what it began the evening before, then begins the next.
        let mate = match given {
            Some((slip, rods)) => {
                let at_the_change = Stamp::Local(at(date, 14, 26));
                let quantity = Quantity::Rods(rods);
                Some((self.book.hand_over(slip, "W-43", quantity, "yes", at_the_change, "A-51")?, rods))
            }
            None => None,
        };
        if day > 0 {
            let last = |welder, n: usize, from| Stint { welder, joint: place + n - 4, day, from };
            self.fill(&last(third, 2, at(date, 14, 40)), mate, false)?;
            self.stainless(&last(fourth, 3, at(date, 14, 42)), ["fill", "cap"])?;
        }
        self.root(&of(third, 2, at(date, 19, 10)), None, false)?;
        self.stainless(&of(fourth, 3, at(date, 19, 12)), ["root", "hot"])?;
        if matches!(day, 6 | 9 | 12) {
            self.repair(day, usize::try_from(day)?)?;
        }
        Ok(())
    }

    fn issue(&mut self, stint: &Stint, code: &str, quantity: Quantity, minute: Minute) -> Result<SlipKey> {
        let end = if stint.from < at(calendar(stint.day), 14, 0) { (14, 30) } else { (23, 0) };
        let covered = lot(code)?.is_covered();
        Ok(self.book.issue(Slip {
            number: String::new(),
            lot: lot(code)?,
            welder: stint.welder.badge,
            quantity,
            at: Stamp::Local(minute),
            by: stint.welder.attendant,
            joints: if self.random.chance(60) { self.name(stint.joint) } else { String::new() },
            quiver: if covered { stint.welder.quiver } else { "" },
            due: Some(Stamp::Local(at(calendar(stint.day), end.0, end.1))),
            handed_from: None,
            closed_at: None,
        }))
    }

    fn name(&self, joint: usize) -> String {
        self.book.joints.get(joint).map_or_else(String::new, |j| j.name.clone())
    }

    fn back(
        &mut self,
        stint: &Stint,
        slip: SlipKey,
        (quantity, stubs): (Quantity, Option<u32>),
        closes: &'static str,
        minute: Minute,
    ) -> Result<()> {
        self.book.take_back(Return {
            slip,
            quantity,
            stubs,
            condition: "marked",
            closes,
            at: Stamp::Local(minute),
            by: stint.welder.attendant,
            withdrawn: false,
        })?;
        Ok(())
    }

    /// Records a weld, naming nothing, the lot, the slip or both in turn; never nothing where two lots are in hand.
    fn weld(
        &mut self,
        stint: &Stint,
        [cycle, pass, process]: [&'static str; 3],
        (slip, quantity): (SlipKey, Quantity),
        (from, to): (Minute, Minute),
    ) -> Result<()> {
        let metal = self.book.slip(slip)?.lot;
        let two = self.book.holds_several_lots(stint.welder.badge, from, to);
        self.turn += 1;
        let named = match self.turn % 5 {
            0 | 1 if !two => Named::Nothing,
            0 | 2 => Named::Lot(metal.code),
            1 | 3 => Named::Slip(slip),
            _ => Named::Both(metal.code, slip),
        };
        let name = self.name(stint.joint);
        let used_mg = match quantity {
            Quantity::Rods(n) => u64::from(n) * metal.piece_mg(),
            Quantity::HundredthsKg(n) => u64::from(n) * 10_000,
            Quantity::Spools(_) | Quantity::HundredthsLb(_) => 0,
        };
        let joint = self.book.joint(&name)?;
        if cycle != "R1" {
            joint.deposited_mg += used_mg;
            joint.progress = Progress::Done(to);
        }
        self.book.record(Weld {
            joint: name.clone(),
            cycle,
            pass,
            process,
            filler: "",
            welder: stint.welder.badge,
            named,
            used: self.random.chance(85).then_some(quantity),
            from: Stamp::Local(from),
            to: Some(Stamp::Local(to)),
            mark: "read",
            by: stint.welder.badge,
        });
        if self.random.chance(15) {
            self.book.look(SpotCheck {
                joint: name,
                welder: stint.welder.badge,
                at: Stamp::Local(from + (to - from) / 2),
                by: stint.welder.inspector,
                legible: "yes",
                reads: metal.reads,
            });
        }
        Ok(())
    }

    /// Root and hot pass with bare rod; the rest goes back, or is left for a hand-over.
    fn root(
        &mut self,
        stint: &Stint,
        taken: Option<(SlipKey, u32)>,
        leaves: bool,
    ) -> Result<Option<(SlipKey, u32)>> {
        let (code, other) = if stint.day.is_multiple_of(2) { ("K-301", "K-302") } else { ("K-302", "K-301") };
        let from = stint.from;
        let (slip, rods) = match taken {
            Some(taken) => taken,
            None => (self.issue(stint, code, Quantity::Rods(10), from)?, 10),
        };
        // Now and then the other lot is drawn too, for a mate, and goes back whole.
        let beside = if stint.day % 5 == 3 && taken.is_none() {
            Some(self.issue(stint, other, Quantity::Rods(4), from + 2)?)
        } else {
            None
        };
        let mut used = 0;
        if rods == 10 && stint.joint.is_multiple_of(3) {
            let span = (from + 6, from + 12);
            self.weld(stint, ["tack", "root", "GTAW"], (slip, Quantity::Rods(1)), span)?;
            used += 1;
        }
        for (pass, start) in [("root", 15), ("hot", 90)] {
            let n = if rods == 10 { self.random.between(2, 3) } else { 2 };
            let length = if taken.is_some() { 30 } else { 65 };
            let start = if taken.is_some() && pass == "hot" { 48 } else { start };
            let span = (from + start, from + start + length);
            self.weld(stint, ["original", pass, "GTAW"], (slip, Quantity::Rods(n)), span)?;
            used += n;
        }
        let end = from + 162;
        if let Some(beside) = beside {
            self.back(stint, beside, (Quantity::Rods(4), Some(0)), "", end - 2)?;
        }
        let left = rods - used;
        if leaves && left >= 4 {
            self.back(stint, slip, (Quantity::Rods(left - 4), Some(used)), "no", end - 1)?;
            return Ok(Some((slip, 4)));
        }
        let left = if left > 2 && self.random.chance(20) {
            self.back(stint, slip, (Quantity::Rods(1), None), "no", from + 84)?;
            left - 1
        } else {
            left
        };
        self.back(
            stint,
            slip,
            (Quantity::Rods(left), Some(used)),
            "",
            if taken.is_some() { from + 84 } else { end },
        )?;
        Ok(None)
    }

    /// Fill and cap with electrodes, of a slip of their own or after one that was taken over.
    fn fill(
        &mut self,
        stint: &Stint,
        taken: Option<(SlipKey, u32)>,
        leaves: bool,
    ) -> Result<Option<(SlipKey, u32)>> {
        let from = stint.from;
        if let Some((slip, rods)) = taken {
            let metal = (slip, Quantity::Rods(rods));
            self.weld(stint, ["original", "fill", "SMAW"], metal, (from + 8, from + 50))?;
            self.back(stint, slip, (Quantity::Rods(0), Some(rods)), "", from + 52)?;
        }
        let slip = self.issue(stint, "K-303", Quantity::Rods(12), from + 53)?;
        let (fill, cap) = (self.random.between(3, 5), self.random.between(2, 3));
        let metal = |n| (slip, Quantity::Rods(n));
        self.weld(stint, ["original", "fill", "SMAW"], metal(fill), (from + 58, from + 120))?;
        self.weld(stint, ["original", "cap", "SMAW"], metal(cap), (from + 130, from + 190))?;
        let left = 12 - fill - cap;
        if leaves {
            self.back(stint, slip, (Quantity::Rods(0), Some(fill + cap)), "no", from + 200)?;
            return Ok(Some((slip, left)));
        }
        // One electrode was bent.
        let bent = u32::from(stint.day == 8 && stint.welder.badge == "W-42");
        if bent == 1 {
            self.book.scraps.push(Scrap {
                of: ScrapOf::Slip(slip),
                quantity: Quantity::Rods(1),
                why: "bent, covering cracked",
                at: Stamp::Local(from + 195),
                by: stint.welder.attendant,
            });
        }
        self.back(stint, slip, (Quantity::Rods(left - bent), Some(fill + cap)), "", from + 200)?;
        Ok(None)
    }

    /// Two passes with stainless rod.
    fn stainless(&mut self, stint: &Stint, passes: [&'static str; 2]) -> Result<()> {
        let from = stint.from;
        let slip = self.issue(stint, "K-304", Quantity::Rods(8), from)?;
        let mut used = 0;
        for (pass, start) in passes.into_iter().zip([10, 90]) {
            let n = self.random.between(2, 3);
            let span = (from + start, from + start + 70);
            self.weld(stint, ["original", pass, "GTAW"], (slip, Quantity::Rods(n)), span)?;
            used += n;
        }
        let stubs = self.random.chance(80).then_some(used);
        self.back(stint, slip, (Quantity::Rods(8 - used), stubs), "", from + 170)
    }

    /// A support by GMAW from a spool: the spool out, the rest back by mass.
    fn support(&mut self, stint: &Stint) -> Result<()> {
        let from = stint.from;
        let slip = self.issue(stint, "K-305", Quantity::Spools(1), from)?;
        let mut used = 0;
        for (pass, start) in [("root", 12), ("fill", 90)] {
            let hundredths = self.random.between(40, 90);
            let span = (from + start, from + start + 60);
            let metal = (slip, Quantity::HundredthsKg(hundredths));
            self.weld(stint, ["original", pass, "GMAW"], metal, span)?;
            used += hundredths;
        }
        self.back(stint, slip, (Quantity::HundredthsKg(1500 - used), None), "", from + 170)
    }

    /// A repair of an earlier carbon-steel joint by W-41, after the day's own work.
    fn repair(&mut self, day: u32, earlier: usize) -> Result<()> {
        let [first, ..] = &WELDERS;
        let from = at(calendar(day), 14, 35);
        let stint = Stint { welder: first, joint: earlier / 3 * 4, day, from };
        let slip = self.issue(&stint, "K-303", Quantity::Rods(6), from)?;
        let metal = |n| (slip, Quantity::Rods(n));
        self.weld(&stint, ["R1", "fill", "SMAW"], metal(3), (from + 10, from + 40))?;
        self.weld(&stint, ["R1", "cap", "SMAW"], metal(2), (from + 50, from + 80))?;
        self.back(&stint, slip, (Quantity::Rods(1), Some(5)), "", from + 90)
    }

    /// From the crib: a spool that rusted.
    fn scraps(&mut self) {
        self.book.scraps.push(Scrap {
            of: ScrapOf::Lot("K-305"),
            quantity: Quantity::Spools(1),
            why: "rust on the outer layers",
            at: Stamp::Local(at(MAY + 19, 7, 40)),
            by: "A-51",
        });
    }
}
