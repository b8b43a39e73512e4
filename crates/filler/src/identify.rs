//! Which classes a reading of unmarked metal fits.
//!
//! A class is a box of limits. For a reading x with standard uncertainties u:
//!
//! - D² is the sum of the squared distances to the box, each in units of u. The box is no farther than the true
//!   composition, if that is inside it; so P(χ² ≥ D²), with one degree of freedom for each element read, is a p-value that
//!   errs toward keeping the class, whatever the composition is.
//! - Each distance is also compared with the z that keeps the chance of any false alarm over all of them at alpha.
//! - `consistent`: inside every limit (decided on the decimal digits). `rejected`: p below alpha, or a distance beyond its
//!   z. `inconclusive`: anything else. A class that the metal meets is rejected in at most about 2 alpha of readings,
//!   where errors are independent.
//! - The marginal likelihood, with a uniform prior over each interval, only ranks. One candidate is claimed over another
//!   from 3.0 on (odds of 20 to 1); less is a tie, and what would split it is named.
//!
//! What an element no class limit speaks of may be, and every rule that follows another element, is taken at its widest:
//! too many candidates rather than too few. The interval tests are the trade's common practice after JCGM 106; the
//! thresholds are ours.

mod candidate;
mod classes;
mod judge;
mod note;
mod rank;

pub use candidate::{Candidate, Coupling, Limit};
pub use classes::candidate;
pub use judge::{Breach, Judgement, Point, Side, Tests, Verdict, Worst, judge, points, rule_name};
pub use note::Note;
pub use rank::{CLAIM, Identification, Judged, WithoutCopper, identify};

use crate::decimal::{NumberFault, parse_decimal};
use crate::shown::shown;

/// The chance of a false alarm that each of the two tests keeps to: above 0, at most 0.5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alpha(f64);

/// A text that is no alpha.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a chance of a false alarm: {fault}")]
pub struct AlphaError {
    text: String,
    fault: AlphaFault,
}

/// Why something is no alpha.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
enum AlphaFault {
    #[error(transparent)]
    Number(#[from] NumberFault),
    #[error("write a number above 0 and at most 0.5, such as 0.01")]
    Range,
}

impl Alpha {
    /// Reads a decimal number.
    ///
    /// # Errors
    /// When it is not one above 0 and at most 0.5.
    pub fn parse(text: &str) -> Result<Self, AlphaError> {
        let wrong = |fault| AlphaError { text: shown(text), fault };
        parse_decimal(text).map_err(|fault| wrong(fault.into()))?;
        match text.trim().parse::<f64>() {
            Ok(alpha) if alpha > 1e-12 && alpha <= 0.5 => Ok(Alpha(alpha)),
            _ => Err(wrong(AlphaFault::Range)),
        }
    }

    /// The chance.
    #[must_use]
    pub fn chance(self) -> f64 {
        self.0
    }
}

impl Default for Alpha {
    /// 0.01.
    fn default() -> Self {
        Alpha(0.01)
    }
}

#[cfg(test)]
mod tests {
    use super::Alpha;

    #[test]
    fn alpha_is_a_small_chance() {
        assert_eq!(Alpha::parse("0.01"), Ok(Alpha::default()));
        for text in ["0", "0.0", "0.51", "1", "-0.1", "1 %", "", "0,01", "1e-2", "0.0000000000001"] {
            assert!(Alpha::parse(text).is_err(), "{text}");
        }
    }
}
