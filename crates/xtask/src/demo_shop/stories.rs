//! The stories of the walk-through, each at a fixed joint, written by hand between the routine.

use std::collections::BTreeSet;

use anyhow::Result;

use super::book::{Book, Named, Return, SlipKey, SpotCheck, Weld};
use super::catalogue::{Shift, lot, welder};
use super::joint::Progress;
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

/// The stories, and the parts of shifts that they fill.
pub(super) struct Stories {
    pub(super) told: Vec<Story>,
    pub(super) also: Vec<Story>,
    pub(super) busy: Busy,
}

/// One weld record of a story.
struct Told<'a> {
    joint: &'a str,
    cycle: &'static str,
    pass: &'static str,
    welder: &'static str,
    named: Named,
    /// The lot that really went in, and the rods of it.
    metal: (&'static str, u32),
    from: Stamp,
    to: Option<Stamp>,
    mark: &'static str,
}

struct Script<'a> {
    book: &'a mut Book,
    busy: Busy,
}

/// Plants all stories. The routine works around them.
pub(super) fn plant(book: &mut Book) -> Result<Stories> {
    let mut script = Script { book, busy: BTreeSet::new() };
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
        script.another_class(),
        script.forgotten_cap(),
        script.no_record(),
        script.numbers(),
    ];
    Ok(Stories { told, also, busy: script.busy })
}

impl Script<'_> {
    fn busy(&mut self, parts: &[(u32, &'static str, usize)]) {
        self.busy.extend(parts);
    }

    fn slip(&mut self, badge: &'static str, code: &str, rods: u32, minute: Minute) -> Result<SlipKey> {
        let welder = welder(badge)?;
        let day = minute / DAY + 1;
        let shift_end = match welder.shift {
            Shift::Day => at(day, 14, 30),
            Shift::Night => at(day, 23, 0).max(minute + 240),
        };
        let bench = Bench { welder, from: minute, to: minute, shift_end };
        Ok(self.book.issue(written(&bench, lot(code)?, Quantity::Rods(rods), minute)))
    }

    fn back(&mut self, slip: SlipKey, rods: u32, stubs: u32, minute: Minute) -> Result<()> {
        self.give(slip, rods, Some(stubs), "", minute)
    }

    fn give(
        &mut self,
        slip: SlipKey,
        rods: u32,
        stubs: Option<u32>,
        closes: &'static str,
        minute: Minute,
    ) -> Result<()> {
        let by = welder(self.book.slip(slip)?.welder)?.attendant;
        self.book.returns.push(Return {
            slip,
            quantity: Quantity::Rods(rods),
            stubs,
            condition: if rods == 0 { "n/a" } else { "marked" },
            closes,
            at: Stamp::Local(minute),
            by,
            withdrawn: false,
        });
        Ok(())
    }

    /// A GTAW or SMAW weld, by what went in.
    fn weld(&mut self, told: Told<'_>) -> Result<()> {
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
        self.book.welds.push(Weld {
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
        });
        Ok(())
    }

    /// An original pass with ordinary times.
    #[allow(clippy::too_many_arguments, reason = "one weld record has that many parts")]
    fn pass(
        &mut self,
        joint: &str,
        pass: &'static str,
        welder: &'static str,
        metal: (&'static str, u32),
        named: Named,
        from: Minute,
        to: Minute,
    ) -> Result<()> {
        let (from, to) = (Stamp::Local(from), Some(Stamp::Local(to)));
        self.weld(Told { joint, cycle: "original", pass, welder, named, metal, from, to, mark: "read" })
    }

    fn look(&mut self, joint: &str, badge: &'static str, reads: &'static str, minute: Minute) -> Result<()> {
        let by = welder(badge)?.inspector;
        self.book.checks.push(SpotCheck {
            joint: joint.to_owned(),
            welder: badge,
            at: Stamp::Local(minute),
            by,
            legible: "yes",
            reads,
        });
        Ok(())
    }

    fn progress(&mut self, joint: &str, progress: Progress) -> Result<()> {
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
        self.look("M-101", "W-11", "70S-2", at(1, 7, 20))?;
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
        self.pass("M-103", "root", "W-12", ("R-1028", 4), Named::Nothing, at(2, 6, 40), at(2, 8, 20))?;
        self.pass("M-103", "hot", "W-12", ("R-1082", 4), Named::Lot("R-1082"), at(2, 8, 35), at(2, 9, 50))?;
        self.back(first, 6, 4, at(2, 10, 2))?;
        self.back(second, 6, 4, at(2, 10, 3))?;
        self.progress("M-103", Progress::Rooted(at(2, 10, 30)))?;
        self.book.joint("M-103")?.level = "lot";
        Ok(Story {
            title: "Two look-alike lots at once",
            joints: "M-103",
            happened: "W-12 held R-1028 (ER70S-2, {0}) and R-1082 (ER70S-6, {1}), both copper-coated rod of 3/32 in, and named nothing for the root; for the hot pass R-1082.",
            answer: "Root `one-of` 2, both lots listed; the joint is of level `lot`, so `several-sources`. Hot pass `recorded` R-1082 with R-1028 among the others. Finding `mixed-lots-held`.",
            slips: vec![first, second],
        })
    }

    /// (d) M-104.
    fn transposed(&mut self) -> Result<Story> {
        self.busy(&[(2, "W-11", 0)]);
        let rods = self.slip("W-11", "R-1028", 10, at(2, 6, 11))?;
        self.pass("M-104", "root", "W-11", ("R-1028", 5), Named::Lot("R-1082"), at(2, 6, 30), at(2, 8, 15))?;
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
        self.pass("M-105", "root", "W-14", ("R-1028", 5), Named::Nothing, at(2, 15, 0), at(2, 16, 40))?;
        self.look("M-105", "W-14", "70S-6", at(2, 15, 35))?;
        self.pass("M-105", "hot", "W-14", ("R-1028", 4), Named::Nothing, at(2, 16, 55), at(2, 18, 10))?;
        self.look("M-105", "W-14", "ER70S-2", at(2, 17, 20))?;
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
        self.pass("B-206", "root", "W-12", ("R-1028", 3), Named::Nothing, at(8, 7, 40), at(8, 9, 5))?;
        let own = self.slip("W-12", "R-1028", 8, at(8, 10, 42))?;
        self.pass("B-206", "hot", "W-12", ("R-1028", 3), Named::Slip(own), at(8, 11, 0), at(8, 12, 15))?;
        self.back(own, 5, 3, at(8, 12, 30))?;
        self.progress("B-205", Progress::Rooted(at(8, 10, 30)))?;
        self.progress("B-206", Progress::Rooted(at(8, 12, 40)))?;
        Ok(Story {
            title: "Borrowed wire",
            joints: "B-206",
            happened: "W-12 welded the root with three rods and held no slip at the time. The rods came from W-11's {0}, which nobody wrote down: of 10 rods 3 came back and 4 stubs. W-12's own slip {1} came later.",
            answer: "Root `unknown`: no source, `no-source`, and three rods of unrecorded metal (`unrecorded-metal`). On {0} `count-short` by 3. Hot pass `recorded`.",
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
        self.busy(&[(27, "W-16", 0), (29, "W-16", 0)]);
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
        self.pass("D-419", "root", "W-16", ("R-1050", 4), Named::Nothing, at(29, 15, 0), at(29, 16, 30))?;
        self.pass("D-419", "hot", "W-16", ("R-1050", 3), Named::Slip(rods), at(29, 16, 45), at(29, 18, 0))?;
        self.back(rods, 3, 7, at(29, 18, 20))?;
        self.progress("D-418", Progress::Rooted(at(27, 18, 0)))?;
        self.progress("D-419", Progress::Rooted(at(29, 18, 30)))?;
        Ok(Story {
            title: "A slip that never came back",
            joints: "D-419",
            happened: "W-16 drew R-1052 on {0} for D-418 and gave nothing back. Two days later W-16 drew R-1050 on {1} and named nothing for the root of D-419.",
            answer: "D-419 root `one-of` R-1050 and R-1052: an open slip stays a candidate in everything W-16 welds later by GTAW. Hot pass `recorded` R-1050 with R-1052 among the others. {0} is listed as out, `slip-overdue`.",
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
        self.pass("M-112", "root", "W-14", (lot, 4), Named::Nothing, at(9, 15, 0), at(9, 18, 0))?;
        self.back(bad, 6, 4, at(9, 18, 20))?;
        self.back(good, 10, 0, at(9, 18, 21))?;
        let other = self.slip("W-15", "R-1082", 10, at(10, 14, 41))?;
        self.pass("M-113", "root", "W-15", ("R-1082", 5), Named::Lot(lot), at(10, 15, 0), at(10, 18, 5))?;
        self.back(other, 5, 5, at(10, 18, 25))?;
        let used = self.slip("W-11", "R-1028", 10, at(10, 6, 10))?;
        let beside = self.slip("W-11", lot, 10, at(10, 6, 12))?;
        self.pass("M-114", "root", "W-11", ("R-1028", 5), Named::Slip(used), at(10, 6, 30), at(10, 9, 35))?;
        self.back(used, 5, 5, at(10, 9, 59))?;
        self.back(beside, 10, 0, at(10, 10, 1))?;
        let out = self.slip("W-14", lot, 10, at(30, 19, 10))?;
        self.pass("M-147", "root", "W-14", (lot, 4), Named::Slip(out), at(30, 19, 30), at(30, 21, 40))?;
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
            happened: "R-1031 is to be recalled in the walk-through. At fixed joints: M-110 named it while held ({0}); M-111 named nothing while it was the only one held ({1}); M-112 named nothing while R-1028 was held too ({2}); M-113 named it while W-15 held R-1082 only; M-114 named another slip while R-1031 lay beside it ({3}); M-147 used it on the last evening and {4} is still out. The routine of 8 to 17 April used it in more joints.",
            answer: "`trace lot R-1031` lists them all: M-110 and M-147 source, `recorded`; M-111 source, `by-custody`; M-112 source, `one-of` 2; M-113 named, `contradicted`; M-114 other, `recorded` for R-1028; {4} out with W-14. By heat 51207 or 51211 or certificate QE-7741 the answer is the same.",
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
        self.weld(Told {
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
        self.pass("M-109", "hot", "W-15", ("R-1082", 3), Named::Nothing, at(5, 2, 30), at(5, 2, 50))?;
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
        self.pass("D-409", "root", "W-13", ("R-1053", 4), Named::Slip(slip), at(14, 6, 40), at(14, 8, 20))?;
        self.back(slip, 6, 4, at(14, 10, 0))?;
        self.progress("D-409", Progress::Rooted(at(15, 0, 10)))?;
        Ok(Story {
            title: "Issued before the release",
            joints: "D-409",
            happened: "R-1053 was released on 14 April at 09:30 and issued at 06:20 ({0}).",
            answer: "`lot-not-released`.",
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
            answer: "`welder-not-qualified`.",
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
            answer: "`exposure-spent`, where the table gives a limit for E7018 without the suffix R.",
            slips: vec![slip],
        })
    }

    fn another_class(&self) -> Story {
        Story {
            title: "A stainless rod in a duplex joint",
            joints: "D-412",
            happened: "Root and hot pass name R-1052 (ER316L); WPS-DX-04 allows ER2209 and ERNiCrMo-3.",
            answer: "`class-not-in-wps`, stop: the recorded lot does not fit. The size 3/32 in is not in it either.",
            slips: vec![],
        }
    }

    fn forgotten_cap(&self) -> Story {
        Story {
            title: "A pass that nobody recorded",
            joints: "B-230",
            happened: "Root, hot pass and fill are recorded with the rods used. The cap was welded and not recorded.",
            answer: "Less metal on record than the joint needs: `mass-short` and `unrecorded-metal`.",
            slips: vec![],
        }
    }

    fn no_record(&self) -> Story {
        Story {
            title: "No record at all",
            joints: "B-244; M-148, B-245, B-246, D-426",
            happened: "B-244 was finished on 28 April and has no weld record; the others were not begun.",
            answer: "`joint-without-weld-record` for B-244.",
            slips: vec![],
        }
    }

    fn numbers(&self) -> Story {
        Story {
            title: "Numbers that deceive",
            joints: "—",
            happened: "Maker's lots 8B416 (R-1052) and 88416 (R-1053). Maker's lot 62055 from two makers (R-1031, R-1035). Heats 7E210 and 004417, which a spreadsheet turns into numbers. Certificate PB-5533 covers the SAW wire R-1063 and its flux R-1065. R-1035 has no certificate. R-1044 has a 2.2 and no heat.",
            answer: "`look-alike-number` for the first; a lot asked by 62055 means two things; the heats come out as they went in; `trace cert PB-5533` answers for both lots; `lot-without-certificate` for every slip of R-1035.",
            slips: vec![],
        }
    }
}
