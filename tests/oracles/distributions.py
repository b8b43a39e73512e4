#!/usr/bin/env python3
"""Normal and chi-square tails by SciPy, far normal intervals by mpmath, to compare with.

Reads one JSON object a line and answers each with one line, a number:
{"f": "ln_tail", "x": z}               ln(1 - cdf(z))           scipy.stats.norm.logsf
{"f": "ln_interval", "x": a, "y": b}   ln(cdf(b) - cdf(a))      mpmath, 60 digits
{"f": "quantile", "x": p}              z with 1 - cdf(z) = p    scipy.stats.norm.isf
{"f": "chi_square", "x": x, "dof": k}  P(chi-square >= x)       scipy.stats.chi2.sf
`distributions.py --selftest` first checks the libraries against one another and against a printed table.
"""
import json
import sys

from mpmath import erfc, log, mp, mpf, sqrt
from scipy.stats import chi2, norm

mp.dps = 60

# Upper 1 % points of chi-square, as printed in the standard table.
PRINTED = {1: 6.63, 4: 13.28, 7: 18.48}


def tail(x):
    return erfc(mpf(x) / sqrt(2)) / 2


def ln_interval(a, b):
    if a >= 0:
        return float(log(tail(a) - tail(b)))
    if b <= 0:
        return float(log(tail(-b) - tail(-a)))
    return float(log(1 - tail(b) - tail(-a)))


def answer(question):
    x = question["x"]
    if question["f"] == "ln_tail":
        return float(norm.logsf(x))
    if question["f"] == "ln_interval":
        return ln_interval(x, question["y"])
    if question["f"] == "quantile":
        return float(norm.isf(x))
    return float(chi2.sf(x, question["dof"]))


def selftest():
    for dof, printed in PRINTED.items():
        if abs(chi2.isf(0.01, dof) - printed) > 0.005:
            return f"scipy does not give the printed chi-square point of {dof} degrees of freedom"
    for a, b in [(-1, 1), (2, 3), (-83, -40)]:
        theirs = norm.logcdf(b) if a < -40 else float(log(mpf(norm.cdf(b)) - mpf(norm.cdf(a))))
        if abs(ln_interval(a, b) - theirs) > 1e-9 * abs(theirs):
            return f"scipy and mpmath differ from {a} to {b}"
    return 0


if __name__ == "__main__":
    if sys.argv[1:] == ["--selftest"]:
        sys.exit(selftest())
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line))), flush=True)
