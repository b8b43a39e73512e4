#!/usr/bin/env python3
"""Filler metal needed by pipe butts and what is left of the metal issued, with their uncertainty, to compare with.

Reads one JSON object a line and answers each with one line.

{"f": "needed", "inputs": {name: [value, half-width], ...}, "od": mm, "joints": n}
    single-V butts on pipe; names: thickness, gap, included, root-face, cap-height, cap-overlap, root-height,
    root-overlap, density, efficiency. All errors are shared by the joints but the gap's.
{"f": "balance", ..., "rods": n, "rod": {"diameter": [..], "length": [..]}, "count_u": u, "stubs": [g, u]}
    the same, taken from so many rods of the same density; "stubs" are weighed.
    {"value": g, "u": g, "parts": {name: g, ...}, "mean": g, "sd": g}
    "value", "u" and "parts" (each without its sign) are by the package `uncertainties`, from exact derivatives; "mean" and
    "sd" by NumPy, from 200000 seeded draws.
{"f": "sidak", "checks": n}
    the two-sided 5 % point for n independent checks, by SciPy.

`propagation.py --selftest` checks the propagation on a product whose uncertainty is known by the rule of GUM 5.1.6.
"""
import json
import math
import sys

import numpy as np
from scipy.stats import norm
from uncertainties import ufloat, umath

DRAWS = 200_000
SEED = 20240229

PER_JOINT = ["gap"]
SHARED = [
    "thickness", "included", "root-face", "cap-height", "cap-overlap", "root-height", "root-overlap", "density", "efficiency",
]


def butt_mm3(x, od, tan):
    """Rings about the pipe's axis: of each part the integral of 2 pi r over its cross-section, not area times centroid."""
    pi, outside = math.pi, od / 2
    bore = outside - x["thickness"]
    slope = tan(x["included"] * (pi / 360))
    depth = x["thickness"] - x["root-face"]
    gap = pi * x["gap"] * (outside**2 - bore**2)
    # Both triangles: 2 pi times the integral over s from 0 to depth of (outside - depth + s) 2 slope s.
    sides = 4 * pi * slope * ((outside - depth) * depth**2 / 2 + depth**3 / 3)
    # Under a parabola the width at height s is w sqrt(1 - s / c).
    width = x["gap"] + 2 * depth * slope + x["cap-overlap"]
    cap = 2 * pi * width * x["cap-height"] * (2 / 3 * outside + 4 / 15 * x["cap-height"])
    root_width = x["gap"] + x["root-overlap"]
    root = 2 * pi * root_width * x["root-height"] * (2 / 3 * bore - 4 / 15 * x["root-height"])
    return gap + sides + cap + root


def needed_g(shared, gaps, od, tan):
    return sum(
        butt_mm3({**shared, "gap": gap}, od, tan) * shared["density"] / shared["efficiency"] / 1000 for gap in gaps
    )


def whole(question, shared, gaps, rod, count, stubs, tan):
    needed = needed_g(shared, gaps, question["od"], tan)
    if question["f"] == "needed":
        return needed
    mass = math.pi / 4 * rod["diameter"] ** 2 * rod["length"] * shared["density"] / 1000
    return count * mass - stubs - needed


def answer(question):
    if question["f"] == "sidak":
        each = -math.expm1(math.log1p(-0.05) / question["checks"])
        return {"k": float(norm.isf(each / 2))}
    inputs, joints = question["inputs"], question["joints"]
    rod_inputs = question.get("rod", {})
    count, (stub_g, stub_u) = question.get("rods", 0), question.get("stubs", [0, 0])
    count_u = question.get("count_u", 0)

    def uncertain(name, value, u):
        return ufloat(value, u, name) if u else value

    known = lambda name, pair: uncertain(name, pair[0], pair[1] / math.sqrt(3))
    result = whole(
        question,
        {name: known(name, inputs[name]) for name in SHARED},
        [known("gap", inputs["gap"]) for _ in range(joints)],
        {name: known(name, pair) for name, pair in rod_inputs.items()},
        uncertain("count", count, count_u),
        uncertain("weighing", stub_g, stub_u),
        umath.tan,
    )
    parts = {}
    for variable, part in result.error_components().items():
        parts[variable.tag] = math.hypot(parts.get(variable.tag, 0), part)

    random = np.random.default_rng(SEED)
    even = lambda pair: random.uniform(pair[0] - pair[1], pair[0] + pair[1], DRAWS)
    drawn = whole(
        question,
        {name: even(inputs[name]) for name in SHARED},
        [even(inputs["gap"]) for _ in range(joints)],
        {name: even(pair) for name, pair in rod_inputs.items()},
        random.normal(count, count_u, DRAWS),
        random.normal(stub_g, stub_u, DRAWS),
        np.tan,
    )
    return {
        "value": result.nominal_value,
        "u": result.std_dev,
        "parts": parts,
        "mean": float(np.mean(drawn)),
        "sd": float(np.std(drawn, ddof=1)),
    }


def selftest():
    a, b = ufloat(12, 0.24), ufloat(227, 6.81)
    # 2 % and 3 %: sqrt(0.02^2 + 0.03^2), GUM 5.1.6.
    product = a * b
    if abs(product.std_dev / product.nominal_value - math.hypot(0.02, 0.03)) > 1e-12:
        return "the propagation library does not give the product rule"
    if (a - a).std_dev != 0:
        return "the propagation library does not see that an error is shared"
    return 0


if __name__ == "__main__":
    if sys.argv[1:] == ["--selftest"]:
        sys.exit(selftest())
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line))), flush=True)
