#!/usr/bin/env python3
"""Rounding to decimal places, a tie to the even digit, by the decimal module of the standard library.

Reads one JSON object a line: {"value": "0.045", "places": 2}. Answers each with one line: {"rounded": "0.04"}.
"""
import decimal
import json
import sys

decimal.getcontext().prec = 60

for line in sys.stdin:
    asked = json.loads(line)
    step = decimal.Decimal(1).scaleb(-asked["places"])
    rounded = decimal.Decimal(asked["value"]).quantize(step, rounding=decimal.ROUND_HALF_EVEN)
    print(json.dumps({"rounded": format(rounded, "f")}), flush=True)
