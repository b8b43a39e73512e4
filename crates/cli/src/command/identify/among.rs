//! The lots that custody allows, held against a reading: what the metal says and what custody says, stated apart.

#![allow(clippy::float_arithmetic, reason = "likelihoods, which rank and decide nothing")]

use super::symbols;
use crate::page::Page;
use crate::show;
use filler::Tables;
use filler::analysis::{Analysis, Reported};
use filler::identify::{Alpha, CLAIM, Identification, Verdict, candidate, identify, points};
use filler::limits::{AppliesTo, Lookup};
use filler::reading::Reading;
use ledger::ask::among::AmongLot;
use record::event::CertificateRead;
use serde_json::{Value, json};

/// A lot against a reading.
#[derive(Debug)]
pub(super) struct Compared<'a> {
    among: &'a AmongLot,
    /// Of its class; none where it was not checked, with why.
    class: Result<ClassEvidence, String>,
    /// Of each of its certificates that was read.
    certificates: Vec<CertificateEvidence>,
}

#[derive(Debug)]
struct ClassEvidence {
    names: Vec<String>,
    verdict: Verdict,
    says: String,
}

/// How far a reading is from the values of a certificate, in standard uncertainties of the reading.
#[derive(Debug)]
struct CertificateEvidence {
    number: String,
    /// Element, value of the certificate, distance with sign.
    elements: Vec<(&'static str, String, f64)>,
}

impl CertificateEvidence {
    fn of(read: &CertificateRead, reading: &Reading) -> Option<Self> {
        let pairs = read.analysis.iter().map(|a| (a.name.as_str(), a.value.as_str()));
        let analysis = Analysis::from_pairs(pairs).ok()?;
        let elements: Vec<(&'static str, String, f64)> = points(reading)
            .iter()
            .filter_map(|point| match analysis.element(point.element)? {
                Reported::Value(value) => {
                    let sigma = (point.value.to_f64() - value.to_f64()) / point.u();
                    Some((point.element.symbol(), value.to_string(), sigma))
                }
                Reported::Below(_) | Reported::NoNumber => None,
            })
            .collect();
        (!elements.is_empty()).then(|| Self { number: read.certificate.cell(), elements })
    }

    fn d2(&self) -> f64 {
        self.elements.iter().map(|(_, _, sigma)| sigma * sigma).sum()
    }
}

/// Compares each lot; those whose class fits best first, then those whose certificate is nearest.
pub(super) fn compare<'a>(
    tables: &Tables,
    lots: &'a [AmongLot],
    reading: &Reading,
    alpha: Alpha,
) -> Vec<Compared<'a>> {
    let mut compared: Vec<Compared<'a>> = lots
        .iter()
        .map(|among| Compared {
            among,
            class: class_evidence(tables, among, reading, alpha),
            certificates: among
                .certificates
                .iter()
                .filter_map(|(_, read)| CertificateEvidence::of(read, reading))
                .collect(),
        })
        .collect();
    compared.sort_by(|a, b| {
        let rank = |c: &Compared<'_>| {
            c.class.as_ref().map_or(1, |class| match class.verdict {
                Verdict::Consistent => 0,
                Verdict::Inconclusive => 1,
                Verdict::Rejected => 2,
            })
        };
        rank(a)
            .cmp(&rank(b))
            .then_with(|| a.nearest().total_cmp(&b.nearest()))
            .then_with(|| a.among.lot.received.code.cmp(&b.among.lot.received.code))
    });
    compared
}

fn class_evidence(
    tables: &Tables,
    among: &AmongLot,
    reading: &Reading,
    alpha: Alpha,
) -> Result<ClassEvidence, String> {
    let r = &among.lot.received;
    let (Some(spec), Some(class)) = (r.spec.value(), r.classification.value()) else {
        return Err("the class or specification of the lot is not known".into());
    };
    let found = match tables.find(spec, class) {
        Lookup::Found(found) => found,
        Lookup::NotCovered(not) => return Err(not.why),
    };
    if found.classes.iter().any(|class| class.product == AppliesTo::WeldMetal) {
        return Err(format!("the limits of {class} are of deposited metal, and a rod was read"));
    }
    let candidates: Vec<_> = found.classes.iter().map(|class| candidate(class)).collect();
    let Some(identification) = identify(reading, &candidates, alpha) else {
        return Err(format!("{} sees none of the elements that were read", reading.method()));
    };
    // A dual mark must meet the limits of all its classes.
    let worst = identification.judged.iter().map(|judged| judged.verdict).max();
    let verdict = worst.ok_or_else(|| "nothing was compared".to_owned())?;
    Ok(ClassEvidence {
        names: candidates.iter().map(|c| format!("{} {}", c.spec, c.classification)).collect(),
        verdict,
        says: breaches(&identification),
    })
}

fn breaches(identification: &Identification<'_>) -> String {
    let mut says: Vec<String> = Vec::new();
    for judged in &identification.judged {
        for breach in &judged.breaches {
            let limit = breach.limit.map_or_else(|| "its rule".to_owned(), |limit| limit.to_string());
            let said =
                format!("{} {:.1} u {} {limit}", breach.what, breach.sigma, super::side_word(breach.side));
            if !says.contains(&said) {
                says.push(said);
            }
        }
        if judged.coating_suspected() && !says.iter().any(|s| s.starts_with("coating")) {
            says.push("coating suspected: abrade and repeat".into());
        }
    }
    says.join(", ")
}

impl Compared<'_> {
    /// Distance to the nearest of its certificates; none is farther than any.
    fn nearest(&self) -> f64 {
        self.certificates.iter().map(CertificateEvidence::d2).fold(f64::INFINITY, f64::min)
    }

    pub(super) fn json(&self) -> Value {
        let class = match &self.class {
            Ok(class) => json!({ "names": class.names, "verdict": class.verdict.word(), "says": class.says }),
            Err(why) => json!({ "verdict": "not-checked", "says": why }),
        };
        json!({
            "lot": self.among.lot.received.code,
            "classification": show::stated_json(&self.among.lot.received.classification),
            "class_evidence": class,
            "certificate_evidence": self.certificates.iter().map(|c| json!({
                "certificate": c.number,
                "d2": c.d2(),
                "elements": c.elements.iter().map(|(element, value, sigma)| json!({
                    "element": element, "certificate": value, "sigma": sigma,
                })).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
            "custody_evidence": self.among.custody,
        })
    }

    fn print(&self, page: &mut Page) {
        let r = &self.among.lot.received;
        page.gap().hanging(0, 2, format!("{}  {}", r.code, show::lot_line(&self.among.lot)));
        page.hanging(
            2,
            4,
            match &self.class {
                Ok(class) if class.says.is_empty() => format!("class: {}", class.verdict.word()),
                Ok(class) => format!("class: {}; {}", class.verdict.word(), class.says),
                Err(why) => format!("class: not checked, {why}"),
            },
        );
        if self.certificates.is_empty() {
            page.hanging(2, 4, "certificate: no values of one are in the book (rodbook cert values)");
        }
        for certificate in &self.certificates {
            let far = certificate.elements.iter().max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()));
            let farthest = far.map_or(String::new(), |(element, value, sigma)| {
                let side = if *sigma < 0.0 { "below" } else { "above" };
                format!("; farthest {element}: {:.1} u {side} its {value}", sigma.abs())
            });
            let of: Vec<&str> = certificate.elements.iter().map(|(element, _, _)| *element).collect();
            page.hanging(
                2,
                4,
                format!(
                    "certificate {}: D2 {:.1} over {}{farthest}",
                    certificate.number,
                    certificate.d2(),
                    of.join(", ")
                ),
            );
        }
        if self.among.custody.is_empty() {
            page.hanging(2, 4, "custody: not asked");
        }
        for says in &self.among.custody {
            page.hanging(2, 4, format!("custody: {says}"));
        }
    }
}

/// The page: each lot, then what can be claimed.
pub(super) fn page(compared: &[Compared<'_>], reading: &Reading) -> String {
    let mut page = Page::narrow();
    page.split("IDENTIFY AMONG LOTS", &show::count(compared.len(), "lot", "lots"));
    page.hanging(0, 2, ledger::ask::metal::said(reading));
    if compared.is_empty() {
        page.gap().line(0, "Custody allows no lot: nothing was in hand that suits.");
    }
    for one in compared {
        one.print(&mut page);
    }
    page.gap().rule();
    page.hanging(0, 2, conclusion(compared));
    let measured: Vec<filler::Element> = reading.measured().iter().map(|m| m.element).collect();
    page.hanging(
        0,
        2,
        format!(
            "Metal tells classes apart, and two lots of one class only as far as their certificates differ in {}. A lot is \
             proved by custody, never by a reading.",
            symbols(&measured).join(", ")
        ),
    );
    page.hanging(0, 0, "rodbook informs; the inspector decides, under the governing code.");
    page.finish()
}

/// What can be claimed: a lot before another only at odds of 20 to 1, by its class and its certificate.
pub(super) fn conclusion(compared: &[Compared<'_>]) -> String {
    let left: Vec<&Compared<'_>> = compared
        .iter()
        .filter(|c| c.class.as_ref().map_or(true, |class| class.verdict != Verdict::Rejected))
        .collect();
    let code = |c: &Compared<'_>| c.among.lot.received.code.clone();
    match left.as_slice() {
        [] => "No lot that custody allows has a class that the reading fits.".into(),
        [one] if one.class.is_ok() => format!("Only lot {} has a class that is not rejected.", code(one)),
        [one] => format!("Lot {} was not checked, and every other is rejected.", code(one)),
        [first, second, ..] => {
            // Half of the difference of two squared distances is that of their log likelihoods.
            let ahead = (second.nearest() - first.nearest()) / 2.0;
            if first.class.is_ok()
                && first.nearest().is_finite()
                && second.nearest().is_finite()
                && ahead >= CLAIM
            {
                format!(
                    "By its certificate lot {} is ahead of the next by {ahead:.1} (odds of 20 to 1 are {CLAIM:.1}).",
                    code(first)
                )
            } else {
                let codes: Vec<String> = left.iter().map(|c| code(c)).collect();
                format!("A tie: the reading does not tell lots {} apart.", show::listed(&codes, "and"))
            }
        }
    }
}
