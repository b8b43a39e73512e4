//! Slips: who held what, what left them, and whether they are open.

use super::corrections::Struck;
use super::reading::{Found, Reading};
use crate::error::{Error, Result};
use crate::log::Place;
use filler::{Quantity, Unit};
use record::event::{Event, Imported, JointRef, PersonRef, RodHandedOver, RodReturned, RodScrapped};
use record::id::{LotId, SlipId};
use record::rules::Balance;
use record::{EntryId, Instant, Stated, When};
use std::rc::Rc;
use trace::{Amount, Clear, ClosedBy, Interval, Out, OutKind};

/// One slip: metal of one lot in one holder's hands.
#[derive(Clone, Debug)]
pub struct Slip {
    /// Identity.
    pub id: SlipId,
    /// Its number.
    pub number: String,
    /// Which lot.
    pub lot: LotId,
    /// Who held it.
    pub holder: PersonRef,
    /// When it was handed out or over.
    pub issued: When,
    /// When it is due back.
    pub due: Stated<When>,
    /// How much.
    pub quantity: Stated<Quantity>,
    /// Which quiver.
    pub quiver: Stated<String>,
    /// Joints it was asked for.
    pub joints: Vec<JointRef>,
    /// The slip it was handed over from.
    pub parent: Option<(SlipId, String)>,
    /// The entry it began with.
    pub entry: EntryId,
    /// From a file, if so.
    pub imported: Option<Imported>,
    /// What left it, by time, then in record order.
    pub outs: Vec<Leaving>,
    /// Whether the issue was voided: the slip never was.
    pub void: bool,
    /// What was said of it, or of what left it, and was corrected or voided.
    pub struck: Vec<Struck>,
    pub(crate) place: Place,
    order: trace::Order,
}

/// Metal that left a slip.
#[derive(Clone, Debug)]
pub struct Leaving {
    /// The entry.
    pub entry: EntryId,
    /// How.
    pub way: Way,
    pub(crate) place: Place,
    order: trace::Order,
}

/// How metal left a slip.
#[derive(Clone, Debug)]
pub enum Way {
    /// Back to the crib.
    Returned(RodReturned),
    /// To another welder.
    HandedOver(RodHandedOver),
    /// Out for good.
    Scrapped(RodScrapped),
}

impl Leaving {
    /// When.
    pub fn at(&self) -> &When {
        match &self.way {
            Way::Returned(e) => &e.at,
            Way::HandedOver(e) => &e.at,
            Way::Scrapped(e) => &e.at,
        }
    }

    /// How much.
    pub fn quantity(&self) -> &Stated<Quantity> {
        match &self.way {
            Way::Returned(e) => &e.quantity,
            Way::HandedOver(e) => &e.quantity,
            Way::Scrapped(e) => &e.quantity,
        }
    }

    fn closes(&self) -> bool {
        match &self.way {
            Way::Returned(e) => e.closes,
            Way::HandedOver(e) => e.closes,
            Way::Scrapped(e) => e.slip.as_ref().is_some_and(|s| s.closes),
        }
    }

    fn kind(&self) -> OutKind {
        match &self.way {
            Way::Returned(_) => OutKind::Return,
            Way::HandedOver(_) => OutKind::HandOver,
            Way::Scrapped(_) => OutKind::Scrap,
        }
    }
}

/// Where a slip stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Custody {
    /// From when the holder had it.
    pub from: Instant,
    /// Until when; none while it is open.
    pub to: Option<Instant>,
    /// What closed it, in words.
    pub closed_by: Option<String>,
    /// Whether what closed it is among what left the slip, and so is listed there.
    pub closed_by_leaving: bool,
}

impl Slip {
    /// The slip as the pure computation wants it.
    pub(crate) fn to_trace(&self, lot: &super::lot::Lot) -> trace::Slip {
        let amount = |q: &Stated<Quantity>| {
            q.value().map_or(Amount { pieces: None, mg: None }, |q| Amount {
                pieces: self.counts(q),
                mg: lot.mass_mg(q),
            })
        };
        trace::Slip {
            id: self.id.number(),
            number: self.number.clone(),
            lot: self.lot.number(),
            holder: self.holder.person.number(),
            form: lot.received.form.value().copied(),
            classification: lot.received.classification.value().cloned(),
            issued: interval(&self.issued),
            amount: amount(&self.quantity),
            outs: self
                .outs
                .iter()
                .map(|out| Out {
                    at: interval(out.at()),
                    amount: amount(out.quantity()),
                    closes: out.closes(),
                    kind: out.kind(),
                    order: out.order,
                })
                .collect(),
            order: self.order,
        }
    }

    /// Pieces of a quantity that left the slip, where they are such pieces as it was issued in: a rod cut from a spool is
    /// not a spool less.
    pub(crate) fn counts(&self, quantity: &Quantity) -> Option<i64> {
        let spools = |q: &Quantity| q.unit() == Unit::Spools;
        let issued = self.quantity.value()?;
        let alike =
            spools(issued) == spools(quantity) || [issued, quantity].iter().any(|q| q.unit() == Unit::Pieces);
        quantity.pieces().filter(|_| alike)
    }

    /// What is out on the slip: issued − handed over − returned.
    pub fn left(&self, lot: &super::lot::Lot) -> Balance {
        let Some(issued) = self.quantity.value() else {
            return Balance::NotKnown;
        };
        let mut outs = Vec::new();
        for out in &self.outs {
            match out.quantity().value() {
                Some(q) => outs.push(q),
                None => return Balance::NotKnown,
            }
        }
        let pieces = issued
            .pieces()
            .and_then(|start| outs.iter().try_fold(start, |left, q| left.checked_sub(self.counts(q)?)));
        let mass = || {
            lot.mass_mg(issued)
                .and_then(|start| outs.iter().try_fold(start, |left, q| left.checked_sub(lot.mass_mg(q)?)))
        };
        pieces.map(Balance::Pieces).or_else(|| mass().map(Balance::Milligrams)).unwrap_or(Balance::NotKnown)
    }

    /// What is left in the slip's own words, e.g. `12 rods`.
    pub fn left_shown(&self, lot: &super::lot::Lot) -> String {
        match (self.left(lot), self.quantity.value()) {
            (Balance::Pieces(n), Some(q)) => {
                Quantity::new(n, 0, q.unit()).map_or_else(|_| format!("{n} pieces"), |q| q.to_string())
            }
            (balance, _) => match balance {
                Balance::NotKnown => "not known".into(),
                Balance::Pieces(_) | Balance::Milligrams(_) => balance.shown(),
            },
        }
    }
}

/// A claimed time as the pure computation wants it.
pub(crate) fn interval(when: &When) -> Interval {
    Interval { from: when.from.0, to: when.to.0.max(when.from.0) }
}

/// Reads a slip and everything that left it.
pub(crate) fn read(reading: &Reading<'_>, id: SlipId) -> Result<Slip> {
    let mut all =
        reading.places("SELECT place FROM fact_slip WHERE slip = ?1 ORDER BY place", [id.bytes()])?;
    let (begun, stands) = reading.corrections().standing(all.clone());
    let mut begun = reading.found_all(begun)?;
    // Where all is struck, the newest says what it was.
    let found = if stands && !begun.is_empty() { Some(begun.swap_remove(0)) } else { begun.pop() };
    let Some(Found { place, id: entry_id, order, event, .. }) = found else {
        return Err(Error::Damaged(format!("a fact names slip {id}, which no entry begins")));
    };
    let mut slip = if let Event::RodIssued(e) = event {
        Slip {
            id,
            number: e.number,
            lot: e.lot.lot,
            holder: e.holder,
            issued: e.at,
            due: e.due,
            quantity: e.quantity,
            quiver: e.quiver,
            joints: e.joints,
            parent: None,
            entry: entry_id,
            imported: e.imported,
            outs: Vec::new(),
            void: !stands,
            struck: Vec::new(),
            place,
            order,
        }
    } else if let Event::RodHandedOver(e) = event {
        Slip {
            id,
            number: e.new_slip.number,
            lot: e.lot,
            holder: e.to,
            issued: e.at,
            due: Stated::NotAsked,
            quantity: e.quantity,
            quiver: Stated::NotAsked,
            joints: Vec::new(),
            parent: Some((e.slip.slip, e.slip.number)),
            entry: entry_id,
            imported: e.imported,
            outs: Vec::new(),
            void: !stands,
            struck: Vec::new(),
            place,
            order,
        }
    } else {
        return Err(Error::Damaged(format!("a slip begins with an entry of kind {}", event.kind())));
    };
    let outs = reading.places("SELECT place FROM fact_out WHERE slip = ?1 ORDER BY place", [id.bytes()])?;
    all.extend(&outs);
    slip.struck = reading.struck(&all)?;
    for out in reading.found_all(outs.into_iter().filter(|p| reading.stands(*p)))? {
        let Found { place, id: entry, order, event, .. } = out;
        let way = if let Event::RodReturned(e) = event {
            Way::Returned(e)
        } else if let Event::RodHandedOver(e) = event {
            Way::HandedOver(e)
        } else if let Event::RodScrapped(e) = event {
            Way::Scrapped(e)
        } else {
            return Err(Error::Damaged(format!("metal leaves a slip by an entry of kind {}", event.kind())));
        };
        slip.outs.push(Leaving { entry, place, way, order });
    }
    slip.outs.sort_by_key(|out| (out.at().to, out.order));
    Ok(slip)
}

/// Where the slip stands, given the holder's `clear`s.
pub(crate) fn custody(slip: &Slip, traced: &trace::Slip, clears: &[Clear]) -> Custody {
    let custody = trace::custody(traced, clears);
    let of_order = |order: trace::Order| slip.outs.iter().find(|o| o.order == order);
    let closed_by = custody.closed_by.as_ref().map(|by| match by {
        ClosedBy::Return(order) => of_order(*order).map_or("a return".into(), describe),
        ClosedBy::HandOver(order) => of_order(*order).map_or("a hand-over".into(), describe),
        ClosedBy::Scrap(order) => of_order(*order).map_or("scrapping".into(), describe),
        ClosedBy::Clear(_) => "the holder's word that nothing is left".into(),
        ClosedBy::Exhausted(order) => of_order(*order)
            .map_or("everything having left it".into(), |o| format!("{} (everything is back)", describe(o))),
    });
    let closed_by_leaving = match custody.closed_by {
        Some(ClosedBy::Return(_) | ClosedBy::HandOver(_) | ClosedBy::Scrap(_) | ClosedBy::Exhausted(_)) => {
            true
        }
        Some(ClosedBy::Clear(_)) | None => false,
    };
    Custody { from: Instant(custody.from), to: custody.to.map(Instant), closed_by, closed_by_leaving }
}

/// A leaving in a few words.
fn describe(leaving: &Leaving) -> String {
    let quantity = leaving.quantity().value().map_or("an unstated quantity".to_owned(), Quantity::to_string);
    match &leaving.way {
        Way::Returned(_) => format!("the return of {quantity}"),
        Way::HandedOver(e) => format!("the hand-over of {quantity} to {}", e.to.badge),
        Way::Scrapped(_) => format!("the scrapping of {quantity}"),
    }
}

/// A slip with its lot, as lists show it.
#[derive(Clone, Debug)]
pub struct SlipAndLot {
    /// The slip.
    pub slip: Rc<Slip>,
    /// Its lot.
    pub lot: Rc<super::lot::Lot>,
    /// Where it stands.
    pub custody: Custody,
}
