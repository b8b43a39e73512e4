#!/usr/bin/env python3
"""Units and heat input by pint, whose unit definitions are its own.

Reads one JSON object a line and answers each with one line.
{"measure": "3.5 in/min", "in": "mm/min"}: {"value": text}, the number in that unit.
{"volts": "12", "amps": "227", "travel": "4 in/min"}: {"kj_per_in": text, "kj_per_mm": text}.
Numbers are decimals of 50 digits all the way: pint is told to hold nothing as binary.
"""
import decimal
import json
import re
import sys

import pint

decimal.getcontext().prec = 50
units = pint.UnitRegistry(non_int_type=decimal.Decimal)

# Units as the shop floor writes them, where pint's own spelling differs.
SPELLED = {"in": "inch", "ft": "foot", "min": "minute", "h": "hour", "lb": "pound"}


def unit(text):
    """A unit of pint: words by its names, and a digit behind a word as its power."""
    parts = re.findall(r"[A-Za-z]+|\d+|/", text)
    words = [SPELLED.get(part, part) if part.isalpha() else f"**{part}" if part.isdigit() else part for part in parts]
    return units.parse_units("".join(words))


def measure(text):
    number, _, word = text.rpartition(" ")
    whole, _, fraction = number.rpartition("-") if "/" in number else (number, "", "")
    value = decimal.Decimal(whole or 0)
    if fraction:
        over, under = fraction.split("/")
        value += decimal.Decimal(over) / decimal.Decimal(under)
    return units.Quantity(value, unit(word))


def answer(asked):
    if "measure" in asked:
        return {"value": format(measure(asked["measure"]).to(unit(asked["in"])).magnitude, "f")}
    power = units.Quantity(decimal.Decimal(asked["volts"]), units.volt) * units.Quantity(
        decimal.Decimal(asked["amps"]), units.ampere
    )
    heat = power / measure(asked["travel"])
    return {
        "kj_per_in": format(heat.to(units.kilojoule / units.inch).magnitude, "f"),
        "kj_per_mm": format(heat.to(units.kilojoule / units.millimeter).magnitude, "f"),
    }


if __name__ == "__main__":
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line))), flush=True)
