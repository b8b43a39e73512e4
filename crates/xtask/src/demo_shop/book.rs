//! What was recorded in a shop: slips, returns, hand-overs, welds, spot checks, found wire, scraps.

use anyhow::{Context as _, Result};

use super::catalogue::Shop;
use super::joint::{Joint, Progress};
use super::lots::Lot;
use super::quantity::Quantity;
use super::random::Random;
use super::time::{Minute, REPEATED, Stamp};

/// Which slip, in the order of writing; the number is given when the book is closed.
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
    /// When nothing of it was out any more.
    pub(super) closed_at: Option<Minute>,
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

/// Unmarked wire that was found.
#[derive(Debug)]
pub(super) struct FoundWire {
    pub(super) at: Stamp,
    pub(super) place: &'static str,
    pub(super) by: &'static str,
    pub(super) welder: &'static str,
    pub(super) quantity: Quantity,
    pub(super) joints: &'static str,
}

/// What a scrap is taken from.
#[derive(Debug, Clone, Copy)]
pub(super) enum ScrapOf {
    Slip(SlipKey),
    Lot(&'static str),
}

/// Filler metal that was scrapped.
#[derive(Debug)]
pub(super) struct Scrap {
    pub(super) of: ScrapOf,
    pub(super) quantity: Quantity,
    pub(super) why: &'static str,
    pub(super) at: Stamp,
    pub(super) by: &'static str,
}

/// Which weld record, return, spot check: its place in the order of writing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Key(pub(super) usize);

/// All that was recorded.
pub(super) struct Book {
    pub(super) shop: &'static Shop,
    /// Number of the first slip, and what stands before the number.
    first_slip: (&'static str, usize),
    pub(super) joints: Vec<Joint>,
    pub(super) slips: Vec<Slip>,
    pub(super) returns: Vec<Return>,
    pub(super) hand_overs: Vec<HandOver>,
    pub(super) welds: Vec<Weld>,
    pub(super) checks: Vec<SpotCheck>,
    pub(super) found: Vec<FoundWire>,
    pub(super) scraps: Vec<Scrap>,
    order: Order,
}

/// The rows of the files by the order of writing, once the book is closed.
#[derive(Debug, Default)]
struct Order {
    returns: Vec<usize>,
    welds: Vec<usize>,
    checks: Vec<usize>,
}

/// The places of entries in the order of time.
fn ordered<T, K: Ord>(entries: &[T], wanted: impl Fn(&T) -> Option<K>) -> Vec<usize> {
    let mut found: Vec<(K, usize)> =
        entries.iter().enumerate().filter_map(|(n, entry)| Some((wanted(entry)?, n))).collect();
    found.sort();
    found.into_iter().map(|(_, n)| n).collect()
}

fn by_order<'a, T>(entries: &'a [T], order: &'a [usize]) -> impl Iterator<Item = &'a T> {
    order.iter().filter_map(|n| entries.get(*n))
}

fn row_in(order: &[usize], key: Key) -> Result<usize> {
    let place = order.iter().position(|n| *n == key.0).context("an entry that was never written")?;
    Ok(place + 2)
}

impl Book {
    pub(super) fn new(shop: &'static Shop, first_slip: (&'static str, usize), joints: Vec<Joint>) -> Self {
        Book {
            shop,
            first_slip,
            joints,
            slips: Vec::new(),
            returns: Vec::new(),
            hand_overs: Vec::new(),
            welds: Vec::new(),
            checks: Vec::new(),
            found: Vec::new(),
            scraps: Vec::new(),
            order: Order::default(),
        }
    }

    /// Returns in the order of the file.
    pub(super) fn returns_in_order(&self) -> impl Iterator<Item = &Return> {
        by_order(&self.returns, &self.order.returns)
    }

    /// Weld records in the order of the file.
    pub(super) fn welds_in_order(&self) -> impl Iterator<Item = &Weld> {
        by_order(&self.welds, &self.order.welds)
    }

    /// Spot checks in the order of the file.
    pub(super) fn checks_in_order(&self) -> impl Iterator<Item = &SpotCheck> {
        by_order(&self.checks, &self.order.checks)
    }

    /// Slips that were issued, by number.
    pub(super) fn issued(&self) -> Vec<&Slip> {
        let mut slips: Vec<&Slip> = self.slips.iter().filter(|s| s.handed_from.is_none()).collect();
        slips.sort_by(|a, b| a.number.cmp(&b.number));
        slips
    }

    /// Slips that were handed over, by number.
    pub(super) fn handed_over(&self) -> Result<Vec<(&HandOver, &Slip)>> {
        let mut rows: Vec<(&HandOver, &Slip)> =
            self.hand_overs.iter().map(|h| Ok((h, self.slip(h.to)?))).collect::<Result<_>>()?;
        rows.sort_by(|(_, a), (_, b)| a.number.cmp(&b.number));
        Ok(rows)
    }

    /// The row of a return in its file, the header being row 1.
    pub(super) fn return_row(&self, key: Key) -> Result<usize> {
        row_in(&self.order.returns, key)
    }

    /// The row of a weld record in its file.
    pub(super) fn weld_row(&self, key: Key) -> Result<usize> {
        row_in(&self.order.welds, key)
    }

    /// The rows of a joint's weld records in their file, in their order.
    pub(super) fn weld_rows(&self, joint: &str) -> Vec<usize> {
        let of_joint = |n: &usize| self.welds.get(*n).is_some_and(|weld| weld.joint == joint);
        let rows = self.order.welds.iter().enumerate().filter(|(_, n)| of_joint(n));
        rows.map(|(row, _)| row + 2).collect()
    }

    /// The row of a spot check in its file.
    pub(super) fn check_row(&self, key: Key) -> Result<usize> {
        row_in(&self.order.checks, key)
    }

    /// Writes a return down.
    pub(super) fn take_back(&mut self, back: Return) -> Result<Key> {
        if back.closes != "no" {
            let closed = back.at.minute();
            self.slip_mut(back.slip)?.closed_at = Some(closed);
        }
        self.returns.push(back);
        Ok(Key(self.returns.len() - 1))
    }

    /// Writes a weld record down.
    pub(super) fn record(&mut self, weld: Weld) -> Key {
        self.welds.push(weld);
        Key(self.welds.len() - 1)
    }

    /// Writes a spot check down.
    pub(super) fn look(&mut self, check: SpotCheck) -> Key {
        self.checks.push(check);
        Key(self.checks.len() - 1)
    }

    /// Whether a welder has slips of more than one lot at some minute of a span.
    pub(super) fn holds_several_lots(&self, welder: &str, from: Minute, to: Minute) -> bool {
        let mut lots = self
            .slips
            .iter()
            .filter(|s| {
                s.welder == welder && s.at.minute() <= to && s.closed_at.is_none_or(|end| from <= end)
            })
            .map(|s| s.lot.code);
        let first = lots.next();
        lots.any(|lot| Some(lot) != first)
    }

    pub(super) fn slip(&self, key: SlipKey) -> Result<&Slip> {
        self.slips.get(key.0).context("a slip that was never written")
    }

    fn slip_mut(&mut self, key: SlipKey) -> Result<&mut Slip> {
        self.slips.get_mut(key.0).context("a slip that was never written")
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
            closed_at: None,
        });
        if closes == "yes" {
            self.slip_mut(from)?.closed_at = Some(at.minute());
        }
        self.hand_overs.push(HandOver { from, to, closes });
        Ok(to)
    }

    /// Closes the book: numbers the slips in the order of time, and says of each joint when it was finished and what
    /// it needed.
    pub(super) fn close(&mut self, random: &mut Random) -> Result<()> {
        self.number_the_slips()?;
        self.order = Order {
            returns: ordered(&self.returns, |r| (!r.withdrawn).then(|| (r.at.minute(), r.slip))),
            welds: ordered(&self.welds, |w| Some(w.from.minute())),
            checks: ordered(&self.checks, |c| Some(c.at.minute())),
        };
        for joint in &mut self.joints {
            if let Progress::Done(minute) = joint.progress {
                joint.finished_at = Some(finished(minute + random.between(4, 40)));
            }
            if joint.deposited_mg == 0 || !random.chance(75) && joint.name != "B-230" && joint.name != "B-206"
            {
                continue;
            }
            // A plan from the groove, not from what was used: some percent off, with its own uncertainty. Stubs, which are
            // 6 % of a bare rod and 14 % of an electrode, are none of it.
            let plain = joint.deposited_mg * u64::from(random.between(86, 94)) / 100_000;
            let needed = plain * joint.drawn_halves / 2;
            joint.needed_g = Some((needed, (needed * 6 / 100).max(5)));
        }
        Ok(())
    }

    fn number_the_slips(&mut self) -> Result<()> {
        let mut order: Vec<(Minute, SlipKey)> =
            self.slips.iter().enumerate().map(|(n, slip)| (slip.at.minute(), SlipKey(n))).collect();
        order.sort();
        let (before, first) = self.first_slip;
        for (n, (_, key)) in order.iter().enumerate() {
            self.slip_mut(*key)?.number = format!("{before}{:04}", first + n);
        }
        Ok(())
    }
}

/// A minute as a finish time, moved out of the hour that the clocks repeat.
fn finished(minute: Minute) -> Stamp {
    Stamp::Local(if REPEATED.contains(&minute) { REPEATED.end + 5 } else { minute })
}
