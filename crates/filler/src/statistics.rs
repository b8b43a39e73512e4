//! The normal and the chi-square distribution, for estimates from readings.
//!
//! Every function is built on `libm`, so an estimate has the same bits on every machine. Definitions: M. Abramowitz,
//! I. A. Stegun, Handbook of Mathematical Functions, chapters 7 and 26. Tests compare with SciPy and with a table.

#![allow(clippy::float_arithmetic, reason = "estimates; what is compared with a limit is exact elsewhere")]

use std::f64::consts::{LN_2, PI, SQRT_2};

/// From here on the tail of the normal distribution is taken by its continued fraction.
const FAR: f64 = 5.0;

/// More degrees of freedom than there are elements.
const MOST_DOF: u32 = 1000;

/// Φ(x): the probability that a standard normal value is at most x.
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x / SQRT_2)
}

/// 1 − Φ(x), without the loss of digits of a subtraction.
#[must_use]
pub fn normal_tail(x: f64) -> f64 {
    0.5 * libm::erfc(x / SQRT_2)
}

/// ln of the standard normal density at x.
#[must_use]
pub fn ln_normal_density(x: f64) -> f64 {
    -0.5 * x * x - 0.5 * libm::log(2.0 * PI)
}

/// The tail divided by the density at x ≥ [`FAR`]: x + 1/(x + 2/(x + 3/(x + …))), inverted (Abramowitz and Stegun
/// 26.2.14). So many steps that the rest is below the last bit.
fn far_tail_over_density(x: f64) -> f64 {
    let steps = if x < 7.0 {
        60
    } else if x < 15.0 {
        30
    } else {
        12
    };
    let mut denominator = x;
    for step in (1..=steps).rev() {
        denominator = x + f64::from(step) / denominator;
    }
    1.0 / denominator
}

/// ln(1 − Φ(x)), also where 1 − Φ(x) is too small for a floating-point number.
#[must_use]
pub fn ln_normal_tail(x: f64) -> f64 {
    if x < FAR {
        libm::log(normal_tail(x))
    } else if x.is_infinite() {
        f64::NEG_INFINITY
    } else {
        ln_normal_density(x) + libm::log(far_tail_over_density(x))
    }
}

/// ln(Φ(b) − Φ(a)): the logarithm of the probability that a standard normal value lies from a to b. Stable wherever the
/// interval is; −∞ when b ≤ a.
#[must_use]
pub fn ln_normal_interval(a: f64, b: f64) -> f64 {
    if a.is_nan() || b.is_nan() {
        return f64::NAN;
    }
    if b <= a {
        return f64::NEG_INFINITY;
    }
    if b <= 0.0 {
        // The mirror image lies in the upper tail.
        return ln_normal_interval(-b, -a);
    }
    if a < 0.0 {
        let outside = normal_tail(-a) + normal_tail(b);
        return if outside < 0.5 {
            libm::log1p(-outside)
        } else {
            libm::log(0.5 * (libm::erf(b / SQRT_2) + libm::erf(-a / SQRT_2)))
        };
    }
    if a < FAR {
        let inside = if b < 1.0 {
            0.5 * (libm::erf(b / SQRT_2) - libm::erf(a / SQRT_2))
        } else {
            normal_tail(a) - normal_tail(b)
        };
        return if inside > 0.0 { libm::log(inside) } else { ln_narrow(a, b) };
    }
    if b.is_infinite() {
        return ln_normal_tail(a);
    }
    // The tail beyond b is that beyond a times exp(−fall): both can be far below the smallest floating-point number.
    let fall = 0.5 * (b - a) * (b + a) + libm::log(far_tail_over_density(a) / far_tail_over_density(b));
    let part = -libm::expm1(-fall);
    if part > 0.0 { ln_normal_tail(a) + libm::log(part) } else { ln_narrow(a, b) }
}

/// The same for an interval so narrow that the density does not change within it.
fn ln_narrow(a: f64, b: f64) -> f64 {
    ln_normal_density(a) + libm::log(b - a)
}

/// The z whose tail 1 − Φ(z) is p: ∞ for p ≤ 0, −∞ for p ≥ 1.
#[must_use]
pub fn normal_tail_quantile(p: f64) -> f64 {
    if p.is_nan() {
        return f64::NAN;
    }
    if p <= 0.0 {
        return f64::INFINITY;
    }
    if p >= 1.0 {
        return f64::NEG_INFINITY;
    }
    if p > 0.5 {
        return -normal_tail_quantile(1.0 - p);
    }
    // ln(tail) is concave and falling: from the first step on, Newton's steps come down to the root from above.
    let wanted = libm::log(p);
    let mut z = 0.0;
    for _ in 0..100 {
        let ln_tail = ln_normal_tail(z);
        let step = (ln_tail - wanted) * libm::exp(ln_tail - ln_normal_density(z));
        z += step;
        if libm::fabs(step) <= 1e-15 * libm::fabs(z) {
            break;
        }
    }
    z
}

/// The limit for each of `tests` independent one-sided tests that keeps the chance of any false alarm at `alpha`:
/// Φ⁻¹((1 − alpha)^(1/tests)). `share` of the level of one test is used (1, or 0.5 where one test has two sides).
#[must_use]
pub fn family_limit(alpha: f64, tests: u32, share: f64) -> f64 {
    let each = -libm::expm1(libm::log1p(-alpha) / f64::from(tests.max(1)));
    normal_tail_quantile(each * share)
}

/// P(χ² ≥ x) for whole degrees of freedom, as the finite sums of Abramowitz and Stegun 26.4.4 and 26.4.5. With no degree
/// of freedom χ² is 0. NaN for more than 1000 degrees of freedom.
#[must_use]
pub fn chi_square_tail(x: f64, dof: u32) -> f64 {
    if x.is_nan() || dof > MOST_DOF {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 1.0;
    }
    let half = 0.5 * x;
    // The terms of the sum after the first, each times the density: half^j / Γ(j + 1), or with j − 1/2 for an odd number.
    let odd = dof % 2 == 1;
    let (mut sum, mut ln_term, mut j) = if odd {
        // half^(1/2) / Γ(3/2)
        (libm::erfc(libm::sqrt(half)), 0.5 * libm::log(half) - half - 0.5 * libm::log(PI) + LN_2, 1.5)
    } else {
        (0.0, -half, 1.0)
    };
    for _ in 0..(dof / 2) {
        sum += libm::exp(ln_term);
        ln_term += libm::log(half / j);
        j += 1.0;
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_of_the_line() {
        assert_eq!(ln_normal_interval(1.0, 1.0), f64::NEG_INFINITY);
        assert_eq!(ln_normal_interval(2.0, 1.0), f64::NEG_INFINITY);
        assert!(ln_normal_interval(f64::NEG_INFINITY, f64::INFINITY).abs() < 1e-15);
        assert!(ln_normal_interval(f64::NAN, 1.0).is_nan());
        assert_eq!(ln_normal_tail(f64::INFINITY), f64::NEG_INFINITY);
        assert_eq!(normal_tail_quantile(0.0), f64::INFINITY);
        assert_eq!(normal_tail_quantile(1.0), f64::NEG_INFINITY);
        assert!(normal_tail_quantile(0.5).abs() < 1e-15);
        assert_eq!(chi_square_tail(0.0, 0), 1.0);
        assert_eq!(chi_square_tail(1.0, 0), 0.0);
        assert_eq!(chi_square_tail(1e9, 7), 0.0);
        assert!(chi_square_tail(1.0, MOST_DOF + 1).is_nan());
    }

    #[test]
    fn the_mirror_image_is_as_likely() {
        for (a, b) in [(-3.0, -1.0), (-0.5, 2.0), (4.0, 6.0), (70.0, 83.0), (-90.0, -83.0)] {
            assert_eq!(ln_normal_interval(a, b), ln_normal_interval(-b, -a), "{a}..{b}");
            assert!(ln_normal_interval(a, b).is_finite());
        }
    }

    #[test]
    fn a_limit_for_each_of_several_tests() {
        // arithmetic cases PM-Z: 1 - (1 - alpha)^(1/m), evaluated there.
        for (tests, want) in [(1, 2.326), (4, 2.806), (7, 2.981)] {
            assert!((family_limit(0.01, tests, 1.0) - want).abs() <= 0.0005, "{tests}");
        }
        assert!(family_limit(0.01, 4, 0.5) > family_limit(0.01, 4, 1.0));
    }
}
