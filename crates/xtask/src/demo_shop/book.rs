//! What was recorded in the month: slips, returns, hand-overs, welds, spot checks.

use anyhow::{Context as _, Result};

use super::catalogue::Lot;
use super::joint::{Joint, Progress};
use super::quantity::Quantity;
use super::random::Random;
use super::time::{Minute, REPEATED, Stamp};

/// Which slip, in the order of writing; the number is given when the month is closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct SlipKey(usize);

/// One slip, of an issue or of a hand-over.
#[derive(Debug)]
pub(super) struct Slip {
    pub(super) number: String,
    pub(super) lot: &'static Lot,
    pub(super) welder: &'static str,
    pub(super) quantity: Quantity,
    pub(super) at: Stamp,
    pub(super) by: &'static str,
    pub(super) joints: String,
    pub(super) quiver: &'static str,
    pub(super) due: Option<Stamp>,
    /// The slip from which this one was handed over.
    pub(super) handed_from: Option<SlipKey>,
}

/// One return.
#[derive(Debug)]
pub(super) struct Return {
    pub(super) slip: SlipKey,
    pub(super) quantity: Quantity,
    pub(super) stubs: Option<u32>,
    pub(super) condition: &'static str,
    pub(super) closes: &'static str,
    pub(super) at: Stamp,
    pub(super) by: &'static str,
    /// The welder handed the rest to a mate instead.
    pub(super) withdrawn: bool,
}

/// One hand-over.
#[derive(Debug)]
pub(super) struct HandOver {
    pub(super) from: SlipKey,
    pub(super) to: SlipKey,
    pub(super) closes: &'static str,
}

/// What a weld record names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Named {
    Nothing,
    Lot(&'static str),
    Slip(SlipKey),
    Both(&'static str, SlipKey),
}

/// One weld record.
#[derive(Debug)]
pub(super) struct Weld {
    pub(super) joint: String,
    pub(super) cycle: &'static str,
    pub(super) pass: &'static str,
    pub(super) process: &'static str,
    pub(super) filler: &'static str,
    pub(super) welder: &'static str,
    pub(super) named: Named,
    pub(super) used: Option<Quantity>,
    pub(super) from: Stamp,
    pub(super) to: Option<Stamp>,
    pub(super) mark: &'static str,
    pub(super) by: &'static str,
}

/// One spot check.
#[derive(Debug)]
pub(super) struct SpotCheck {
    pub(super) joint: String,
    pub(super) welder: &'static str,
    pub(super) at: Stamp,
    pub(super) by: &'static str,
    pub(super) legible: &'static str,
    pub(super) reads: &'static str,
}

/// The month.
pub(super) struct Book {
    pub(super) joints: Vec<Joint>,
    pub(super) slips: Vec<Slip>,
    pub(super) returns: Vec<Return>,
    pub(super) hand_overs: Vec<HandOver>,
    pub(super) welds: Vec<Weld>,
    pub(super) checks: Vec<SpotCheck>,
}

impl Book {
    pub(super) fn new(joints: Vec<Joint>) -> Self {
        Book {
            joints,
            slips: Vec::new(),
            returns: Vec::new(),
            hand_overs: Vec::new(),
            welds: Vec::new(),
            checks: Vec::new(),
        }
    }

    pub(super) fn slip(&self, key: SlipKey) -> Result<&Slip> {
        self.slips.get(key.0).context("a slip that was never written")
    }

    pub(super) fn joint(&mut self, name: &str) -> Result<&mut Joint> {
        self.joints.iter_mut().find(|j| j.name == name).with_context(|| format!("no joint {name}"))
    }

    pub(super) fn issue(&mut self, slip: Slip) -> SlipKey {
        self.slips.push(slip);
        SlipKey(self.slips.len() - 1)
    }

    /// Hands over `quantity` of a slip to a welder at `at`, as a new slip.
    pub(super) fn hand_over(
        &mut self,
        from: SlipKey,
        welder: &'static str,
        quantity: Quantity,
        closes: &'static str,
        at: Stamp,
        by: &'static str,
    ) -> Result<SlipKey> {
        let lot = self.slip(from)?.lot;
        let to = self.issue(Slip {
            number: String::new(),
            lot,
            welder,
            quantity,
            at,
            by,
            joints: String::new(),
            quiver: "",
            due: None,
            handed_from: Some(from),
        });
        self.hand_overs.push(HandOver { from, to, closes });
        Ok(to)
    }

    /// Closes the month: numbers the slips in the order of time, and says of each joint when it was finished and what
    /// it needed.
    pub(super) fn close(&mut self, random: &mut Random) -> Result<()> {
        self.number_the_slips()?;
        self.order_the_rows()?;
        for joint in &mut self.joints {
            if let Progress::Done(minute) = joint.progress {
                joint.finished_at = Some(finished(minute + random.between(4, 40)));
            }
            if joint.deposited_mg == 0 || !random.chance(75) && joint.name != "B-230" && joint.name != "B-206"
            {
                continue;
            }
            // A plan from the groove, not from what was used: some percent off, with its own uncertainty.
            let needed = joint.deposited_mg * u64::from(random.between(95, 103)) / 100_000;
            joint.needed_g = Some((needed, (needed * 6 / 100).max(5)));
        }
        Ok(())
    }

    fn number_the_slips(&mut self) -> Result<()> {
        let mut order: Vec<(Minute, SlipKey)> =
            self.slips.iter().enumerate().map(|(n, slip)| (slip.at.minute(), SlipKey(n))).collect();
        order.sort();
        for (n, (_, key)) in order.iter().enumerate() {
            let slip = self.slips.get_mut(key.0).context("a slip that was never written")?;
            slip.number = format!("26-{:04}", 311 + n);
        }
        Ok(())
    }

    fn order_the_rows(&mut self) -> Result<()> {
        self.returns.retain(|r| !r.withdrawn);
        self.returns.sort_by_key(|r| (r.at.minute(), r.slip));
        self.hand_overs.sort_by_key(|h| h.to);
        self.welds.sort_by_key(|w| w.from.minute());
        self.checks.sort_by_key(|c| c.at.minute());
        Ok(())
    }
}

/// A minute as a finish time, moved out of the hour that the clocks repeat.
fn finished(minute: Minute) -> Stamp {
    Stamp::Local(if REPEATED.contains(&minute) { REPEATED.end + 5 } else { minute })
}
