//! Who held which slip when, worked out once for many questions.

use std::collections::HashMap;

use crate::sources::answer;
use crate::{Answer, Clear, Custody, Id, Interval, Slip, SpotCheck, Weld, custody};

/// The custody of every slip, by holder, with the spot checks by joint: the answer for each of many weld records
/// without going through the whole shop each time.
#[derive(Debug)]
pub struct Holdings<'a> {
    held: HashMap<Id, Vec<(&'a Slip, Custody)>>,
    checks: HashMap<Id, Vec<(usize, &'a SpotCheck)>>,
}

impl<'a> Holdings<'a> {
    /// Works out the custody of every slip.
    #[must_use]
    pub fn new(slips: &'a [Slip], clears: &[Clear], checks: &'a [SpotCheck]) -> Self {
        let mut clears_of: HashMap<Id, Vec<Clear>> = HashMap::new();
        for clear in clears {
            clears_of.entry(clear.holder).or_default().push(clear.clone());
        }
        let mut held: HashMap<Id, Vec<(&Slip, Custody)>> = HashMap::new();
        for slip in slips {
            let clears = clears_of.get(&slip.holder).map_or(&[][..], Vec::as_slice);
            held.entry(slip.holder).or_default().push((slip, custody(slip, clears)));
        }
        let mut of_joint: HashMap<Id, Vec<(usize, &SpotCheck)>> = HashMap::new();
        for (index, check) in checks.iter().enumerate() {
            of_joint.entry(check.joint).or_default().push((index, check));
        }
        Self { held, checks: of_joint }
    }

    /// The slips of a holder with their custody, in the order given.
    #[must_use]
    pub fn of(&self, holder: Id) -> &[(&'a Slip, Custody)] {
        self.held.get(&holder).map_or(&[][..], Vec::as_slice)
    }

    /// The slips whose custody by this holder overlaps a time.
    pub fn during(&self, holder: Id, when: Interval) -> impl Iterator<Item = (&'a Slip, Custody)> {
        self.of(holder).iter().copied().filter(move |(_, custody)| custody.overlaps(&when))
    }

    /// What [`crate::sources()`] answers for the same slips, clears and spot checks.
    #[must_use]
    pub fn sources(&self, weld: &Weld) -> Answer {
        let held = self.during(weld.welder, weld.when).map(|(slip, _)| slip).collect();
        let checks = self.checks.get(&weld.joint).map_or(&[][..], Vec::as_slice);
        answer(weld, held, checks.iter().copied())
    }
}
