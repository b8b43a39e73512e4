//! An instrument read what a rod is made of: it can contradict a source, never narrow.
//!
//! A reading that rejects the class of a source says that this rod is not of that class. It does not say what the other
//! rods were, so no source goes; where every source is rejected, the weld's sources cannot be what the record says.

use crate::{Answer, Certainty, Id, Interval, Order, Reason, Weld};

/// What was read.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum ReadOn {
    /// A rod in the welder's hand at a joint: it speaks of every source of the weld records that it was made at.
    Hand {
        /// The joint.
        joint: Id,
        /// The welder.
        welder: Id,
        /// When.
        at: Interval,
    },
    /// A rod of a lot.
    Lot(Id),
    /// A rod of a slip.
    Slip(Id),
}

/// A reading.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Reading {
    /// What was read.
    pub on: ReadOn,
    /// Its place in the record.
    pub order: Order,
}

impl Reading {
    fn made_at(&self, weld: &Weld) -> bool {
        match &self.on {
            ReadOn::Hand { joint, welder, at } => {
                *joint == weld.joint && *welder == weld.welder && at.overlaps(&weld.when)
            }
            ReadOn::Lot(_) | ReadOn::Slip(_) => false,
        }
    }

    fn speaks_of(&self, weld: &Weld, slip: Id, lot: Option<Id>) -> bool {
        match &self.on {
            ReadOn::Hand { .. } => self.made_at(weld),
            ReadOn::Lot(read) => lot == Some(*read),
            ReadOn::Slip(read) => slip == *read,
        }
    }
}

/// Holds an answer against readings. `lot_of` gives the lot of a slip, `rejects` says whether the reading with that index
/// rejects the class of a slip; a class that nobody could check is not rejected.
///
/// `recorded`, `by-custody` and `one-of` become `contradicted` where each source is rejected by a reading that speaks of
/// it. Sources and others stay as they are; `unknown` and `no-filler` stay.
#[must_use]
pub fn held_against(
    mut answer: Answer,
    weld: &Weld,
    readings: &[Reading],
    lot_of: impl Fn(Id) -> Option<Id>,
    rejects: impl Fn(usize, Id) -> bool,
) -> Answer {
    let mut listed: Vec<(usize, &Reading)> = readings
        .iter()
        .enumerate()
        .filter(|(_, reading)| {
            reading.made_at(weld)
                || answer.sources.iter().any(|slip| reading.speaks_of(weld, *slip, lot_of(*slip)))
        })
        .collect();
    listed.sort_by_key(|(index, reading)| (reading.order, *index));
    for slip in &answer.sources {
        let of_it = listed.iter().filter(|(_, reading)| reading.speaks_of(weld, *slip, lot_of(*slip)));
        for (index, _) in of_it.filter(|(index, _)| rejects(*index, *slip)) {
            answer.refuted.push((*index, *slip));
        }
    }
    answer.readings = listed.into_iter().map(|(index, _)| index).collect();
    let all = answer.sources.iter().all(|slip| answer.refuted.iter().any(|(_, refuted)| refuted == slip));
    match answer.certainty {
        Certainty::Recorded | Certainty::ByCustody | Certainty::OneOf | Certainty::Contradicted => {
            if all && !answer.sources.is_empty() {
                answer.certainty = Certainty::Contradicted;
                answer.reasons.insert(0, Reason::ReadingsRejectEverySource);
            }
        }
        Certainty::Unknown | Certainty::NoFiller => {}
    }
    answer
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Named;

    const WHEN: Interval = Interval { from: 100, to: 200 };

    fn weld() -> Weld {
        Weld {
            id: 1,
            joint: 7,
            welder: 12,
            when: WHEN,
            processes: vec![],
            filler: true,
            named: Named { lot: None, slip: None },
        }
    }

    /// Sources are slips of which slip n is of lot n + 10.
    fn ask(certainty: Certainty, sources: &[Id], readings: &[(ReadOn, &[Id])]) -> Answer {
        let answer = Answer { certainty, sources: sources.to_vec(), ..Answer::nothing(certainty) };
        let pure: Vec<Reading> =
            readings.iter().map(|(on, _)| Reading { on: on.clone(), order: 0 }).collect();
        held_against(answer, &weld(), &pure, |slip| Some(slip + 10), |i, slip| readings[i].1.contains(&slip))
    }

    fn hand(from: i64, to: i64) -> ReadOn {
        ReadOn::Hand { joint: 7, welder: 12, at: Interval { from, to } }
    }

    #[test]
    fn it_contradicts_only_when_every_source_is_rejected() {
        use Certainty::{ByCustody, Contradicted, NoFiller, OneOf, Recorded, Unknown};
        for (certainty, sources, readings, want) in [
            (ByCustody, vec![1], vec![(hand(150, 150), &[1][..])], Contradicted),
            (Recorded, vec![1], vec![(ReadOn::Slip(1), &[1][..])], Contradicted),
            (Recorded, vec![1], vec![(ReadOn::Lot(11), &[1][..])], Contradicted),
            // never narrow: the other source stays possible
            (OneOf, vec![1, 2], vec![(hand(150, 150), &[1][..])], OneOf),
            (OneOf, vec![1, 2], vec![(hand(150, 150), &[1, 2][..])], Contradicted),
            (
                OneOf,
                vec![1, 2],
                vec![(ReadOn::Slip(1), &[1, 2][..]), (ReadOn::Lot(12), &[2][..])],
                Contradicted,
            ),
            // a reading of one slip says nothing of another
            (OneOf, vec![1, 2], vec![(ReadOn::Slip(1), &[1, 2][..])], OneOf),
            // at another time, at another joint
            (ByCustody, vec![1], vec![(hand(201, 300), &[1][..])], ByCustody),
            (ByCustody, vec![1], vec![(hand(200, 300), &[1][..])], Contradicted),
            (
                ByCustody,
                vec![1],
                vec![(ReadOn::Hand { joint: 8, welder: 12, at: WHEN }, &[1][..])],
                ByCustody,
            ),
            (Unknown, vec![], vec![(hand(150, 150), &[][..])], Unknown),
            (NoFiller, vec![], vec![(hand(150, 150), &[][..])], NoFiller),
        ] {
            let answer = ask(certainty, &sources, &readings);
            assert_eq!(answer.certainty, want, "{certainty} {sources:?} {readings:?}");
            assert_eq!(answer.sources, sources, "no source goes");
            let first = answer.reasons.first() == Some(&Reason::ReadingsRejectEverySource);
            assert_eq!(first, want == Contradicted && certainty != want);
        }
    }

    #[test]
    fn those_that_reject_nothing_are_listed_too() {
        let answer = ask(Certainty::OneOf, &[1, 2], &[(ReadOn::Lot(11), &[]), (ReadOn::Lot(99), &[1])]);
        assert_eq!((answer.readings, answer.refuted), (vec![0], vec![]));
    }
}
