//! How much filler a deposit takes: mass, stubs, whole rods.
//!
//! Two conventions of deposition efficiency are in use and often mixed. One leaves the stubs out (laboratory practice,
//! ISO 2401), the other includes a stub of a stated length (most estimating tables, 2 in). So an efficiency is never
//! without its [`StubBasis`]. The formulas are exact; no floating-point number is in them.
//!
//! The mass of a covered electrode is not worked out from its core wire: the covering adds 15 to 100 % of the core's
//! mass (common practice, no source). Weigh ten, or divide a box's net mass by its count.

use crate::exact::Exact;
use crate::measure::Measure;
use crate::size::Size;
use serde::Deserialize;
use std::sync::OnceLock;

const TABLE: &str = include_str!("../data/deposition_efficiencies.csv");

/// Milligrams in a pound times 100: 1 lb = 0.453 592 37 kg exactly (NIST SP 811 appendix B.8).
const HUNDREDTH_MG_PER_LB: i64 = 45_359_237;

/// Milligrams in a kilogram.
const MG_PER_KG: i64 = 1_000_000;

/// What a deposition efficiency says of stubs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StubBasis {
    /// Mass deposited over mass melted: stubs are not in it.
    Excluded,
    /// Mass deposited over mass handed out, with a stub of this length thrown away from each piece.
    Included(Measure),
}

/// A deposition efficiency with its convention.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Efficiency {
    value: Exact,
    stubs: StubBasis,
}

/// Why something cannot be worked out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ConsumptionError {
    /// An efficiency that is not a share.
    #[error("\"{0}\" is not a deposition efficiency above 0 and up to 1; write 0.98 for 98 %")]
    NotAnEfficiency(String),
    /// A stub that is as long as the piece.
    #[error("a stub of {stub} leaves nothing of a piece of {piece}; give a shorter stub")]
    StubTooLong {
        /// The stub.
        stub: String,
        /// The whole piece.
        piece: String,
    },
    /// An efficiency that includes stubs, of pieces whose length is not known.
    #[error(
        "an efficiency that includes a stub of {0} depends on the length of the piece, and none is given"
    )]
    LengthMissing(String),
    /// An efficiency above 1 after the stubs are taken out of it.
    #[error(
        "without its stubs the efficiency would be above 1; check the efficiency, the stub and the length"
    )]
    AboveOne,
    /// Numbers with too many digits.
    #[error("the numbers have too many digits to be worked out exactly; write shorter ones")]
    TooLarge,
}

/// Length and stub of the pieces in use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pieces {
    length: Measure,
    stub: Option<Measure>,
}

impl Pieces {
    /// Pieces of a length, each leaving a stub, or none.
    ///
    /// # Errors
    /// When the stub is not shorter than the piece.
    pub fn new(length: Measure, stub: Option<Measure>) -> Result<Self, ConsumptionError> {
        if let Some(stub) = &stub {
            melted_share(&length, stub)?;
        }
        Ok(Pieces { length, stub })
    }

    /// (L − s) / L: how much of a piece is melted.
    fn melted(&self) -> Result<Exact, ConsumptionError> {
        match &self.stub {
            None => Ok(Exact::one()),
            Some(stub) => melted_share(&self.length, stub),
        }
    }
}

/// (L − s) / L, above zero.
fn melted_share(length: &Measure, stub: &Measure) -> Result<Exact, ConsumptionError> {
    let share = length
        .base()
        .minus(stub.base())
        .and_then(|melted| melted.over(length.base()))
        .ok_or(ConsumptionError::TooLarge)?;
    if share.is_zero() || share.is_negative() {
        return Err(ConsumptionError::StubTooLong { stub: stub.to_string(), piece: length.to_string() });
    }
    Ok(share)
}

impl Efficiency {
    /// An efficiency as typed, such as `0.98`, with its convention.
    ///
    /// # Errors
    /// When it is not above 0 and up to 1.
    pub fn parse(text: &str, stubs: StubBasis) -> Result<Self, ConsumptionError> {
        let value = Exact::parse(text)
            .ok()
            .filter(|value| !value.is_zero() && *value <= Exact::one())
            .ok_or_else(|| ConsumptionError::NotAnEfficiency(crate::shown::shown(text)))?;
        Ok(Efficiency { value, stubs })
    }

    /// The share, in its own convention.
    #[must_use]
    pub fn value(&self) -> Exact {
        self.value
    }

    /// The convention.
    #[must_use]
    pub fn stubs(&self) -> &StubBasis {
        &self.stubs
    }

    /// The efficiency without stubs, of pieces of this length: η_excl = η_incl · L / (L − s).
    ///
    /// # Errors
    /// When it includes stubs and no length is given, or would be above 1.
    pub fn excluding_stubs(&self, length: Option<&Measure>) -> Result<Exact, ConsumptionError> {
        match &self.stubs {
            StubBasis::Excluded => Ok(self.value),
            StubBasis::Included(stub) => {
                let length = length.ok_or_else(|| ConsumptionError::LengthMissing(stub.to_string()))?;
                let share = melted_share(length, stub)?;
                let value = self.value.over(share).ok_or(ConsumptionError::TooLarge)?;
                if value > Exact::one() { Err(ConsumptionError::AboveOne) } else { Ok(value) }
            }
        }
    }

    /// The efficiency of the same product with another stub: η_incl = η_excl · (L − s) / L.
    ///
    /// # Errors
    /// As [`Efficiency::excluding_stubs`], and when the stub is not shorter than the piece.
    pub fn including(&self, length: &Measure, stub: &Measure) -> Result<Exact, ConsumptionError> {
        let excluding = self.excluding_stubs(Some(length))?;
        excluding.times(melted_share(length, stub)?).ok_or(ConsumptionError::TooLarge)
    }
}

/// Filler for a deposit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Needed {
    /// Grams melted: deposit and spatter.
    pub melted_g: Exact,
    /// Grams handed out: melted and stubs.
    pub filler_g: Exact,
}

/// Filler needed for a deposit, in grams: m / (η · (L − s)/L), η without stubs.
///
/// # Errors
/// As [`Efficiency::excluding_stubs`].
pub fn needed(
    deposit_g: Exact,
    efficiency: &Efficiency,
    pieces: Option<&Pieces>,
) -> Result<Needed, ConsumptionError> {
    let excluding = efficiency.excluding_stubs(pieces.map(|pieces| &pieces.length))?;
    let melted_g = deposit_g.over(excluding).ok_or(ConsumptionError::TooLarge)?;
    let share = pieces.map_or(Ok(Exact::one()), Pieces::melted)?;
    let filler_g = melted_g.over(share).ok_or(ConsumptionError::TooLarge)?;
    Ok(Needed { melted_g, filler_g })
}

/// Whole pieces that hold so much filler, stubs included; None when a piece has no mass.
///
/// With [`needed`] that is n = ⌈m / (η · m′ · (L − s))⌉ of cut rods, m′ being the mass per length.
#[must_use]
pub fn whole_pieces(filler_g: Exact, piece_mg: i64) -> Option<i64> {
    filler_g.times(Exact::whole(1000))?.over(Exact::whole(piece_mg))?.rounded_up()
}

/// Grams of the stubs of so many pieces: n · m′ · s.
#[must_use]
pub fn stubs_g(pieces: i64, piece_mg: i64, of: &Pieces) -> Option<Exact> {
    let stub = of.stub.as_ref()?.base().over(of.length.base())?;
    Exact::whole(pieces).times(Exact::whole(piece_mg))?.times(stub)?.over(Exact::whole(1000))
}

/// Pieces in a pound; None when a piece has no mass.
#[must_use]
pub fn per_pound(piece_mg: i64) -> Option<Exact> {
    Exact::fraction(HUNDREDTH_MG_PER_LB, 100)?.over(Exact::whole(piece_mg))
}

/// Pieces in a kilogram; None when a piece has no mass.
#[must_use]
pub fn per_kilogram(piece_mg: i64) -> Option<Exact> {
    Exact::whole(MG_PER_KG).over(Exact::whole(piece_mg))
}

/// Grams of weld metal of an area in mm², a length in mm and a density in g/cm³.
#[must_use]
pub fn deposit_g(area_mm2: Exact, length_mm: Exact, g_per_cm3: Exact) -> Option<Exact> {
    mass_g(area_mm2.times(length_mm)?, g_per_cm3)
}

/// Grams of a volume in mm³ and a density in g/cm³.
#[must_use]
pub fn mass_g(volume_mm3: Exact, g_per_cm3: Exact) -> Option<Exact> {
    volume_mm3.times(g_per_cm3)?.over(Exact::whole(1000))
}

/// Kilograms an hour of so many grams deposited in so many seconds of arc time; None for no time.
#[must_use]
pub fn deposition_rate_kg_per_h(deposit_g: Exact, seconds: Exact) -> Option<Exact> {
    deposit_g.over(seconds)?.times(Exact::fraction(18, 5)?)
}

/// Square of the relative standard uncertainty of a rod's mass from a diameter that can be off by `tolerance` either way,
/// every value as likely: (2·a/√3/d)² (ISO/IEC Guide 98-3 (GUM) 4.3.7 and 5.1.6). The same for every rod of a lot.
#[must_use]
pub fn mass_uncertainty_squared(size: &Size, tolerance: &Measure) -> Option<Exact> {
    let (num, den) = size.diameter().millimetres()?;
    let diameter = Exact::fraction(i64::try_from(num).ok()?, i64::try_from(den).ok()?)?;
    let twice = tolerance.base().times(Exact::whole(2))?.over(diameter)?;
    twice.squared()?.over(Exact::whole(3))
}

/// A row of the table of deposition efficiencies; percentages as decimal text, empty where the source has none.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct TypicalEfficiency {
    /// The process, by its letters.
    pub process: String,
    /// What the row is limited to.
    pub variant: String,
    /// The lower end of a range.
    pub min_pct: String,
    /// The upper end of a range.
    pub max_pct: String,
    /// An average.
    pub average_pct: String,
    /// `included`, `included 2 in`, or empty where there are no stubs.
    pub stubs: String,
    /// Where the figure comes from.
    pub source: String,
    /// How sure it is.
    pub confidence: String,
}

/// The table of deposition efficiencies.
#[must_use]
pub fn typical_efficiencies() -> &'static [TypicalEfficiency] {
    static ROWS: OnceLock<Vec<TypicalEfficiency>> = OnceLock::new();
    ROWS.get_or_init(|| {
        csv::Reader::from_reader(TABLE.as_bytes()).deserialize().filter_map(Result::ok).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Dimension;

    fn length(text: &str) -> Measure {
        Measure::parse(text, Dimension::Length).unwrap()
    }

    fn exact(text: &str) -> Exact {
        Exact::parse(text).unwrap()
    }

    fn excluding(text: &str) -> Efficiency {
        Efficiency::parse(text, StubBasis::Excluded).unwrap()
    }

    /// A public welding distributor's article, E6010 of 5/32 in on 14 in: 63.8 % with a stub of 2 in, and so on; printed to
    /// one place, from a value before rounding, so within 0.1.
    #[test]
    fn an_efficiency_at_another_stub_length() {
        let at_two = Efficiency::parse("0.638", StubBasis::Included(length("2 in"))).unwrap();
        for (stub, printed) in
            [("2 in", "63.8"), ("3 in", "58.5"), ("4 in", "53.2"), ("5 in", "47.9"), ("6 in", "42.6")]
        {
            let found = at_two.including(&length("14 in"), &length(stub)).unwrap();
            let off = found.times(Exact::whole(100)).unwrap().minus(exact(printed)).unwrap();
            assert!(off.squared().unwrap() <= exact("0.01"), "{stub}: {found:?}");
        }
        let without = at_two.excluding_stubs(Some(&length("14 in"))).unwrap();
        assert_eq!(without.decimal(4).as_deref(), Some("0.7443"));
    }

    #[test]
    fn the_two_conventions_meet() {
        // 10 kg with 0.744 without stubs, electrodes of 350 mm, stubs of 50 mm: 15.68 kg, evaluated apart.
        let pieces = Pieces::new(length("350 mm"), Some(length("50 mm"))).unwrap();
        let bought = needed(exact("10000"), &excluding("0.744"), Some(&pieces)).unwrap();
        assert_eq!(bought.filler_g.decimal(0).as_deref(), Some("15681"));
        assert_eq!(bought.melted_g.decimal(0).as_deref(), Some("13441"));
        // The same efficiency told with its stubs: the same filler.
        let including = excluding("0.744").including(&length("350 mm"), &length("50 mm")).unwrap();
        let told = Efficiency { value: including, stubs: StubBasis::Included(length("50 mm")) };
        assert_eq!(needed(exact("10000"), &told, Some(&pieces)), Ok(bought));
        // With longer stubs than the efficiency includes, more.
        let longer = Pieces::new(length("350 mm"), Some(length("75 mm"))).unwrap();
        assert!(needed(exact("10000"), &told, Some(&longer)).unwrap().filler_g > bought.filler_g);
    }

    #[test]
    fn cut_rods_are_counted_up() {
        // 1641.5 g of deposit, 32.29 g rods of 914.4 mm, stubs of 75 mm: 57 rods, evaluated apart.
        let pieces = Pieces::new(length("914.4 mm"), Some(length("75 mm"))).unwrap();
        let filler = needed(exact("1641.5"), &excluding("0.98"), Some(&pieces)).unwrap();
        let rods = whole_pieces(filler.filler_g, 32_290).unwrap();
        assert_eq!(rods, 57);
        assert_eq!(stubs_g(rods, 32_290, &pieces).unwrap().decimal(1).as_deref(), Some("151.0"));
        assert_eq!(whole_pieces(Exact::zero(), 32_290), Some(0));
        assert_eq!(whole_pieces(Exact::one(), 0), None);
    }

    #[test]
    fn masses_and_rates() {
        // 12 mm V of 60 degrees, volume reduced by shrinkage, a maker's data book: 97.5 cm3/m, 0.77 kg/m.
        let kg = deposit_g(exact("97.5"), exact("1000"), exact("7.85")).unwrap();
        assert_eq!(kg.decimal(0).as_deref(), Some("765"));
        // A maker's data sheet: 95 g in 60 s are 5.7 kg/h.
        assert_eq!(deposition_rate_kg_per_h(exact("95"), exact("60")), Some(exact("5.7")));
        assert_eq!(deposition_rate_kg_per_h(exact("95"), Exact::zero()), None);
        assert_eq!(per_pound(31_967).unwrap().decimal(1).as_deref(), Some("14.2"));
        assert_eq!(per_kilogram(31_967).unwrap().decimal(1).as_deref(), Some("31.3"));
        assert_eq!(per_pound(0), None);
        // 2.381 mm, 0.05 mm either way: 2.42 %, evaluated apart from GUM 4.3.7.
        let size = Size::parse("2.381 mm").unwrap();
        let squared = mass_uncertainty_squared(&size, &length("0.05 mm")).unwrap();
        assert!((squared.root_f64() - 0.0242).abs() < 0.0001);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        for text in ["0", "1.01", "98", "-0.5", "0,98", "98 %"] {
            assert!(Efficiency::parse(text, StubBasis::Excluded).is_err(), "{text}");
        }
        for stub in ["36 in", "40 in", "1 m"] {
            let error = Pieces::new(length("36 in"), Some(length(stub))).unwrap_err();
            assert!(matches!(error, ConsumptionError::StubTooLong { .. }), "{error}");
        }
        let included = Efficiency::parse("0.9", StubBasis::Included(length("2 in"))).unwrap();
        assert!(matches!(needed(Exact::one(), &included, None), Err(ConsumptionError::LengthMissing(_))));
        assert_eq!(included.excluding_stubs(Some(&length("14 in"))), Err(ConsumptionError::AboveOne));
    }

    #[test]
    fn the_table_is_whole() {
        assert_eq!(typical_efficiencies().len(), TABLE.lines().count() - 1);
        for row in typical_efficiencies() {
            let percent = |text: &str| Exact::parse(text).ok().filter(|p| *p <= Exact::whole(100));
            let range = percent(&row.min_pct).zip(percent(&row.max_pct));
            assert_eq!(range.is_some(), row.average_pct.is_empty(), "{row:?}");
            assert!(range.is_none_or(|(low, high)| low <= high), "{row:?}");
            assert!(row.average_pct.is_empty() || percent(&row.average_pct).is_some(), "{row:?}");
        }
    }
}
