//! Filler metal: what the label says, and the arithmetic that follows from it.
//!
//! | module | holds |
//! |---|---|
//! | [`quantity`] | "24 rods", "2.5 kg": as entered, converted exactly once |
//! | [`size`] | "3/32 in x 36 in": exact fractions; inch and metric never equal |
//! | [`form`] | product form, surface, marking |
//! | [`process`] | welding processes and the product forms that suit each |
//! | [`classification`] | does a mark that was read fit a lot's classification? |
//! | [`density`] | density by specification and classification |
//! | [`piece`] | mass of one piece, from size and density or as declared |
//!
//! Nothing here reads a clock, a file or a terminal, and nothing is a floating-point number: what is recorded or
//! compared with a limit is an integer or an exact fraction.

pub mod classification;
pub mod decimal;
pub mod density;
pub mod form;
pub mod piece;
pub mod process;
pub mod quantity;
mod shown;
pub mod size;
mod word;

pub use classification::fits;
pub use decimal::NumberFault;
pub use density::{Density, DensityError, density_for};
pub use form::{Marking, ProductForm, Surface};
pub use piece::{GramsError, grams_to_mg, piece_mass_mg};
pub use process::{Process, ProcessError, forms_for};
pub use quantity::{Quantity, QuantityError, QuantityFault, Unit};
pub use size::{Length, LengthUnit, Size, SizeError, SizeFault};
pub use word::WordError;

/// Largest integer recorded anywhere: 2^53 − 1, the largest that every JSON reader keeps exactly
/// (RFC 8259 section 6; RFC 7493 section 2.2).
pub const MAX_INTEGER: i64 = (1 << 53) - 1;
