//! Why something is no groove.

use super::{Feature, Kind};

/// A groove that does not exist, or is not fully said.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GrooveError {
    /// A word that names no kind of groove.
    #[error(
        "\"{0}\" is not a kind of groove; write square, fillet, single-v, double-v, single-bevel, single-u or single-j"
    )]
    UnknownKind(String),
    /// A text that was not understood.
    #[error("{feature}: {why}")]
    Unread {
        /// What was to be read.
        feature: Feature,
        /// Why it was not.
        why: String,
    },
    /// A measure that the kind needs.
    #[error("a {kind} needs {feature}{}", when_none(*feature))]
    Missing {
        /// The kind of groove.
        kind: Kind,
        /// What is missing.
        feature: Feature,
    },
    /// A measure that the kind does not have.
    #[error("a {kind} has no {feature}; leave it out, or choose another kind of groove")]
    NotOf {
        /// The kind of groove.
        kind: Kind,
        /// What does not belong to it.
        feature: Feature,
    },
    /// Two measures of which one follows from the other.
    #[error("{0} and {1} say the same thing in two ways; give only one of them")]
    Both(Feature, Feature),
    /// A height without a width, or the other way round.
    #[error("{given} is given without {missing}: the area cannot be computed; give both or neither")]
    HalfGiven {
        /// What is there.
        given: Feature,
        /// What is not.
        missing: &'static str,
    },
    /// A measure outside what is possible.
    #[error("{feature} is {value}, and must be {wanted}; check the drawing")]
    OutOfRange {
        /// Which feature.
        feature: Feature,
        /// Its value in millimetres or degrees.
        value: f64,
        /// What it must be.
        wanted: &'static str,
    },
    /// A root face that leaves nothing to bevel.
    #[error(
        "the root face of {root_face} mm leaves nothing of the {thickness} mm to bevel; it must be smaller than the thickness"
    )]
    RootFace {
        /// mm.
        root_face: f64,
        /// mm.
        thickness: f64,
    },
    /// An outer groove that leaves nothing for the inner one.
    #[error(
        "the outer groove is {outer} mm deep, and both grooves together have {both} mm (thickness less root face); it must be less than that"
    )]
    OuterDepth {
        /// mm.
        outer: f64,
        /// mm.
        both: f64,
    },
    /// A radius that does not fit the depth.
    #[error(
        "a radius of {radius} mm needs a groove {least:.3} mm deep before the side begins, and this one is {depth:.3} mm deep; check radius, angle and root face"
    )]
    Radius {
        /// mm.
        radius: f64,
        /// mm.
        least: f64,
        /// mm.
        depth: f64,
    },
    /// Nothing to fill.
    #[error("a {0} with these measures takes no weld metal at all; check the gap and the reinforcement")]
    Empty(Kind),
    /// A pipe that does not exist.
    #[error("no pipe has an outside diameter of {0} mm; write one above 0 and up to 10000 mm")]
    OutsideDiameter(f64),
    /// A wall that leaves no bore.
    #[error("a wall of {thickness} mm leaves no bore in a pipe of {od} mm outside diameter; check both")]
    Wall {
        /// mm.
        thickness: f64,
        /// mm.
        od: f64,
    },
    /// Root reinforcement that fills the bore.
    #[error("root reinforcement {height} mm high does not fit in a bore of {bore:.3} mm radius; check both")]
    Bore {
        /// mm.
        height: f64,
        /// mm.
        bore: f64,
    },
    /// A length that is not above zero.
    #[error("the weld's length is {0} mm, and must be above 0; check it")]
    WeldLength(f64),
}

/// What to do about a missing feature.
fn when_none(feature: Feature) -> &'static str {
    if feature == Feature::Gap { "; give it, 0 mm for a closed root" } else { "; give it" }
}
