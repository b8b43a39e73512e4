//! A slip, what left it, and a welder's declaration that nothing is left.

use filler::ProductForm;

use crate::{Amount, Id, Interval, Order};

/// How an amount left a slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum OutKind {
    /// Taken back into the crib.
    Return,
    /// Handed to another welder, who got a new slip for it.
    HandOver,
    /// Out for good.
    Scrap,
}

/// An amount that left a slip other than into a weld. Recorded use is not one: it does not end custody.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Out {
    /// When; a bare date is the whole day.
    pub at: Interval,
    /// How much.
    pub amount: Amount,
    /// Whether it closes the slip, whatever the amounts say.
    pub closes: bool,
    /// What became of it.
    pub kind: OutKind,
    /// Its place in the record.
    pub order: Order,
}

/// One issue of one lot to one holder. The new slip of a hand-over is a slip like any other, issued at the hand-over.
/// A void slip never was: the caller leaves it out.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Slip {
    /// Identity.
    pub id: Id,
    /// The number printed on it; a label.
    pub number: String,
    /// The lot it was issued from.
    pub lot: Id,
    /// Whose custody it is in.
    pub holder: Id,
    /// Product form of the lot; `None` if not known.
    pub form: Option<ProductForm>,
    /// Classification of the lot as printed; `None` if not known.
    pub classification: Option<String>,
    /// When it was issued.
    pub issued: Interval,
    /// How much was issued.
    pub amount: Amount,
    /// What left it, in any order.
    pub outs: Vec<Out>,
    /// Its place in the record.
    pub order: Order,
}

/// A holder's declaration that nothing is left: closes every slip of theirs that was issued before it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Clear {
    /// Whose slips.
    pub holder: Id,
    /// When it was declared.
    pub at: Interval,
    /// Its place in the record.
    pub order: Order,
}
