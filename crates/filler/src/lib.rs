//! Filler metal: what the label says, and the arithmetic that follows from it.
//!
//! | module | holds |
//! |---|---|
//! | [`quantity`] | "24 rods", "2.5 kg": as entered, converted exactly once |
//! | [`size`] | "3/32 in x 36 in": exact fractions; inch and metric never equal |
//! | [`form`] | product form, surface, marking |
//! | [`process`] | welding processes and the product forms that suit each |
//! | [`classification`] | does a mark that was read fit a lot's classification? |
//! | [`designation`] | classifications as printed: prefixes, dual marks, suffixes |
//! | [`limits`] | composition limits of each classification, from tables with their sources |
//! | [`analysis`] | a chemical analysis as a certificate prints it |
//! | [`certificate_check`], [`strengths`] | does a certificate meet the limits of its class? |
//! | [`groups`], [`a_number`] | F-number, process and form of a class; A-number of a deposit |
//! | [`lot_class`] | certificate type, lot class and test schedule: three questions, asked and answered |
//! | [`density`] | density by specification and classification |
//! | [`piece`] | mass of one piece, from size and density or as declared |
//! | [`exact`], [`measure`] | exact fractions; numbers with units: "3.5 in/min" |
//! | [`heat_input`] | heat input and arc energy, each value with its convention |
//! | [`consumption`] | filler for a deposit: stubs, whole rods, pieces per pound |
//! | [`indices`] | X-bar, J, Mn/Si, equivalents of an analysis |
//! | [`reading`] | what an instrument read on a piece, with its uncertainty |
//! | [`identify`] | which classes a reading fits, ties and what would split them |
//! | [`statistics`] | normal and chi-square tails |
//! | [`groove`] | weld metal areas, and volumes on plate and pipe |
//! | [`needed`], [`uncertainty`] | filler metal that a joint needs, and how uncertain that is |
//! | [`piece_spread`] | how uncertain the mass of a rod is |
//! | [`exposure`] | hours out of the oven by designation |
//!
//! Nothing here reads a clock, a file or a terminal. What is recorded or compared with a limit is an integer or an exact
//! fraction; only estimates are floating-point numbers.

pub mod a_number;
pub mod analysis;
pub mod certificate_check;
pub mod classification;
pub mod consumption;
pub mod decimal;
pub mod density;
pub mod designation;
pub mod element;
pub mod exact;
pub mod exposure;
pub mod form;
pub mod groove;
pub mod groups;
pub mod heat_input;
pub mod identify;
pub mod indices;
pub mod limits;
pub mod lot_class;
pub mod measure;
pub mod needed;
pub mod percent;
pub mod piece;
pub mod piece_spread;
pub mod process;
pub mod quantity;
pub mod reading;
mod shown;
pub mod size;
pub mod specification;
pub mod statistics;
pub mod strengths;
pub mod uncertainty;
mod word;

pub use analysis::{Analysis, AnalysisError, Reported};
pub use certificate_check::{CertificateCheck, ElementVerdict, Question, Verdict};
pub use classification::fits;
pub use decimal::NumberFault;
pub use density::{Density, DensityError, density_for};
pub use element::{Element, ElementError};
pub use form::{Marking, ProductForm, Surface};
pub use limits::{AppliesTo, ClassLimits, Confidence, Limit, Subject, Tables};
pub use percent::{Percent, PercentError};
pub use piece::{GramsError, grams_to_mg, piece_mass_mg};
pub use process::{Process, ProcessError, forms_for};
pub use quantity::{Quantity, QuantityError, QuantityFault, Unit};
pub use size::{Length, LengthUnit, Size, SizeError, SizeFault};
pub use specification::normal_spec;
pub use strengths::Strengths;
pub use word::WordError;

/// Largest integer recorded anywhere: 2^53 − 1, the largest that every JSON reader keeps exactly
/// (RFC 8259 section 6; RFC 7493 section 2.2).
pub const MAX_INTEGER: i64 = (1 << 53) - 1;
