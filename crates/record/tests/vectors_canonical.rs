//! The canonical form against RFC 8785.
//!
//! Sources: the crates `serde_json_canonicalizer` 0.4.1 and `serde_jcs` 0.2.0 as reference on random values; the samples of
//! RFC 8785 sections 3.2.2 to 3.2.4 and appendix B, and the documents of the author's reference test data
//! (`cyberphone/json-canonicalization`, `testdata/input`). What RFC 8785 allows and the record does not must be refused for
//! the reason expected here, never printed in another way.

#![allow(clippy::expect_used, clippy::indexing_slicing, clippy::panic, reason = "helpers of tests")]

use proptest::prelude::*;
use record::canonical::{CanonicalError, MAX_DEPTH, MAX_INTEGER, MAX_KEY, forbidden_char, read, write};
use serde_json::{Value, json};

fn reference(value: &Value) -> [Vec<u8>; 2] {
    [
        serde_json_canonicalizer::to_vec(value).expect("serde_json_canonicalizer"),
        serde_jcs::to_vec(value).expect("serde_jcs"),
    ]
}

fn text() -> impl Strategy<Value = String> {
    let character = prop_oneof![
        4 => proptest::char::range(' ', '~'),
        1 => proptest::sample::select(vec!['"', '\\', '/', '\n', '<', '>', '&', '\'', '\u{a0}', '\u{2027}', '\u{202a}',
            '\u{feff}', '\u{fffd}', '\u{fdd0}', '\u{e000}', '\u{d7ff}', '\u{10000}', '\u{1f600}', '\u{10fffd}']),
        2 => any::<char>(),
    ];
    proptest::collection::vec(character, 0..12)
        .prop_map(|chars| chars.into_iter().filter(|c| forbidden_char(&c.to_string()).is_none()).collect())
}

fn integer() -> impl Strategy<Value = i64> {
    prop_oneof![-MAX_INTEGER..=MAX_INTEGER, -1000_i64..1000, Just(MAX_INTEGER), Just(-MAX_INTEGER)]
}

/// Values inside the profile: depth at most 8.
fn value() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        integer().prop_map(Value::from),
        text().prop_map(Value::from),
    ];
    leaf.prop_recursive(u32::try_from(MAX_DEPTH).expect("small"), 64, 6, |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            proptest::collection::btree_map("[a-z][a-z0-9_]{0,31}", inner, 0..6)
                .prop_map(|map| Value::Object(map.into_iter().collect())),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn inside_the_profile_the_bytes_are_those_of_rfc_8785(value in value()) {
        let line = write(&value).expect("inside the profile");
        for expected in reference(&value) {
            prop_assert_eq!(String::from_utf8_lossy(&line), String::from_utf8_lossy(&expected));
        }
        prop_assert_eq!(read(&line), Ok(value));
    }

    /// Whatever is read is the reference form of what it says; everything else is refused.
    #[test]
    fn what_is_read_is_canonical(value in value(), at: prop::sample::Index, byte: u8, insert: bool) {
        let mut line = write(&value).expect("inside the profile");
        let at = at.index(line.len());
        if insert { line.insert(at, byte) } else { line[at] = byte }
        if let Ok(value) = read(&line) {
            prop_assert_eq!(&reference(&value)[0], &line);
        }
    }

    #[test]
    fn reading_takes_any_bytes(line in proptest::collection::vec(any::<u8>(), 0..200)) {
        let _ = read(&line);
    }

    /// A line of JSON printed otherwise: refused although it says the same.
    #[test]
    fn spread_out_json_is_refused(value in value()) {
        let spread = serde_json::to_vec_pretty(&value).expect("JSON");
        prop_assert_eq!(read(&spread).is_ok(), spread == write(&value).expect("inside the profile"));
    }

    #[test]
    fn floats_are_refused(bits: u64) {
        let float = f64::from_bits(bits);
        prop_assume!(float.is_finite());
        let refused = matches!(write(&json!({"a": float})), Err(CanonicalError::NotInteger { .. }));
        prop_assert!(refused, "{}", float);
    }
}

fn parsed(text: &str) -> Value {
    serde_json::from_str(text).expect("JSON")
}

#[test]
fn reference_documents_are_refused_for_their_keys_numbers_or_controls() {
    let key = |expected: &str, document: &str| match write(&parsed(document)) {
        Err(CanonicalError::Key { key, .. }) => assert_eq!(key, expected),
        other => panic!("{document}: {other:?}"),
    };
    // arrays.json, french.json, structures.json, unicode.json, weird.json: keys outside [a-z][a-z0-9_]*.
    key("1", r#"[56,{"d":true,"10":null,"1":[ ]}]"#);
    key("péché", r#"{"peach":"This sorting order","péché":"is wrong according to French"}"#);
    key("", r#"{"1":{"f":{"f":"hi","F":5},"\n":56.0},"10":{},"":"empty","a":{},"111":[{}],"A":{}}"#);
    key("Unnormalized Unicode", r#"{"Unnormalized Unicode":"\u1e0d\u0307"}"#);
    key("1", r#"{"\u20ac":"Euro Sign","1":"One","\ud83d\ude02":"Smiley","</script>":"Browser Challenge"}"#);
    // values.json, the sample of RFC 8785 section 3.2.2: U+000F in the text, floats among the numbers.
    let escaping = r#"{"escaping":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/"}"#;
    assert_eq!(
        write(&parsed(escaping)),
        Err(CanonicalError::Character { place: "escaping".into(), character: '\u{f}' })
    );
    let numbers = r#"{"numbers":[1E30,4.50,333333333.33333329,2e-3,0.000000000000000000000000001]}"#;
    assert!(
        matches!(write(&parsed(numbers)), Err(CanonicalError::NotInteger { place, .. }) if place == "numbers[0]")
    );
}

/// What is left of the same documents without what the record refuses is printed as RFC 8785 section 3.2.4 prints it.
#[test]
fn reference_documents_are_equal_where_the_profile_allows_them() {
    for (document, expected) in [
        (
            r#"{"escaping":"\u20ac$\u000aA'\u0042\u0022\u005c\\\"\/"}"#,
            "{\"escaping\":\"€$\\nA'B\\\"\\\\\\\\\\\"/\"}",
        ),
        (r#"{"literals": [null, true, false]}"#, r#"{"literals":[null,true,false]}"#),
        // Not normalised: the two code points stay as they are.
        (r#"{"unnormalized":"\u1e0d\u0307"}"#, "{\"unnormalized\":\"\u{1e0d}\u{307}\"}"),
        (r#"{"f": {"f": "hi","e": 5} ,"a": { }, "b": [ { } ]}"#, r#"{"a":{},"b":[{}],"f":{"e":5,"f":"hi"}}"#),
        (r#"{"s":"</script>","smiley":"\ud83d\ude02"}"#, "{\"s\":\"</script>\",\"smiley\":\"\u{1f602}\"}"),
    ] {
        let value = parsed(document);
        assert_eq!(String::from_utf8(write(&value).expect(document)).expect("UTF-8"), expected);
        assert_eq!(reference(&value)[0], expected.as_bytes());
    }
}

/// RFC 8785 appendix B gives doubles by their bits and their text. The record refuses each of them as a double, whole or
/// not; where the text is a plain integer in range, that integer is printed as the same text.
#[test]
fn appendix_b_numbers() {
    let mut plain = 0;
    for (bits, text) in [
        (0x0000_0000_0000_0000_u64, "0"),
        (0x8000_0000_0000_0000, "0"),
        (0x0000_0000_0000_0001, "5e-324"),
        (0x8000_0000_0000_0001, "-5e-324"),
        (0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308"),
        (0xffef_ffff_ffff_ffff, "-1.7976931348623157e+308"),
        (0x4340_0000_0000_0000, "9007199254740992"),
        (0xc340_0000_0000_0000, "-9007199254740992"),
        (0x4430_0000_0000_0000, "295147905179352830000"),
        (0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22"),
        (0x44b5_2d02_c7e1_4af6, "1e+23"),
        (0x44b5_2d02_c7e1_4af7, "1.0000000000000001e+23"),
        (0x444b_1ae4_d6e2_ef4e, "999999999999999700000"),
        (0x444b_1ae4_d6e2_ef4f, "999999999999999900000"),
        (0x444b_1ae4_d6e2_ef50, "1e+21"),
        (0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7"),
        (0x3eb0_c6f7_a0b5_ed8d, "0.000001"),
        (0x41b3_de43_5555_5553, "333333333.3333332"),
        (0x41b3_de43_5555_5554, "333333333.33333325"),
        (0x41b3_de43_5555_5555, "333333333.3333333"),
        (0x41b3_de43_5555_5556, "333333333.3333334"),
        (0x41b3_de43_5555_5557, "333333333.33333343"),
        (0xbecb_f647_612f_3696, "-0.0000033333333333333333"),
        (0x4314_3ff3_c1cb_0959, "1424953923781206.2"),
    ] {
        let double = json!(f64::from_bits(bits));
        assert!(matches!(write(&double), Err(CanonicalError::NotInteger { .. })), "{text}");
        let in_range = text.parse::<i64>().is_ok_and(|n| (-MAX_INTEGER..=MAX_INTEGER).contains(&n));
        plain += usize::from(in_range);
        assert_eq!(read(text.as_bytes()).is_ok(), in_range, "{text}");
        assert_eq!(reference(&double)[0], text.as_bytes(), "the reference itself");
    }
    assert_eq!(plain, 2);
}

/// Why there is a writer of our own: both reference crates round what a double cannot hold, and two facts become one.
#[test]
fn integers_that_the_reference_rounds_are_refused() {
    let (a, b) = (json!(MAX_INTEGER + 1), json!(MAX_INTEGER + 2));
    assert_ne!(a, b);
    assert_eq!(reference(&a)[0], reference(&b)[0]);
    assert!(write(&a).is_err() && write(&b).is_err());
}

#[test]
fn the_longest_key_and_depth_are_still_rfc_8785() {
    let mut value = json!({ "k".repeat(MAX_KEY): 1 });
    for _ in 1..MAX_DEPTH {
        value = json!([value]);
    }
    assert_eq!(write(&value).expect("at the limits"), reference(&value)[0]);
    assert!(matches!(write(&json!([value])), Err(CanonicalError::TooDeep { .. })));
}
