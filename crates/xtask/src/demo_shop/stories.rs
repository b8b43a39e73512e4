//! The stories of April, each at a fixed joint, written by hand between the routine.

use std::collections::BTreeSet;

use anyhow::Result;

use super::book::{Book, Key, Named, Return, SlipKey, SpotCheck, Weld};
use super::catalogue::{Shift, welder};
use super::joint::Progress;
use super::lots::lot;
use super::planted::{Cause, Plant};
use super::quantity::Quantity;
use super::routine::Busy;
use super::stage::{Bench, written};
use super::time::{DAY, Minute, Stamp, at};

/// One story as told in STORIES.md. `{0}`, `{1}` … stand for the numbers of its slips.
pub(super) struct Story {
    pub(super) title: &'static str,
    pub(super) joints: &'static str,
    pub(super) happened: &'static str,
    pub(super) answer: &'static str,
    pub(super) slips: Vec<SlipKey>,
}

/// The stories, the findings that they leave, and the parts of shifts that they fill.
pub(super) struct Stories {
    pub(super) told: Vec<Story>,
    pub(super) also: Vec<Story>,
    pub(super) later: Vec<Story>,
    pub(super) plants: Vec<Plant>,
    pub(super) busy: Busy,
}

/// One weld record of a story.
pub(super) struct Told<'a> {
    pub(super) joint: &'a str,
    pub(super) cycle: &'static str,
    pub(super) pass: &'static str,
    pub(super) welder: &'static str,
    pub(super) named: Named,
    /// The lot that really went in, and the rods of it.
    pub(super) metal: (&'static str, u32),
    pub(super) from: Stamp,
    pub(super) to: Option<Stamp>,
    pub(super) mark: &'static str,
}

/// Writes stories into a book.
pub(super) struct Script<'a> {
    pub(super) book: &'a mut Book,
    busy: Busy,
    plants: Vec<Plant>,
}

/// Plants all stories. The routine works around them.
pub(super) fn plant(book: &mut Book) -> Result<Stories> {
    let mut script = Script { book, busy: BTreeSet::new(), plants: Vec::new() };
    let told = vec![
        script.clean()?,
        script.by_custody()?,
        script.look_alikes()?,
        script.transposed()?,
        script.misread()?,
        script.borrowed()?,
        script.across_shifts()?,
        script.never_returned()?,
        script.bad_lot()?,
        script.date_only()?,
        script.repeated_hour()?,
    ];
    let also = vec![
        script.before_release()?,
        script.not_qualified()?,
        script.too_long_out()?,
        script.another_class()?,
        script.forgotten_cap()?,
        script.no_record()?,
        script.no_certificate()?,
        script.numbers(),
    ];
    let later = script.later()?;
    Ok(Stories { told, also, later, plants: script.plants, busy: script.busy })
}

impl Script<'_> {
    pub(super) fn busy(&mut self, parts: &[(u32, &'static str, usize)]) {
        self.busy.extend(parts);
    }

    /// A finding that the shop must show.
    pub(super) fn finding(
        &mut self,
        code: &'static str,
        severity: &'static str,
        cause: Cause,
        mishap: &'static str,
        story: &'static str,
    ) {
        self.plants.push(Plant { code, severity, cause, mishap, story });
    }

    pub(super) fn level(&mut self, joint: &str, level: &'static str) -> Result<()> {
        self.book.joint(joint)?.level = level;
        Ok(())
    }

    pub(super) fn slip(
        &mut self,
        badge: &'static str,
        code: &str,
        rods: u32,
        minute: Minute,
    ) -> Result<SlipKey> {
        let welder = welder(badge)?;
        let day = minute / DAY + 1;
        let shift_end = match welder.shift {
            Shift::Day => at(day, 14, 30),
            Shift::Night => at(day, 23, 0).max(minute + 240),
        };
        let bench = Bench { welder, from: minute, to: minute, shift_end };
        Ok(self.book.issue(written(&bench, lot(code)?, Quantity::Rods(rods), minute)))
    }

    pub(super) fn back(&mut self, slip: SlipKey, rods: u32, stubs: u32, minute: Minute) -> Result<Key> {
        self.give(slip, rods, Some(stubs), "", minute)
    }

    pub(super) fn give(
        &mut self,
        slip: SlipKey,
        rods: u32,
        stubs: Option<u32>,
        closes: &'static str,
        minute: Minute,
    ) -> Result<Key> {
        let condition = if rods == 0 { "n/a" } else { "marked" };
        self.give_as(slip, rods, stubs, closes, condition, minute)
    }

    pub(super) fn give_as(
        &mut self,
        slip: SlipKey,
        rods: u32,
        stubs: Option<u32>,
        closes: &'static str,
        condition: &'static str,
        minute: Minute,
    ) -> Result<Key> {
        let by = welder(self.book.slip(slip)?.welder)?.attendant;
        self.book.take_back(Return {
            slip,
            quantity: Quantity::Rods(rods),
            stubs,
            condition,
            closes,
            at: Stamp::Local(minute),
            by,
            withdrawn: false,
        })
    }

    /// A GTAW or SMAW weld, by what went in.
    pub(super) fn weld(&mut self, told: Told<'_>) -> Result<Key> {
        let (code, rods) = told.metal;
        let metal = lot(code)?;
        let welder = welder(told.welder)?;
        let joint = self.book.joint(told.joint)?;
        if matches!(told.cycle, "original" | "tack") {
            joint.deposited_mg += u64::from(rods) * metal.piece_mg();
        }
        // Neither the looks nor the dates of the routine may disturb the story.
        joint.looked_at = true;
        joint.dated_only = true;
        Ok(self.book.record(Weld {
            joint: told.joint.to_owned(),
            cycle: told.cycle,
            pass: told.pass,
            process: if metal.is_covered() { "SMAW" } else { "GTAW" },
            filler: "",
            welder: told.welder,
            named: told.named,
            used: Some(Quantity::Rods(rods)),
            from: told.from,
            to: told.to,
            mark: told.mark,
            by: welder.attendant,
        }))
    }

    /// An original pass with ordinary times.
    #[allow(clippy::too_many_arguments, reason = "one weld record has that many parts")]
    pub(super) fn pass(
        &mut self,
        joint: &str,
        pass: &'static str,
        welder: &'static str,
        metal: (&'static str, u32),
        named: Named,
        from: Minute,
        to: Minute,
    ) -> Result<Key> {
        let (from, to) = (Stamp::Local(from), Some(Stamp::Local(to)));
        self.weld(Told { joint, cycle: "original", pass, welder, named, metal, from, to, mark: "read" })
    }

    pub(super) fn look(
        &mut self,
        joint: &str,
        badge: &'static str,
        reads: Option<&'static str>,
        minute: Minute,
    ) -> Result<Key> {
        let by = welder(badge)?.inspector;
        Ok(self.book.look(SpotCheck {
            joint: joint.to_owned(),
            welder: badge,
            at: Stamp::Local(minute),
            by,
            legible: if reads.is_some() { "yes" } else { "no" },
            reads: reads.unwrap_or(""),
        }))
    }

    pub(super) fn progress(&mut self, joint: &str, progress: Progress) -> Result<()> {
        self.book.joint(joint)?.progress = progress;
        Ok(())
    }

    /// (a) M-101.
    fn clean(&mut self) -> Result<Story> {
        self.busy(&[(1, "W-11", 0), (1, "W-11", 1)]);
        let rods = self.slip("W-11", "R-1028", 10, at(1, 6, 12))?;
        let named = Named::Both("R-1028", rods);
        let (from, to) = (Stamp::Local(at(1, 6, 25)), Some(Stamp::Local(at(1, 6, 33))));
        self.weld(Told {
            joint: "M-101",
            cycle: "tack",
            pass: "root",
            welder: "W-11",
            named,
            metal: ("R-1028", 1),
            from,
            to,
            mark: "read",
        })?;
        self.pass("M-101", "root", "W-11", ("R-1028", 4), named, at(1, 6, 45), at(1, 8, 5))?;
        self.look("M-101", "W-11", Some("70S-2"), at(1, 7, 20))?;
        self.pass("M-101", "hot", "W-11", ("R-1028", 4), named, at(1, 8, 20), at(1, 9, 35))?;
        self.back(rods, 1, 9, at(1, 9, 50))?;
        let electrodes = self.slip("W-11", "R-1040", 20, at(1, 10, 40))?;
        let named = Named::Lot("R-1040");
        self.pass("M-101", "fill", "W-11", ("R-1040", 11), named, at(1, 10, 55), at(1, 12, 40))?;
        let named = Named::Slip(electrodes);
        self.pass("M-101", "cap", "W-11", ("R-1040", 7), named, at(1, 12, 55), at(1, 14, 5))?;
        self.back(electrodes, 2, 18, at(1, 14, 20))?;
        self.progress("M-101", Progress::Done(at(1, 14, 5)))?;
        Ok(Story {
            title: "A clean joint",
            joints: "M-101",
            happened: "W-11 drew R-1028 on {0} and R-1040 on {1}, named lot or slip on every record, gave back rods and stubs. The inspector read 70S-2 in the root.",
            answer: "Every weld record is `recorded`, with one source and no others. No finding.",
            slips: vec![rods, electrodes],
        })
    }

    /// (b) M-102.
    fn by_custody(&mut self) -> Result<Story> {
        self.busy(&[(1, "W-12", 0), (1, "W-12", 1)]);
        let rods = self.slip("W-12", "R-1028", 10, at(1, 6, 15))?;
        self.pass("M-102", "root", "W-12", ("R-1028", 4), Named::Nothing, at(1, 6, 35), at(1, 8, 10))?;
        self.pass("M-102", "hot", "W-12", ("R-1028", 3), Named::Nothing, at(1, 8, 25), at(1, 9, 40))?;
        self.back(rods, 3, 7, at(1, 10, 0))?;
        let first = self.slip("W-12", "R-1040", 15, at(1, 10, 41))?;
        let second = self.slip("W-12", "R-1040", 15, at(1, 12, 10))?;
        let nothing = Named::Nothing;
        self.pass("M-102", "fill", "W-12", ("R-1040", 13), nothing, at(1, 11, 0), at(1, 12, 45))?;
        self.pass("M-102", "cap", "W-12", ("R-1040", 8), nothing, at(1, 12, 58), at(1, 14, 8))?;
        self.back(first, 0, 15, at(1, 14, 20))?;
        self.back(second, 9, 6, at(1, 14, 21))?;
        self.progress("M-102", Progress::Done(at(1, 14, 8)))?;
        Ok(Story {
            title: "Nothing named, one lot held",
            joints: "M-102",
            happened: "W-12 named nothing. In the root and hot pass W-12 held R-1028 alone ({0}); in fill and cap two slips of the same lot R-1040 ({1}, {2}).",
            answer: "All four are `by-custody`. Lots are counted, not slips: two slips of one lot are one lot.",
            slips: vec![rods, first, second],
        })
    }

    /// (c) M-103.
    fn look_alikes(&mut self) -> Result<Story> {
        self.busy(&[(2, "W-12", 0)]);
        let first = self.slip("W-12", "R-1028", 10, at(2, 6, 10))?;
        let second = self.slip("W-12", "R-1082", 10, at(2, 6, 14))?;
        let root =
            self.pass("M-103", "root", "W-12", ("R-1028", 4), Named::Nothing, at(2, 6, 40), at(2, 8, 20))?;
        self.finding(
            "several-sources",
            "act",
            Cause::Weld(root),
            "two-look-alike-lots",
            "W-12 held two look-alike lots of copper-coated rod and named neither for the root.",
        );
        self.pass("M-103", "hot", "W-12", ("R-1082", 4), Named::Lot("R-1082"), at(2, 8, 35), at(2, 9, 50))?;
        self.back(first, 6, 4, at(2, 10, 2))?;
        self.back(second, 6, 4, at(2, 10, 3))?;
        self.progress("M-103", Progress::Rooted(at(2, 10, 30)))?;
        self.book.joint("M-103")?.level = "lot";
        Ok(Story {
            title: "Two look-alike lots at once",
            joints: "M-103",
            happened: "W-12 held R-1028 (ER70S-2, {0}) and R-1082 (ER70S-6, {1}), both copper-coated rod of 3/32 in, and named nothing for the root; for the hot pass R-1082.",
            answer: "Root `one-of` 2, both lots listed; the joint is of level `lot`, so `several-sources`. Hot pass `recorded` R-1082 with R-1028 among the others.",
            slips: vec![first, second],
        })
    }

    /// (d) M-104.
    fn transposed(&mut self) -> Result<Story> {
        self.busy(&[(2, "W-11", 0)]);
        let rods = self.slip("W-11", "R-1028", 10, at(2, 6, 11))?;
        let root = self.pass(
            "M-104",
            "root",
            "W-11",
            ("R-1028", 5),
            Named::Lot("R-1082"),
            at(2, 6, 30),
            at(2, 8, 15),
        )?;
        self.finding(
            "contradicted-source",
            "stop",
            Cause::Weld(root),
            "digits-swapped",
            "W-11 held R-1028 alone and wrote R-1082 for the root.",
        );
        self.pass("M-104", "hot", "W-11", ("R-1028", 4), Named::Lot("R-1028"), at(2, 8, 30), at(2, 9, 45))?;
        self.back(rods, 1, 9, at(2, 10, 0))?;
        self.progress("M-104", Progress::Rooted(at(2, 10, 30)))?;
        Ok(Story {
            title: "Two digits swapped",
            joints: "M-104",
            happened: "W-11 held R-1028 alone ({0}) and wrote R-1082 for the root.",
            answer: "Root `contradicted`: the named lot was not in custody; the candidate R-1028 is listed. Hot pass `recorded` R-1028.",
            slips: vec![rods],
        })
    }

    /// (e) M-105.
    fn misread(&mut self) -> Result<Story> {
        self.busy(&[(2, "W-14", 0)]);
        let rods = self.slip("W-14", "R-1028", 10, at(2, 14, 42))?;
        let root =
            self.pass("M-105", "root", "W-14", ("R-1028", 5), Named::Nothing, at(2, 15, 0), at(2, 16, 40))?;
        self.finding(
            "contradicted-source",
            "stop",
            Cause::Weld(root),
            "another-class-read",
            "The inspector read 70S-6 on the rod in hand while W-14 held ER70S-2 alone.",
        );
        self.look("M-105", "W-14", Some("70S-6"), at(2, 15, 35))?;
        self.pass("M-105", "hot", "W-14", ("R-1028", 4), Named::Nothing, at(2, 16, 55), at(2, 18, 10))?;
        self.look("M-105", "W-14", Some("ER70S-2"), at(2, 17, 20))?;
        self.back(rods, 1, 9, at(2, 18, 30))?;
        self.progress("M-105", Progress::Rooted(at(2, 18, 40)))?;
        Ok(Story {
            title: "The inspector reads another class",
            joints: "M-105",
            happened: "W-14 held R-1028 (ER70S-2, {0}) alone and named nothing. During the root the inspector read 70S-6 on the rod in hand; during the hot pass ER70S-2.",
            answer: "Root `contradicted` by the spot check, with R-1028 still listed as its source: one rod looked at does not say what the others were. Hot pass `by-custody`.",
            slips: vec![rods],
        })
    }

    /// (f) B-206.
    fn borrowed(&mut self) -> Result<Story> {
        self.busy(&[(8, "W-11", 0), (8, "W-12", 0), (8, "W-12", 1)]);
        let lender = self.slip("W-11", "R-1028", 10, at(8, 6, 13))?;
        self.pass("B-205", "root", "W-11", ("R-1028", 4), Named::Slip(lender), at(8, 6, 30), at(8, 8, 50))?;
        self.back(lender, 3, 4, at(8, 10, 1))?;
        let root =
            self.pass("B-206", "root", "W-12", ("R-1028", 3), Named::Nothing, at(8, 7, 40), at(8, 9, 5))?;
        self.finding(
            "no-source",
            "stop",
            Cause::Weld(root),
            "borrowed-wire",
            "W-12 welded the root with three borrowed rods and held no slip.",
        );
        self.finding(
            "count-short",
            "act",
            Cause::Slip(lender),
            "borrowed-wire",
            "Three of W-11's ten rods went to a neighbour and nobody wrote it down.",
        );
        let own = self.slip("W-12", "R-1028", 8, at(8, 10, 42))?;
        self.pass("B-206", "hot", "W-12", ("R-1028", 3), Named::Slip(own), at(8, 11, 0), at(8, 12, 15))?;
        self.back(own, 5, 3, at(8, 12, 30))?;
        self.progress("B-205", Progress::Rooted(at(8, 10, 30)))?;
        self.progress("B-206", Progress::Rooted(at(8, 12, 40)))?;
        Ok(Story {
            title: "Borrowed wire",
            joints: "B-206",
            happened: "W-12 welded the root with three rods and held no slip at the time. The rods came from W-11's {0}, which nobody wrote down: of 10 rods 3 came back and 4 stubs. W-12's own slip {1} came later.",
            answer: "Root `unknown`: no source, `no-source`. On {0} `count-short` by 3. Hot pass `recorded`.",
            slips: vec![lender, own],
        })
    }

    /// (g) M-107 and M-108.
    fn across_shifts(&mut self) -> Result<Story> {
        self.busy(&[(7, "W-11", 1), (7, "W-14", 0)]);
        let first = self.slip("W-11", "R-1082", 15, at(7, 10, 40))?;
        self.pass("M-107", "root", "W-11", ("R-1082", 5), Named::Slip(first), at(7, 11, 0), at(7, 13, 40))?;
        self.give(first, 0, Some(5), "no", at(7, 14, 24))?;
        let at_the_change = Stamp::Local(at(7, 14, 26));
        let second = self.book.hand_over(first, "W-14", Quantity::Rods(10), "yes", at_the_change, "A-01")?;
        self.pass("M-107", "hot", "W-14", ("R-1082", 4), Named::Nothing, at(7, 14, 50), at(7, 16, 10))?;
        self.pass("M-108", "root", "W-14", ("R-1082", 4), Named::Slip(second), at(7, 16, 30), at(7, 18, 10))?;
        self.back(second, 2, 8, at(7, 18, 25))?;
        self.progress("M-107", Progress::Rooted(at(7, 16, 20)))?;
        self.progress("M-108", Progress::Rooted(at(7, 18, 30)))?;
        Ok(Story {
            title: "Handed over at the change of shift",
            joints: "M-107, M-108",
            happened: "W-11 welded the root of M-107 from {0} and handed the other 10 rods to W-14 as {1}. W-14 named nothing for the hot pass of M-107 and {1} for the root of M-108.",
            answer: "M-107 root `recorded`, hot pass `by-custody` through {1}; M-108 root `recorded`. All R-1082, whose custody runs on without a gap.",
            slips: vec![first, second],
        })
    }

    /// (h) D-419.
    fn never_returned(&mut self) -> Result<Story> {
        // The last days of W-16, with an open slip.
        self.busy(&[
            (27, "W-16", 0),
            (27, "W-16", 1),
            (28, "W-16", 0),
            (28, "W-16", 1),
            (29, "W-16", 0),
            (29, "W-16", 1),
            (30, "W-16", 0),
            (30, "W-16", 1),
        ]);
        let open = self.slip("W-16", "R-1052", 10, at(27, 14, 45))?;
        self.pass(
            "D-418",
            "root",
            "W-16",
            ("R-1052", 4),
            Named::Lot("R-1052"),
            at(27, 15, 0),
            at(27, 16, 40),
        )?;
        let rods = self.slip("W-16", "R-1050", 10, at(29, 14, 43))?;
        let root =
            self.pass("D-419", "root", "W-16", ("R-1050", 4), Named::Nothing, at(29, 15, 0), at(29, 16, 30))?;
        self.level("D-419", "lot")?;
        self.finding(
            "slip-overdue",
            "note",
            Cause::Slip(open),
            "slip-never-closed",
            "W-16 drew rods for D-418, gave nothing back, and left the shop.",
        );
        self.finding(
            "several-sources",
            "act",
            Cause::Weld(root),
            "slip-never-closed",
            "A slip that was still open stayed a candidate beside the lot drawn for D-419.",
        );
        self.pass("D-419", "hot", "W-16", ("R-1050", 3), Named::Slip(rods), at(29, 16, 45), at(29, 18, 0))?;
        self.back(rods, 3, 7, at(29, 18, 20))?;
        self.progress("D-418", Progress::Rooted(at(27, 18, 0)))?;
        self.progress("D-419", Progress::Rooted(at(29, 18, 30)))?;
        Ok(Story {
            title: "A slip that never came back",
            joints: "D-419",
            happened: "W-16 drew R-1052 on {0} for D-418 and gave nothing back. Two days later W-16 drew R-1050 on {1} and named nothing for the root of D-419. On 30 April W-16 went to the crew at the wells.",
            answer: "D-419 root `one-of` R-1050 and R-1052: an open slip stays a candidate in everything W-16 welds later by GTAW; the joint is of level `lot`, so `several-sources`. Hot pass `recorded` R-1050 with R-1052 among the others. {0} is listed as out, `slip-overdue`.",
            slips: vec![open, rods],
        })
    }

    /// (i) R-1031 at M-110 to M-114 and M-147, beside the routine.
    fn bad_lot(&mut self) -> Result<Story> {
        self.busy(&[
            (9, "W-11", 0),
            (9, "W-12", 0),
            (9, "W-14", 0),
            (10, "W-15", 0),
            (10, "W-11", 0),
            (30, "W-14", 1),
        ]);
        let lot = "R-1031";
        let recorded = self.slip("W-11", lot, 10, at(9, 6, 9))?;
        self.pass("M-110", "root", "W-11", (lot, 5), Named::Lot(lot), at(9, 6, 30), at(9, 9, 40))?;
        self.back(recorded, 5, 5, at(9, 10, 0))?;
        let custody = self.slip("W-12", lot, 10, at(9, 6, 12))?;
        self.pass("M-111", "root", "W-12", (lot, 6), Named::Nothing, at(9, 6, 35), at(9, 9, 30))?;
        self.back(custody, 4, 6, at(9, 10, 1))?;
        let bad = self.slip("W-14", lot, 10, at(9, 14, 40))?;
        let good = self.slip("W-14", "R-1028", 10, at(9, 14, 44))?;
        let several =
            self.pass("M-112", "root", "W-14", (lot, 4), Named::Nothing, at(9, 15, 0), at(9, 18, 0))?;
        self.level("M-112", "lot")?;
        self.finding(
            "several-sources",
            "act",
            Cause::Weld(several),
            "two-look-alike-lots",
            "W-14 held R-1031 and R-1028 and named neither for the root.",
        );
        self.back(bad, 6, 4, at(9, 18, 20))?;
        self.back(good, 10, 0, at(9, 18, 21))?;
        let other = self.slip("W-15", "R-1082", 10, at(10, 14, 41))?;
        let wrong =
            self.pass("M-113", "root", "W-15", ("R-1082", 5), Named::Lot(lot), at(10, 15, 0), at(10, 18, 5))?;
        self.finding(
            "contradicted-source",
            "stop",
            Cause::Weld(wrong),
            "lot-of-the-week-written",
            "W-15 held R-1082 alone and wrote R-1031, the lot that most had that week.",
        );
        self.back(other, 5, 5, at(10, 18, 25))?;
        let used = self.slip("W-11", "R-1028", 10, at(10, 6, 10))?;
        let beside = self.slip("W-11", lot, 10, at(10, 6, 12))?;
        self.pass("M-114", "root", "W-11", ("R-1028", 5), Named::Slip(used), at(10, 6, 30), at(10, 9, 35))?;
        self.back(used, 5, 5, at(10, 9, 59))?;
        self.back(beside, 10, 0, at(10, 10, 1))?;
        let out = self.slip("W-14", lot, 10, at(30, 19, 10))?;
        self.pass("M-147", "root", "W-14", (lot, 4), Named::Slip(out), at(30, 19, 30), at(30, 21, 40))?;
        self.finding(
            "slip-overdue",
            "note",
            Cause::Slip(out),
            "hold-while-rods-are-out",
            "On the last evening W-14 took rods of R-1031 along to the wells; the hold comes while they are out.",
        );
        for (joint, minute) in [
            ("M-110", at(9, 10, 30)),
            ("M-111", at(9, 10, 30)),
            ("M-112", at(9, 18, 30)),
            ("M-113", at(10, 18, 30)),
            ("M-114", at(10, 10, 30)),
            ("M-147", at(30, 23, 50)),
        ] {
            self.progress(joint, Progress::Rooted(minute))?;
        }
        Ok(Story {
            title: "A bad lot",
            joints: "M-110 to M-114, M-147 and the routine",
            happened: "R-1031 is to be recalled in the walk-through. At fixed joints: M-110 named it while held ({0}); M-111 named nothing while it was the only one held ({1}); M-112 named nothing while R-1028 was held too ({2}); M-113 named it while W-15 held R-1082 only; M-114 named another slip while R-1031 lay beside it ({3}); M-147 used it on W-14's last evening in the shop and {4} is still out: the hold comes while rods are out. The routine of 8 to 17 April used it in more joints.",
            answer: "`trace lot R-1031` lists them all: M-110 and M-147 source, `recorded`; M-111 source, `by-custody`; M-112 source, `one-of` 2; M-113 named, `contradicted`; M-114 other, `recorded` for R-1028; {4} out with W-14, `slip-overdue`. Were the hold of 30 April, 20:00, `lot-not-released` would be found at the root of M-147, welded until 21:40. By heat 51207 or 51211 or certificate QE-7741 the answer is the same.",
            slips: vec![recorded, custody, bad, beside, out],
        })
    }

    /// (j) M-120.
    fn date_only(&mut self) -> Result<Story> {
        self.busy(&[(13, "W-15", 1), (14, "W-15", 0), (14, "W-15", 1)]);
        let late = self.slip("W-15", "R-1028", 10, at(13, 23, 5))?;
        self.pass("M-119", "root", "W-15", ("R-1028", 5), Named::Slip(late), at(13, 23, 15), at(14, 0, 30))?;
        self.back(late, 5, 5, at(14, 0, 50))?;
        let rods = self.slip("W-15", "R-1082", 10, at(14, 14, 44))?;
        let root = self.weld(Told {
            joint: "M-120",
            cycle: "original",
            pass: "root",
            welder: "W-15",
            named: Named::Nothing,
            metal: ("R-1082", 5),
            from: Stamp::Date(at(14, 15, 0)),
            to: None,
            mark: "not-looked",
        })?;
        self.level("M-120", "lot")?;
        self.finding(
            "several-sources",
            "act",
            Cause::Weld(root),
            "only-a-date",
            "The root was recorded with a date only, and two lots were held on that day.",
        );
        self.pass("M-120", "hot", "W-15", ("R-1082", 4), Named::Nothing, at(14, 16, 50), at(14, 18, 5))?;
        self.back(rods, 1, 9, at(14, 18, 25))?;
        self.progress("M-119", Progress::Rooted(at(14, 6, 0)))?;
        self.progress("M-120", Progress::Rooted(at(14, 18, 40)))?;
        Ok(Story {
            title: "Only a date",
            joints: "M-120",
            happened: "W-15 worked overtime into 14 April with R-1028, given back at 00:50 ({0}), came again at 14:30 and drew R-1082 ({1}). The root of M-120 was recorded as welded on 2026-04-14, without a time and without a lot.",
            answer: "Root `one-of` R-1028 and R-1082: a bare date is the whole day, and both were held on it. The hot pass, with times, is `by-custody` R-1082.",
            slips: vec![late, rods],
        })
    }

    /// (k) M-109.
    fn repeated_hour(&mut self) -> Result<Story> {
        self.busy(&[(4, "W-15", 1)]);
        let first = self.slip("W-15", "R-1028", 10, at(4, 23, 20))?;
        self.pass("M-109", "root", "W-15", ("R-1028", 5), Named::Lot("R-1028"), at(4, 23, 40), at(5, 1, 30))?;
        self.back(first, 5, 5, at(5, 2, 15))?;
        let second = self.slip("W-15", "R-1082", 10, at(5, 2, 20))?;
        let twice =
            self.pass("M-109", "hot", "W-15", ("R-1082", 3), Named::Nothing, at(5, 2, 30), at(5, 2, 50))?;
        self.level("M-109", "lot")?;
        self.finding(
            "several-sources",
            "act",
            Cause::Weld(twice),
            "hour-that-came-twice",
            "The clocks went back, and the return of one lot may have come after the weld with the next began.",
        );
        self.weld(Told {
            joint: "M-109",
            cycle: "original",
            pass: "hot",
            welder: "W-15",
            named: Named::Nothing,
            metal: ("R-1082", 2),
            from: Stamp::Offset(at(5, 2, 55), 12),
            to: Some(Stamp::Offset(at(5, 3, 20), 12)),
            mark: "read",
        })?;
        self.back(second, 5, 5, at(5, 3, 35))?;
        self.progress("M-109", Progress::Rooted(at(6, 6, 0)))?;
        Ok(Story {
            title: "The hour that came twice",
            joints: "M-109",
            happened: "In the night to 5 April the clocks went back from 03:00 to 02:00. W-15 gave R-1028 back at 02:15 ({0}), drew R-1082 at 02:20 ({1}) and welded from 02:30 to 02:50; then once more from 02:55+12:00.",
            answer: "The first hot pass is `one-of` R-1028 and R-1082: each of these times was twice, so the return may have come after the weld began. The second states its offset and is `by-custody` R-1082.",
            slips: vec![first, second],
        })
    }

    /// D-409.
    fn before_release(&mut self) -> Result<Story> {
        self.busy(&[(14, "W-13", 0)]);
        let slip = self.slip("W-13", "R-1053", 10, at(14, 6, 20))?;
        let root = self.pass(
            "D-409",
            "root",
            "W-13",
            ("R-1053", 4),
            Named::Slip(slip),
            at(14, 6, 40),
            at(14, 8, 20),
        )?;
        self.finding(
            "lot-not-released",
            "stop",
            Cause::Slip(slip),
            "used-before-release",
            "R-1053 was handed out three hours before it was released.",
        );
        self.finding(
            "lot-not-released",
            "stop",
            Cause::Weld(root),
            "used-before-release",
            "The root was welded with R-1053 before it was released.",
        );
        self.back(slip, 6, 4, at(14, 10, 0))?;
        self.progress("D-409", Progress::Rooted(at(15, 0, 10)))?;
        Ok(Story {
            title: "Used before the release",
            joints: "D-409",
            happened: "R-1053 was released on 14 April at 09:30 and issued at 06:20 ({0}).",
            answer: "`lot-not-released` for the slip and for the root, welded from 06:40 to 08:20.",
            slips: vec![slip],
        })
    }

    /// S-309.
    fn not_qualified(&mut self) -> Result<Story> {
        self.busy(&[(15, "W-16", 0)]);
        let slip = self.slip("W-16", "R-1040", 10, at(15, 14, 40))?;
        let (from, to) = (Stamp::Local(at(15, 15, 0)), Some(Stamp::Local(at(15, 15, 40))));
        self.weld(Told {
            joint: "S-309",
            cycle: "tack",
            pass: "root",
            welder: "W-16",
            named: Named::Slip(slip),
            metal: ("R-1040", 2),
            from,
            to,
            mark: "read",
        })?;
        self.back(slip, 8, 2, at(15, 16, 0))?;
        self.progress("S-309", Progress::Open(at(15, 18, 0)))?;
        Ok(Story {
            title: "A welder without the qualification",
            joints: "S-309",
            happened: "W-16 tacked with E7018-1 H4R ({0}) and has no SMAW qualification.",
            answer: "No finding of this list; a question of qualification.",
            slips: vec![slip],
        })
    }

    /// B-215.
    fn too_long_out(&mut self) -> Result<Story> {
        self.busy(&[(15, "W-12", 0), (16, "W-12", 0), (16, "W-12", 1)]);
        let rods = self.slip("W-12", "R-1028", 10, at(15, 6, 10))?;
        self.pass("B-215", "root", "W-12", ("R-1028", 4), Named::Lot("R-1028"), at(15, 6, 30), at(15, 8, 0))?;
        self.pass("B-215", "hot", "W-12", ("R-1028", 4), Named::Lot("R-1028"), at(15, 8, 15), at(15, 9, 30))?;
        self.back(rods, 2, 8, at(15, 9, 55))?;
        let slip = self.slip("W-12", "R-1044", 20, at(16, 6, 10))?;
        let named = Named::Slip(slip);
        self.pass("B-215", "fill", "W-12", ("R-1044", 11), named, at(16, 6, 30), at(16, 8, 40))?;
        self.pass("B-215", "cap", "W-12", ("R-1044", 7), named, at(16, 12, 10), at(16, 13, 0))?;
        self.back(slip, 2, 18, at(16, 13, 20))?;
        self.progress("B-215", Progress::Done(at(16, 13, 0)))?;
        Ok(Story {
            title: "Too long out of the oven",
            joints: "B-215",
            happened: "Plain E7018 (R-1044, {0}) was drawn at 06:10 and used for the cap at 12:10, six hours later.",
            answer: "No finding of this list; a question of exposure, where a table gives a limit for E7018 without the suffix R.",
            slips: vec![slip],
        })
    }

    /// D-412.
    fn another_class(&mut self) -> Result<Story> {
        self.busy(&[(21, "W-13", 0)]);
        let slip = self.slip("W-13", "R-1052", 10, at(21, 6, 12))?;
        let metal = |rods| ("R-1052", rods);
        let named = Named::Lot("R-1052");
        for weld in [
            self.pass("D-412", "root", "W-13", metal(4), named, at(21, 6, 30), at(21, 8, 0))?,
            self.pass("D-412", "hot", "W-13", metal(4), named, at(21, 8, 15), at(21, 9, 40))?,
        ] {
            self.finding(
                "class-not-in-wps",
                "stop",
                Cause::Weld(weld),
                "wrong-class-for-the-wps",
                "W-13 took the stainless rod of the day before into a duplex joint.",
            );
            self.finding(
                "size-not-in-wps",
                "act",
                Cause::Weld(weld),
                "wrong-class-for-the-wps",
                "The stainless rod is of 3/32 in, and the procedure has 2.4 mm only.",
            );
        }
        self.back(slip, 2, 8, at(21, 9, 58))?;
        self.progress("D-412", Progress::Rooted(at(21, 10, 30)))?;
        Ok(Story {
            title: "A stainless rod in a duplex joint",
            joints: "D-412",
            happened: "Root and hot pass name R-1052 (ER316L, {0}); WPS-DX-04 allows ER2209 and ERNiCrMo-3.",
            answer: "`class-not-in-wps`, stop, at both: the only source does not fit. The size 3/32 in is not in it either: `size-not-in-wps`.",
            slips: vec![slip],
        })
    }

    /// B-230.
    fn forgotten_cap(&mut self) -> Result<Story> {
        self.busy(&[(22, "W-11", 0), (22, "W-11", 1)]);
        let roots = self.slip("W-11", "R-1047", 8, at(22, 6, 10))?;
        let named = Named::Slip(roots);
        self.pass("B-230", "root", "W-11", ("R-1047", 4), named, at(22, 6, 25), at(22, 8, 0))?;
        self.pass("B-230", "hot", "W-11", ("R-1047", 4), named, at(22, 8, 15), at(22, 9, 30))?;
        self.back(roots, 0, 8, at(22, 9, 50))?;
        let fill = self.slip("W-11", "R-1040", 12, at(22, 10, 40))?;
        let named = Named::Slip(fill);
        self.pass("B-230", "fill", "W-11", ("R-1040", 12), named, at(22, 10, 50), at(22, 12, 20))?;
        self.back(fill, 0, 12, at(22, 12, 30))?;
        let cap = self.slip("W-11", "R-1040", 12, at(22, 12, 32))?;
        self.back(cap, 4, 8, at(22, 14, 15))?;
        self.finding(
            "slip-unused",
            "note",
            Cause::Slip(cap),
            "pass-nobody-recorded",
            "Eight electrodes went into a cap that nobody wrote down.",
        );
        self.progress("B-230", Progress::Done(at(22, 14, 10)))?;
        Ok(Story {
            title: "A pass that nobody recorded",
            joints: "B-230",
            happened: "Root, hot pass and fill are recorded with the rods used. The cap was welded with eight electrodes of {0} and not recorded.",
            answer: "`slip-unused` for {0}: its metal is in no weld record. `reconcile` would show too little metal in the joint.",
            slips: vec![cap],
        })
    }

    /// B-244 and M-148.
    fn no_record(&mut self) -> Result<Story> {
        self.busy(&[(28, "W-12", 0), (28, "W-12", 1)]);
        let root = self.slip("W-12", "R-1047", 10, at(28, 6, 15))?;
        self.back(root, 2, 8, at(28, 10, 0))?;
        let fill = self.slip("W-12", "R-1040", 20, at(28, 10, 40))?;
        self.back(fill, 3, 17, at(28, 14, 20))?;
        self.finding(
            "joint-without-weld-record",
            "note",
            Cause::Joint("B-244"),
            "joint-nobody-recorded",
            "B-244 was finished on 28 April and nobody recorded a weld.",
        );
        for slip in [root, fill] {
            self.finding(
                "slip-unused",
                "note",
                Cause::Slip(slip),
                "joint-nobody-recorded",
                "The metal of B-244 left the crib and is in no weld record.",
            );
        }
        self.finding(
            "joint-without-weld-record",
            "note",
            Cause::Joint("M-148"),
            "joint-not-begun",
            "M-148 is declared and not begun; the walk-through hands out its first rods.",
        );
        let joint = self.book.joint("B-244")?;
        joint.progress = Progress::Apart;
        joint.finished_at = Some(Stamp::Local(at(28, 14, 25)));
        Ok(Story {
            title: "No record at all",
            joints: "B-244; M-148",
            happened: "B-244 was finished on 28 April from {0} and {1} and has no weld record. M-148 was not begun.",
            answer: "`joint-without-weld-record` for both, `slip-unused` for {0} and {1}.",
            slips: vec![root, fill],
        })
    }

    /// B-207.
    fn no_certificate(&mut self) -> Result<Story> {
        self.busy(&[(23, "W-12", 0)]);
        let first = self.slip("W-12", "R-1035", 6, at(23, 6, 10))?;
        self.pass("B-207", "root", "W-12", ("R-1035", 5), Named::Slip(first), at(23, 6, 25), at(23, 7, 50))?;
        self.back(first, 1, 5, at(23, 7, 58))?;
        let second = self.slip("W-12", "R-1035", 6, at(23, 8, 5))?;
        self.pass("B-207", "hot", "W-12", ("R-1035", 4), Named::Slip(second), at(23, 8, 15), at(23, 9, 40))?;
        self.back(second, 2, 4, at(23, 10, 0))?;
        for slip in [first, second] {
            self.finding(
                "lot-without-certificate",
                "act",
                Cause::Slip(slip),
                "certificate-never-came",
                "R-1035 was booked in on its box label; the certificate was to follow and never came.",
            );
        }
        self.progress("B-207", Progress::Rooted(at(23, 10, 30)))?;
        Ok(Story {
            title: "The certificate that was to follow",
            joints: "B-207",
            happened: "R-1035 was booked in on its box label and handed out on {0} and {1}.",
            answer: "`lot-without-certificate` for each of the two slips.",
            slips: vec![first, second],
        })
    }

    fn numbers(&mut self) -> Story {
        for (first, second, story) in [
            ("R-1052", "R-1053", "Maker's lots 8B416 and 88416 differ by a B for an 8."),
            ("R-1105", "R-1125", "Maker's lots C6-0511 and C6-O511 differ by an O for a 0."),
            ("R-1121", "R-1123", "Heats 7K2514 and 7K2S14 differ by an S for a 5."),
            ("R-1102", "R-1124", "Certificates TW-26-0518 and TW-26-O518 differ by an O for a 0."),
        ] {
            self.finding("look-alike-number", "act", Cause::Lots(first, second), "look-alike-numbers", story);
        }
        Story {
            title: "Numbers that deceive",
            joints: "—",
            happened: "Maker's lots 8B416 (R-1052) and 88416 (R-1053), C6-0511 (R-1105) and C6-O511 (R-1125); heats 7K2514 (R-1121) and 7K2S14 (R-1123); certificates TW-26-0518 (R-1102) and TW-26-O518 (R-1124). Certificates TW-26-0531 (R-1101) and TW-26-0513 (R-1121) differ by a swap, as R-1028 and R-1082 do. Maker's lot 62055 from two makers (R-1031, R-1035). Heats 7E210 and 004417, which a spreadsheet turns into numbers. Certificate PB-5533 covers the SAW wire R-1063 and its flux R-1065. R-1044 has a 2.2 and no heat.",
            answer: "`look-alike-number` for the four pairs, none for a swap; a lot asked by 62055 means two things; the heats come out as they went in; `trace cert PB-5533` answers for both lots.",
            slips: vec![],
        }
    }
}
