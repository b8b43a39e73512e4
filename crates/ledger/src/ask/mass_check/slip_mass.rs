//! The masses of one slip: issued, handed over, returned, scrapped, and its stubs.

use super::starting_values::{
    COUNT_U_MILLI, PIECE_MASS_PER_MILLE, STUB_HALF_WIDTH_UM, STUB_UM, WEIGHING_PER_MILLE, of_half_width,
};
use crate::ask::lot::Lot;
use crate::ask::reading::Reading;
use crate::ask::slip::{SlipAndLot, Way};
use crate::error::Result;
use filler::piece_spread::{RodHalfWidths, rod_spread};
use filler::{Density, ProductForm, Quantity, Unit};
use record::Stated;
use record::event::PieceOrigin;
use trace::mass_check::{Mass, NotChecked, SharedError, Side};

/// A mass, or why it is not known.
type Known = std::result::Result<Mass, NotChecked>;

/// The masses of one slip.
pub(super) struct SlipMasses {
    /// Whether custody of it has ended.
    pub(super) closed: bool,
    /// Whether it is flux, which is no metal of the weld.
    pub(super) flux: bool,
    /// What was issued, or handed over to begin it.
    pub(super) issued: Known,
    /// What left it, by side.
    pub(super) outs: Vec<(Side, Known)>,
    /// Its stubs; none where there is nothing to leave any: everything came back, or it is wire.
    pub(super) stubs: Option<Known>,
}

impl SlipMasses {
    pub(super) fn of(reading: &Reading<'_>, view: &SlipAndLot) -> Result<Self> {
        let count_u_milli = if is_spool(&view.lot) { 0 } else { COUNT_U_MILLI };
        let outs = view
            .slip
            .outs
            .iter()
            .map(|out| {
                let side = match &out.way {
                    Way::Returned(_) => Side::Returned,
                    Way::HandedOver(_) => Side::HandedOver,
                    Way::Scrapped(_) => Side::Scrapped,
                };
                (side, mass(view, out.quantity(), 0))
            })
            .collect();
        let closed = view.custody.to.is_some();
        Ok(Self {
            closed,
            flux: view.lot.received.form.value() == Some(&ProductForm::Flux),
            issued: mass(view, &view.slip.quantity, count_u_milli),
            outs,
            stubs: stubs(reading, view)?,
        })
    }
}

fn is_spool(lot: &Lot) -> bool {
    lot.received.form.value() == Some(&ProductForm::Spool)
}

/// What a piece weighs and how uncertain that is, in micrograms for each error that the pieces share.
struct Piece {
    mg: i64,
    spread: Vec<(SharedError, i64)>,
}

/// The piece of a lot.
fn piece(lot: &Lot) -> std::result::Result<Piece, NotChecked> {
    let piece = lot.received.piece.as_ref().ok_or(NotChecked::PieceMassNotKnown)?;
    let of = lot.id.number();
    let spread = match piece.origin {
        PieceOrigin::Declared => {
            // Thousandths of milligrams are micrograms.
            let half_width = piece.mg.saturating_mul(PIECE_MASS_PER_MILLE);
            vec![(SharedError { input: "piece-mass".into(), of }, of_half_width(half_width))]
        }
        PieceOrigin::Computed => {
            let density = piece.density_g_per_cm3.as_deref().and_then(|text| Density::given(text).ok());
            let size = lot.received.size.value();
            let spread = size
                .zip(density.as_ref())
                .and_then(|(size, density)| rod_spread(&size.size, density, &RodHalfWidths::default()));
            let own = |input: &str| match density.as_ref() {
                Some(density) if input == DENSITY => density_error(density),
                Some(_) | None => SharedError { input: input.to_owned(), of },
            };
            let parts = spread.ok_or(NotChecked::UncertaintyNotKnown)?;
            parts.into_iter().map(|part| (own(part.input), part.ug)).collect()
        }
    };
    Ok(Piece { mg: piece.mg, spread })
}

/// The word of an input that rods and joints have in common.
pub(super) const DENSITY: &str = "density";

/// The error of a density: whoever works with the same one has the same error.
pub(super) fn density_error(density: &Density) -> SharedError {
    SharedError { input: DENSITY.into(), of: u128::from(density.mg_per_cm3.unsigned_abs()) }
}

/// The mass of a quantity of a slip.
fn mass(view: &SlipAndLot, quantity: &Stated<Quantity>, count_u_milli: i64) -> Known {
    let quantity = quantity.value().ok_or(NotChecked::AmountNotKnown)?;
    if let Some(mg) = quantity.milligrams() {
        // Milligrams times thousandths are micrograms; their uncertainty is rounded up to milligrams.
        let u_ug = of_half_width(mg.saturating_mul(WEIGHING_PER_MILLE));
        return Ok(Mass::weighed(mg, u_ug.saturating_add(999).checked_div(1000).unwrap_or(0)));
    }
    let pieces = view.slip.counts(quantity).filter(|n| *n >= 0).ok_or(NotChecked::AmountNotKnown)?;
    view.lot.piece_mg_for(quantity).ok_or(NotChecked::PieceMassNotKnown)?;
    let piece = piece(&view.lot)?;
    Ok(Mass::of_pieces(pieces, piece.mg, &piece.spread, count_u_milli))
}

/// The stubs of a slip.
fn stubs(reading: &Reading<'_>, view: &SlipAndLot) -> Result<Option<Known>> {
    let rods = view.slip.quantity.value().is_none_or(|q| q.unit() != Unit::Spools);
    if is_spool(&view.lot) || !rods {
        return Ok(None);
    }
    let counted = view
        .slip
        .outs
        .iter()
        .filter_map(|out| match &out.way {
            Way::Returned(e) => e.stubs.value().copied().filter(|n| *n >= 0),
            Way::HandedOver(_) | Way::Scrapped(_) => None,
        })
        .reduce(i64::saturating_add);
    let Some(count) = counted else {
        let traced = reading.traced(view.slip.id)?;
        let account = trace::account(&traced.amount, &traced.outs, None, view.custody.to.is_some());
        let all_back = account.is_some_and(|account| account.balance.rest == 0);
        return Ok((!all_back).then_some(Err(NotChecked::StubsNotKnown)));
    };
    if count == 0 {
        return Ok(None);
    }
    Ok(Some(stub(&view.lot).map(|stub| Mass::of_pieces(count, stub.mg, &stub.spread, 0))))
}

/// One stub: as much of a rod as it is long.
fn stub(lot: &Lot) -> std::result::Result<Piece, NotChecked> {
    let whole = piece(lot)?;
    let length = lot.received.size.value().and_then(|size| size.size.length());
    let (num, den) = length.and_then(|length| length.millimetres()).ok_or(NotChecked::StubsNotKnown)?;
    // Of a figure of the rod, what belongs to so many micrometres of it.
    let part = |figure: i64, um: i64| -> Option<i64> {
        let above = i128::from(figure).checked_mul(um.into())?.checked_mul(den.into())?;
        let below = i128::from(num).checked_mul(1000)?;
        i64::try_from(above.checked_add(below.checked_div(2)?)?.checked_div(below)?).ok()
    };
    let shorter = i128::from(STUB_UM).saturating_mul(den.into()) < i128::from(num).saturating_mul(1000);
    let scaled = || {
        let mut spread = vec![(
            SharedError { input: "stub-length".into(), of: 0 },
            of_half_width(part(whole.mg.checked_mul(1000)?, STUB_HALF_WIDTH_UM)?),
        )];
        // How long the rod was is no matter for a stub.
        for (error, ug) in whole.spread.iter().filter(|(error, _)| error.input != "length") {
            spread.push((error.clone(), part(*ug, STUB_UM)?));
        }
        Some(Piece { mg: part(whole.mg, STUB_UM)?, spread })
    };
    shorter.then(scaled).flatten().ok_or(NotChecked::StubsNotKnown)
}
