//! How far the figures may be off where nobody says: starting values, from memory, to be set by the shop.
//!
//! Those of a rod's measures are in [`filler::piece_spread::RodHalfWidths`], those of a groove in
//! [`filler::needed::Estimated::default_half_width`].

/// Half-width of a declared piece mass, in thousandths of it: the same error in every piece of the lot.
pub const PIECE_MASS_PER_MILLE: i64 = 5;

/// Half-width of a weighing, in thousandths of what was weighed.
pub const WEIGHING_PER_MILLE: i64 = 5;

/// Standard uncertainty of the count of rods on one issue, in thousandths of a rod: a bundle is not counted out. Where
/// each rod is tagged by itself it would be 0, which is not recorded.
pub const COUNT_U_MILLI: i64 = 500;

/// Length of a stub, in micrometres: 2 in.
pub const STUB_UM: i64 = 50_800;

/// Half-width of the length of a stub, in micrometres: 1 in. The same habit in the whole shop.
pub const STUB_HALF_WIDTH_UM: i64 = 25_400;

/// Standard uncertainty of a value anywhere within a half-width, each equally likely: a/√3 (GUM, JCGM 100:2008, 4.3.7),
/// rounded up.
#[must_use]
pub fn of_half_width(half_width: i64) -> i64 {
    let square = u128::from(half_width.unsigned_abs()).saturating_mul(half_width.unsigned_abs().into());
    let third = square.div_ceil(3);
    let root = third.isqrt();
    let up = if root.saturating_mul(root) < third { root.saturating_add(1) } else { root };
    i64::try_from(up).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_half_width_over_the_root_of_three() {
        // 1000/√3 is 577.35.
        assert_eq!([0, 1, 3, 1000, -1000].map(of_half_width), [0, 1, 2, 578, 578]);
        assert!(of_half_width(i64::MAX) < i64::MAX);
    }
}
