//! The routine of the quarter: who welds which half of which joint in which part of a shift.

use std::collections::BTreeSet;

use anyhow::{Context as _, Result};

use super::book::{Book, Named, Return, SlipKey, Weld};
use super::catalogue::{Shift, Team, WELDERS, Welder};
use super::joint::{Material, Progress};
use super::lots::lot;
use super::quantity::Quantity;
use super::random::Random;
use super::stage::{Bench, Left, Pass, Stage, carbon_rods, from_spool, with_rods};
use super::time::{JUNE, MAY, Minute, Stamp, at};

/// Parts of shifts that a story fills: day, welder, part.
pub(super) type Busy = BTreeSet<(u32, &'static str, usize)>;

/// Routine hand-overs at the change of shift, at most.
const MOST_HAND_OVERS: usize = 90;
/// Repairs, at most.
const MOST_REPAIRS: usize = 44;

fn works(day: u32, welder: &Welder) -> bool {
    // 2026-04-01 is a Wednesday; Monday is 0.
    let weekday = (day + 1) % 7;
    let (first, last) = welder.days;
    // Saturday 25 April and Monday 1 June are holidays.
    (first..=last).contains(&day)
        && day != JUNE + 1
        && (weekday < 5 || weekday == 5 && day != 25 && welder.team == Team::Carbon)
}

/// The two parts of a shift, before and after the break: first and last minute.
fn parts(day: u32, shift: Shift) -> [(Minute, Minute); 2] {
    match shift {
        Shift::Day => [(at(day, 6, 5), at(day, 10, 10)), (at(day, 10, 35), at(day, 14, 25))],
        Shift::Night => [(at(day, 14, 35), at(day, 18, 40)), (at(day, 19, 5), at(day, 22, 50))],
    }
}

fn shift_end(day: u32, shift: Shift) -> Minute {
    match shift {
        Shift::Day => at(day, 14, 30),
        Shift::Night => at(day, 23, 0),
    }
}

/// What a day welder may hand to the mate of the next shift.
#[derive(Clone, Copy)]
struct Bequest {
    welder: &'static str,
    day: u32,
    process: &'static str,
    left: Left,
}

/// A joint that failed its examination and is welded again.
struct Repair {
    joint: String,
    ready: Minute,
}

struct Quarter<'a> {
    book: &'a mut Book,
    random: &'a mut Random,
    bequests: Vec<Bequest>,
    repairs: Vec<Repair>,
    repaired: usize,
    handed_over: usize,
}

/// Works through the quarter, around the stories.
pub(super) fn work_the_quarter(book: &mut Book, random: &mut Random, busy: &Busy) -> Result<()> {
    let mut quarter =
        Quarter { book, random, bequests: Vec::new(), repairs: Vec::new(), repaired: 0, handed_over: 0 };
    for day in 1..=JUNE + 30 {
        for shift in [Shift::Day, Shift::Night] {
            for (part, (from, to)) in parts(day, shift).into_iter().enumerate() {
                for welder in WELDERS.iter().filter(|w| w.shift == shift && works(day, w)) {
                    if !busy.contains(&(day, welder.badge, part)) {
                        quarter.part_of_shift(day, welder, part, (from, to))?;
                    }
                }
            }
        }
    }
    Ok(())
}

impl Quarter<'_> {
    fn part_of_shift(
        &mut self,
        day: u32,
        welder: &'static Welder,
        part: usize,
        (from, to): (Minute, Minute),
    ) -> Result<()> {
        let from = from + self.random.below(12);
        // Some of the second shift stay past midnight to finish; not before a story that counts on an empty bench.
        let late = welder.shift == Shift::Night && part == 1 && !matches!(day, 3 | 4 | 13 | 30 | 91);
        let to = if late && self.random.chance(7) { to + self.random.between(75, 110) } else { to };
        let first = self.choose(welder, from)?;
        let second_chance = self.random.chance(if day <= MAY { 30 } else { 80 });
        let Some(first) = first else { return Ok(()) };
        let middle = from + (to - from) / 2;
        let end = shift_end(day, welder.shift);
        if !second_chance {
            let bench = Bench { welder, from, to: to.min(from + 205), shift_end: end };
            return self.weld(day, &bench, part, first);
        }
        let bench = Bench { welder, from, to: middle - 6, shift_end: end };
        self.weld(day, &bench, part, first)?;
        match self.choose(welder, middle)? {
            Some(second) => {
                let bench = Bench { welder, from: middle, to, shift_end: end };
                self.weld(day, &bench, part, second)
            }
            None => Ok(()),
        }
    }

    /// What is next for a welder at a minute: a repair, a second half that is ready, or a new joint while the plan of
    /// the month asks for one.
    fn choose(&mut self, welder: &Welder, now: Minute) -> Result<Option<Stage>> {
        let team = welder.team;
        if team == Team::Carbon
            && let Some(n) = self.repairs.iter().position(|r| r.ready <= now)
        {
            let repair = self.repairs.swap_remove(n);
            return self.repair(repair.joint, now).map(Some);
        }
        let rooted = self.next(team, now, |progress| match progress {
            Progress::Rooted(ready) => Some(ready),
            Progress::Open(_) | Progress::Done(_) | Progress::Apart => None,
        });
        if let Some(joint) = rooted
            && self.random.chance(75)
        {
            return self.second_half(joint, now).map(Some);
        }
        // Joints of April are begun evenly over the month; those of the later jobs by 29 June.
        let (begin, span) = if now < at(MAY + 1, 0, 0) { (0, 41_500) } else { (at(MAY + 1, 0, 0), 85_000) };
        let planned = || {
            self.book
                .joints
                .iter()
                .filter(|j| j.material.team() == team && j.begin == begin && j.progress != Progress::Apart)
        };
        let all = planned().count();
        let begun = planned().filter(|j| !matches!(j.progress, Progress::Open(_))).count();
        if begun * span > all * usize::try_from(now - begin)? {
            return Ok(None);
        }
        let open = self.next(team, now, |progress| match progress {
            Progress::Open(ready) => Some(ready),
            Progress::Rooted(_) | Progress::Done(_) | Progress::Apart => None,
        });
        open.map(|joint| self.first_half(joint, now)).transpose()
    }

    /// A joint of the team that is ready, one of the first few of its job by chance.
    fn next(
        &mut self,
        team: Team,
        now: Minute,
        ready: impl Fn(Progress) -> Option<Minute>,
    ) -> Option<String> {
        let found: Vec<&String> = self
            .book
            .joints
            .iter()
            .filter(|j| j.material.team() == team && ready(j.progress).is_some_and(|minute| minute <= now))
            .map(|j| &j.name)
            .collect();
        let n = self.random.below(u32::try_from(found.len().min(30)).ok()?);
        found.get(usize::try_from(n).ok()?).map(|name| (*name).clone())
    }

    fn amount(&mut self, joint: &str, sizes: [u32; 3]) -> Result<u32> {
        Ok(self.book.joint(joint)?.bore.of(sizes) + self.random.below(2))
    }

    fn pass(&mut self, joint: &str, name: &'static str, sizes: [u32; 3]) -> Result<Pass> {
        Ok(Pass { cycle: "original", name, amount: self.amount(joint, sizes)? })
    }

    fn first_half(&mut self, joint: String, now: Minute) -> Result<Stage> {
        let material = self.book.joint(&joint)?.material;
        let (process, planned) = match material {
            Material::Carbon => ("GTAW", self.carbon_rod(now)),
            Material::LongSeam => ("GTAW", carbon_rods(now).0),
            Material::Cellulosic => ("SMAW", by_month(now, ["R-1047", "R-1107", "R-1107"])),
            Material::Support => ("GMAW", by_month(now, ["R-1061", "R-1114", "R-1114"])),
            Material::Stainless | Material::Dissimilar | Material::Duplex | Material::Nickel => {
                ("GTAW", alloy_rod(material, now))
            }
        };
        let mut passes = Vec::new();
        if material != Material::Support && self.random.chance(12) {
            passes.push(Pass { cycle: "tack", name: "root", amount: 1 });
        }
        let (root, second) = match material {
            Material::Support => ([40, 60, 90], Some(("fill", [50, 80, 110]))),
            Material::LongSeam => ([7, 8, 9], Some(("hot", [7, 8, 9]))),
            Material::Cellulosic => ([4, 7, 10], Some(("hot", [4, 6, 9]))),
            Material::Carbon
            | Material::Stainless
            | Material::Dissimilar
            | Material::Duplex
            | Material::Nickel => ([2, 4, 6], Some(("hot", [2, 4, 6]))),
        };
        passes.push(self.pass(&joint, "root", root)?);
        if let Some((name, sizes)) = second {
            passes.push(self.pass(&joint, name, sizes)?);
        }
        Ok(Stage { joint, process, lot: lot(planned)?, passes })
    }

    fn second_half(&mut self, joint: String, now: Minute) -> Result<Stage> {
        let material = self.book.joint(&joint)?.material;
        let (process, code, fill, cap) = match material {
            Material::LongSeam => {
                ("SAW", by_month(now, ["R-1063", "R-1115", "R-1115"]), [180, 260, 340], [90, 120, 160])
            }
            Material::Carbon | Material::Cellulosic | Material::Support => (
                "SMAW",
                if self.random.chance(86) {
                    electrode(now)
                } else {
                    by_month(now, ["R-1044", "R-1106", "R-1126"])
                },
                [8, 15, 24],
                [5, 9, 14],
            ),
            Material::Stainless | Material::Dissimilar | Material::Duplex | Material::Nickel => {
                ("GTAW", alloy_rod(material, now), [5, 9, 13], [4, 6, 8])
            }
        };
        let passes = vec![self.pass(&joint, "fill", fill)?, self.pass(&joint, "cap", cap)?];
        Ok(Stage { joint, process, lot: lot(code)?, passes })
    }

    fn repair(&mut self, joint: String, now: Minute) -> Result<Stage> {
        let amount = self.random.between(3, 6);
        let passes = vec![
            Pass { cycle: "R1", name: "fill", amount },
            Pass { cycle: "R1", name: "cap", amount: amount.div_ceil(2) },
        ];
        Ok(Stage { joint, process: "SMAW", lot: lot(electrode(now))?, passes })
    }

    /// The bare carbon-steel rod that the crib hands out at the time.
    fn carbon_rod(&mut self, now: Minute) -> &'static str {
        let (first, second) = carbon_rods(now);
        let weighted: &[(u32, &str)] = if (at(8, 0, 0)..at(18, 0, 0)).contains(&now) {
            &[(6, "R-1031"), (2, "R-1028"), (2, "R-1082")]
        } else if now < at(MAY + 1, 0, 0) {
            &[(5, first), (5, second)]
        } else if now < at(JUNE + 1, 0, 0) {
            &[(5, first), (5, second), (2, "R-1104")]
        } else {
            &[(5, first), (5, second), (2, "R-1124")]
        };
        self.random.pick(weighted, first)
    }

    fn weld(&mut self, day: u32, bench: &Bench, part: usize, mut stage: Stage) -> Result<()> {
        let repair = stage.passes.iter().any(|p| p.cycle == "R1");
        let before = self.book.joint(&stage.joint)?.progress;
        let left = if matches!(stage.process, "GMAW" | "SAW") {
            from_spool(self.book, self.random, &stage, bench)?;
            None
        } else {
            self.fuse_the_tacks(bench, &stage)?;
            let carried = self.take_over(day, bench, part, &mut stage)?;
            with_rods(self.book, self.random, &stage, bench, carried)?
        };
        if let Some(left) = left
            && bench.welder.shift == Shift::Day
            && part == 1
            && left.rods >= 2
        {
            let welder = bench.welder.badge;
            self.bequests.push(Bequest { welder, day, process: stage.process, left });
        }
        if repair {
            return Ok(());
        }
        let end = bench.to + 4;
        let joint = self.book.joint(&stage.joint)?;
        joint.progress = match (before, joint.material) {
            (Progress::Open(_), Material::Support) => Progress::Done(end),
            (Progress::Open(_), _) => Progress::Rooted(end + 10),
            (Progress::Rooted(_) | Progress::Done(_) | Progress::Apart, _) => Progress::Done(end),
        };
        if joint.material.team() == Team::Carbon
            && matches!(joint.progress, Progress::Done(_))
            && self.repaired < MOST_REPAIRS
            && (day < 26 || (MAY + 1..JUNE + 24).contains(&day))
            && self.random.chance(8)
        {
            self.repaired += 1;
            self.repairs.push(Repair { joint: stage.joint.clone(), ready: end + 2 * 1440 });
        }
        Ok(())
    }

    /// Some stainless tacks are fused without filler, before any rod is drawn.
    fn fuse_the_tacks(&mut self, bench: &Bench, stage: &Stage) -> Result<()> {
        let material = self.book.joint(&stage.joint)?.material;
        let first = stage.passes.first().is_some_and(|p| p.name == "root" && p.cycle == "original");
        if material != Material::Stainless || !first || !self.random.chance(85) {
            return Ok(());
        }
        self.book.record(Weld {
            joint: stage.joint.clone(),
            cycle: "tack",
            pass: "root",
            process: "GTAW",
            filler: "no",
            welder: bench.welder.badge,
            named: Named::Nothing,
            used: None,
            from: Stamp::Local(bench.from),
            to: Some(Stamp::Local(bench.from + 1)),
            mark: "",
            by: bench.welder.badge,
        });
        Ok(())
    }

    /// At the start of the second shift: the rest of the day mate's slip, instead of its return.
    fn take_over(
        &mut self,
        day: u32,
        bench: &Bench,
        part: usize,
        stage: &mut Stage,
    ) -> Result<Option<(SlipKey, u32)>> {
        // Before anything else is welded in the shift.
        let at_once = bench.welder.shift == Shift::Night && part == 0 && bench.from < at(day, 15, 0);
        if !at_once || self.handed_over >= MOST_HAND_OVERS {
            return Ok(None);
        }
        let found = self.bequests.iter().rposition(|b| b.day == day && b.welder == bench.welder.mate);
        let Some(bequest) = found.map(|n| self.bequests.swap_remove(n)) else { return Ok(None) };
        let left_lot = self.book.slip(bequest.left.slip)?.lot;
        let same = left_lot == stage.lot
            || left_lot.spec == "A5.18" && stage.lot.spec == "A5.18"
            || left_lot.classification.starts_with("E7018") && stage.lot.classification.starts_with("E7018");
        let fits = same && bequest.process == stage.process;
        // Some are taken over for a pass that the shift then does not come to.
        let in_vain = bequest.process != stage.process && self.random.chance(70);
        if !(fits || in_vain) || left_lot.is_cellulosic() {
            return Ok(None);
        }
        let taken_back =
            self.book.returns.get_mut(bequest.left.returned.0).context("a return that was never written")?;
        // What came back earlier went into the crib; only the last part of the shift meets the next one.
        if taken_back.at.minute() < at(day, 13, 30) {
            return Ok(None);
        }
        taken_back.withdrawn = true;
        let (counted_at, by, stubs) = (taken_back.at, taken_back.by, taken_back.stubs);
        if stubs.is_some() {
            self.book.take_back(Return {
                slip: bequest.left.slip,
                quantity: Quantity::Rods(0),
                stubs,
                condition: "n/a",
                closes: "no",
                at: counted_at,
                by,
                withdrawn: false,
            })?;
        }
        let rods = bequest.left.rods;
        let to = bench.welder.badge;
        // The next shift comes in some minutes before half past two.
        let at_the_change = Stamp::Local(at(day, 14, 24) + self.random.below(6));
        let slip =
            self.book.hand_over(bequest.left.slip, to, Quantity::Rods(rods), "yes", at_the_change, by)?;
        self.handed_over += 1;
        if in_vain {
            self.book.take_back(Return {
                slip,
                quantity: Quantity::Rods(rods),
                stubs: Some(0),
                condition: "marked",
                closes: "",
                at: Stamp::Local(bench.to + 2),
                by: bench.welder.attendant,
                withdrawn: false,
            })?;
            return Ok(None);
        }
        stage.lot = left_lot;
        Ok(Some((slip, rods)))
    }
}

/// One of three lots: of April, May, June.
fn by_month(now: Minute, [april, may, june]: [&'static str; 3]) -> &'static str {
    if now < at(MAY + 1, 0, 0) {
        april
    } else if now < at(JUNE + 1, 0, 0) {
        may
    } else {
        june
    }
}

fn electrode(now: Minute) -> &'static str {
    by_month(now, ["R-1040", "R-1105", "R-1125"])
}

fn alloy_rod(material: Material, now: Minute) -> &'static str {
    match material {
        Material::Stainless if now < at(MAY + 1, 0, 0) && now > at(15, 0, 0) => "R-1053",
        Material::Stainless => by_month(now, ["R-1052", "R-1108", "R-1128"]),
        Material::Dissimilar => by_month(now, ["R-1050", "R-1110", "R-1110"]),
        Material::Duplex => by_month(now, ["R-1058", "R-1111", "R-1131"]),
        Material::Nickel => by_month(now, ["R-1056", "R-1112", "R-1112"]),
        Material::Carbon | Material::Cellulosic | Material::LongSeam | Material::Support => "R-1052",
    }
}
