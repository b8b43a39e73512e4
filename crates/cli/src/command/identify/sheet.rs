//! The answer as a page.

#![allow(clippy::float_arithmetic, reason = "figures for the page")]

use super::choice::Choice;
use super::{side_word, symbols, tied, worst_name};
use crate::page::Page;
use crate::show;
use filler::identify::{Alpha, CLAIM, Identification, Judged, Verdict};
use filler::reading::{Reading, ReadingMethod, SurfaceState};

/// Rejected classes shown, the nearest first.
const REJECTED_SHOWN: usize = 3;

/// A chance: four places, or as a power of ten where that shows nothing.
pub(super) fn chance(p: f64) -> String {
    if p >= 0.0001 { format!("{p:.4}") } else { format!("{p:.0e}") }
}

pub(super) fn page(
    reading: &Reading,
    found: &Identification<'_>,
    choice: &Choice,
    notes: &[String],
    alpha: Alpha,
) -> String {
    let of = |verdict: Verdict| found.judged.iter().filter(move |one| one.verdict == verdict);
    let mut page = Page::narrow();
    let rejected = of(Verdict::Rejected).count();
    page.split(
        "IDENTIFY",
        &format!("{} of {} not rejected", found.judged.len().saturating_sub(rejected), found.judged.len()),
    );
    page.hanging(0, 2, read(reading));
    page.hanging(
        0,
        2,
        format!(
            "against {} of {}; alpha {}: of {} a limit passed by more than {:.2} u rejects, or a p below alpha",
            show::count(choice.candidates.len(), "class", "classes"),
            show::listed(&choice.specs, "and"),
            alpha.chance(),
            show::count(found.compared.len(), "element", "elements"),
            found.limit,
        ),
    );
    for (verdict, heading) in [(Verdict::Consistent, "CONSISTENT"), (Verdict::Inconclusive, "INCONCLUSIVE")] {
        if of(verdict).next().is_some() {
            page.gap().line(0, heading);
            for one in of(verdict) {
                candidate(&mut page, one, found);
            }
        }
    }
    if rejected > 0 {
        page.gap().line(0, format!("REJECTED  {rejected}"));
        let mut nearest: Vec<&Judged<'_>> = of(Verdict::Rejected).collect();
        nearest.sort_by(|a, b| a.judgement.d2.total_cmp(&b.judgement.d2));
        for one in nearest.iter().take(REJECTED_SHOWN) {
            let unverified = if one.unverified.is_empty() {
                String::new()
            } else {
                format!("; limit from an unverified table: {}", symbols(&one.unverified).join(", "))
            };
            page.hanging(2, 4, format!("{}: {}{unverified}", one.candidate.classification, breaches(one)));
        }
        if rejected > REJECTED_SHOWN {
            page.hanging(2, 4, "These are the nearest; --format csv has all.");
        }
    }
    page.gap();
    page.hanging(0, 2, conclusion(found));
    if !found.would_split.is_empty() {
        page.hanging(0, 2, format!("Would split them: {}.", symbols(&found.would_split).join(", ")));
    }
    let unsplit: Vec<&str> =
        found.not_measured.iter().filter(|e| !found.would_split.contains(e)).map(|e| e.symbol()).collect();
    if !unsplit.is_empty() {
        page.hanging(
            0,
            2,
            format!("Not measured, and limited differently among what fits: {}.", unsplit.join(", ")),
        );
    }
    for note in notes {
        page.hanging(0, 2, format!("! {note}"));
    }
    page.gap().rule();
    page.hanging(0, 0, "Fitting is no proof: other metal can read the same. rodbook informs; the inspector decides, under the governing code.");
    page.finish()
}

/// `Cr 18.9 ± 0.15, Ni 9.6 ± 0.15 (k = 2), xrf, abraded`
fn read(reading: &Reading) -> String {
    let values: Vec<String> =
        reading.measured().iter().map(|m| format!("{} {} ± {}", m.element, m.value, m.uncertainty)).collect();
    let floor = reading.floor().map_or(String::new(), |floor| format!(", floor {floor}"));
    let surface = if reading.surface() == SurfaceState::Unknown {
        "surface unknown".to_owned()
    } else {
        reading.surface().to_string()
    };
    let method = if reading.method() == ReadingMethod::Unknown {
        "method unknown".to_owned()
    } else {
        reading.method().to_string()
    };
    format!("{} (k = {}{floor}), {method}, {surface}", values.join(", "), reading.k())
}

fn candidate(page: &mut Page, one: &Judged<'_>, found: &Identification<'_>) {
    let likelihood = match one.without_copper.filter(|_| found.without_copper) {
        None => format!("ln {:.2}", one.log_likelihood),
        Some(without) => format!("ln {:.2} without Cu", without.log_likelihood),
    };
    page.split(&format!("  {}  {}", one.candidate.classification, one.candidate.spec), &likelihood);
    let unit = |sigma: f64| format!("{:.1} u", sigma.abs());
    if one.breaches.is_empty() {
        if let Some(worst) = one.judgement.worst {
            let name = worst_name(one.candidate, &worst);
            page.hanging(4, 6, format!("nearest limit: {name}, {} inside", unit(worst.sigma)));
        }
    } else {
        page.hanging(
            4,
            6,
            format!("{}; D2 {:.2}, p {}", breaches(one), one.judgement.d2, chance(one.judgement.p)),
        );
        if let Some(without) = one.without_copper {
            page.hanging(4, 6, format!("without Cu: {}", without.judgement.verdict.word()));
        }
    }
    if !one.unexpected.is_empty() {
        page.hanging(4, 6, format!("unexpected: {}", symbols(&one.unexpected).join(", ")));
    }
    if !one.unverified.is_empty() {
        page.hanging(
            4,
            6,
            format!("limit from an unverified table: {}", symbols(&one.unverified).join(", ")),
        );
    }
}

/// `Cr 4.0 u below 19.5, Mo 2.1 u above 0.75`
fn breaches(one: &Judged<'_>) -> String {
    let shown: Vec<String> = one
        .breaches
        .iter()
        .take(4)
        .map(|breach| {
            let limit = breach.limit.map_or("its rule".to_owned(), |limit| limit.to_string());
            format!("{} {:.1} u {} {limit}", breach.what, breach.sigma, side_word(breach.side))
        })
        .collect();
    let more = one.breaches.len().saturating_sub(shown.len());
    let more = if more == 0 { String::new() } else { format!(" and {more} more") };
    format!("{}{more}", shown.join(", "))
}

fn conclusion(found: &Identification<'_>) -> String {
    let names = tied(found);
    let left = found.judged.iter().filter(|one| one.verdict != Verdict::Rejected).count();
    match (found.judged.first(), left) {
        (None, _) | (Some(_), 0) => "No class that was compared fits.".to_owned(),
        (Some(first), 1) => format!("Only {} is not rejected.", first.candidate.classification),
        (Some(first), _) if names.is_empty() => format!(
            "{} is ahead of all others that are not rejected by {CLAIM:.1} or more (odds of 20 to 1).",
            first.candidate.classification
        ),
        (Some(_), _) => format!("A tie, told apart by less than {CLAIM:.1}: {}.", names.join(", ")),
    }
}
