//! The stories of May and June.

use anyhow::Result;

use super::book::{FoundWire, Key, Named, Scrap, ScrapOf, SlipKey};
use super::joint::Progress;
use super::planted::Cause;
use super::quantity::Quantity;
use super::stories::{Script, Story, Told};
use super::time::{JUNE, MAY, Minute, Stamp, at};

const fn may(day: u32) -> u32 {
    MAY + day
}

const fn june(day: u32) -> u32 {
    JUNE + day
}

impl Script<'_> {
    /// All stories of May and June.
    pub(super) fn later(&mut self) -> Result<Vec<Story>> {
        Ok(vec![
            self.one_slip_three_joints()?,
            self.attachments()?,
            self.hand_over_chain()?,
            self.wet_electrodes()?,
            self.one_quiver()?,
            self.cut_rods()?,
            self.wire_on_the_bench()?,
            self.lost_tag()?,
            self.covering()?,
            self.late_slip()?,
            self.late_second_slip()?,
            self.wrong_rod_beside()?,
            self.wrong_size()?,
            self.stubs_short()?,
            self.more_back()?,
            self.three_or_eight()?,
            self.repair_by_copy()?,
            self.rubbed_ink()?,
            self.before_the_release()?,
            self.no_certificate_stated()?,
            self.unreadable_electrode()?,
            self.stainless_read()?,
            self.illegible_look()?,
            self.out_on_the_last_days()?,
            self.drawn_too_large()?,
            self.drawn_too_small()?,
        ])
    }

    /// M-525.
    fn drawn_too_large(&mut self) -> Result<Story> {
        self.book.joint("M-525")?.drawn_halves = 4;
        self.finding(
            "mass-over",
            "act",
            Cause::System("M-525"),
            "need-drawn-too-large",
            "The need of M-525 was worked out for a wall of twice the thickness.",
        );
        Ok(Story {
            title: "A need drawn too large",
            joints: "M-525",
            happened: "The need of M-525 was worked out for the heavier pipe, and is twice what went in.",
            answer: "`mass-over`: by mass, more would be in the joint than was ever out for it. Every count is even.",
            slips: vec![],
        })
    }

    /// M-573.
    fn drawn_too_small(&mut self) -> Result<Story> {
        self.book.joint("M-573")?.drawn_halves = 1;
        self.finding(
            "mass-short",
            "act",
            Cause::System("M-573"),
            "bracket-nobody-declared",
            "Half of the metal of M-573 went into a bracket that is on no drawing.",
        );
        Ok(Story {
            title: "A bracket on no drawing",
            joints: "M-573",
            happened: "Half of the metal that was drawn for M-573 went into a bracket that nobody declared.",
            answer: "`mass-short`: every rod came back or left its stub, and the joint needs half of them.",
            slips: vec![],
        })
    }

    /// An original pass with ordinary times and a mark of its own.
    #[allow(clippy::too_many_arguments, reason = "one weld record has that many parts")]
    fn marked(
        &mut self,
        joint: &str,
        [cycle, pass, mark]: [&'static str; 3],
        welder: &'static str,
        metal: (&'static str, u32),
        named: Named,
        from: Minute,
        to: Minute,
    ) -> Result<Key> {
        let (from, to) = (Stamp::Local(from), Some(Stamp::Local(to)));
        self.weld(Told { joint, cycle, pass, welder, named, metal, from, to, mark })
    }

    fn rooted(&mut self, joint: &str, minute: Minute) -> Result<()> {
        self.progress(joint, Progress::Rooted(minute))
    }

    /// M-512, M-513, M-514: quiet.
    fn one_slip_three_joints(&mut self) -> Result<Story> {
        let day = may(5);
        self.busy(&[(day, "W-12", 0)]);
        let slip = self.slip("W-12", "R-1101", 12, at(day, 6, 12))?;
        for (joint, rods, from, to) in [
            ("M-512", 4, at(day, 6, 30), at(day, 7, 25)),
            ("M-513", 3, at(day, 7, 35), at(day, 8, 20)),
            ("M-514", 4, at(day, 8, 30), at(day, 9, 40)),
        ] {
            self.pass(joint, "root", "W-12", ("R-1101", rods), Named::Nothing, from, to)?;
            self.rooted(joint, at(day, 10, 30))?;
        }
        self.back(slip, 1, 11, at(day, 9, 58))?;
        Ok(Story {
            title: "One slip, three joints",
            joints: "M-512, M-513, M-514",
            happened: "W-12 welded the roots of three small joints from {0} and named nothing.",
            answer: "Each root is `by-custody`. No finding.",
            slips: vec![slip],
        })
    }

    /// H-104: quiet.
    fn attachments(&mut self) -> Result<Story> {
        let day = may(7);
        self.busy(&[(day, "W-21", 0)]);
        let slip = self.slip("W-21", "R-1101", 10, at(day, 6, 10))?;
        let named = Named::Slip(slip);
        let metal = |rods| ("R-1101", rods);
        let looked = |cycle, pass| [cycle, pass, "read"];
        self.marked(
            "H-104",
            looked("temporary", ""),
            "W-21",
            metal(2),
            named,
            at(day, 6, 20),
            at(day, 6, 40),
        )?;
        self.marked("H-104", looked("tack", "root"), "W-21", metal(1), named, at(day, 6, 50), at(day, 7, 0))?;
        self.pass("H-104", "root", "W-21", metal(3), named, at(day, 7, 15), at(day, 8, 20))?;
        self.pass("H-104", "hot", "W-21", metal(3), named, at(day, 8, 30), at(day, 9, 30))?;
        self.back(slip, 1, 9, at(day, 9, 55))?;
        self.rooted("H-104", at(day, 10, 30))?;
        Ok(Story {
            title: "Strongbacks and tacks",
            joints: "H-104",
            happened: "Strongbacks were welded on (cycle temporary), then tacks, root and hot pass, all from {0}.",
            answer: "Four weld records, all `recorded`. No finding.",
            slips: vec![slip],
        })
    }

    /// H-106: quiet.
    fn hand_over_chain(&mut self) -> Result<Story> {
        let day = may(13);
        self.busy(&[(day, "W-11", 1), (day, "W-19", 1), (day, "W-17", 0)]);
        let first = self.slip("W-11", "R-1102", 15, at(day, 10, 42))?;
        self.pass(
            "H-106",
            "root",
            "W-11",
            ("R-1102", 4),
            Named::Slip(first),
            at(day, 10, 55),
            at(day, 12, 10),
        )?;
        self.give(first, 0, Some(4), "no", at(day, 12, 14))?;
        let at_noon = Stamp::Local(at(day, 12, 15));
        let second = self.book.hand_over(first, "W-19", Quantity::Rods(11), "yes", at_noon, "A-01")?;
        self.pass("H-106", "hot", "W-19", ("R-1102", 4), Named::Nothing, at(day, 12, 30), at(day, 13, 50))?;
        self.give(second, 0, Some(4), "no", at(day, 14, 20))?;
        let at_the_change = Stamp::Local(at(day, 14, 25));
        let third = self.book.hand_over(second, "W-17", Quantity::Rods(7), "yes", at_the_change, "A-01")?;
        self.pass(
            "H-107",
            "root",
            "W-17",
            ("R-1102", 4),
            Named::Slip(third),
            at(day, 14, 50),
            at(day, 16, 20),
        )?;
        self.back(third, 3, 4, at(day, 18, 20))?;
        self.rooted("H-106", at(day, 14, 0))?;
        self.rooted("H-107", at(day, 18, 30))?;
        Ok(Story {
            title: "From hand to hand to hand",
            joints: "H-106, H-107",
            happened: "{0} went from W-11 to W-19 ({1}) and on to W-17 ({2}); stubs were counted at each change.",
            answer: "R-1102 in all three records, the counts add up. No finding.",
            slips: vec![first, second, third],
        })
    }

    /// M-520, and a spool in the crib: quiet.
    fn wet_electrodes(&mut self) -> Result<Story> {
        let day = may(15);
        self.busy(&[(day, "W-15", 0)]);
        let slip = self.slip("W-15", "R-1105", 12, at(day, 14, 42))?;
        self.marked(
            "M-520",
            ["tack", "root", "read"],
            "W-15",
            ("R-1105", 7),
            Named::Slip(slip),
            at(day, 15, 0),
            at(day, 16, 0),
        )?;
        self.book.scraps.push(Scrap {
            of: ScrapOf::Slip(slip),
            quantity: Quantity::Rods(2),
            why: "fell into the wash water",
            at: Stamp::Local(at(day, 16, 30)),
            by: "A-02",
        });
        self.back(slip, 3, 7, at(day, 18, 20))?;
        for (lot, quantity, why, minute) in [
            ("R-1061", Quantity::Spools(1), "flange broken, wire tangled", at(may(12), 9, 40)),
            ("R-1044", Quantity::HundredthsKg(250), "packet torn, oven log missing", at(june(2), 8, 15)),
        ] {
            self.book.scraps.push(Scrap {
                of: ScrapOf::Lot(lot),
                quantity,
                why,
                at: Stamp::Local(minute),
                by: "A-01",
            });
        }
        self.book.joint("M-520")?.progress = Progress::Open(at(day, 18, 30));
        Ok(Story {
            title: "Scraps",
            joints: "M-520",
            happened: "Two electrodes of {0} fell into the wash water and were scrapped; of 12, seven were used and three came back. A spool of R-1061 and a torn packet of R-1044 were scrapped in the crib.",
            answer: "12 = 7 stubs + 2 scrapped + 3 back. No finding.",
            slips: vec![slip],
        })
    }

    /// M-502.
    fn one_quiver(&mut self) -> Result<Story> {
        let day = may(6);
        self.busy(&[(day, "W-19", 0), (day, "W-19", 1)]);
        self.level("M-502", "lot")?;
        let rods = self.slip("W-19", "R-1101", 10, at(day, 6, 11))?;
        self.pass("M-502", "root", "W-19", ("R-1101", 4), Named::Nothing, at(day, 6, 30), at(day, 8, 0))?;
        self.pass("M-502", "hot", "W-19", ("R-1101", 4), Named::Nothing, at(day, 8, 15), at(day, 9, 40))?;
        self.back(rods, 2, 8, at(day, 9, 58))?;
        let first = self.slip("W-19", "R-1105", 12, at(day, 10, 38))?;
        let second = self.slip("W-19", "R-1106", 12, at(day, 10, 40))?;
        let fill = self.pass(
            "M-502",
            "fill",
            "W-19",
            ("R-1105", 10),
            Named::Nothing,
            at(day, 10, 55),
            at(day, 12, 30),
        )?;
        let cap = Named::Lot("R-1105");
        self.pass("M-502", "cap", "W-19", ("R-1105", 5), cap, at(day, 12, 45), at(day, 14, 0))?;
        self.back(first, 1, 11, at(day, 14, 15))?;
        self.back(second, 8, 4, at(day, 14, 16))?;
        self.finding(
            "several-sources",
            "act",
            Cause::Weld(fill),
            "two-lots-in-one-quiver",
            "W-19 put E7018-1 H4R and plain E7018 into one quiver and named neither for the fill.",
        );
        self.progress("M-502", Progress::Done(at(day, 14, 0)))?;
        Ok(Story {
            title: "Two lots in one quiver",
            joints: "M-502",
            happened: "W-19 put R-1105 (E7018-1 H4R, {0}) and R-1106 (E7018, {1}) into quiver Q-19. For the fill nothing was named, for the cap R-1105.",
            answer: "Fill `one-of` 2 on a joint of level `lot`: `several-sources`. Cap `recorded`.",
            slips: vec![first, second],
        })
    }

    /// M-504.
    fn cut_rods(&mut self) -> Result<Story> {
        let day = may(8);
        self.busy(&[(day, "W-12", 0)]);
        let slip = self.slip("W-12", "R-1102", 10, at(day, 6, 10))?;
        self.pass("M-504", "root", "W-12", ("R-1102", 5), Named::Slip(slip), at(day, 6, 30), at(day, 9, 30))?;
        self.give(slip, 3, Some(5), "no", at(day, 9, 55))?;
        let halves = self.give_as(slip, 2, None, "", "unmarked", at(day, 9, 56))?;
        self.finding(
            "unmarked-wire",
            "act",
            Cause::Return(halves),
            "cut-rods",
            "Two rods were cut in half for a tight corner, and the halves without the stamp came back.",
        );
        self.rooted("M-504", at(day, 10, 30))?;
        Ok(Story {
            title: "Cut rods",
            joints: "M-504",
            happened: "For a tight corner W-12 cut rods of {0} in half. Two rods' worth came back as halves without the stamped end.",
            answer: "`unmarked-wire` for the return: the halves may not go back into the box. The count is right.",
            slips: vec![slip],
        })
    }

    /// found_wire.csv.
    fn wire_on_the_bench(&mut self) -> Result<Story> {
        for (n, wire, story) in [
            (
                0,
                FoundWire {
                    at: Stamp::Local(at(may(11), 10, 20)),
                    place: "bench 3, under the vice",
                    by: "I-21",
                    welder: "W-19",
                    quantity: Quantity::Rods(5),
                    joints: "H-102;H-103",
                },
                "Five bare rods without a mark lay on W-19's bench, beside two joints.",
            ),
            (
                1,
                FoundWire {
                    at: Stamp::Local(at(june(2), 21, 45)),
                    place: "tool drawer at the separator",
                    by: "I-22",
                    welder: "",
                    quantity: Quantity::Rods(7),
                    joints: "",
                },
                "Seven bare rods without a mark lay in a tool drawer, and nobody knew whose.",
            ),
        ] {
            self.book.found.push(wire);
            self.finding("unmarked-wire", "stop", Cause::Found(n), "wire-on-a-bench", story);
        }
        Ok(Story {
            title: "Wire on a bench",
            joints: "H-102, H-103",
            happened: "On 11 May an inspector found five unmarked rods on W-19's bench; on 2 June seven more in a tool drawer, whose nobody knew.",
            answer: "`unmarked-wire`, stop, for each find.",
            slips: vec![],
        })
    }

    /// H-101.
    fn lost_tag(&mut self) -> Result<Story> {
        let day = may(12);
        self.busy(&[(day, "W-21", 0)]);
        let slip = self.slip("W-21", "R-1117", 10, at(day, 6, 12))?;
        let root = self.marked(
            "H-101",
            ["original", "root", "unreadable"],
            "W-21",
            ("R-1117", 5),
            Named::Nothing,
            at(day, 6, 30),
            at(day, 8, 10),
        )?;
        let look = self.look("H-101", "W-21", None, at(day, 7, 15))?;
        self.marked(
            "H-101",
            ["original", "hot", "not-looked"],
            "W-21",
            ("R-1117", 4),
            Named::Slip(slip),
            at(day, 8, 25),
            at(day, 9, 40),
        )?;
        self.back(slip, 1, 9, at(day, 9, 57))?;
        self.finding(
            "unmarked-wire",
            "stop",
            Cause::Weld(root),
            "lost-flag-tag",
            "The flag tags of R-1117 came off in the pouch, and the record says that no mark could be read.",
        );
        self.finding(
            "unmarked-wire",
            "stop",
            Cause::Check(look),
            "lost-flag-tag",
            "The inspector looked at a rod whose flag tag was lost and could read nothing.",
        );
        self.rooted("H-101", at(day, 10, 30))?;
        Ok(Story {
            title: "The lost flag tag",
            joints: "H-101",
            happened: "R-1117 is marked by flag tags only ({0}). In the root the tags were gone: the weld record says unreadable, and so does the inspector.",
            answer: "`unmarked-wire`, stop, for the record and for the look. The source of the root is still R-1117 `by-custody`.",
            slips: vec![slip],
        })
    }

    /// M-506.
    fn covering(&mut self) -> Result<Story> {
        let day = may(14);
        self.busy(&[(day, "W-11", 0), (day, "W-21", 0)]);
        let slip = self.slip("W-11", "R-1101", 10, at(day, 6, 12))?;
        self.pass("M-506", "root", "W-11", ("R-1101", 4), Named::Slip(slip), at(day, 6, 30), at(day, 7, 45))?;
        let hot =
            self.pass("M-506", "hot", "W-21", ("R-1101", 4), Named::Nothing, at(day, 8, 0), at(day, 9, 15))?;
        self.back(slip, 2, 8, at(day, 10, 0))?;
        self.finding(
            "no-source",
            "stop",
            Cause::Weld(hot),
            "covering-for-another",
            "W-21 finished W-11's joint with the rods on W-11's bench and held none of W-21's own.",
        );
        self.rooted("M-506", at(day, 10, 30))?;
        Ok(Story {
            title: "Covering for another",
            joints: "M-506",
            happened: "W-11 was called away after the root. W-21 welded the hot pass with the rods of {0} and no hand-over was written.",
            answer: "Hot pass `unknown`: W-21 held nothing. `no-source`. The count of {0} adds up.",
            slips: vec![slip],
        })
    }

    /// B-503.
    fn late_slip(&mut self) -> Result<Story> {
        let day = may(19);
        self.busy(&[(day, "W-20", 0), (day, "W-20", 1)]);
        let root = self.pass(
            "B-503",
            "root",
            "W-20",
            ("R-1102", 5),
            Named::Nothing,
            at(day, 19, 25),
            at(day, 20, 40),
        )?;
        let slip = self.slip("W-20", "R-1102", 10, at(day, 20, 55))?;
        self.pass("B-503", "hot", "W-20", ("R-1102", 4), Named::Slip(slip), at(day, 21, 5), at(day, 22, 10))?;
        self.back(slip, 1, 9, at(day, 22, 30))?;
        self.finding(
            "no-source",
            "stop",
            Cause::Weld(root),
            "slip-written-late",
            "The night attendant wrote the slip after the root was welded, with the time of the writing.",
        );
        self.rooted("B-503", at(day, 22, 40))?;
        Ok(Story {
            title: "The slip written late",
            joints: "B-503",
            happened: "W-20 took ten rods at 19:10. The slip {0} was written at 20:55 with that time; by then the root was welded.",
            answer: "Root `unknown`, `no-source`: it is said to be before the slip. Hot pass `recorded`; the count adds up.",
            slips: vec![slip],
        })
    }

    /// M-507.
    fn late_second_slip(&mut self) -> Result<Story> {
        let day = may(21);
        self.busy(&[(day, "W-17", 0)]);
        let first = self.slip("W-17", "R-1101", 8, at(day, 14, 42))?;
        self.pass(
            "M-507",
            "root",
            "W-17",
            ("R-1101", 5),
            Named::Slip(first),
            at(day, 14, 55),
            at(day, 16, 20),
        )?;
        let named = Named::Lot("R-1102");
        let hot =
            self.pass("M-507", "hot", "W-17", ("R-1102", 4), named, at(day, 16, 40), at(day, 17, 50))?;
        let second = self.slip("W-17", "R-1102", 10, at(day, 18, 5))?;
        self.back(first, 3, 5, at(day, 18, 30))?;
        self.back(second, 6, 4, at(day, 18, 31))?;
        self.finding(
            "contradicted-source",
            "stop",
            Cause::Weld(hot),
            "slip-written-late",
            "W-17 named the lot in hand, whose slip was written after the weld.",
        );
        self.finding(
            "slip-unused",
            "note",
            Cause::Slip(second),
            "slip-written-late",
            "By its late time the slip covers no weld, though four of its rods were used.",
        );
        self.rooted("M-507", at(day, 18, 40))?;
        Ok(Story {
            title: "Written late, beside another lot",
            joints: "M-507",
            happened: "W-17 held R-1101 ({0}) and took R-1102 for the hot pass; its slip {1} was written a quarter of an hour after the weld.",
            answer: "Hot pass `contradicted`: R-1102 is named, R-1101 was held. {1} is `slip-unused`.",
            slips: vec![first, second],
        })
    }

    /// D-542.
    fn wrong_rod_beside(&mut self) -> Result<Story> {
        let day = may(20);
        self.busy(&[(day, "W-18", 0)]);
        self.level("D-542", "class")?;
        let good = self.slip("W-18", "R-1111", 10, at(day, 14, 42))?;
        let wrong = self.slip("W-18", "R-1110", 10, at(day, 14, 44))?;
        let root = self.pass(
            "D-542",
            "root",
            "W-18",
            ("R-1111", 5),
            Named::Nothing,
            at(day, 15, 0),
            at(day, 16, 30),
        )?;
        self.pass("D-542", "hot", "W-18", ("R-1111", 4), Named::Slip(good), at(day, 16, 45), at(day, 18, 0))?;
        self.back(good, 1, 9, at(day, 18, 25))?;
        self.back(wrong, 10, 0, at(day, 18, 26))?;
        self.finding(
            "class-not-in-wps",
            "note",
            Cause::Weld(root),
            "wrong-rod-beside",
            "Beside the duplex rod W-18 held 309L for the next joint, and the root names neither.",
        );
        self.rooted("D-542", at(day, 18, 40))?;
        Ok(Story {
            title: "The wrong rod beside the right one",
            joints: "D-542",
            happened: "W-18 held R-1111 (ER2209, {0}) and, for the next joint, R-1110 (ER309L, {1}), and named neither for the root.",
            answer: "Root `one-of` 2 on a joint of level `class`. One of the two does not fit the procedure: `class-not-in-wps`, note.",
            slips: vec![good, wrong],
        })
    }

    /// D-544.
    fn wrong_size(&mut self) -> Result<Story> {
        let day = may(26);
        self.busy(&[(day, "W-13", 0)]);
        let slip = self.slip("W-13", "R-1113", 10, at(day, 6, 12))?;
        let named = Named::Both("R-1113", slip);
        for weld in [
            self.pass("D-544", "root", "W-13", ("R-1113", 4), named, at(day, 6, 30), at(day, 8, 0))?,
            self.pass("D-544", "hot", "W-13", ("R-1113", 4), named, at(day, 8, 15), at(day, 9, 40))?,
        ] {
            self.finding(
                "size-not-in-wps",
                "act",
                Cause::Weld(weld),
                "wrong-size-for-the-wps",
                "The duplex rod of 3/32 in was taken for that of 2.4 mm, which alone is in the procedure.",
            );
        }
        self.back(slip, 2, 8, at(day, 9, 58))?;
        self.rooted("D-544", at(day, 10, 30))?;
        Ok(Story {
            title: "3/32 in for 2.4 mm",
            joints: "D-544",
            happened: "R-1113 (ER2209, 3/32 in, {0}) was taken for a joint whose procedure has 2.4 mm only.",
            answer: "`size-not-in-wps` for root and hot pass; the class fits.",
            slips: vec![slip],
        })
    }

    /// B-505.
    fn stubs_short(&mut self) -> Result<Story> {
        let day = may(28);
        self.busy(&[(day, "W-19", 0)]);
        let slip = self.slip("W-19", "R-1101", 12, at(day, 6, 10))?;
        let named = Named::Slip(slip);
        self.pass("B-505", "root", "W-19", ("R-1101", 4), named, at(day, 6, 30), at(day, 8, 0))?;
        self.pass("B-505", "hot", "W-19", ("R-1101", 4), named, at(day, 8, 15), at(day, 9, 40))?;
        self.back(slip, 2, 8, at(day, 9, 58))?;
        self.finding(
            "count-short",
            "act",
            Cause::Slip(slip),
            "stubs-short",
            "Two of twelve rods came back neither whole nor as stubs.",
        );
        self.rooted("B-505", at(day, 10, 30))?;
        Ok(Story {
            title: "Stubs short",
            joints: "B-505",
            happened: "Of 12 rods of {0} two came back and eight stubs.",
            answer: "`count-short` by 2.",
            slips: vec![slip],
        })
    }

    /// M-509.
    fn more_back(&mut self) -> Result<Story> {
        let day = may(29);
        self.busy(&[(day, "W-11", 0)]);
        let slip = self.slip("W-11", "R-1102", 10, at(day, 6, 10))?;
        self.pass("M-509", "root", "W-11", ("R-1102", 6), Named::Slip(slip), at(day, 6, 30), at(day, 9, 20))?;
        self.back(slip, 5, 6, at(day, 9, 58))?;
        self.finding(
            "count-over",
            "act",
            Cause::Slip(slip),
            "more-back-than-out",
            "A rod that lay on the bench from before went back with the bundle.",
        );
        self.rooted("M-509", at(day, 10, 30))?;
        Ok(Story {
            title: "More back than out",
            joints: "M-509",
            happened: "Of 10 rods of {0} six were used, and five came back.",
            answer: "`count-over` by 1: somebody else's rod is among them.",
            slips: vec![slip],
        })
    }

    /// M-516 and M-517.
    fn three_or_eight(&mut self) -> Result<Story> {
        let day = june(4);
        self.busy(&[(day, "W-19", 1), (day, "W-20", 0)]);
        let first = self.slip("W-19", "R-1121", 10, at(day, 10, 42))?;
        self.pass(
            "M-516",
            "root",
            "W-19",
            ("R-1121", 5),
            Named::Slip(first),
            at(day, 11, 0),
            at(day, 13, 30),
        )?;
        self.give(first, 2, Some(5), "no", at(day, 14, 20))?;
        let at_the_change = Stamp::Local(at(day, 14, 25));
        let second = self.book.hand_over(first, "W-20", Quantity::Rods(8), "yes", at_the_change, "A-01")?;
        self.pass(
            "M-517",
            "root",
            "W-20",
            ("R-1121", 3),
            Named::Slip(second),
            at(day, 14, 50),
            at(day, 16, 0),
        )?;
        self.back(second, 0, 3, at(day, 18, 20))?;
        self.finding(
            "count-over",
            "act",
            Cause::Slip(first),
            "three-read-as-eight",
            "Three rods were handed over and the scrawled 3 was written as an 8.",
        );
        self.finding(
            "count-short",
            "act",
            Cause::Slip(second),
            "three-read-as-eight",
            "The new slip says eight rods, and only three were ever there.",
        );
        self.rooted("M-516", at(day, 14, 0))?;
        self.rooted("M-517", at(day, 18, 30))?;
        Ok(Story {
            title: "A 3 that reads as an 8",
            joints: "M-516, M-517",
            happened: "W-19 used five of ten rods ({0}), gave two back and handed three on to W-20; the slip {1} says eight.",
            answer: "{0} `count-over` by 5, {1} `count-short` by 5: one mistake, seen from both sides.",
            slips: vec![first, second],
        })
    }

    /// B-215, cycle R1.
    fn repair_by_copy(&mut self) -> Result<Story> {
        let day = june(3);
        self.busy(&[(day, "W-15", 0)]);
        let slip = self.slip("W-15", "R-1125", 12, at(day, 14, 42))?;
        let fill = self.marked(
            "B-215",
            ["R1", "fill", "read"],
            "W-15",
            ("R-1125", 6),
            Named::Lot("R-1040"),
            at(day, 15, 0),
            at(day, 16, 30),
        )?;
        self.marked(
            "B-215",
            ["R1", "cap", "read"],
            "W-15",
            ("R-1125", 4),
            Named::Slip(slip),
            at(day, 16, 45),
            at(day, 18, 0),
        )?;
        self.back(slip, 2, 10, at(day, 18, 20))?;
        self.finding(
            "contradicted-source",
            "stop",
            Cause::Weld(fill),
            "repair-copied-from-original",
            "The repair was welded with R-1125, and its record was copied from that of April.",
        );
        Ok(Story {
            title: "A repair with a new lot",
            joints: "B-215",
            happened: "B-215 was repaired with R-1125 ({0}). The record of the fill was copied from another of April and names R-1040; that of the cap names the slip.",
            answer: "R1 fill `contradicted`, its source R-1125; R1 cap `recorded`.",
            slips: vec![slip],
        })
    }

    /// M-521.
    fn rubbed_ink(&mut self) -> Result<Story> {
        let day = june(15);
        self.busy(&[(day, "W-17", 0)]);
        let slip = self.slip("W-17", "R-1125", 12, at(day, 14, 42))?;
        self.marked(
            "M-521",
            ["tack", "root", "read"],
            "W-17",
            ("R-1125", 4),
            Named::Slip(slip),
            at(day, 15, 0),
            at(day, 15, 50),
        )?;
        let rubbed = self.give_as(slip, 8, Some(4), "", "unmarked", at(day, 18, 20))?;
        self.finding(
            "unmarked-wire",
            "act",
            Cause::Return(rubbed),
            "unmarked-return",
            "Eight electrodes came back with the print rubbed off in the quiver.",
        );
        self.book.joint("M-521")?.progress = Progress::Open(at(day, 18, 30));
        Ok(Story {
            title: "Print rubbed off",
            joints: "M-521",
            happened: "Of {0} eight electrodes came back with the print rubbed off.",
            answer: "`unmarked-wire` for the return, act.",
            slips: vec![slip],
        })
    }

    /// D-503.
    fn before_the_release(&mut self) -> Result<Story> {
        let day = june(9);
        self.busy(&[(day, "W-13", 0), (day, "W-13", 1)]);
        let slip = self.slip("W-13", "R-1134", 10, at(day, 6, 20))?;
        let named = Named::Slip(slip);
        self.pass("D-503", "root", "W-13", ("R-1134", 4), named, at(day, 11, 20), at(day, 12, 40))?;
        self.pass("D-503", "hot", "W-13", ("R-1134", 3), named, at(day, 12, 55), at(day, 14, 0))?;
        self.back(slip, 3, 7, at(day, 14, 20))?;
        self.finding(
            "lot-not-released",
            "stop",
            Cause::Slip(slip),
            "issued-before-release",
            "R-1134 went over the counter at 06:20 and was released at 11:00, before anybody welded with it.",
        );
        self.rooted("D-503", at(day, 14, 30))?;
        Ok(Story {
            title: "Handed out before the release, welded after it",
            joints: "D-503",
            happened: "R-1134 was handed out on 9 June at 06:20 ({0}), released at 11:00, and welded from 11:20.",
            answer: "`lot-not-released` for the slip, not for the welds.",
            slips: vec![slip],
        })
    }

    /// D-505.
    fn no_certificate_stated(&mut self) -> Result<Story> {
        let day = june(10);
        self.busy(&[(day, "W-13", 0)]);
        let slip = self.slip("W-13", "R-1133", 8, at(day, 6, 12))?;
        let named = Named::Lot("R-1133");
        self.pass("D-505", "root", "W-13", ("R-1133", 4), named, at(day, 6, 30), at(day, 8, 0))?;
        self.pass("D-505", "hot", "W-13", ("R-1133", 3), named, at(day, 8, 15), at(day, 9, 30))?;
        self.back(slip, 1, 7, at(day, 9, 58))?;
        self.finding(
            "lot-without-certificate",
            "act",
            Cause::Slip(slip),
            "bought-without-certificate",
            "R-1133 was bought in a hurry over the counter, without a certificate.",
        );
        self.rooted("D-505", at(day, 10, 30))?;
        Ok(Story {
            title: "Bought over the counter",
            joints: "D-505",
            happened: "R-1133 was bought in a hurry; its certificate is stated as n/a. It went out on {0}.",
            answer: "`lot-without-certificate`: n/a is none.",
            slips: vec![slip],
        })
    }

    /// M-511.
    fn unreadable_electrode(&mut self) -> Result<Story> {
        let day = june(10);
        self.busy(&[(day, "W-12", 0)]);
        let slip = self.slip("W-12", "R-1126", 12, at(day, 6, 12))?;
        let weld = self.marked(
            "M-511",
            ["tack", "root", "unreadable"],
            "W-12",
            ("R-1126", 5),
            Named::Slip(slip),
            at(day, 6, 30),
            at(day, 7, 20),
        )?;
        self.back(slip, 7, 5, at(day, 9, 58))?;
        self.finding(
            "unmarked-wire",
            "stop",
            Cause::Weld(weld),
            "unreadable-mark",
            "W-12 tacked with electrodes whose print could not be read, and wrote so.",
        );
        self.book.joint("M-511")?.progress = Progress::Open(at(day, 10, 30));
        Ok(Story {
            title: "An unreadable mark",
            joints: "M-511",
            happened: "W-12 tacked from {0} and wrote that the mark could not be read.",
            answer: "`unmarked-wire`, stop, although the slip is named.",
            slips: vec![slip],
        })
    }

    /// H-110.
    fn stainless_read(&mut self) -> Result<Story> {
        let day = june(11);
        self.busy(&[(day, "W-20", 0)]);
        let slip = self.slip("W-20", "R-1123", 10, at(day, 14, 42))?;
        let named = Named::Slip(slip);
        let root =
            self.pass("H-110", "root", "W-20", ("R-1123", 5), named, at(day, 15, 0), at(day, 16, 40))?;
        self.look("H-110", "W-20", Some("308L"), at(day, 15, 40))?;
        self.pass("H-110", "hot", "W-20", ("R-1123", 4), named, at(day, 16, 55), at(day, 18, 0))?;
        self.back(slip, 1, 9, at(day, 18, 25))?;
        self.finding(
            "contradicted-source",
            "stop",
            Cause::Weld(root),
            "another-class-read",
            "The inspector read 308L on the rod in hand while W-20 held ER70S-6 and named its slip.",
        );
        self.rooted("H-110", at(day, 18, 40))?;
        Ok(Story {
            title: "308L in a carbon-steel header",
            joints: "H-110",
            happened: "W-20 named {0} (ER70S-6) for the root; the inspector read 308L on the rod in hand.",
            answer: "Root `contradicted`, its source still R-1123. Hot pass `recorded`.",
            slips: vec![slip],
        })
    }

    /// D-512.
    fn illegible_look(&mut self) -> Result<Story> {
        let day = june(17);
        self.busy(&[(day, "W-18", 0)]);
        let slip = self.slip("W-18", "R-1128", 10, at(day, 14, 42))?;
        let named = Named::Slip(slip);
        self.pass("D-512", "root", "W-18", ("R-1128", 4), named, at(day, 15, 0), at(day, 16, 30))?;
        let look = self.look("D-512", "W-18", None, at(day, 15, 30))?;
        self.pass("D-512", "hot", "W-18", ("R-1128", 4), named, at(day, 16, 45), at(day, 18, 0))?;
        self.back(slip, 2, 8, at(day, 18, 25))?;
        self.finding(
            "unmarked-wire",
            "stop",
            Cause::Check(look),
            "illegible-spot-check",
            "W-18 had started the rod at its stamped end, and the inspector could read nothing on it.",
        );
        self.rooted("D-512", at(day, 18, 40))?;
        Ok(Story {
            title: "Nothing to read",
            joints: "D-512",
            happened: "The inspector looked during the root and could read nothing; W-18 had started {0} at the stamped end.",
            answer: "`unmarked-wire`, stop, for the look.",
            slips: vec![slip],
        })
    }

    /// D-570.
    fn out_on_the_last_days(&mut self) -> Result<Story> {
        let day = june(29);
        self.busy(&[(day, "W-22", 0), (day, "W-22", 1), (june(30), "W-22", 0), (june(30), "W-22", 1)]);
        let slip: SlipKey = self.slip("W-22", "R-1131", 10, at(day, 14, 45))?;
        self.pass(
            "D-570",
            "root",
            "W-22",
            ("R-1131", 4),
            Named::Slip(slip),
            at(day, 15, 0),
            at(day, 16, 40),
        )?;
        self.finding(
            "slip-overdue",
            "note",
            Cause::Slip(slip),
            "slip-never-closed",
            "W-22 went on leave with six rods in the locker.",
        );
        self.rooted("D-570", at(day, 18, 0))?;
        Ok(Story {
            title: "Leave, with rods in the locker",
            joints: "D-570",
            happened: "W-22 drew ten rods on {0}, welded the root with four and went on leave.",
            answer: "`slip-overdue`. Until it is closed it stays a candidate in all that W-22 welds.",
            slips: vec![slip],
        })
    }
}
