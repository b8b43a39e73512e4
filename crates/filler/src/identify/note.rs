//! What there is to say about an identification besides its numbers.

use crate::element::Element;
use crate::percent::Percent;
use crate::reading::{ReadingMethod, SurfaceState};
use std::fmt;

/// A remark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Note {
    /// Copper is above the limit of bare steel wire, and nothing else speaks against it.
    CoatingSuspected,
    /// What that rests on.
    CopperAlone {
        /// Copper, as read.
        copper: Percent,
        /// The classes that nothing but copper would reject.
        classes: Vec<String>,
    },
    /// No coating can be seen on abraded wire, and the limits count it.
    CoatingNotRead,
    /// Elements left out because the method does not see them.
    LeftOut {
        /// The method.
        method: ReadingMethod,
        /// The elements.
        elements: Vec<Element>,
    },
    /// Elements that the method reads only under good conditions.
    ReadPoorly {
        /// The method.
        method: ReadingMethod,
        /// The elements.
        elements: Vec<Element>,
    },
    /// Elements that would tell candidates apart and that the method does not see.
    CannotSee {
        /// The method.
        method: ReadingMethod,
        /// The elements.
        elements: Vec<Element>,
    },
    /// The method is not known.
    MethodUnknown,
    /// No calibration floor.
    NoFloor,
    /// Only a bound was read.
    Below {
        /// The element.
        element: Element,
        /// The bound.
        limit: Percent,
    },
    /// Classes that share one chemistry.
    SameLimits(Vec<String>),
    /// Elements that some tied classes require and that others do not name.
    RequiredOrUnexpected {
        /// The elements.
        elements: Vec<Element>,
        /// Classes that require them.
        required_by: Vec<String>,
        /// Classes that do not name them.
        unexpected_in: Vec<String>,
    },
    /// Elements above 0.05 % that a fitting class does not name.
    Unexpected {
        /// The elements.
        elements: Vec<Element>,
        /// The class.
        class: String,
    },
    /// A rule over several elements leaves little room for what was not read.
    RoomForUnread {
        /// The class.
        class: String,
        /// Its rule.
        rule: String,
        /// The elements not read.
        elements: Vec<Element>,
        /// What the rule leaves for them together, percent, to three places.
        room: String,
    },
    /// Verdicts that rest on limits nobody compared with their source.
    Unverified {
        /// The classes.
        classes: Vec<String>,
    },
    /// Nothing fits.
    NothingFits {
        /// The class that is nearest.
        nearest: String,
    },
}

/// `a, b and c`
fn and(words: impl IntoIterator<Item = impl fmt::Display>) -> String {
    let mut words: Vec<String> = words.into_iter().map(|word| word.to_string()).collect();
    match words.pop() {
        None => String::new(),
        Some(last) if words.is_empty() => last,
        Some(last) => format!("{} and {last}", words.join(", ")),
    }
}

/// Most names in one sentence.
const MOST_NAMES: usize = 6;

/// The first names, and how many more.
fn some(names: &[String]) -> String {
    match names.len().checked_sub(MOST_NAMES) {
        None | Some(0) => and(names),
        Some(more) => {
            let shown: Vec<&str> = names.iter().take(MOST_NAMES).map(String::as_str).collect();
            format!("{} and {more} more", shown.join(", "))
        }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Note::CoatingSuspected => f.write_str("coating suspected: abrade and repeat"),
            Note::CopperAlone { copper, classes } => write!(
                f,
                "only Cu {copper} would reject {}; a copper coating of a fraction of a micrometre reads like that, so it does \
                 not",
                some(classes)
            ),
            Note::CoatingNotRead => f.write_str(
                "copper of an abraded surface leaves the coating out, and the limit of copper-coated wire counts it",
            ),
            Note::LeftOut { method, elements } => write!(
                f,
                "{} left out: {method} does not see {}; give the method that read {}",
                and(elements),
                if elements.len() == 1 { "it" } else { "them" },
                if elements.len() == 1 { "it" } else { "them" },
            ),
            Note::ReadPoorly { method, elements } => write!(
                f,
                "{method} reads {} only on a clean, ground surface with a long count",
                and(elements)
            ),
            Note::CannotSee { method, elements } => {
                write!(f, "{method} does not see {}, which would tell them apart", and(elements))
            }
            Note::MethodUnknown => {
                f.write_str("the method was not given, so what it cannot see is not known")
            }
            Note::NoFloor => f.write_str(
                "no calibration floor: u is the stated uncertainty alone, and instruments often state that of counting only",
            ),
            Note::Below { element, limit } => {
                write!(f, "{element} <{limit} counts as not measured")
            }
            Note::SameLimits(classes) => {
                write!(f, "{} share one chemistry: no analysis tells them apart", and(classes))
            }
            Note::RequiredOrUnexpected { elements, required_by, unexpected_in } => write!(
                f,
                "{}: required by {}, unexpected in {}",
                and(elements),
                some(required_by),
                some(unexpected_in)
            ),
            Note::Unexpected { elements, class } => write!(
                f,
                "{} above 0.05 {} unexpected in {class}, which has no limit for {}",
                and(elements),
                if elements.len() == 1 { "is" } else { "are" },
                if elements.len() == 1 { "it" } else { "them" },
            ),
            Note::RoomForUnread { class, rule, elements, room } => write!(
                f,
                "{class}: {rule}, and {} was not read; with what was, it holds only up to {} {room}",
                and(elements),
                elements.iter().map(|e| e.symbol()).collect::<Vec<_>>().join("+")
            ),
            Note::Unverified { classes } => {
                write!(f, "limit from an unverified table: {}", some(classes))
            }
            Note::NothingFits { nearest } => {
                write!(f, "no candidate fits; the nearest by distance is {nearest}")
            }
        }
    }
}

/// Whether a surface was freed of its coating without melting it in.
pub(super) fn coating_taken_off(surface: SurfaceState) -> bool {
    match surface {
        SurfaceState::Abraded => true,
        SurfaceState::AsReceived | SurfaceState::Button | SurfaceState::Unknown => false,
    }
}
