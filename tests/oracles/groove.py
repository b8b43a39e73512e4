#!/usr/bin/env python3
"""Weld metal cross-sections drawn as polygons and revolved in slices, by Shapely, to compare with.

Reads one JSON object a line: {"kind": k, "features": {word: mm or degrees, ...}, "od": mm or null}. Answers each with
one line: {"area": mm2, "volume": mm3 or null}. Every outline is drawn point by point, arcs and parabolas as many short
lines; the area is the polygon's and the volume the sum over thin slices, each at its own radius: none of it is a formula
for the area or the centroid of a part. `groove.py --selftest` checks the method on a disc and on a torus.
"""
import itertools
import json
import math
import sys

from shapely import Polygon, box, clip_by_rect

POINTS = 1500
SLICES = 500


def side_of_v(depth, angle, top):
    """A triangle right of x = 0, opening toward `top`."""
    return [(0, top - depth), (depth * math.tan(angle), top), (0, top)]


def side_of_u(depth, radius, angle):
    """Right of x = 0: from the root along the arc to where its tangent has the side's angle, then straight up."""
    points = []
    for n in range(POINTS + 1):
        turn = (math.pi / 2 - angle) * n / POINTS
        points.append((radius * math.sin(turn), -depth + radius - radius * math.cos(turn)))
    x, y = points[-1]
    if y < -1e-9:
        points.append((x - y * math.tan(angle), 0))
    else:
        points[-1] = (x, 0)
    return points + [(0, 0)]


def parabola(a, b, height):
    """On the line from a to b, standing to its left."""
    (ax, ay), (bx, by) = a, b
    length = math.hypot(bx - ax, by - ay)
    nx, ny = -(by - ay) / length, (bx - ax) / length
    points = []
    for n in range(POINTS + 1):
        s = n / POINTS
        up = 4 * height * s * (1 - s)
        points.append((ax + s * (bx - ax) + up * nx, ay + s * (by - ay) + up * ny))
    return points


def mirrored(points, shift):
    return [(-x - shift, y) for x, y in points]


def outline(kind, f):
    """The pieces of the drawing: y = 0 is the outer surface, the thickness lies below it."""
    if kind == "fillet":
        leg = f.get("leg", f.get("throat", 0) * math.sqrt(2))
        other = f.get("other-leg", leg)
        pieces = [[(0, 0), (leg, 0), (0, other)]]
        if f.get("convexity"):
            pieces.append(parabola((0, other), (leg, 0), f["convexity"]))
        return pieces
    t, gap, depth = f["thickness"], f["gap"], f["thickness"] - f.get("root-face", 0)
    one_sided = kind in ("single-bevel", "single-j")
    angle = math.radians(f["bevel"] if "bevel" in f else f.get("included", 0) / (1 if one_sided else 2))
    sides = []
    if kind in ("single-v", "single-bevel"):
        sides = [side_of_v(depth, angle, 0)]
    elif kind in ("single-u", "single-j"):
        sides = [side_of_u(depth, f["radius"], angle)]
    elif kind == "double-v":
        outer = f.get("outer-depth", depth / 2)
        below = math.radians(f["inner-included"] / 2) if "inner-included" in f else angle
        inner = depth - outer
        sides = [side_of_v(outer, angle, 0), [(0, -t), (inner * math.tan(below), -t), (0, -t + inner)]]
    right = [[(x + gap, y) for x, y in side] for side in sides]
    left = [] if one_sided else [mirrored(side, 0) for side in sides]
    pieces = [[(0, 0), (gap, 0), (gap, -t), (0, -t)]] if gap else []
    pieces += right + left
    at = lambda level: [x for piece in pieces for x, y in piece if abs(y - level) < 1e-9] or [0, 0]
    if "cap-height" in f:
        low, high = min(at(0)), max(at(0))
        width = f.get("cap-width", high - low + f.get("cap-overlap", 0))
        middle = (low + high) / 2
        pieces.append(parabola((middle + width / 2, 0), (middle - width / 2, 0), -f["cap-height"]))
    if "root-height" in f:
        low, high = min(at(-t)), max(at(-t))
        width = f.get("root-width", high - low + f.get("root-overlap", 0))
        middle = (low + high) / 2
        pieces.append(parabola((middle - width / 2, -t), (middle + width / 2, -t), -f["root-height"]))
    return pieces


def drawn(kind, features):
    polygons = [Polygon(piece) for piece in outline(kind, features)]
    if not all(polygon.is_valid for polygon in polygons):
        raise ValueError(f"a piece of this {kind} crosses itself: {features}")
    for one, other in itertools.combinations(polygons, 2):
        if one.intersection(other, grid_size=1e-9).area > 1e-6 * one.area:
            raise ValueError(f"the pieces of this {kind} overlap: {features}")
    return polygons


def revolved(polygon, radius):
    """Volume of the polygon turned once around an axis `radius` below y = 0, slice by slice."""
    left, bottom, right, top = polygon.bounds
    step = (top - bottom) / SLICES
    volume = 0.0
    for n in range(SLICES):
        low = bottom + n * step
        area = clip_by_rect(polygon, left - 1, low, right + 1, low + step).area
        volume += 2 * math.pi * (radius + low + step / 2) * area
    return volume


def answer(question):
    polygons = drawn(question["kind"], question["features"])
    od = question.get("od")
    volume = None if od is None else sum(revolved(polygon, od / 2) for polygon in polygons)
    return {"area": sum(polygon.area for polygon in polygons), "volume": volume}


def selftest():
    circle = Polygon([(math.cos(a), math.sin(a)) for a in (2 * math.pi * n / 4000 for n in range(4000))])
    if abs(circle.area - math.pi) > 1e-5:
        return "the polygon library does not give the area of a disc"
    # A torus of radii 5 and 1: 2 pi^2 R r^2.
    if abs(revolved(circle, 5) / (2 * math.pi**2 * 5) - 1) > 1e-5:
        return "the slices do not give the volume of a torus"
    # A ring from radius 10 to 11, 2 wide: pi (11^2 - 10^2) 2.
    if abs(revolved(box(0, 0, 2, 1), 10) / (math.pi * 42) - 1) > 1e-9:
        return "the slices do not give the volume of a ring"
    return 0


if __name__ == "__main__":
    if sys.argv[1:] == ["--selftest"]:
        sys.exit(selftest())
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line))), flush=True)
