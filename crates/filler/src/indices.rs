//! Composition indices of an analysis, as recorded values: no limit is built in, limits belong to the job's papers.
//!
//! An element that is not in the analysis makes an index not computable; it is never taken as zero. No ferrite number
//! is worked out: the lines of the WRC-1992 diagram were issued as a drawing, and no equation of theirs was found in a
//! standard. Record the measured number (AWS A4.2, ISO 8249), or the certificate's with its stated basis.
//!
//! Carbon equivalents (CE, Pcm, CEN, CET) judge base metal and preheat, and are not here.

use crate::decimal::parse_decimal;
use crate::element::Element;
use crate::exact::Exact;
use crate::percent::Percent;
use std::collections::BTreeMap;

/// Decimal places an index is shown with, when it does not end before.
const PLACES: u32 = 6;

/// An index of a composition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Index {
    /// 100·(10P + 5Sb + 4Sn + As) of mass percent, which is (10P + 5Sb + 4Sn + As)/100 of parts per million: temper
    /// embrittlement of Cr-Mo weld metal.
    XBar,
    /// (Mn + Si)·(P + Sn)·10⁴ of mass percent: temper embrittlement of Cr-Mo steel.
    JFactor,
    /// Mn / Si: deoxidation balance of solid wire.
    ManganeseToSilicon,
    /// Mn + Ni: limited as a sum in the 9Cr-1Mo-V classes, where it lowers the transformation temperature.
    ManganesePlusNickel,
    /// Cr + Mo + 0.7Nb: chromium equivalent of the WRC-1992 diagram.
    WrcChromium,
    /// Ni + 35C + 20N + 0.25Cu: nickel equivalent of the WRC-1992 diagram.
    WrcNickel,
    /// Cr + Mo + 1.5Si + 0.5Nb: chromium equivalent of the DeLong diagram.
    DeLongChromium,
    /// Ni + 30C + 30N + 0.5Mn: nickel equivalent of the DeLong diagram.
    DeLongNickel,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Computed {
    /// The exact value.
    Value(Exact),
    /// Elements of the formula are not in the analysis; they are named in its order.
    Missing(Vec<Element>),
    /// The formula divides by an element that is zero in the analysis.
    DividesByZero(Element),
}

impl Index {
    /// All indices, in the order they are shown.
    pub const ALL: &'static [Self] = &[
        Self::XBar,
        Self::JFactor,
        Self::ManganeseToSilicon,
        Self::ManganesePlusNickel,
        Self::WrcChromium,
        Self::WrcNickel,
        Self::DeLongChromium,
        Self::DeLongNickel,
    ];

    /// The word, as shown to programs.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::XBar => "x_bar",
            Self::JFactor => "j_factor",
            Self::ManganeseToSilicon => "mn_si",
            Self::ManganesePlusNickel => "mn_plus_ni",
            Self::WrcChromium => "wrc_creq",
            Self::WrcNickel => "wrc_nieq",
            Self::DeLongChromium => "delong_creq",
            Self::DeLongNickel => "delong_nieq",
        }
    }

    /// What it is called.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::XBar => "X-bar factor",
            Self::JFactor => "J-factor",
            Self::ManganeseToSilicon => "Mn/Si",
            Self::ManganesePlusNickel => "Mn + Ni",
            Self::WrcChromium => "WRC-1992 Cr equivalent",
            Self::WrcNickel => "WRC-1992 Ni equivalent",
            Self::DeLongChromium => "DeLong Cr equivalent",
            Self::DeLongNickel => "DeLong Ni equivalent",
        }
    }

    /// The formula, of mass percent unless it says otherwise.
    #[must_use]
    pub fn formula(self) -> &'static str {
        match self {
            Self::XBar => "(10P + 5Sb + 4Sn + As) / 100, ppm",
            Self::JFactor => "(Mn + Si) x (P + Sn) x 10^4",
            Self::ManganeseToSilicon => "Mn / Si",
            Self::ManganesePlusNickel => "Mn + Ni",
            Self::WrcChromium => "Cr + Mo + 0.7Nb",
            Self::WrcNickel => "Ni + 35C + 20N + 0.25Cu",
            Self::DeLongChromium => "Cr + Mo + 1.5Si + 0.5Nb",
            Self::DeLongNickel => "Ni + 30C + 30N + 0.5Mn",
        }
    }

    /// Where the formula comes from.
    #[must_use]
    pub fn source(self) -> &'static str {
        match self {
            Self::XBar => "public formularies and a public worked example",
            Self::JFactor => "public formularies",
            Self::ManganeseToSilicon => "common practice, no source",
            Self::ManganesePlusNickel => "footnotes of AWS A5 specifications, from memory",
            Self::WrcChromium | Self::WrcNickel => "WRC-1992 diagram",
            Self::DeLongChromium | Self::DeLongNickel => "DeLong diagram, second-hand",
        }
    }

    /// The elements of the formula, in its order.
    #[must_use]
    pub fn symbols(self) -> &'static [&'static str] {
        match self {
            Self::XBar => &["P", "Sb", "Sn", "As"],
            Self::JFactor => &["Mn", "Si", "P", "Sn"],
            Self::ManganeseToSilicon => &["Mn", "Si"],
            Self::ManganesePlusNickel => &["Mn", "Ni"],
            Self::WrcChromium => &["Cr", "Mo", "Nb"],
            Self::WrcNickel => &["Ni", "C", "N", "Cu"],
            Self::DeLongChromium => &["Cr", "Mo", "Si", "Nb"],
            Self::DeLongNickel => &["Ni", "C", "N", "Mn"],
        }
    }

    /// The index of an analysis in mass percent.
    ///
    /// None when a percentage has more digits than can be multiplied exactly.
    #[must_use]
    pub fn of(self, analysis: &BTreeMap<Element, Percent>) -> Option<Computed> {
        let elements: Vec<Element> = self.symbols().iter().filter_map(|s| Element::parse(s).ok()).collect();
        let missing: Vec<Element> = elements.iter().copied().filter(|e| !analysis.contains_key(e)).collect();
        if !missing.is_empty() {
            return Some(Computed::Missing(missing));
        }
        let values: Vec<Exact> =
            elements.iter().map(|e| analysis.get(e).copied().and_then(exact)).collect::<Option<_>>()?;
        let value = |at: usize| values.get(at).copied();
        let sum = |weights: &[(i64, i64)]| {
            weights.iter().zip(&values).try_fold(Exact::zero(), |sum, ((num, den), value)| {
                Exact::fraction(*num, *den)?.times(*value)?.plus(sum)
            })
        };
        let value = match self {
            Self::XBar => sum(&[(1000, 1), (500, 1), (400, 1), (100, 1)])?,
            Self::JFactor => {
                let deoxidisers = value(0)?.plus(value(1)?)?;
                let embrittlers = value(2)?.plus(value(3)?)?;
                deoxidisers.times(embrittlers)?.times(Exact::whole(10_000))?
            }
            Self::ManganeseToSilicon => {
                let silicon = value(1)?;
                if silicon.is_zero() {
                    return elements.get(1).copied().map(Computed::DividesByZero);
                }
                value(0)?.over(silicon)?
            }
            Self::ManganesePlusNickel => sum(&[(1, 1), (1, 1)])?,
            Self::WrcChromium => sum(&[(1, 1), (1, 1), (7, 10)])?,
            Self::WrcNickel => sum(&[(1, 1), (35, 1), (20, 1), (1, 4)])?,
            Self::DeLongChromium => sum(&[(1, 1), (1, 1), (3, 2), (1, 2)])?,
            Self::DeLongNickel => sum(&[(1, 1), (30, 1), (30, 1), (1, 2)])?,
        };
        Some(Computed::Value(value))
    }
}

impl Computed {
    /// The value as decimal text; None when there is none.
    #[must_use]
    pub fn decimal(&self) -> Option<String> {
        match self {
            Computed::Value(value) => value.short_decimal(PLACES),
            Computed::Missing(_) | Computed::DividesByZero(_) => None,
        }
    }
}

/// The exact value of a percentage.
fn exact(percent: Percent) -> Option<Exact> {
    let decimal = parse_decimal(&percent.to_string()).ok()?;
    Exact::decimal_of(decimal.digits, decimal.scale)
}

/// Chromium equivalents drawn on the WRC-1992 diagram, about 17 to 31; nickel equivalents, about 9 to 18 (read off the
/// published diagram).
const WRC_AXES: ((i64, i64), (i64, i64)) = ((17, 31), (9, 18));

/// Whether WRC-1992 equivalents lie inside the drawn axes; outside them the diagram says nothing.
#[must_use]
pub fn inside_wrc_axes(chromium: Exact, nickel: Exact) -> bool {
    let inside =
        |value: Exact, (low, high): (i64, i64)| value >= Exact::whole(low) && value <= Exact::whole(high);
    inside(chromium, WRC_AXES.0) && inside(nickel, WRC_AXES.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn analysis(text: &str) -> BTreeMap<Element, Percent> {
        text.split(' ')
            .map(|part| {
                let (element, percent) = part.split_once('=').unwrap();
                (Element::parse(element).unwrap(), Percent::parse(percent).unwrap())
            })
            .collect()
    }

    fn of(index: Index, text: &str) -> String {
        match index.of(&analysis(text)).unwrap() {
            computed @ Computed::Value(_) => computed.decimal().unwrap(),
            Computed::Missing(elements) => format!("without {elements:?}"),
            Computed::DividesByZero(element) => format!("{element} is 0"),
        }
    }

    #[test]
    fn published_and_evaluated_values() {
        for (index, text, want) in [
            // A public worked example: P 10, Sb 20, Sn 15, As 5 ppm give 2.65.
            (Index::XBar, "P=0.0010 Sb=0.0020 Sn=0.0015 As=0.0005", "2.65"),
            // Another prints 5.5 for P 30, Sb 20, Sn 10, As 5 ppm; by the formula it is 4.45.
            (Index::XBar, "P=0.0030 Sb=0.0020 Sn=0.0010 As=0.0005", "4.45"),
            // The rest evaluated apart, from the formulas.
            (Index::JFactor, "Mn=0.55 Si=0.2 P=0.008 Sn=0.003", "82.5"),
            (Index::ManganeseToSilicon, "Mn=1.55 Si=0.95", "1.631579"),
            (Index::ManganesePlusNickel, "Mn=0.60 Ni=0.55 Cr=9", "1.15"),
            (Index::WrcChromium, "Cr=20.0 Mo=0.1 Nb=0", "20.1"),
            (Index::WrcNickel, "C=0.02 Ni=10.0 N=0.05 Cu=0.1", "11.725"),
            (Index::DeLongChromium, "Cr=20.0 Mo=0.1 Si=0.4 Nb=0", "20.7"),
            (Index::DeLongNickel, "Ni=10.0 C=0.02 N=0.05 Mn=1.8", "13"),
        ] {
            assert_eq!(of(index, text), want, "{index:?}");
        }
    }

    #[test]
    fn what_is_missing_is_named_and_never_zero() {
        assert_eq!(of(Index::XBar, "P=0.01 Sn=0.01"), "without [Sb, As]");
        assert_eq!(of(Index::WrcChromium, "Cr=20 Mo=2"), "without [Nb]");
        assert_eq!(of(Index::ManganeseToSilicon, "Mn=1 Si=0"), "Si is 0");
        for index in Index::ALL {
            let elements =
                index.symbols().iter().map(|s| (Element::parse(s).unwrap(), Percent::parse("1").unwrap()));
            let full: BTreeMap<_, _> = elements.clone().collect();
            assert!(matches!(index.of(&full), Some(Computed::Value(_))), "{index:?}");
            for (left_out, _) in elements {
                let mut part = full.clone();
                part.remove(&left_out);
                assert_eq!(index.of(&part), Some(Computed::Missing(vec![left_out])), "{index:?}");
            }
        }
    }

    #[test]
    fn the_axes_of_the_diagram() {
        for (chromium, nickel, want) in [
            (17, 9, true),
            (31, 18, true),
            (20, 11, true),
            (16, 11, false),
            (32, 11, false),
            (20, 8, false),
            (20, 19, false),
        ] {
            assert_eq!(
                inside_wrc_axes(Exact::whole(chromium), Exact::whole(nickel)),
                want,
                "{chromium} {nickel}"
            );
        }
    }
}
