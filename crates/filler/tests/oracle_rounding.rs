//! Rounding against Python's `decimal` with ROUND_HALF_EVEN (tests/oracles/rounding.py), in the standard library of the
//! language and so of one version with it.

#![allow(clippy::unwrap_used, clippy::panic)]

mod support {
    pub(crate) mod oracle;
}

use filler::Percent;
use support::oracle::oracle;

#[test]
fn rounding_agrees_with_decimal() {
    let mut asked = Vec::new();
    // Every value of three places to two and to one; then ties, and values beside ties, of many places.
    for n in 0..=3_000_u32 {
        let text = format!("{}.{:03}", n / 1000, n % 1000);
        asked.push((text.clone(), 2));
        asked.push((text, 1));
    }
    for places in 0..=9_u32 {
        for digit in 0..=9_u32 {
            let zeros = "0".repeat(usize::try_from(places).unwrap());
            for end in ["5", "50", "51", "49", "500000001", "4999"] {
                asked.push((format!("{digit}9.{zeros}{end}"), places));
                asked.push((format!("9{digit}.{}{digit}{end}", zeros.replacen('0', "9", 1)), places + 1));
            }
        }
    }
    asked.retain(|(text, _)| Percent::parse(text).is_ok());
    let input: String =
        asked.iter().map(|(v, p)| serde_json::json!({"value": v, "places": p}).to_string() + "\n").collect();
    let answers = oracle("rounding.py", &[], &input);
    let mut compared = 0;
    for ((value, places), answer) in asked.iter().zip(answers.lines()) {
        let answer: serde_json::Value = serde_json::from_str(answer).unwrap();
        let ours = Percent::parse(value).unwrap().rounded(*places).to_string();
        assert_eq!(answer.get("rounded").unwrap().as_str().unwrap(), ours, "{value} to {places}");
        compared += 1;
    }
    assert_eq!(compared, asked.len());
    assert!(compared > 7_000, "{compared}");
}
