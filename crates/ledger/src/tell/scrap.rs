//! Metal that is out for good: from a slip, from the crib, or everything in a quiver. What is scrapped is neither stock nor
//! out, and no later entry brings it back; only voiding the entry says that it never was.

use crate::ask::lot::{self, Lot};
use crate::ask::reading::{Person, Reading};
use crate::ask::slip::SlipAndLot;
use crate::ask::stock;
use crate::error::{Error, Result};
use crate::{Acting, Done, Ledger, settle, tell};
use filler::{Quantity, Unit};
use record::event::{Event, LotRef, Override, PersonRef, RodScrapped, ScrappedSlip, SlipRef};
use record::number::search_key;
use record::rules::{self, Balance};
use record::{Refusal, Stated, When};

/// What is scrapped.
#[derive(Clone, Debug)]
pub enum ScrapFrom {
    /// From a slip, by its number; no quantity = all that is left on it, which closes it.
    Slip(String, Option<Quantity>),
    /// From the crib, by a label of the lot; no quantity = all that is there as stock.
    Crib(String, Option<Quantity>),
    /// All that is left on the open slips in a quiver.
    Quiver(String),
}

/// A scrap as typed.
#[derive(Clone, Debug)]
pub struct ScrapRequest {
    /// What is scrapped.
    pub from: ScrapFrom,
    /// Why.
    pub why: String,
    /// When.
    pub at: Option<When>,
}

/// Metal that was scrapped in the crib.
#[derive(Clone, Debug)]
pub struct ScrappedInCrib {
    /// The lot.
    pub lot: Lot,
    /// How much of it.
    pub quantity: Quantity,
    /// What is left in the crib as stock.
    pub in_crib: Balance,
    /// What came back and is not stock: it is not part of what was scrapped.
    pub put_aside: Balance,
}

/// What there is to tell about a scrap.
#[derive(Clone, Debug)]
pub struct Scrapped {
    /// The slips after it.
    pub slips: Vec<SlipAndLot>,
    /// The lot after it, where it was scrapped in the crib.
    pub crib: Option<ScrappedInCrib>,
    /// Whether a rule was set aside.
    pub overridden: bool,
}

impl Ledger {
    /// Records that metal is out for good.
    ///
    /// # Errors
    /// When a label is not known, nothing is out in the quiver, or a rule refuses.
    pub fn scrap(&mut self, acting: &Acting, request: &ScrapRequest) -> Result<Done<Scrapped>> {
        let at = tell::claimed(request.at.as_ref(), acting.now);
        let why = tell::remark("--why", &request.why)?;
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let by = PersonRef { badge: acting.badge.clone(), person: actor.id };
            let said = Said { acting, actor: &actor, at, by, why };
            match &request.from {
                ScrapFrom::Slip(number, quantity) => {
                    let slip = tell::slip_ref(&reading, number)?;
                    let slips = vec![(slip, *quantity)];
                    let (events, overridden) = said.of_slips(&reading, slips)?;
                    append_all(writing, &events)?;
                    slips_after(&Reading::new(writing.conn())?, &events, overridden)
                }
                ScrapFrom::Quiver(quiver) => {
                    let slips = in_quiver(&reading, quiver)?;
                    let (events, overridden) = said.of_slips(&reading, slips)?;
                    append_all(writing, &events)?;
                    slips_after(&Reading::new(writing.conn())?, &events, overridden)
                }
                ScrapFrom::Crib(label, quantity) => {
                    let lot = lot::one(&reading, label)?;
                    let (event, quantity, overridden) =
                        said.of_stock(&reading, &lot, label, quantity.as_ref())?;
                    writing.append(&event)?;
                    let after = Reading::new(writing.conn())?;
                    let in_crib = lot::in_crib(&after, &lot)?;
                    let put_aside = lot::put_aside(&after, &lot)?;
                    Ok(Scrapped {
                        slips: Vec::new(),
                        crib: Some(ScrappedInCrib { lot, quantity, in_crib, put_aside }),
                        overridden,
                    })
                }
            }
        })
    }
}

/// What every entry of one command says alike.
struct Said<'a> {
    acting: &'a Acting,
    actor: &'a Person,
    at: When,
    by: PersonRef,
    why: String,
}

impl Said<'_> {
    /// One entry for each slip; all or none.
    fn of_slips(
        &self,
        reading: &Reading<'_>,
        slips: Vec<(SlipRef, Option<Quantity>)>,
    ) -> Result<(Vec<Event>, bool)> {
        let mut views = Vec::with_capacity(slips.len());
        let mut against: Vec<Refusal> = Vec::new();
        let none = zero(Unit::Pieces)?;
        for (slip, quantity) in slips {
            let view = reading.slip_and_lot(slip.slip)?;
            let state = tell::slip_state(reading, &view, quantity.as_ref().unwrap_or(&none));
            let of_slip =
                rules::scrap::from_slip(&state, view.slip.void, quantity.as_ref(), &self.at, self.acting.now);
            let codes: Vec<String> = of_slip.iter().map(|r| r.code.to_owned()).collect();
            against.extend(of_slip);
            views.push((slip, quantity, view, codes));
        }
        let overridden = settle(against, self.acting, self.actor)?;
        let events = views
            .into_iter()
            .map(|(slip, quantity, view, codes)| {
                let closes = quantity.is_none();
                let quantity = match quantity {
                    Some(quantity) => Stated::Value(quantity),
                    None => left(&view)?,
                };
                Ok(Event::RodScrapped(RodScrapped {
                    at: self.at.clone(),
                    by: Stated::Value(self.by.clone()),
                    imported: None,
                    lot: LotRef { label: view.lot.received.code.clone(), lot: view.lot.id },
                    overridden: of_rules(overridden.as_ref(), codes),
                    quantity,
                    slip: Some(ScrappedSlip { closes, holder: view.slip.holder.person, slip }),
                    why: self.why.clone(),
                }))
            })
            .collect::<Result<Vec<_>>>()?;
        Ok((events, overridden.is_some()))
    }

    fn of_stock(
        &self,
        reading: &Reading<'_>,
        lot: &Lot,
        label: &str,
        quantity: Option<&Quantity>,
    ) -> Result<(Event, Quantity, bool)> {
        let stock = lot::in_crib(reading, lot)?;
        let state = rules::scrap::InCrib {
            lot: label,
            received: Some(lot.first_received()),
            stock,
            put_aside: lot::put_aside(reading, lot)?,
            void: lot.void,
            piece_mg: quantity.and_then(|q| piece_mg(lot, q)),
            zone: reading.zone(),
        };
        let against = rules::scrap::from_crib(&state, quantity, &self.at, self.acting.now);
        let overridden = settle(against, self.acting, self.actor)?;
        let was_overridden = overridden.is_some();
        let quantity = match quantity {
            Some(quantity) => *quantity,
            // The rule has refused what is not known or not there.
            None => of_balance(stock, counted_in(lot))?.into_value().ok_or_else(not_an_amount)?,
        };
        let event = Event::RodScrapped(RodScrapped {
            at: self.at.clone(),
            by: Stated::Value(self.by.clone()),
            imported: None,
            lot: LotRef { label: label.trim().to_owned(), lot: lot.id },
            overridden,
            quantity: Stated::Value(quantity),
            slip: None,
            why: self.why.clone(),
        });
        Ok((event, quantity, was_overridden))
    }
}

fn append_all(writing: &mut crate::log::Writing<'_>, events: &[Event]) -> Result<()> {
    events.iter().try_for_each(|event| writing.append(event).map(drop))
}

/// The slips that the entries are about, as they are after them.
fn slips_after(reading: &Reading<'_>, events: &[Event], overridden: bool) -> Result<Scrapped> {
    let mut slips = Vec::with_capacity(events.len());
    for event in events {
        if let Event::RodScrapped(RodScrapped { slip: Some(from), .. }) = event {
            slips.push(reading.slip_and_lot(from.slip.slip)?);
        }
    }
    Ok(Scrapped { slips, crib: None, overridden })
}

/// The open slips in a quiver, all that is left on each.
fn in_quiver(reading: &Reading<'_>, quiver: &str) -> Result<Vec<(SlipRef, Option<Quantity>)>> {
    let quiver = tell::text("the quiver", quiver)?;
    let out = stock::out(reading)?;
    let slips: Vec<_> = out
        .iter()
        .filter(|view| view.slip.quiver.value() == Some(&quiver))
        .map(|view| (SlipRef { number: view.slip.number.clone(), slip: view.slip.id }, None))
        .collect();
    if !slips.is_empty() {
        return Ok(slips);
    }
    let mut near: Vec<(bool, String)> = out
        .iter()
        .filter_map(|view| view.slip.quiver.value())
        .map(|other| (search_key(other) != search_key(&quiver), other.clone()))
        .collect();
    near.sort();
    near.dedup();
    near.truncate(6);
    Err(Error::NotFound {
        what: "quiver with an open slip",
        label: quiver,
        near: near.into_iter().map(|(_, other)| other).collect(),
    })
}

/// The rules of one entry, where rules were set aside for the command.
pub(super) fn of_rules(overridden: Option<&Override>, codes: Vec<String>) -> Option<Override> {
    let whole = overridden?;
    (!codes.is_empty()).then(|| Override { rules: codes, why: whole.why.clone() })
}

/// All that is left on a slip, in its own unit where it was counted; unknown where that is not known.
fn left(view: &SlipAndLot) -> Result<Stated<Quantity>> {
    let unit = view.slip.quantity.value().map_or(Unit::Pieces, Quantity::unit);
    of_balance(view.slip.left(&view.lot), unit)
}

/// A balance as a quantity: pieces in the unit given, a mass in grams or kilograms, to the milligram.
fn of_balance(balance: Balance, counted: Unit) -> Result<Stated<Quantity>> {
    let counted = if counted.is_mass() { Unit::Pieces } else { counted };
    let quantity = match balance {
        Balance::Pieces(n) => Quantity::new(n.max(0), 0, counted),
        Balance::Milligrams(mg) => {
            // 1 mg = 0.001 g = 0.000001 kg; without the zeros that say nothing.
            let (mut value, mut scale, unit) =
                if mg < 1_000_000 { (mg.max(0), 3_u8, Unit::Grams) } else { (mg, 6, Unit::Kilograms) };
            while scale > 0 && value % 10 == 0 {
                (value, scale) = (value / 10, scale - 1);
            }
            Quantity::new(value, scale, unit)
        }
        Balance::NotKnown => return Ok(Stated::Unknown),
    };
    quantity.map(Stated::Value).map_err(|_| not_an_amount())
}

/// What pieces of a lot are called.
fn counted_in(lot: &Lot) -> Unit {
    let received = lot.received.quantity.value().map(Quantity::unit).filter(|unit| !unit.is_mass());
    received.unwrap_or(match lot.received.form.value() {
        Some(filler::ProductForm::CutLength | filler::ProductForm::Covered) => Unit::Rods,
        Some(filler::ProductForm::Spool) => Unit::Spools,
        Some(filler::ProductForm::Flux | filler::ProductForm::Insert | filler::ProductForm::Strip) | None => {
            Unit::Pieces
        }
    })
}

/// Piece mass with which a typed quantity is compared with the stock: a mass with the mass of the lot's own pieces.
fn piece_mg(lot: &Lot, quantity: &Quantity) -> Option<i64> {
    if quantity.is_mass() { lot.received.piece.as_ref().map(|p| p.mg) } else { lot.piece_mg_for(quantity) }
}

fn zero(unit: Unit) -> Result<Quantity> {
    Quantity::new(0, 0, unit).map_err(|_| not_an_amount())
}

fn not_an_amount() -> Error {
    Error::NotUnderstood {
        message: "nothing was scrapped: what is left is no amount that can be written down".into(),
        next: "count it and say how much".into(),
    }
}
