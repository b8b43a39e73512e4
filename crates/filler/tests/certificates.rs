//! Certificates with their verdicts (fixtures/analyses.csv: each with its source, or marked constructed), and what must
//! hold for any certificate.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use filler::certificate_check::{CertificateCheck, Question, check};
use filler::reading::SurfaceState;
use filler::{Analysis, AppliesTo, ElementVerdict, Strengths, Tables, Verdict};
use proptest::prelude::*;
use std::collections::BTreeSet;

const ANALYSES: &str = include_str!("../../../fixtures/analyses.csv");

fn checked(tables: &Tables, spec: &str, classification: &str, analysis: &Analysis) -> CertificateCheck {
    let strengths = Strengths::default();
    let question = Question {
        spec,
        classification,
        analysis,
        strengths: &strengths,
        product: None,
        surface: SurfaceState::Unknown,
    };
    check(tables, &question)
}

#[test]
fn analyses_have_their_verdicts() {
    let mut reader = csv::Reader::from_reader(ANALYSES.as_bytes());
    let (mut count, mut wrong) = (0, Vec::new());
    for row in reader.records() {
        let row = row.unwrap();
        let cell = |n: usize| row.get(n).unwrap();
        assert!(!cell(9).is_empty(), "{} has no source", cell(0));
        let analysis = Analysis::parse(cell(5)).unwrap();
        let strengths: Vec<(&str, &str)> =
            cell(6).split_terminator(';').map(|pair| pair.split_once('=').unwrap()).collect();
        let check = check(
            Tables::built_in(),
            &Question {
                spec: cell(1),
                classification: cell(2),
                analysis: &analysis,
                strengths: &Strengths::from_pairs(strengths).unwrap(),
                product: (!cell(3).is_empty()).then(|| AppliesTo::parse(cell(3)).unwrap()),
                surface: if cell(4).is_empty() {
                    SurfaceState::Unknown
                } else {
                    SurfaceState::parse(cell(4)).unwrap()
                },
            },
        );
        let of_elements = check.elements.iter().map(|e| (e.element.as_str(), e.verdict));
        let of_strengths = check.strengths.iter().map(|s| (s.strength.word(), s.verdict));
        let decided: BTreeSet<String> = of_elements
            .chain(of_strengths)
            .filter(|(name, verdict)| match verdict {
                ElementVerdict::Pass | ElementVerdict::NotLimited => false,
                ElementVerdict::NotChecked => !name.starts_with("others"),
                ElementVerdict::PassByRounding | ElementVerdict::Fail | ElementVerdict::NotReported => true,
            })
            .map(|(name, verdict)| format!("{}:{}", name.replace(' ', "_"), verdict.word()))
            .collect();
        let want: BTreeSet<String> =
            cell(8).replace("others ", "others_").split_whitespace().map(str::to_owned).collect();
        if check.verdict.word() != cell(7) || decided != want {
            wrong.push(format!(
                "{}: {} {decided:?}, not {} {want:?}; {:?}",
                cell(0),
                check.verdict.word(),
                cell(7),
                check.notes
            ));
        }
        count += 1;
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(count >= 80, "{count}");
}

#[test]
fn the_verdict_names_its_table_and_what_is_unverified() {
    let analysis =
        Analysis::parse("C=0.015,Cr=19.9,Ni=9.9,Mo=0.1,Mn=1.7,Si=0.4,P=0.02,S=0.01,Cu=0.1").unwrap();
    let sure = checked(Tables::built_in(), "A5.9", "ER308L", &analysis);
    assert_eq!((sure.table.as_str(), sure.unverified), ("A5.9, edition 2006, built in", false));
    let recalled = checked(
        Tables::built_in(),
        "A5.9",
        "ER308LSi",
        &Analysis::parse("C=0.015,Cr=19.9,Ni=9.9,Mo=0.1,Mn=1.7,Si=0.8,P=0.02,S=0.01,Cu=0.1").unwrap(),
    );
    assert_eq!((recalled.verdict, recalled.unverified), (Verdict::Pass, true));
    assert!(
        recalled.notes.iter().any(|n| n.starts_with("Limit from an unverified table: C")),
        "{:?}",
        recalled.notes
    );
}

#[test]
fn the_reason_to_hold_names_value_limit_and_table() {
    let analysis = Analysis::parse("C=0.09,Mn=1.15").unwrap();
    let failing = checked(Tables::built_in(), "A5.18", "ER70S-2", &analysis);
    assert_eq!(
        failing.reason_to_hold().unwrap(),
        "C 0.09 is not at most 0.07 (ER70S-2, A5.18, edition 2005, built in)"
    );
    let missing = checked(Tables::built_in(), "A5.18", "ER70S-2", &Analysis::parse("C=0.05").unwrap());
    assert!(missing.reason_to_hold().unwrap().starts_with("Mn is not reported; Si is not reported"));
}

#[test]
fn an_own_table_decides_and_is_named() {
    let text = "spec,edition,classification,applies_to,element,min_pct,max_pct,source,confidence\n\
                A5.22,2012,E308LT1-1,weld_metal,C,,0.04,own copy,own-copy\n";
    let tables = Tables::built_in().with(&Tables::from_csv(text, "shop copy").unwrap());
    let check = checked(&tables, "A5.22", "E308LT1-1", &Analysis::parse("C=0.03").unwrap());
    assert_eq!((check.verdict, check.table.as_str()), (Verdict::Pass, "A5.22, edition 2012, shop copy"));
    assert!(!check.unverified);
}

#[test]
fn strengths_count_for_the_verdict_and_a_swap_is_called_out() {
    let analysis =
        Analysis::parse("C=0.06,Mn=1.15,Si=0.45,P=0.012,S=0.008,Ni=0.03,Cr=0.04,Mo=0.01,V=0.01").unwrap();
    let with = |pairs: &[(&str, &str)]| {
        check(
            Tables::built_in(),
            &Question {
                spec: "A5.1",
                classification: "E7018",
                analysis: &analysis,
                strengths: &Strengths::from_pairs(pairs.iter().copied()).unwrap(),
                product: Some(AppliesTo::WeldMetal),
                surface: SurfaceState::Unknown,
            },
        )
    };
    assert_eq!(with(&[("tensile", "78 ksi"), ("yield", "66 ksi")]).verdict, Verdict::Pass);
    assert_eq!(with(&[("tensile", "69.6 ksi")]).verdict, Verdict::PassByRounding);
    assert_eq!(with(&[("tensile", "68 ksi")]).verdict, Verdict::Fail);
    // A supplier's page of a stainless electrode, posted again with the two swapped.
    let swapped = with(&[("tensile", "66 ksi"), ("yield", "78 ksi")]);
    assert_eq!(swapped.verdict, Verdict::Incomplete);
    assert!(swapped.notes.iter().any(|n| n.contains("swapped")), "{:?}", swapped.notes);
}

/// A table of one class of carbon and manganese.
fn table(min: Option<&str>, max: &str) -> Tables {
    let text = format!(
        "spec,edition,classification,applies_to,element,min_pct,max_pct,source,confidence\n\
         A5.18,1,ER70S-9,wire,C,{},{max},own,own-copy\n",
        min.unwrap_or("")
    );
    Tables::from_csv(&text, "own").unwrap()
}

fn hundredths(n: u32) -> String {
    format!("{}.{:02}", n / 100, n % 100)
}

proptest! {
    /// With as many decimal places or more. (Fewer places round more: 0.04 meets "0" but not 0.03, by ASTM E29 itself.)
    #[test]
    fn tightening_a_limit_never_turns_fail_into_pass(
        value in 0_u32..40_000, max in 1_u32..300, down in 0_u32..300, min in 0_u32..300, up in 0_u32..300, finer: bool,
    ) {
        let analysis = Analysis::parse(&format!("C={}.{:04}", value / 10_000, value % 10_000)).unwrap();
        let zeros = if finer { "0" } else { "" };
        let (min, tighter_min) = (min.min(max), (min + up).min(max));
        let tighter_max = max.saturating_sub(down).max(tighter_min);
        let loose = table(Some(&hundredths(min)), &hundredths(max));
        let tight = table(Some(&(hundredths(tighter_min) + zeros)), &(hundredths(tighter_max) + zeros));
        let of = |tables: &Tables| checked(tables, "A5.18", "ER70S-9", &analysis).elements[0].verdict;
        if of(&loose) == ElementVerdict::Fail {
            prop_assert_eq!(of(&tight), ElementVerdict::Fail);
        }
    }

    #[test]
    fn the_verdict_does_not_depend_on_the_order_of_the_elements(
        class in 0_usize..110, seed in any::<u64>(), keep in any::<u32>(),
    ) {
        let class = &Tables::built_in().classes()[class];
        let symbols = ["C", "Mn", "Si", "P", "S", "Ni", "Cr", "Mo", "V", "Cu", "Ti", "Zr", "Al", "Nb", "N", "Fe"];
        let mut parts: Vec<String> = symbols
            .iter()
            .enumerate()
            .filter(|(n, _)| keep >> n & 1 == 1)
            .map(|(n, symbol)| format!("{symbol}=0.{:03}", (seed >> n) % 1000))
            .collect();
        let straight = Analysis::parse(&parts.join(",")).unwrap();
        let turn = usize::try_from(seed % 16).unwrap().min(parts.len());
        parts.rotate_left(turn);
        parts.reverse();
        let turned = Analysis::parse(&parts.join(",")).unwrap();
        let of = |analysis| checked(Tables::built_in(), &class.spec, &class.classification, analysis);
        prop_assert_eq!(of(&straight), of(&turned));
    }

    #[test]
    fn a_missing_limited_element_never_passes(class in 0_usize..110, drop in any::<prop::sample::Index>()) {
        let class = &Tables::built_in().classes()[class];
        // The middle of every limit, or a value just inside its one end.
        let elements: Vec<&filler::Limit> = class
            .limits
            .iter()
            .filter(|l| matches!(l.subject, filler::Subject::Element(_)) && (l.min.is_some() || l.max.is_some()))
            .collect();
        let left_out = drop.index(elements.len());
        let parts: Vec<String> = elements
            .iter()
            .enumerate()
            .filter(|(n, _)| *n != left_out)
            .map(|(_, l)| format!("{}={}", l.subject, l.min.or(l.max).unwrap()))
            .collect();
        let analysis = Analysis::parse(&parts.join(",")).unwrap_or_default();
        let check = checked(Tables::built_in(), &class.spec, &class.classification, &analysis);
        prop_assert!(!matches!(check.verdict, Verdict::Pass | Verdict::PassByRounding), "{check:?}");
    }
}
