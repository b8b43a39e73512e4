//! The mass check as people and programs read it.

use crate::page::Page;
use crate::show;
use ledger::ask::finding::Finding;
use ledger::ask::mass_check::{Half, MassCheck};
use ledger::ask::reconcile::Systems;
use record::rules::shown_mass;
use serde_json::{Map, Value, json};
use trace::mass_check::{NotChecked, Side, Verdict, family_k_milli};

/// How many shares of the variance are printed, and from how many thousandths on.
const SHARES: (usize, u32) = (4, 20);

/// A mass as people read it.
fn shown(mg: i128) -> String {
    i64::try_from(mg).map_or_else(|_| format!("{mg} mg"), shown_mass)
}

/// `2.858` of 2858.
fn decimal(milli: i128) -> String {
    let (whole, part) = (milli.checked_div(1000).unwrap_or(0), milli.checked_rem(1000).unwrap_or(0));
    let part = format!("{:03}", part.abs());
    let part = part.trim_end_matches('0');
    if part.is_empty() { whole.to_string() } else { format!("{whole}.{part}") }
}

/// Why a mass check says nothing, in words.
fn why(reason: NotChecked) -> &'static str {
    match reason {
        NotChecked::NothingToCompare => "nothing to compare: no joint is fed by it, or no slip is in it",
        NotChecked::Open => "a slip is still open",
        NotChecked::NotApart => "other metal, or metal of unknown origin, can be in these joints",
        NotChecked::NeededNotKnown => "a joint does not say what metal it needs, or is not finished",
        NotChecked::UncertaintyNotKnown => "how uncertain a figure is, nobody says",
        NotChecked::PieceMassNotKnown => "the mass of a piece is not known",
        NotChecked::StubsNotKnown => "stubs were not counted, or the length of the rods is not known",
        NotChecked::AmountNotKnown => "how much was issued, or left again, is not written down",
        NotChecked::OtherCycle => {
            "a repair, a temporary weld or a cut-out took metal that no joint says it needs"
        }
        NotChecked::TooLarge => "the figures are too large",
    }
}

/// The section of a page.
pub fn section(page: &mut Page, mass: &MassCheck) {
    page.gap().line(0, "MASS");
    if mass.is_one() {
        half(page, &mass.short, mass.verdict(), "slips and joints belong to each other alone", None);
        return;
    }
    page.line(2, "Is more in the joints than was out?");
    half(
        page,
        &mass.over,
        mass.over.checked.verdict,
        "those that can have nothing else in them",
        Some("metal of these slips that is elsewhere hides as much more"),
    );
    if !mass.left_out.is_empty() {
        let left_out = show::count(mass.left_out.len(), "joint", "joints");
        page.hanging(4, 6, format!("left out: {left_out} ({})", few(&mass.left_out)));
    }
    page.line(2, "Was more out than the joints explain?");
    half(
        page,
        &mass.short,
        mass.short.checked.verdict,
        "all that it can have fed, each counted whole",
        Some("metal of other slips in these joints hides as much more"),
    );
}

/// The first of some numbers.
fn few(numbers: &[String]) -> String {
    let first: Vec<String> = numbers.iter().take(4).cloned().collect();
    match numbers.len().saturating_sub(first.len()) {
        0 => first.join(", "),
        more => format!("{} and {more} more", first.join(", ")),
    }
}

/// One balance, line by line. `hides` says what can hide a discrepancy beside the uncertainty.
fn half(page: &mut Page, half: &Half, verdict: Verdict, joints: &str, hides: Option<&str>) {
    if !half.lacking.is_empty() {
        page.line(4, "not checked:");
        for reason in &half.lacking {
            page.hanging(6, 8, why(*reason));
        }
        return;
    }
    for side in Side::ALL {
        let mg = half.balance.side_mg(side);
        let (word, always) = match side {
            Side::Issued => ("issued", true),
            Side::HandedOver => ("handed over", false),
            Side::Returned => ("back", false),
            Side::Stubs => ("stubs", false),
            Side::Scrapped => ("scrapped", false),
            Side::Needed => ("needed", true),
        };
        if always || mg != 0 {
            page.line(4, format!("{word:<14}{:>14}", shown(mg)));
        }
    }
    let checked = &half.checked;
    page.line(4, format!("{:<14}{:>14}", "difference", shown(checked.difference_mg)));
    let joints_n = show::count(half.joints.len(), "joint", "joints");
    page.hanging(4, 6, format!("needed by {joints_n}: {joints}"));
    page.hanging(
        4,
        6,
        format!(
            "uncertainty u {}, k {}: flagged beyond {}",
            shown(checked.u_mg),
            decimal(checked.k_milli),
            shown(checked.threshold_mg)
        ),
    );
    let detectable = shown(checked.detectable_mg);
    page.hanging(
        4,
        6,
        match verdict {
            Verdict::Within => format!(
                "within, which is not proof: {detectable} is the smallest discrepancy that is found in 95 of 100 cases{}",
                hides.map_or(String::new(), |hides| format!("; {hides}"))
            ),
            Verdict::Short(mg) => format!(
                "SHORT {}: more was out than is explained (found in 95 of 100 cases: {detectable})",
                shown(mg)
            ),
            Verdict::Over(mg) => format!(
                "OVER {}: more is in the joints than was out (found in 95 of 100 cases: {detectable})",
                shown(mg)
            ),
            Verdict::NotChecked(reason) => format!("not checked: {}", why(reason)),
        },
    );
    let shares: Vec<String> = half
        .balance
        .shares_milli()
        .into_iter()
        .filter(|(_, milli)| *milli >= SHARES.1)
        .take(SHARES.0)
        .map(|(input, milli)| format!("{input} {} %", decimal(i128::from(milli).saturating_mul(100))))
        .collect();
    if !shares.is_empty() {
        page.hanging(4, 6, format!("most of it from: {}", shares.join(", ")));
    }
}

/// The closed systems of the book.
pub fn systems(page: &mut Page, systems: &Systems) {
    if systems.checked == 0 {
        page.hanging(2, 4, "No slips and joints belong to each other alone with everything known of them.");
        return;
    }
    page.hanging(
        2,
        4,
        format!(
            "{} of slips and joints that belong to each other alone, each flagged beyond k {} (meant for {} checks): {}.",
            show::count(systems.checked, "closed system", "closed systems"),
            decimal(family_k_milli(systems.checks)),
            systems.checks,
            match systems.found.len() {
                0 => "none flagged".to_owned(),
                n => format!("{n} flagged"),
            }
        ),
    );
    for finding in &systems.found {
        page.hanging(2, 4, format!("{}: {}", finding.code.word(), finding.why));
    }
}

fn figure(figure: i128) -> Value {
    i64::try_from(figure).map_or_else(|_| json!(figure.to_string()), |n| json!(n))
}

/// The word of a verdict and its figure, for programs.
fn word(verdict: Verdict) -> (&'static str, Option<i128>) {
    match verdict {
        Verdict::Within => ("within", None),
        Verdict::Short(mg) => ("short", Some(mg)),
        Verdict::Over(mg) => ("over", Some(mg)),
        Verdict::NotChecked(_) => ("not-checked", None),
    }
}

/// The check for programs. A figure of a balance that is not complete is null.
pub fn json(mass: &MassCheck, systems: Option<&Systems>) -> Value {
    let (verdict, by) = word(mass.verdict());
    json!({
        "slips": mass.slips,
        "checks": mass.checks,
        "verdict": verdict,
        "by_mg": by.map(figure),
        "one_balance": mass.is_one(),
        "over": half_json(&mass.over),
        "short": half_json(&mass.short),
        "left_out": mass.left_out,
        "systems": systems.map(|systems| json!({
            "checked": systems.checked,
            "checks": systems.checks,
            "findings": systems.found.iter().map(finding_json).collect::<Vec<_>>(),
        })),
    })
}

fn finding_json(finding: &Finding) -> Value {
    json!({ "id": finding.id.to_string(), "code": finding.code.word(), "why": finding.why })
}

fn half_json(half: &Half) -> Value {
    let (verdict, by) = word(half.checked.verdict);
    let complete = half.lacking.is_empty();
    let mut fields = Map::new();
    let checked = &half.checked;
    let sides = Side::ALL
        .into_iter()
        .map(|side| (format!("{}_mg", side.as_str().replace('-', "_")), half.balance.side_mg(side)));
    let figures = [
        ("difference_mg", checked.difference_mg),
        ("u_mg", checked.u_mg),
        ("k_milli", checked.k_milli),
        ("threshold_mg", checked.threshold_mg),
        ("detectable_mg", checked.detectable_mg),
    ];
    for (name, value) in sides.chain(figures.map(|(name, value)| (name.to_owned(), value))) {
        fields.insert(name, if complete { figure(value) } else { Value::Null });
    }
    let shares = half.balance.shares_milli().into_iter().filter(|_| complete);
    let shares =
        shares.map(|(input, milli)| json!({ "input": input, "per_mille": milli })).collect::<Vec<_>>();
    fields.insert("verdict".into(), json!(verdict));
    fields.insert("by_mg".into(), by.map_or(Value::Null, figure));
    fields.insert("why".into(), half.lacking.iter().map(|reason| reason.as_str()).collect());
    fields.insert("joints".into(), json!(half.joints));
    fields.insert("shares".into(), json!(shares));
    Value::Object(fields)
}
