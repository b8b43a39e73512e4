//! Weld records.

use crate::ask::joint_trace::{self, WeldTrace};
use crate::ask::reading::Reading;
use crate::ask::{heat_input, lot};
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::{Acting, Done, Ledger, tell};
use filler::{Process, Quantity};
use record::event::{Arc, Event, JointRef, JointWelded, LotRef, Mark, PersonRef};
use record::number::{look_alike_key, search_key};
use record::{Refusal, Stated, When, rules};

/// A weld record as typed.
#[derive(Clone, Debug)]
pub struct WeldRequest {
    /// Joint number.
    pub joint: String,
    /// Further joints that were welded with the same filler.
    pub also: Vec<String>,
    /// Badge of the welder.
    pub welder: String,
    /// Root, hot, fill, cap, back.
    pub pass: Option<String>,
    /// Original, R1, cut-out, tack, temporary.
    pub cycle: Option<String>,
    /// Process.
    pub process: Option<Process>,
    /// Label of the lot, if it is known.
    pub lot: Option<String>,
    /// Number of the slip, if it is known.
    pub slip: Option<String>,
    /// False for an autogenous weld.
    pub filler: bool,
    /// How much was used.
    pub used: Option<Quantity>,
    /// Start.
    pub from: Option<When>,
    /// End.
    pub to: Option<When>,
    /// What was seen of the mark.
    pub mark: Option<Mark>,
    /// Whether the joint is finished.
    pub finished: bool,
    /// What was measured of the arc.
    pub arc: Arc,
}

impl Ledger {
    /// Records what was welded. Returns the answer to which rod went into it, as the book has it now.
    ///
    /// # Errors
    /// When a label is not known, lot and slip disagree, or the time is in the future.
    pub fn weld(&mut self, acting: &Acting, request: &WeldRequest) -> Result<Done<Vec<WeldTrace>>> {
        let cycle = tell::stated("--cycle", request.cycle.as_deref())?;
        let pass = tell::stated("--pass", request.pass.as_deref())?;
        let from = tell::claimed(request.from.as_ref(), acting.now);
        let arc = arc(&request.arc, request.process.as_ref())?;
        self.write(acting, |writing| {
            let actor = writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            let mut joints: Vec<JointRef> = Vec::new();
            for number in std::iter::once(&request.joint).chain(&request.also) {
                let joint = tell::joint_ref(&reading, number)?;
                if !joints.iter().any(|j| j.joint == joint.joint) {
                    joints.push(joint);
                }
            }
            let welder = tell::person_ref(&reading, &request.welder)?;
            let lot = match &request.lot {
                Some(label) => {
                    let lot = lot::one(&reading, label)?.id;
                    tell::void::there(&reading, LabelKind::Lot, label, lot.bytes())?;
                    Stated::Value(LotRef { label: label.clone(), lot })
                }
                None => Stated::NotAsked,
            };
            let slip = match &request.slip {
                Some(number) => Stated::Value(tell::slip_ref(&reading, number)?),
                None => Stated::NotAsked,
            };
            if let (Some(lot), Some(slip)) = (lot.value(), slip.value()) {
                let of_slip = reading.slip(slip.slip)?.lot;
                if of_slip != lot.lot {
                    return Err(lot_and_slip_disagree(
                        &lot.label,
                        &slip.number,
                        &reading.lot(of_slip)?.received.code,
                    ));
                }
            }
            let against: Vec<Refusal> =
                rules::weld::decide(&from, request.to.as_ref(), acting.now, reading.zone());
            if !against.is_empty() {
                return Err(Error::Refused(against));
            }
            let ids: Vec<_> = joints.iter().map(|j| j.joint).collect();
            let written = writing.append(&Event::JointWelded(JointWelded {
                arc,
                cycle,
                filler: request.filler,
                finished: request.finished,
                from,
                imported: None,
                joints,
                lot,
                mark: Stated::from_option(request.mark),
                overridden: None,
                pass,
                process: Stated::from_option(request.process.clone()),
                recorded_by: Stated::Value(PersonRef { badge: acting.badge.clone(), person: actor.id }),
                slip,
                to: Stated::from_option(request.to.clone()),
                used: Stated::from_option(request.used),
                welder,
            }))?;
            let after = Reading::new(writing.conn())?;
            ids.into_iter().map(|joint| joint_trace::of_weld(&after, written.place, joint)).collect()
        })
    }
}

/// What was measured of the arc, as a body keeps it, or what is wrong with it.
fn arc(typed: &Arc, process: Option<&Process>) -> Result<Stated<Arc>> {
    if *typed == Arc::default() {
        return Ok(Stated::NotAsked);
    }
    heat_input::check(typed, process).map_err(|(_, message)| Error::NotUnderstood {
        message,
        next: "write each with its unit: --volts 12 --amps 227 --travel \"3.5 in/min\"; or --energy and --length, \
               or --power and --travel"
            .into(),
    })?;
    Ok(Stated::Value(typed.clone()))
}

/// A word for a cycle or a pass group that is not among the usual ones. It is kept as typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unusual {
    /// What it is a word for: cycle or pass.
    pub what: &'static str,
    /// As typed.
    pub word: String,
    /// The usual words.
    pub usual: &'static str,
    /// Usual words that are nearly this one.
    pub near: Vec<String>,
}

/// The words of a weld that are not among the usual ones.
pub fn unusual_words(cycle: Option<&str>, pass: Option<&str>) -> Vec<Unusual> {
    let said = |typed: Option<&str>| {
        typed.and_then(|t| Stated::read(t.trim()).into_value()).filter(|word| !word.is_empty())
    };
    let mut unusual = Vec::new();
    if let Some(word) = said(cycle).filter(|word| !rules::weld::is_usual_cycle(word)) {
        let mut usual: Vec<String> = rules::weld::CYCLES.map(str::to_owned).to_vec();
        // The number behind the R is kept when a repair is spelt in another way: r1, R-1, repair 1.
        let digits: String = word.chars().filter(char::is_ascii_digit).collect();
        let number = digits.trim_start_matches('0');
        usual.extend(
            ["1", "2"].into_iter().chain([number]).filter(|n| !n.is_empty()).map(|n| format!("R{n}")),
        );
        usual.dedup();
        let mut near = near(&word, &usual);
        let repair = word.to_ascii_lowercase().starts_with('r') && !number.is_empty();
        if repair && near.is_empty() && number.len() <= 3 {
            near.push(format!("R{number}"));
        }
        unusual.push(Unusual {
            what: "cycle",
            word,
            usual: "original, R1, R2, …, cut-out, tack, temporary",
            near,
        });
    }
    if let Some(word) = said(pass).filter(|word| !rules::weld::is_usual_pass(word)) {
        let near = near(&word, &rules::weld::PASSES.map(str::to_owned));
        unusual.push(Unusual { what: "pass", word, usual: "root, hot, fill, cap, back, tack", near });
    }
    unusual
}

/// Usual words that are nearly `word`: the same but for case, blanks and dashes; the same to the eye; with something in
/// front or behind (`fill 2`); or a character or two away.
fn near(word: &str, usual: &[String]) -> Vec<String> {
    let key = search_key(word);
    let mut found: Vec<(usize, &String)> = usual
        .iter()
        .filter_map(|other| {
            let other_key = search_key(other);
            let distance = if other_key == key {
                0
            } else if look_alike_key(&other_key) == look_alike_key(&key) {
                1
            } else if other_key.len() >= 3 && key.contains(&other_key) {
                2
            } else {
                let edits = strsim::damerau_levenshtein(&other_key, &key);
                if edits > 2 || edits * 2 > other_key.chars().count() {
                    return None;
                }
                2 + edits
            };
            Some((distance, other))
        })
        .collect();
    found.sort();
    let best = found.first().map(|(distance, _)| *distance);
    let mut near: Vec<String> =
        found.into_iter().filter(|(d, _)| Some(*d) == best).map(|(_, other)| other.clone()).collect();
    near.dedup();
    near
}

/// The error of a weld that names a lot and a slip of another lot.
pub(crate) fn lot_and_slip_disagree(lot: &str, slip: &str, lot_of_slip: &str) -> Error {
    Error::NotUnderstood {
        message: format!("lot {lot} and slip {slip} disagree: the slip is of lot {lot_of_slip}"),
        next: "name the one that is on the paper, and leave the other out".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unusual_words_and_what_is_near_them() {
        for usual in ["", "original", "R1", "R12", "cut-out", "tack", "temporary", "n/a", "unknown"] {
            assert_eq!(unusual_words(Some(usual), Some("root")), [], "{usual}");
        }
        for (cycle, near) in [
            ("Original", vec!["original"]),
            ("orignal", vec!["original"]),
            ("r1", vec!["R1"]),
            ("R-7", vec!["R7"]),
            ("repair 3", vec!["R3"]),
            ("Rl", vec!["R1"]),
            ("cutout", vec!["cut-out"]),
            ("night shift", vec![]),
        ] {
            let unusual = unusual_words(Some(cycle), None);
            assert_eq!((unusual.len(), &unusual[0].word, unusual[0].what), (1, &cycle.to_owned(), "cycle"));
            assert_eq!(unusual[0].near, near, "{cycle}");
        }
        for (pass, near) in [
            ("Root", vec!["root"]),
            ("fill 2", vec!["fill"]),
            ("h0t", vec!["hot"]),
            ("caps", vec!["cap"]),
            ("tac", vec!["tack"]),
            ("overlay", vec![]),
        ] {
            assert_eq!(unusual_words(None, Some(pass))[0].near, near, "{pass}");
        }
    }
}
