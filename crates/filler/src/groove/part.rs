//! The parts that a cross-section is made of, each with its area and the height of its centroid.

use std::f64::consts::FRAC_PI_2;

/// A part of the cross-section of weld metal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Part {
    /// mm².
    pub(super) area: f64,
    /// Height of the centroid above the outer surface, in mm; negative below it.
    pub(super) height: f64,
}

/// The gap through the whole thickness.
pub(super) fn gap(width: f64, thickness: f64) -> Part {
    Part { area: width * thickness, height: -thickness / 2.0 }
}

/// The triangle between a square edge and a bevel of so many radians that opens upward at `top`, `depth` deep.
pub(super) fn bevel(depth: f64, angle: f64, top: f64) -> Part {
    Part { area: 0.5 * depth * depth * libm::tan(angle), height: top - depth / 3.0 }
}

/// The same, opening downward at `bottom`.
pub(super) fn bevel_below(depth: f64, angle: f64, bottom: f64) -> Part {
    Part { height: bottom + depth / 3.0, ..bevel(depth, angle, 0.0) }
}

/// One side of a U, or the side of a J, opening upward at the surface, `depth` deep: an arc of `radius` that starts level
/// at the root and a straight side at `angle` from the square edge, tangent to it. The depth is at least
/// [`arc_depth`].
pub(super) fn arc_side(depth: f64, radius: f64, angle: f64) -> [Part; 3] {
    let (sine, cosine) = (libm::sin(angle), libm::cos(angle));
    let straight = (depth - arc_depth(radius, angle)).max(0.0);
    // Sector less triangle, and their first moments about the centre of the arc: r³ cos β / 3 less r³ sin² β cos β / 3.
    let area = 0.5 * radius * radius * (FRAC_PI_2 - angle - sine * cosine);
    let moment = radius * radius * radius * cosine * cosine * cosine / 3.0;
    let below_centre = if area > 0.0 { moment / area } else { 0.0 };
    [
        Part { area, height: -depth + radius - below_centre },
        Part { area: radius * cosine * straight, height: -straight / 2.0 },
        bevel(straight, angle, 0.0),
    ]
}

/// How deep the arc of a U or J reaches from its root to where the straight side begins.
pub(super) fn arc_depth(radius: f64, angle: f64) -> f64 {
    radius * (1.0 - libm::sin(angle))
}

/// Reinforcement under a parabola on a base at `base`: two thirds of width times height, the centroid at two fifths of the
/// height. Reproduces the reinforcement columns of two data books (arithmetic cases GC-01 to GC-05, GU-01).
pub(super) fn reinforcement(width: f64, height: f64, base: f64, outward: bool) -> Part {
    let up = 0.4 * height;
    Part { area: 2.0 / 3.0 * width * height, height: if outward { base + up } else { base - up } }
}

/// The triangle of a fillet on the surface: `leg` along it, `other` standing on it.
pub(super) fn fillet(leg: f64, other: f64) -> Part {
    Part { area: 0.5 * leg * other, height: other / 3.0 }
}

/// The convex part on a fillet's face: a parabola as high as the convexity.
pub(super) fn convex_face(leg: f64, other: f64, convexity: f64) -> Part {
    let face = libm::hypot(leg, other);
    // The face's middle, then outward square to it: of a step out, the share leg / face goes up.
    Part { area: 2.0 / 3.0 * face * convexity, height: other / 2.0 + 0.4 * convexity * leg / face }
}
