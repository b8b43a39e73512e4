//! The mass of one piece: from size and density, or as declared.

use crate::MAX_INTEGER;
use crate::decimal::{NumberFault, parse_decimal};
use crate::density::Density;
use crate::shown::shown;
use crate::size::{Size, greatest_common_divisor};

/// π to 20 decimal places, cut off, times 10^20 (OEIS A000796): wrong by less than 1 part in 10^21, so by less than
/// 0.00001 mg for any mass kept.
const PI: u128 = 314_159_265_358_979_323_846;
const PI_SCALE: u128 = 100_000_000_000_000_000_000;

/// Cubic millimetres in a cubic centimetre.
const MM3_PER_CM3: u128 = 1000;

/// The mass of a solid round rod in milligrams: π/4 · diameter² · length · density, rounded half to even.
///
/// The geometry is an exact fraction, with 1 in = 25.4 mm. From the nominal size: the tolerance of the diameter is not
/// in it. Not for covered electrodes, whose covering adds 15 to 100 % (common practice, no source), nor for cored
/// wire. None without a length, or when the numbers are too large or too finely divided for 128-bit integers.
#[must_use]
pub fn piece_mass_mg(size: &Size, density: &Density) -> Option<i64> {
    let (diameter_num, diameter_den) = size.diameter().millimetres()?;
    let (length_num, length_den) = size.length()?.millimetres()?;
    let density = u128::try_from(density.mg_per_cm3).ok().filter(|density| *density > 0)?;
    let (num, den) = product(
        &[diameter_num.into(), diameter_num.into(), length_num.into(), density],
        &[diameter_den.into(), diameter_den.into(), length_den.into(), 4, MM3_PER_CM3],
    )?;
    times_pi_half_even(num, den)
}

/// The fraction of two products, reduced factor by factor so that the products stay small.
fn product(nums: &[u128], dens: &[u128]) -> Option<(u128, u128)> {
    let mut nums = nums.to_vec();
    let mut dens = dens.to_vec();
    for num in &mut nums {
        for den in &mut dens {
            let divisor = greatest_common_divisor(*num, *den);
            *num = num.checked_div(divisor)?;
            *den = den.checked_div(divisor)?;
        }
    }
    let multiply = |factors: Vec<u128>| factors.into_iter().try_fold(1_u128, u128::checked_mul);
    Some((multiply(nums)?, multiply(dens)?))
}

/// π · `num` / `den`, rounded half to even; None above 2^53 − 1 or on overflow.
fn times_pi_half_even(num: u128, den: u128) -> Option<i64> {
    // Whole and broken part apart, so that π times either fits 128 bits.
    let whole = num.checked_div(den)?.checked_mul(PI)?;
    let broken = num.checked_rem(den)?.checked_mul(PI)?;
    let scaled = whole.checked_add(broken.checked_div(den)?)?;
    let below_the_last_digit = broken.checked_rem(den)? != 0;
    let mg = scaled.checked_div(PI_SCALE)?;
    let rest = scaled.checked_rem(PI_SCALE)?;
    let half = PI_SCALE.checked_div(2)?;
    let up = match rest.cmp(&half) {
        std::cmp::Ordering::Less => false,
        std::cmp::Ordering::Greater => true,
        std::cmp::Ordering::Equal => below_the_last_digit || mg % 2 == 1,
    };
    let mg = if up { mg.checked_add(1)? } else { mg };
    i64::try_from(mg).ok().filter(|mg| *mg <= MAX_INTEGER)
}

/// A text that is not a mass in grams.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not a mass in grams: {fault}")]
pub struct GramsError {
    text: String,
    fault: GramsFault,
}

/// Why something is not a mass in grams.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
enum GramsFault {
    #[error(transparent)]
    Number(#[from] NumberFault),
    #[error("it is finer than 1 mg; write at most 3 decimal places")]
    FinerThanOneMilligram,
    #[error("it is above the largest mass kept, {max} mg; write a smaller one", max = MAX_INTEGER)]
    TooLarge,
}

/// Whole milligrams from decimal grams without a unit: `14.2` is 14200. Zeros behind the third place are allowed.
///
/// # Errors
/// When the text is not a plain number, is negative, is finer than 1 mg, or above 2^53 − 1 mg.
pub fn grams_to_mg(text: &str) -> Result<i64, GramsError> {
    milligrams(text).map_err(|fault| GramsError { text: shown(text), fault })
}

fn milligrams(text: &str) -> Result<i64, GramsFault> {
    let decimal = parse_decimal(text)?;
    let num = decimal.digits.checked_mul(1000).ok_or(NumberFault::TooLong)?;
    let den = 10_u128.checked_pow(decimal.scale).ok_or(NumberFault::TooLong)?;
    if num.checked_rem(den) != Some(0) {
        return Err(GramsFault::FinerThanOneMilligram);
    }
    num.checked_div(den)
        .and_then(|mg| i64::try_from(mg).ok())
        .filter(|mg| *mg <= MAX_INTEGER)
        .ok_or(GramsFault::TooLarge)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mass(size: &str, density: &str) -> Option<i64> {
        piece_mass_mg(&Size::parse(size).unwrap(), &Density::given(density).unwrap())
    }

    #[test]
    fn a_length_is_needed() {
        assert_eq!(mass("3/32 in", "7.85"), None);
        assert_eq!(mass("3/32 in x 36 in", "7.85"), Some(31_967));
    }

    // d = 2 mm, L = 1000 mm, 1 g/cm3: π · 1000 mg.
    #[test]
    fn pi_itself() {
        assert_eq!(mass("2 mm x 1000 mm", "1"), Some(3142));
        assert_eq!(mass("20 mm x 10000 mm", "1"), Some(3_141_593));
        assert_eq!(mass("2000 mm x 10000 mm", "1"), Some(31_415_926_536));
    }

    #[test]
    fn the_same_rod_in_inches_and_millimetres_weighs_the_same() {
        assert_eq!(mass("1 in x 36 in", "7.85"), mass("25.4 mm x 914.4 mm", "7.85"));
        assert_eq!(mass("3/32 in x 36 in", "7.85"), mass("2.38125 mm x 914.4 mm", "7.85"));
    }

    #[test]
    fn extremes_give_a_mass_or_none_but_no_wrong_one() {
        // π/4 · 10^12 mm3 · 29.999 mg/mm3, worked out apart with π to 40 places.
        assert_eq!(mass("10000 mm x 10000 mm", "29.999"), Some(23_561_159_503_760));
        assert_eq!(mass("0.000001 mm x 0.000001 mm", "7.85"), Some(0)); // under half a milligram
        assert_eq!(mass("393.000001 in x 393.000001 in", "7.85"), None); // too finely divided
        let mut density = Density::given("7.85").unwrap();
        density.mg_per_cm3 = 0;
        assert_eq!(piece_mass_mg(&Size::parse("1 mm x 1 mm").unwrap(), &density), None);
        density.mg_per_cm3 = i64::MAX;
        assert_eq!(piece_mass_mg(&Size::parse("10000 mm x 10000 mm").unwrap(), &density), None);
    }

    #[test]
    fn declared_grams_are_exact() {
        assert_eq!(grams_to_mg("14.2"), Ok(14_200));
        assert_eq!(grams_to_mg("13.005"), Ok(13_005));
        assert_eq!(grams_to_mg("13.00500"), Ok(13_005));
        assert_eq!(grams_to_mg("0"), Ok(0));
        assert_eq!(grams_to_mg("9007199254740.991"), Ok(MAX_INTEGER));
        for (text, part) in [
            ("13.0005", "finer than 1 mg"),
            ("-1", "below zero"),
            ("14,2", "with a point"),
            ("14.2 g", "not a plain decimal number"),
            ("9007199254740.992", "above the largest mass kept, 9007199254740991 mg"),
            ("", "there is no number"),
        ] {
            let message = grams_to_mg(text).unwrap_err().to_string();
            assert!(message.starts_with(&format!("\"{text}\" is not a mass in grams: ")), "{message}");
            assert!(message.contains(part), "{message}");
        }
    }
}
