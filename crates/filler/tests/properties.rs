//! Laws that hold for every input.

use filler::size::Length;
use filler::{
    Density, LengthUnit, Process, ProductForm, Quantity, Size, Unit, density_for, fits, grams_to_mg,
    piece_mass_mg,
};
use proptest::prelude::*;

fn unit() -> impl Strategy<Value = Unit> {
    prop::sample::select(vec![
        Unit::Rods,
        Unit::Pieces,
        Unit::Spools,
        Unit::Kilograms,
        Unit::Grams,
        Unit::Pounds,
    ])
}

fn mass_unit() -> impl Strategy<Value = Unit> {
    prop::sample::select(vec![Unit::Kilograms, Unit::Grams, Unit::Pounds])
}

fn quantity() -> impl Strategy<Value = Quantity> {
    (0_i64..=filler::MAX_INTEGER, 0_u32..53, 0_u8..=6, unit())
        .prop_filter_map("not a quantity", |(value, shift, scale, unit)| {
            Quantity::new(value >> shift, scale, unit).ok()
        })
}

fn length() -> impl Strategy<Value = Length> {
    let den = prop_oneof![
        1_u64..=1_000_000,
        prop::sample::select(vec![1, 2, 8, 32, 64, 128, 524_288, 390_625, 1000, 1_000_000])
    ];
    let unit = prop::sample::select(vec![LengthUnit::Inch, LengthUnit::Millimetre]);
    (1_u64..=393, 0_u64..1_000_000, den, unit).prop_filter_map("not a length", |(whole, part, den, unit)| {
        Length::new((whole - 1).checked_mul(den)?.checked_add(part % den)?, den, unit).ok()
    })
}

fn size() -> impl Strategy<Value = Size> {
    (length(), prop::option::of(length())).prop_map(|(diameter, length)| Size::new(diameter, length))
}

/// A classification as printed: prefix, one or two bases, suffixes behind hyphens or blanks.
fn class() -> impl Strategy<Value = (String, Vec<String>)> {
    (
        "(E|ER)?",
        "[0-9]{2,5}[A-Z]{0,3}",
        prop::option::of("/(ER)?[0-9]{3}[A-Z]{0,2}"),
        prop::collection::vec("[-  ][A-Z0-9]{1,3}", 0..4),
    )
        .prop_map(|(prefix, base, dual, suffixes)| {
            (format!("{prefix}{base}{}", dual.unwrap_or_default()), suffixes)
        })
}

/// What people might type: anything, and near misses.
fn typed() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<String>(),
        "[-+−.,/xX×\"″0-9 a-zA-Z]{0,24}",
        "[0-9]{0,45}([./-][0-9]{0,45}){0,3} ?(in|mm|kg|lb|rods|\"|e9 g)?( ?x ?[0-9]{0,4} ?(in|mm))?",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_quantity_reads_back_from_its_text_and_its_record(quantity in quantity()) {
        prop_assert_eq!(Quantity::parse(&quantity.to_string()), Ok(quantity));
        let json = serde_json::to_string(&quantity).unwrap();
        prop_assert_eq!(serde_json::from_str::<Quantity>(&json).unwrap(), quantity);
        prop_assert!(quantity.milligrams().is_some() != quantity.pieces().is_some());
    }

    #[test]
    fn a_size_reads_back_from_its_text_and_its_record(size in size()) {
        prop_assert_eq!(Size::parse(&size.to_string()), Ok(size));
        let json = serde_json::to_string(&size).unwrap();
        prop_assert_eq!(serde_json::from_str::<Size>(&json).unwrap(), size);
    }

    #[test]
    fn sizes_are_equal_exactly_when_their_keys_are(a in size(), b in size()) {
        prop_assert_eq!(a == b, a.key() == b.key());
        prop_assert_eq!(a == b, a.to_string() == b.to_string());
    }

    #[test]
    fn more_of_a_unit_is_no_less_in_milligrams(a in 0_i64..=1_000_000_000, b in 0_i64..=1_000_000_000, scale in 0_u8..=6, unit in mass_unit()) {
        let (less, more) = (a.min(b), a.max(b));
        let mg = |value| Quantity::new(value, scale, unit).unwrap().milligrams().unwrap();
        prop_assert!(mg(less) <= mg(more));
    }

    #[test]
    fn milligrams_are_within_half_of_the_exact_value(value in 0_i64..=1_000_000_000, scale in 0_u8..=6) {
        let mg = Quantity::new(value, scale, Unit::Pounds).unwrap().milligrams().unwrap();
        let den = 100 * 10_i128.pow(scale.into());
        let off = i128::from(mg) * den - i128::from(value) * 45_359_237;
        prop_assert!(2 * off.abs() <= den);
    }

    #[test]
    fn a_thicker_or_longer_rod_is_no_lighter(d in 1_u64..500, l in 1_u64..90_000, more in 0_u64..100, inch in any::<bool>()) {
        let (unit, den) = if inch { (LengthUnit::Inch, 64) } else { (LengthUnit::Millimetre, 10) };
        let density = Density::given("7.85").unwrap();
        let mass = |d, l| {
            let size = Size::new(Length::new(d, den, unit).unwrap(), Some(Length::new(l, 1000, unit).unwrap()));
            piece_mass_mg(&size, &density).unwrap()
        };
        prop_assert!(mass(d, l) <= mass(d + more, l));
        prop_assert!(mass(d, l) <= mass(d, l + more));
    }

    #[test]
    fn a_class_fits_itself_and_still_fits_when_less_was_read((base, suffixes) in class(), kept in any::<u8>()) {
        let lot = format!("{base}{}", suffixes.concat());
        prop_assert!(fits(&lot, &lot), "{}", lot);
        prop_assert!(fits(&lot.to_lowercase(), &lot), "{}", lot);
        let read: String = suffixes.iter().enumerate().filter(|(i, _)| kept >> i & 1 == 1).map(|(_, s)| s.as_str()).collect();
        let read = format!("{base}{read}");
        prop_assert!(fits(&read, &lot), "{} on {}", read, lot);
    }

    #[test]
    fn a_suffix_that_the_lot_does_not_have_never_fits((base, suffixes) in class(), (_, read) in class(), place in any::<prop::sample::Index>()) {
        let lot = format!("{base}{}", suffixes.concat());
        let mut read = read;
        read.insert(place.index(read.len() + 1), "-Q4QQ".to_owned()); // longer than any suffix made above
        let read = format!("{base}{}", read.concat());
        prop_assert!(!fits(&read, &lot), "{} on {}", read, lot);
    }

    #[test]
    fn nothing_typed_panics(text in typed(), other in typed()) {
        // Whatever is refused says so with the text's own reason; whatever is read keeps its rules.
        match Quantity::parse(&text) {
            Ok(quantity) => prop_assert!(quantity.value() >= 0 && quantity.scale() <= 6),
            Err(error) => prop_assert!(error.to_string().contains("is not a quantity: ")),
        }
        match Size::parse(&text) {
            Ok(size) => prop_assert_eq!(Size::parse(&size.to_string()), Ok(size)),
            Err(error) => prop_assert!(error.to_string().contains("is not a size: ")),
        }
        if let Ok(mg) = grams_to_mg(&text) {
            prop_assert!((0..=filler::MAX_INTEGER).contains(&mg));
        }
        let _ = ProductForm::parse(&text);
        prop_assert_eq!(Process::parse(&text).is_err(), text.trim().is_empty());
        let _ = fits(&text, &other);
        if let Some(density) = density_for(&text, &other) {
            prop_assert!(density.mg_per_cm3 > 0);
        }
    }
}
