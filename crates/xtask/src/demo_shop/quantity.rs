//! Quantities as slips state them, and the mass of a piece.

use std::fmt;

/// Milligrams in a hundredth of a pound, rounded down (1 lb = 453 592.37 mg exactly, NIST SP 811 appendix B.8).
const MG_PER_HUNDREDTH_LB: u64 = 4535;

/// A quantity as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    /// Cut lengths or covered electrodes.
    Rods(u32),
    /// Spools.
    Spools(u32),
    /// Hundredths of a kilogram.
    HundredthsKg(u32),
    /// Hundredths of a pound.
    HundredthsLb(u32),
}

impl Quantity {
    /// The most hundredths of a pound that are not more than `mg`.
    pub(super) fn pounds_within(mg: u64) -> Self {
        Quantity::HundredthsLb(u32::try_from(mg / (MG_PER_HUNDREDTH_LB + 1)).unwrap_or(0))
    }

    pub(super) fn is_zero(self) -> bool {
        matches!(
            self,
            Quantity::Rods(0) | Quantity::Spools(0) | Quantity::HundredthsKg(0) | Quantity::HundredthsLb(0)
        )
    }
}

/// `237` hundredths as `2.37`, `250` as `2.5`, `200` as `2`.
fn hundredths(n: u32) -> String {
    let (whole, tenths, rest) = (n / 100, n % 100 / 10, n % 10);
    match (tenths, rest) {
        (0, 0) => whole.to_string(),
        (_, 0) => format!("{whole}.{tenths}"),
        (_, _) => format!("{whole}.{tenths}{rest}"),
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Quantity::Rods(1) => f.write_str("1 rod"),
            Quantity::Rods(n) => write!(f, "{n} rods"),
            Quantity::Spools(1) => f.write_str("1 spool"),
            Quantity::Spools(n) => write!(f, "{n} spools"),
            Quantity::HundredthsKg(n) => write!(f, "{} kg", hundredths(*n)),
            Quantity::HundredthsLb(n) => write!(f, "{} lb", hundredths(*n)),
        }
    }
}

/// The mass of a bare rod in milligrams, rounded down, from diameter in hundredths of a micrometre, length in
/// micrometres and density in hundredths of a gram per cubic centimetre. π as 355/113, close enough for a plan.
pub(super) fn bare_rod_mg(diameter: u128, length: u128, density: u128) -> u64 {
    let mg = 355 * diameter * diameter * length * density / (4 * 113 * 1_000_000_000_000_000);
    u64::try_from(mg).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_read_as_typed() {
        assert_eq!(Quantity::Rods(1).to_string(), "1 rod");
        assert_eq!(Quantity::HundredthsKg(1500).to_string(), "15 kg");
        assert_eq!(Quantity::HundredthsKg(250).to_string(), "2.5 kg");
        assert_eq!(Quantity::pounds_within(453_593).to_string(), "0.99 lb");
        assert_eq!(Quantity::HundredthsLb(5).to_string(), "0.05 lb");
    }

    // 3/32 in x 36 in of 7.85 g/cm3: pi/4 x 2.38125^2 x 914.4 mm3 = 4072.25 mm3, 31.97 g.
    #[test]
    fn a_rod_weighs_what_its_size_says() {
        assert_eq!(bare_rod_mg(238_125, 914_400, 785) / 10, 3196);
    }
}
