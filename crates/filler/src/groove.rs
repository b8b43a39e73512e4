//! How much weld metal a groove or fillet takes: the area of its cross-section, and the volume on plate and on pipe.
//!
//! Geometry alone: shrinkage takes 7 to 9 % from a flat V joint, and fillets run larger than drawn, so a joint that was
//! weighed says more. Volumes on pipe are by the centroid theorem (Pappus and Guldin): 2π Σ area · radius of its
//! centroid. The shortcut with the mean diameter is 2 % low on a 4 in pipe, since a V has its metal near the outside.

#![allow(
    clippy::float_arithmetic,
    reason = "an estimate from angles; what is recorded of it is rounded once, to whole milligrams"
)]

mod error;
mod feature;
mod part;

pub use error::GrooveError;
pub use feature::{Feature, Features};

use part::Part;
use std::f64::consts::{PI, SQRT_2};
use std::fmt;
use std::str::FromStr;

/// Largest outside diameter taken, in millimetres.
const LARGEST_OD_MM: f64 = 10_000.0;

/// What binary fractions of typed decimals may be off: an arc that takes the whole depth still fits.
const ROUNDING_MM: f64 = 1e-9;

/// Half of the groove angle is below this, in degrees: at it, a side lies flat.
const FLAT_DEG: f64 = 90.0;

/// The kind of groove.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// Square edges.
    Square,
    /// A fillet, on plate or on the outside of a pipe.
    Fillet,
    /// Both edges bevelled, from one side.
    SingleV,
    /// Both edges bevelled, from both sides.
    DoubleV,
    /// One edge bevelled, from one side.
    SingleBevel,
    /// Both edges with a root radius and a straight side tangent to it.
    SingleU,
    /// One edge so.
    SingleJ,
}

impl Kind {
    /// All of them, in the order of their declaration.
    pub const ALL: [Kind; 7] = [
        Kind::Square,
        Kind::Fillet,
        Kind::SingleV,
        Kind::DoubleV,
        Kind::SingleBevel,
        Kind::SingleU,
        Kind::SingleJ,
    ];

    /// The word for it; stable.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Kind::Square => "square",
            Kind::Fillet => "fillet",
            Kind::SingleV => "single-v",
            Kind::DoubleV => "double-v",
            Kind::SingleBevel => "single-bevel",
            Kind::SingleU => "single-u",
            Kind::SingleJ => "single-j",
        }
    }

    /// Whether the measure belongs to it.
    #[must_use]
    pub fn has(self, feature: Feature) -> bool {
        let bevelled = !matches!(self, Kind::Square | Kind::Fillet);
        match feature {
            Feature::Thickness
            | Feature::Gap
            | Feature::CapWidth
            | Feature::CapOverlap
            | Feature::CapHeight
            | Feature::RootWidth
            | Feature::RootOverlap
            | Feature::RootHeight => self != Kind::Fillet,
            Feature::RootFace | Feature::Included | Feature::Bevel => bevelled,
            Feature::OuterDepth | Feature::InnerIncluded => self == Kind::DoubleV,
            Feature::Radius => matches!(self, Kind::SingleU | Kind::SingleJ),
            Feature::Leg | Feature::OtherLeg | Feature::Throat | Feature::Convexity => self == Kind::Fillet,
        }
    }

    /// How many of its edges are bevelled.
    fn sides(self) -> f64 {
        match self {
            Kind::Square | Kind::Fillet => 0.0,
            Kind::SingleBevel | Kind::SingleJ => 1.0,
            Kind::SingleV | Kind::DoubleV | Kind::SingleU => 2.0,
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for Kind {
    type Err = GrooveError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .into_iter()
            .find(|kind| kind.word() == text.trim())
            .ok_or_else(|| GrooveError::UnknownKind(crate::shown::shown(text)))
    }
}

/// A groove that exists: its measures fit one another.
#[derive(Debug, Clone, PartialEq)]
pub struct Groove {
    kind: Kind,
    /// Zero for a fillet.
    thickness: f64,
    /// Zero without root reinforcement.
    root_height: f64,
    parts: Vec<Part>,
}

/// A groove's angles and depth, and how wide it is at the top and at the bottom; in millimetres and radians.
struct Outline {
    parts: Vec<Part>,
    top: f64,
    bottom: f64,
}

impl Groove {
    /// The groove of a kind with these features.
    ///
    /// # Errors
    /// When a measure is missing, does not belong to the kind, is impossible, or does not fit the others; the message says
    /// which, with the number that decided.
    pub fn new(kind: Kind, features: &Features) -> Result<Self, GrooveError> {
        if let Some((feature, _)) = features.iter().find(|(feature, _)| !kind.has(*feature)) {
            return Err(GrooveError::NotOf { kind, feature });
        }
        let (thickness, outline) = match kind {
            Kind::Fillet => (0.0, fillet(features)?),
            Kind::Square
            | Kind::SingleV
            | Kind::DoubleV
            | Kind::SingleBevel
            | Kind::SingleU
            | Kind::SingleJ => {
                needed(kind, features, Feature::Thickness)?;
                needed(kind, features, Feature::Gap)?;
                let thickness = features.above_zero(Feature::Thickness)?;
                (thickness, groove(kind, features, thickness)?)
            }
        };
        let Outline { mut parts, top, bottom } = outline;
        let cap = reinforcement(
            features,
            [Feature::CapWidth, Feature::CapOverlap, Feature::CapHeight],
            top,
            "cap-width or cap-overlap",
        )?;
        if let Some((width, height)) = cap {
            parts.push(part::reinforcement(width, height, 0.0, true));
        }
        let root = reinforcement(
            features,
            [Feature::RootWidth, Feature::RootOverlap, Feature::RootHeight],
            bottom,
            "root-width or root-overlap",
        )?;
        if let Some((width, height)) = root {
            parts.push(part::reinforcement(width, height, -thickness, false));
        }
        let groove = Groove { kind, thickness, root_height: root.map_or(0.0, |(_, height)| height), parts };
        let area = groove.area_mm2();
        if area > 0.0 && area.is_finite() { Ok(groove) } else { Err(GrooveError::Empty(kind)) }
    }

    /// The kind.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Area of weld metal in the cross-section, reinforcement included, in mm².
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        self.parts.iter().map(|part| part.area).sum()
    }

    /// Volume on plate for each metre of weld, in cm³: the same number as the area in mm².
    #[must_use]
    pub fn volume_cm3_per_m(&self) -> f64 {
        self.area_mm2()
    }

    /// Volume on plate over a length of weld in millimetres, in mm³.
    ///
    /// # Errors
    /// When the length is not above zero.
    pub fn volume_mm3_of_length(&self, length_mm: f64) -> Result<f64, GrooveError> {
        if length_mm > 0.0 && length_mm.is_finite() {
            Ok(self.area_mm2() * length_mm)
        } else {
            Err(GrooveError::WeldLength(length_mm))
        }
    }

    /// Volume once around a pipe of this outside diameter in millimetres, in mm³: the groove opens outward (of a double-v,
    /// the outer groove does), the fillet lies on the outside.
    ///
    /// # Errors
    /// When there is no such pipe: no bore is left, or the root reinforcement does not fit in it.
    pub fn volume_mm3_on_pipe(&self, od_mm: f64) -> Result<f64, GrooveError> {
        if !(od_mm > 0.0 && od_mm <= LARGEST_OD_MM) {
            return Err(GrooveError::OutsideDiameter(od_mm));
        }
        let outside = od_mm / 2.0;
        let bore = outside - self.thickness;
        if bore <= 0.0 {
            return Err(GrooveError::Wall { thickness: self.thickness, od: od_mm });
        }
        if self.root_height >= bore {
            return Err(GrooveError::Bore { height: self.root_height, bore });
        }
        let moment: f64 = self.parts.iter().map(|part| part.area * (outside + part.height)).sum();
        Ok(2.0 * PI * moment)
    }
}

/// That a measure is given.
fn needed(kind: Kind, features: &Features, feature: Feature) -> Result<(), GrooveError> {
    features.get(feature).map(|_| ()).ok_or(GrooveError::Missing { kind, feature })
}

/// The angle of one side from the square edge in radians, from the groove angle or the bevel angle.
fn side_angle(kind: Kind, features: &Features, may_be_zero: bool) -> Result<f64, GrooveError> {
    let (feature, side) = match (features.get(Feature::Included), features.get(Feature::Bevel)) {
        (Some(_), Some(_)) => return Err(GrooveError::Both(Feature::Included, Feature::Bevel)),
        (None, None) => return Err(GrooveError::Missing { kind, feature: Feature::Included }),
        (Some(included), None) => (Feature::Included, included / kind.sides()),
        (None, Some(bevel)) => (Feature::Bevel, bevel),
    };
    checked_angle(features, feature, side, may_be_zero)
}

/// The angle of one side in radians, if it can be one.
fn checked_angle(
    features: &Features,
    feature: Feature,
    side: f64,
    may_be_zero: bool,
) -> Result<f64, GrooveError> {
    if side < FLAT_DEG && (side > 0.0 || (may_be_zero && side == 0.0)) {
        return Ok(side * PI / 180.0);
    }
    let wanted = if may_be_zero {
        "from 0 to less than 90 degrees for each bevelled side"
    } else {
        "above 0 and less than 90 degrees for each bevelled side (with square edges it is a square groove)"
    };
    Err(GrooveError::OutOfRange { feature, value: features.get(feature).unwrap_or(side), wanted })
}

/// Everything but the reinforcement of a groove through the thickness.
fn groove(kind: Kind, features: &Features, thickness: f64) -> Result<Outline, GrooveError> {
    let gap = features.length_or(Feature::Gap, 0.0)?;
    let mut parts = vec![part::gap(gap, thickness)];
    if matches!(kind, Kind::Square) {
        return Ok(Outline { parts, top: gap, bottom: gap });
    }
    let root_face = features.length_or(Feature::RootFace, 0.0)?;
    if root_face >= thickness {
        return Err(GrooveError::RootFace { root_face, thickness });
    }
    let depth = thickness - root_face;
    let sides = kind.sides();
    let side = |part: Part| Part { area: part.area * sides, ..part };
    let (mut opening, mut bottom) = (0.0, gap);
    match kind {
        Kind::Square | Kind::Fillet => {}
        Kind::SingleV | Kind::SingleBevel => {
            let angle = side_angle(kind, features, false)?;
            parts.push(side(part::bevel(depth, angle, 0.0)));
            opening = depth * libm::tan(angle);
        }
        Kind::DoubleV => {
            let angle = side_angle(kind, features, false)?;
            let inner_angle = match features.get(Feature::InnerIncluded) {
                None => angle,
                Some(inner) => checked_angle(features, Feature::InnerIncluded, inner / sides, false)?,
            };
            let outer = features.length_or(Feature::OuterDepth, depth / 2.0)?;
            if outer >= depth {
                return Err(GrooveError::OuterDepth { outer, both: depth });
            }
            if outer <= 0.0 {
                features.above_zero(Feature::OuterDepth)?;
            }
            let inner = depth - outer;
            parts.push(side(part::bevel(outer, angle, 0.0)));
            parts.push(side(part::bevel_below(inner, inner_angle, -thickness)));
            opening = outer * libm::tan(angle);
            bottom = gap + sides * inner * libm::tan(inner_angle);
        }
        Kind::SingleU | Kind::SingleJ => {
            needed(kind, features, Feature::Radius)?;
            let radius = features.above_zero(Feature::Radius)?;
            let angle = side_angle(kind, features, true)?;
            let least = part::arc_depth(radius, angle);
            if depth < least - ROUNDING_MM {
                return Err(GrooveError::Radius { radius, least, depth });
            }
            parts.extend(part::arc_side(depth, radius, angle).map(side));
            opening = radius * libm::cos(angle) + (depth - least).max(0.0) * libm::tan(angle);
        }
    }
    Ok(Outline { parts, top: gap + sides * opening, bottom })
}

/// A fillet, flat or convex.
fn fillet(features: &Features) -> Result<Outline, GrooveError> {
    let leg = match (features.get(Feature::Leg), features.get(Feature::Throat)) {
        (Some(_), Some(_)) => return Err(GrooveError::Both(Feature::Leg, Feature::Throat)),
        (None, None) => return Err(GrooveError::Missing { kind: Kind::Fillet, feature: Feature::Leg }),
        (Some(_), None) => features.above_zero(Feature::Leg)?,
        (None, Some(_)) => features.above_zero(Feature::Throat)? * SQRT_2,
    };
    let other = match features.get(Feature::OtherLeg) {
        None => leg,
        // The throat of unequal legs says nothing of either.
        Some(_) if features.get(Feature::Throat).is_some() => {
            return Err(GrooveError::Both(Feature::OtherLeg, Feature::Throat));
        }
        Some(_) => features.above_zero(Feature::OtherLeg)?,
    };
    let convexity = features.length_or(Feature::Convexity, 0.0)?;
    if convexity > libm::hypot(leg, other) / 2.0 {
        let wanted = "at most half the width of the face";
        return Err(GrooveError::OutOfRange { feature: Feature::Convexity, value: convexity, wanted });
    }
    let parts = vec![part::fillet(leg, other), part::convex_face(leg, other, convexity)];
    Ok(Outline { parts, top: 0.0, bottom: 0.0 })
}

/// Width and height of reinforcement on an opening so wide; None if there is none.
fn reinforcement(
    features: &Features,
    [width, overlap, height]: [Feature; 3],
    opening: f64,
    missing: &'static str,
) -> Result<Option<(f64, f64)>, GrooveError> {
    let wide = match (features.get(width), features.get(overlap)) {
        (Some(_), Some(_)) => return Err(GrooveError::Both(width, overlap)),
        (None, None) => None,
        (Some(_), None) => Some((width, features.above_zero(width)?)),
        (None, Some(_)) => Some((overlap, opening + features.length_or(overlap, 0.0)?)),
    };
    match (wide, features.get(height)) {
        (None, None) => Ok(None),
        (Some((given, _)), None) => Err(GrooveError::HalfGiven { given, missing: height.word() }),
        (None, Some(_)) => Err(GrooveError::HalfGiven { given: height, missing }),
        (Some((given, wide)), Some(_)) => {
            let high = features.length_or(height, 0.0)?;
            if wide < opening - ROUNDING_MM {
                let wanted = "at least as wide as the groove is there";
                return Err(GrooveError::OutOfRange { feature: given, value: wide, wanted });
            }
            if high > wide / 2.0 {
                let wanted = "at most half its width, as weld metal does not stand higher";
                return Err(GrooveError::OutOfRange { feature: height, value: high, wanted });
            }
            Ok(Some((wide, high)))
        }
    }
}
