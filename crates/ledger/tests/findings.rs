//! The findings beside a second implementation, and laws that they keep: no order of import, correction and disposition
//! loses or invents one; what touches an answer is what the whole list has of it.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::wildcard_enum_match_arm,
    reason = "a test may panic, and looks at a few kinds of entries among all"
)]

#[path = "findings_support/mod.rs"]
mod findings_support;
#[allow(dead_code, reason = "the laws use more of it")]
mod laws_support;

use findings_support::oracle::{self, Book, Causes, Expected, Line};
use findings_support::orders::{Telling, facts};
use findings_support::shop::{Counts, Plan, Told, plan};
use laws_support::START;
use ledger::ask::at_risk::WeldAtRisk;
use ledger::ask::finding::Finding;
use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestCaseError, TestError, TestRng, TestRunner};
use record::finding::Code;
use record::{EntryId, Instant};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// Random shops, and random histories told in two orders.
const SHOPS: u32 = 800;
const ORDERS: u32 = 300;

/// What the program says of a finding, as far as the definitions say it.
fn said(finding: &Finding) -> Expected {
    Expected {
        code: finding.code,
        severity: finding.severity,
        id: finding.id.to_string(),
        entries: finding.entries.clone(),
        joint: finding.joint.clone(),
        lot: finding.lot.clone(),
        slip: finding.slip.clone(),
        welder: finding.welder.clone(),
        disposed: finding.disposed.as_ref().map(|d| d.entry),
    }
}

/// A finding with the kinds of its entries, for people.
fn shown(finding: &Expected, lines: &[Line]) -> String {
    let entries: Vec<String> = finding
        .entries
        .iter()
        .map(|id| match lines.iter().position(|l| l.id == *id) {
            Some(at) => format!("{at} {}", lines[at].entry.event.kind()),
            None => format!("nothing {id}"),
        })
        .collect();
    format!(
        "{} {} joint {:?} lot {:?} slip {:?} welder {:?} disposed {} of {entries:?}",
        finding.code.word(),
        finding.severity.word(),
        finding.joint,
        finding.lot,
        finding.slip,
        finding.welder,
        finding.disposed.is_some(),
    )
}

/// Compares the list of a book with the second implementation's.
fn compare(told: &Told, now: i64, seen: &mut BTreeMap<String, usize>) -> Result<Vec<Finding>, TestCaseError> {
    let lines = told.lines();
    let book = Book::of(&lines);
    let findings = told.ledger.ask(|r| r.findings(Instant(now))).unwrap();
    let mut program: Vec<Expected> = findings.iter().map(said).collect();
    program.sort();
    let expected = book.findings(now);
    if program != expected {
        let only = |a: &[Expected], b: &[Expected]| -> Vec<String> {
            a.iter().filter(|f| !b.contains(f)).map(|f| shown(f, &lines)).collect()
        };
        let record: Vec<String> = lines
            .iter()
            .enumerate()
            .map(|(at, l)| format!("{at} {} {:?}", l.entry.header.time.0 - START, l.entry.event))
            .collect();
        return Err(TestCaseError::fail(format!(
            "at {}\nonly the program: {:#?}\nonly the definitions: {:#?}\n{}\n{}",
            now - START,
            only(&program, &expected),
            only(&expected, &program),
            told.log,
            record.join("\n"),
        )));
    }
    for finding in &expected {
        *seen.entry(format!("{} {}", finding.code.word(), finding.severity.word())).or_default() += 1;
        if finding.disposed.is_some() {
            *seen.entry("disposed".into()).or_default() += 1;
        }
    }
    Ok(findings)
}

/// A finding in full.
fn in_full(findings: &[Finding]) -> BTreeMap<String, String> {
    findings.iter().map(|f| (f.id.to_string(), format!("{f:#?}"))).collect()
}

/// Compares what touches each answer with what the whole list has of its causes.
fn compare_touching(
    told: &Told,
    now: i64,
    whole: &[Finding],
    seen: &mut BTreeMap<String, usize>,
) -> Result<(), TestCaseError> {
    let lines = told.lines();
    let book = Book::of(&lines);
    let now = Instant(now);
    let at_risk: BTreeMap<EntryId, BTreeSet<EntryId>> = told
        .ledger
        .ask(|r| {
            let mut at_risk = BTreeMap::new();
            for finding in whole.iter().filter(|f| f.code == Code::UnmarkedWire) {
                let welds = r.at_risk(finding)?.unwrap().welds;
                // By the first of their chains, as findings are.
                let first = |w: &WeldAtRisk| {
                    let at = lines.iter().position(|l| l.id == w.weld.entry).unwrap();
                    lines[oracle::origin(&lines, at)].id
                };
                at_risk.insert(finding.entries[0], welds.iter().map(first).collect());
            }
            Ok(at_risk)
        })
        .unwrap();
    let mut check = |what: String, touching: ledger::Result<Vec<Finding>>, causes: &Causes| {
        let touching = touching.unwrap();
        let mut sorted = touching.clone();
        sorted.sort_by_key(|f| (f.severity, f.code, f.id));
        assert_eq!(format!("{touching:?}"), format!("{sorted:?}"), "by severity, code and id");
        let has = in_full(&touching);
        let made: Vec<Finding> = whole.iter().filter(|f| causes.make(f.code, &f.entries)).cloned().collect();
        let must = in_full(&made);
        if has != must {
            let only = |a: &BTreeMap<String, String>, b: &BTreeMap<String, String>| -> Vec<String> {
                a.iter().filter(|(id, f)| b.get(*id) != Some(f)).map(|(_, f)| f.clone()).collect()
            };
            return Err(TestCaseError::fail(format!(
                "{what}\nonly the answer: {}\nonly the whole list: {}\n{}",
                only(&has, &must).join("\n"),
                only(&must, &has).join("\n"),
                told.log,
            )));
        }
        let kind = what.split(' ').next().unwrap_or_default();
        for finding in &touching {
            *seen.entry(format!("{} touches a {kind}", finding.code.word())).or_default() += 1;
        }
        Ok(())
    };
    for (joint, declared) in &book.joints {
        let number = &declared[0].1.number;
        let touching = told.ledger.ask(|r| r.findings_of_joint(&r.trace_joint(number)?, now));
        check(format!("joint {number}"), touching, &book.in_joint(*joint, &at_risk))?;
    }
    for lot in book.lots.keys() {
        let touching = told.ledger.ask(|r| r.findings_of_lots(&r.trace_lot(&lot.to_string())?, now));
        check(format!("lot {}", book.lot(*lot).code), touching, &book.in_lot(*lot))?;
    }
    for slip in book.slips.values() {
        let touching = told.ledger.ask(|r| {
            let (view, uses) = r.trace_slip(&slip.id.to_string())?;
            r.findings_of_slip(&view, &uses, now)
        });
        check(format!("slip {}", slip.number), touching, &book.in_slip(slip.id))?;
    }
    for (person, badge) in book.welders() {
        let touching = told.ledger.ask(|r| r.findings_of_welder(&r.trace_welder(&badge)?, now));
        check(format!("welder {badge}"), touching, &book.in_welder(person))?;
    }
    Ok(())
}

/// Findings are a question to the facts, and the facts the same whenever each entry arrived.
fn compare_rebuilt(told: &mut Told, plan: &Plan) -> Result<(), TestCaseError> {
    let now = Instant(START + 24 * 3600 + 60);
    let (facts, findings) =
        (told.ledger.facts_dump().unwrap(), told.ledger.ask(|r| r.findings(now)).unwrap());
    // By a number that hangs on the plan: as good an order as any other.
    let mix = |place: i64| {
        (place ^ i64::from(plan.lots[0][0])).wrapping_mul(0x9E37_79B9_7F4A_7C15_u64.cast_signed())
    };
    let replayed =
        told.ledger.facts_dump_replayed(|places| places.sort_by_key(|place| mix(place.0))).unwrap();
    prop_assert!(facts == replayed, "facts replayed in another order differ\n{}", told.log);
    told.ledger.rebuild(&mut |_, _| {}).unwrap();
    let rebuilt = told.ledger.ask(|r| r.findings(now)).unwrap();
    prop_assert_eq!(format!("{:#?}", findings), format!("{:#?}", rebuilt));
    Ok(())
}

/// Runs a test over random histories, always the same; over so many others where the environment asks for them. A
/// failure is shown as what it says, without the choices that led to it.
fn run<S: Strategy>(cases: u32, strategy: &S, test: impl Fn(S::Value) -> Result<(), TestCaseError>) {
    let asked: Option<u32> = std::env::var("RODBOOK_FINDING_HISTORIES").ok().and_then(|n| n.parse().ok());
    let config = ProptestConfig {
        cases: asked.unwrap_or(cases).max(cases),
        failure_persistence: None,
        max_shrink_iters: 3_000,
        ..ProptestConfig::default()
    };
    let mut runner = match asked {
        Some(_) => TestRunner::new(config),
        None => TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha)),
    };
    match runner.run(strategy, test) {
        Ok(()) => {}
        Err(TestError::Fail(why, _)) => panic!("{why}"),
        Err(TestError::Abort(why)) => panic!("{why}"),
    }
}

/// Fewer of a kind than this in all histories of a test say little.
const OFTEN: usize = 20;
const ORDERED_OFTEN: usize = 5;

#[test]
fn random_shops_have_the_findings_of_the_definitions() {
    let seen: RefCell<BTreeMap<String, usize>> = RefCell::default();
    let counts: RefCell<Counts> = RefCell::default();
    run(SHOPS, &plan(), |plan: Plan| {
        let Some(mut told) = Told::of(&plan, &mut counts.borrow_mut()) else { return Ok(()) };
        let mut seen = seen.borrow_mut();
        for now in [START + 15, START + 24 * 3600 + 60] {
            let whole = compare(&told, now, &mut seen)?;
            compare_touching(&told, now, &whole, &mut seen)?;
        }
        compare_rebuilt(&mut told, &plan)
    });
    let (seen, counts) = (seen.into_inner(), counts.into_inner());
    let mut expected: Vec<String> = Vec::new();
    for code in Code::ALL {
        let word = code.word();
        // Both severities of those that have two.
        let severities: &[&str] = match code {
            Code::ClassNotInWps => &["stop", "note"],
            Code::SizeNotInWps => &["act", "note"],
            Code::UnmarkedWire => &["stop", "act"],
            Code::CountOver
            | Code::CountShort
            | Code::LookAlikeNumber
            | Code::LotWithoutCertificate
            | Code::MassOver
            | Code::MassShort
            | Code::SeveralSources => &["act"],
            Code::ContradictedSource | Code::LotNotReleased | Code::NoSource => &["stop"],
            Code::JointWithoutWeldRecord | Code::LateEntry | Code::SlipOverdue | Code::SlipUnused => {
                &["note"]
            }
        };
        expected.extend(severities.iter().map(|severity| format!("{word} {severity}")));
        // What makes a finding touches some answer.
        let answers: &[&str] = match code {
            Code::JointWithoutWeldRecord => &["joint"],
            Code::LookAlikeNumber => &["joint", "lot", "slip"],
            Code::SlipUnused => &["lot", "slip", "welder"],
            Code::ClassNotInWps
            | Code::ContradictedSource
            | Code::CountOver
            | Code::CountShort
            | Code::LateEntry
            | Code::LotNotReleased
            | Code::LotWithoutCertificate
            | Code::MassOver
            | Code::MassShort
            | Code::SeveralSources
            | Code::SizeNotInWps
            | Code::SlipOverdue
            | Code::UnmarkedWire => &["joint", "lot", "slip", "welder"],
            Code::NoSource => &["joint", "welder"],
        };
        expected.extend(answers.iter().map(|answer| format!("{word} touches a {answer}")));
    }
    expected.push("disposed".into());
    for what in expected {
        assert!(seen.get(&what).is_some_and(|n| *n >= OFTEN), "{what}: {seen:#?}");
    }
    for what in [
        "correct",
        "void",
        "void of void",
        "correct by verb",
        "void by verb",
        "dispose",
        "raw disposition",
        "hand-over",
        "scrap",
        "weld",
    ] {
        let taken = counts.get(&format!("{what} taken"));
        assert!(taken.is_some_and(|n| *n >= OFTEN), "{what}: {counts:#?}");
    }
    let refused = counts.get("refused import").copied().unwrap_or(0);
    assert!(refused * 4 < SHOPS as usize, "{refused} imports were refused");
}

#[test]
fn no_order_of_telling_loses_or_invents_a_finding() {
    let seen: RefCell<BTreeMap<String, usize>> = RefCell::default();
    run(ORDERS, &(facts(), 1..6_usize), |(facts, parts)| {
        let one = Telling::of(&facts, 0, usize::MAX);
        let other = Telling::of(&facts, 1, parts);
        for now in [START + 300, START + 24 * 3600 + 300] {
            let (a, b) = (one.findings(now), other.findings(now));
            let only = |a: &[String], b: &[String]| -> String {
                a.iter().filter(|f| !b.contains(f)).cloned().collect::<Vec<_>>().join("\n  ")
            };
            prop_assert!(
                a == b,
                "only in one order: {}\nonly in the other: {}\none:\n{}\nother:\n{}",
                only(&a, &b),
                only(&b, &a),
                one.log,
                other.log
            );
            for finding in &a {
                let code = finding.split(' ').nth(1).unwrap_or_default();
                *seen.borrow_mut().entry(code.to_owned()).or_default() += 1;
                if finding.contains("Some((") {
                    *seen.borrow_mut().entry("disposed".into()).or_default() += 1;
                }
            }
        }
        if one.imports != other.imports {
            *seen.borrow_mut().entry("other imports".into()).or_default() += 1;
        }
        Ok(())
    });
    let seen = seen.into_inner();
    for what in Code::ALL.iter().map(|code| code.word()).chain(["disposed", "other imports"]) {
        assert!(seen.get(what).is_some_and(|n| *n >= ORDERED_OFTEN), "{what}: {seen:#?}");
    }
}
