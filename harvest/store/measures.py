"""Weights and lengths as people type them, with the unit: `12.4kg`, `1,5 kg`, `27 lb 3 oz`, `5in`.

Point and comma both may be the decimal mark; where one may as well part the thousands (1,250 and
1.250), the number is refused and not guessed.
"""

from __future__ import annotations

import re

from harvest.errors import InputError
from harvest.units import CM_PER_IN, KG_PER_LB

WEIGHTS = {"kg": 1.0, "g": 0.001, "lb": KG_PER_LB, "lbs": KG_PER_LB, "oz": KG_PER_LB / 16}
LENGTHS = {"cm": 1.0, "mm": 0.1, "m": 100.0, "in": CM_PER_IN, '"': CM_PER_IN}
# What goes together in one statement, larger unit first.
COMPOUNDS = (("lb", "oz"), ("lbs", "oz"), ("kg", "g"))
_PART = re.compile(r"\s*([0-9][0-9.,]*)\s*([a-z\"]+)\s*")


def weight_kg(text: str) -> float:
    """A weight with its unit, in kilograms [kg]. Raises InputError."""
    return _measure(text, WEIGHTS, "a weight with its unit", "12.4kg, 800g, 27lb, 27lb 3oz or 6oz")


def girth_cm(text: str) -> float:
    """A girth with its unit, in centimetres [cm]. Raises InputError."""
    return _measure(text, LENGTHS, "a girth with its unit", "12.5cm, 125mm or 5in")


def _measure(text: str, units: dict[str, float], what: str, examples: str) -> float:
    parts = _PART.findall(text.casefold())
    rest = _PART.sub("", text.casefold())
    named = tuple(unit for _, unit in parts)
    fits = len(named) == 1 and named[0] in units
    fits |= named in COMPOUNDS and named[0] in units
    if rest or not fits:
        raise InputError(f"{what} is needed", given=repr(text), todo=f"Write it like {examples}.")
    return round(sum(number(digits, text) * units[unit] for digits, unit in parts), 9)


def number(digits: str, text: str) -> float:
    """A number with either decimal mark. Raises InputError where the mark could mean either."""
    ambiguous = re.fullmatch(r"([1-9]\d{0,2})[.,](\d{3})", digits)
    if ambiguous:
        whole, rest = ambiguous.groups()
        raise InputError(
            "it must be clear whether the mark parts decimals or thousands",
            given=repr(text),
            todo=f"Write {whole}.{rest}0 for the decimals, {whole}{rest} for the thousands.",
        )
    if re.fullmatch(r"\d+([.,]\d+)?", digits):
        return float(digits.replace(",", "."))
    if re.fullmatch(r"\d{1,3}(,\d{3})+\.\d+|\d{1,3}(,\d{3}){2,}", digits):
        return float(digits.replace(",", ""))
    if re.fullmatch(r"\d{1,3}(\.\d{3})+,\d+|\d{1,3}(\.\d{3}){2,}", digits):
        return float(digits.replace(".", "").replace(",", "."))
    raise InputError("a number is needed", given=repr(text), todo="Write it like 12.4 or 12,4.")
