//! What a book must answer, worked out anew from the requests that it accepted.

use filler::{Process, ProductForm, Quantity, Unit};
use ledger::Place;
use record::event::Condition;
use record::id::{EntryId, JointId, LotId, PersonId, SlipId};
use record::rules::Balance;
use std::collections::{BTreeMap, BTreeSet};
use trace::{Amount, Answer, Clear, Interval, Named, Out, OutKind, SpotCheck, Weld};

/// One lot: what its first receipt said, and every delivery.
#[derive(Clone, Debug)]
pub(crate) struct Lot {
    pub(crate) id: LotId,
    pub(crate) code: String,
    pub(crate) maker: Option<String>,
    pub(crate) maker_lot: Option<String>,
    pub(crate) form: Option<ProductForm>,
    pub(crate) classification: Option<String>,
    pub(crate) piece_mg: Option<i64>,
    pub(crate) deliveries: Vec<Option<Quantity>>,
    /// A rule was set aside at an issue of it.
    pub(crate) overdrawn: bool,
}

impl Lot {
    /// The unit in which its pieces are counted.
    pub(crate) fn count_unit(&self) -> Unit {
        if self.form == Some(ProductForm::Spool) { Unit::Spools } else { Unit::Rods }
    }

    fn mass_mg(&self, quantity: &Quantity) -> Option<i64> {
        quantity.milligrams().or_else(|| quantity.pieces()?.checked_mul(self.piece_mg?))
    }
}

/// One slip, with what left it.
#[derive(Clone, Debug)]
pub(crate) struct Slip {
    pub(crate) id: SlipId,
    pub(crate) number: String,
    pub(crate) lot: LotId,
    pub(crate) holder: PersonId,
    pub(crate) issued: Interval,
    pub(crate) quantity: Quantity,
    pub(crate) from_crib: bool,
    pub(crate) order: u128,
    pub(crate) outs: Vec<Leaving>,
    /// A rule was set aside when something left it.
    pub(crate) overdrawn: bool,
}

/// Metal that left a slip.
#[derive(Clone, Debug)]
pub(crate) struct Leaving {
    pub(crate) at: Interval,
    pub(crate) quantity: Quantity,
    pub(crate) closes: bool,
    pub(crate) kind: OutKind,
    pub(crate) condition: Option<Condition>,
    pub(crate) order: u128,
}

/// A weld record, with the entry that it is.
#[derive(Clone, Debug)]
pub(crate) struct WeldRecord {
    pub(crate) entry: EntryId,
    pub(crate) place: Place,
    pub(crate) joints: Vec<String>,
    pub(crate) welder: PersonId,
    pub(crate) when: Interval,
    pub(crate) process: Option<Process>,
    pub(crate) filler: bool,
    pub(crate) named: Named,
    pub(crate) order: u128,
}

/// Everything accepted so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Model {
    pub(crate) people: BTreeMap<String, PersonId>,
    pub(crate) joints: BTreeMap<String, JointId>,
    pub(crate) lots: Vec<Lot>,
    pub(crate) slips: Vec<Slip>,
    pub(crate) clears: Vec<Clear>,
    pub(crate) checks: Vec<SpotCheck>,
    /// Readings, and whether each rejects ER70S-2, the one class here that a table of wire has.
    pub(crate) readings: Vec<(trace::Reading, bool)>,
    pub(crate) welds: Vec<WeldRecord>,
    entries: u128,
}

impl Model {
    /// The place in the record's order of the entry just accepted.
    pub(crate) fn next(&mut self) -> u128 {
        self.entries += 1;
        self.entries
    }

    pub(crate) fn lot(&self, id: LotId) -> &Lot {
        self.lots.iter().find(|lot| lot.id == id).unwrap()
    }

    pub(crate) fn lot_mut(&mut self, id: LotId) -> &mut Lot {
        self.lots.iter_mut().find(|lot| lot.id == id).unwrap()
    }

    pub(crate) fn slip_mut(&mut self, id: SlipId) -> &mut Slip {
        self.slips.iter_mut().find(|slip| slip.id == id).unwrap()
    }

    /// The lots that a label can mean: an identity, a control code or maker's lot number, else `MAKER:LABEL`.
    pub(crate) fn lots_called(&self, label: &str) -> Vec<LotId> {
        let of = |chosen: &dyn Fn(&Lot) -> bool| -> Vec<LotId> {
            self.lots.iter().filter(|lot| chosen(lot)).map(|lot| lot.id).collect()
        };
        let carries = |lot: &Lot, label: &str| lot.code == label || lot.maker_lot.as_deref() == Some(label);
        let by_identity = of(&|lot| lot.id.to_string() == label);
        if !by_identity.is_empty() {
            return by_identity;
        }
        let plain = of(&|lot| carries(lot, label));
        if !plain.is_empty() {
            return plain;
        }
        label.split_once(':').map_or_else(Vec::new, |(maker, label)| {
            of(&|lot| lot.maker.as_deref() == Some(maker) && carries(lot, label))
        })
    }

    /// Received − handed out of the crib + returned with every mark legible.
    pub(crate) fn in_crib(&self, lot: &Lot) -> Balance {
        let mut moved: Vec<(i64, Option<Quantity>)> = lot.deliveries.iter().map(|q| (1, *q)).collect();
        for slip in self.slips.iter().filter(|slip| slip.lot == lot.id) {
            if slip.from_crib {
                moved.push((-1, Some(slip.quantity)));
            }
            let credited = slip.outs.iter().filter(|out| out.condition == Some(Condition::Marked));
            moved.extend(credited.map(|out| (1, Some(out.quantity))));
        }
        let sum = |measure: &dyn Fn(&Quantity) -> Option<i64>| -> Option<i64> {
            moved.iter().map(|(sign, quantity)| Some(sign * measure(quantity.as_ref()?)?)).sum()
        };
        sum(&Quantity::pieces)
            .map(Balance::Pieces)
            .or_else(|| sum(&Quantity::milligrams).map(Balance::Milligrams))
            .or_else(|| sum(&|q| lot.mass_mg(q)).map(Balance::Milligrams))
            .unwrap_or(Balance::NotKnown)
    }

    /// Issued − handed over − returned, counted where all of it was counted.
    pub(crate) fn left(&self, slip: &Slip) -> Balance {
        let lot = self.lot(slip.lot);
        let left = |measure: &dyn Fn(&Quantity) -> Option<i64>| -> Option<i64> {
            let gone: Option<i64> = slip.outs.iter().map(|out| measure(&out.quantity)).sum();
            Some(measure(&slip.quantity)? - gone?)
        };
        left(&Quantity::pieces)
            .map(Balance::Pieces)
            .or_else(|| left(&|q| lot.mass_mg(q)).map(Balance::Milligrams))
            .unwrap_or(Balance::NotKnown)
    }

    /// Every slip as the pure computation takes it.
    pub(crate) fn traced_slips(&self) -> Vec<trace::Slip> {
        self.slips
            .iter()
            .map(|slip| {
                let lot = self.lot(slip.lot);
                let amount = |q: &Quantity| Amount { pieces: q.pieces(), mg: lot.mass_mg(q) };
                trace::Slip {
                    id: slip.id.number(),
                    number: slip.number.clone(),
                    lot: slip.lot.number(),
                    holder: slip.holder.number(),
                    form: lot.form,
                    classification: lot.classification.clone(),
                    issued: slip.issued,
                    amount: amount(&slip.quantity),
                    outs: slip
                        .outs
                        .iter()
                        .map(|out| Out {
                            at: out.at,
                            amount: amount(&out.quantity),
                            closes: out.closes,
                            kind: out.kind,
                            order: out.order,
                        })
                        .collect(),
                    order: slip.order,
                }
            })
            .collect()
    }

    /// Slips that nothing has closed.
    pub(crate) fn open_slips(&self) -> BTreeSet<u128> {
        let open = |slip: &trace::Slip| trace::custody(slip, &self.clears).to.is_none();
        self.traced_slips().iter().filter(|slip| open(slip)).map(|slip| slip.id).collect()
    }

    /// Each weld record at each of its joints, with its sources among all slips of the book: by start, then in record
    /// order.
    pub(crate) fn answers(&self, slips: &[trace::Slip]) -> Vec<(&WeldRecord, String, Weld, Answer)> {
        let mut answers = Vec::new();
        for record in &self.welds {
            for joint in &record.joints {
                let weld = Weld {
                    id: record.order,
                    joint: self.joints[joint].number(),
                    welder: record.welder.number(),
                    when: record.when,
                    processes: record.process.iter().cloned().collect(),
                    filler: record.filler,
                    named: record.named,
                };
                let answer = trace::sources(&weld, slips, &self.clears, &self.checks);
                let pure: Vec<trace::Reading> = self.readings.iter().map(|(r, _)| r.clone()).collect();
                let lot_of = |slip| slips.iter().find(|s| s.id == slip).map(|s| s.lot);
                let answer = trace::reading::held_against(answer, &weld, &pure, lot_of, |index, slip| {
                    let class = slips.iter().find(|s| s.id == slip).and_then(|s| s.classification.as_deref());
                    self.readings[index].1 && class == Some("ER70S-2")
                });
                answers.push((record, joint.clone(), weld, answer));
            }
        }
        answers.sort_by_key(|(record, ..)| (record.when.from, record.order));
        answers
    }
}
