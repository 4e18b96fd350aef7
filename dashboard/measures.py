"""Quantities in the units that whoever looks has chosen.

Everything comes in metric, as the calculations speak; here, and nowhere else, it becomes a value
and a unit to be shown. Texts name a unit as `{unit:kg}` and a fixed quantity as `{unit:0 °C}`,
which `filled` puts in.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from dashboard.data import CM_PER_IN, KG_PER_LB
from dashboard.words import US, WAYS, Ways, redated

NBSP = "\u00a0"
Amount = TypeVar("Amount", float, NDArray[np.float64])


@dataclass(frozen=True)
class Measure:
    """A metric unit, what stands for it in US units, and how one becomes the other."""

    metric: str
    us: str
    factor: float
    offset: float = 0.0
    finer: int = 0
    """How many decimals more a value in US units is told with."""
    least: int = 0
    """How many decimals it has at least."""


# Exact where NIST Special Publication 811 (2008), appendix B, has it so: pound, inch, mile, degree.
MEASURES = {
    "kg": Measure("kg", "lb", 1 / KG_PER_LB),
    "g": Measure("g", "oz", 0.016 / KG_PER_LB, finer=1),
    "mm": Measure("mm", "in", 0.1 / CM_PER_IN, finer=2),
    "cm": Measure("cm", "in", 1 / CM_PER_IN),
    "m": Measure("m", "ft", 100 / CM_PER_IN / 12),
    "km": Measure("km", "mi", 100_000 / CM_PER_IN / 63_360),
    "km/h": Measure("km/h", "mph", 100_000 / CM_PER_IN / 63_360),
    "cm²": Measure("cm²", "in²", CM_PER_IN**-2, finer=1),
    "kg/cm²": Measure("kg/cm²", "lb/in²", CM_PER_IN**2 / KG_PER_LB, finer=-1),
    "fruit/cm²": Measure("fruit/cm²", "fruit/in²", CM_PER_IN**2, finer=-1),
    "°C": Measure("°C", "°F", 1.8, 32.0),
    "°C d": Measure("°C d", "°F d", 1.8),
    "°C warmer": Measure("°C", "°F", 1.8, least=1),
}
# Sentences that are remembered as they were turned.
RETOLD = 10_000
# Lengths shorter than this are told with a decimal [in, ft].
SHORT = {"cm": 3, "m": 10}
_NUMBER = r"[-−+]?\d[\d,]*(?:\.\d+)?"
_JOINT = r"(?: to |–|-)"
# Units as sentences write them, longer ones first so that none is taken for its beginning.
_WRITTEN = {
    "fruit per cm²": "fruit/cm²", "fruit per cm2": "fruit/cm²", "fruit/cm2": "fruit/cm²",
    "kg per cm²": "kg/cm²", "kg/cm²": "kg/cm²", "degree days": "°C d", "degC": "°C",
    "cm²": "cm²", "cm2": "cm²", "°C d": "°C d", "°C": "°C", "kg": "kg", "cm": "cm", "mm": "mm",
    "km/h": "km/h", "km": "km", "K": "°C warmer", "m": "m", "g": "g",
}  # fmt: skip
_IN_WORDS = {"fruit per cm²": "fruit per in²", "fruit per cm2": "fruit per in²",
             "kg per cm²": "lb per in²", "degree days": "degree days"}  # fmt: skip
_MEASURED = re.compile(
    rf"(?<![\w.,:/'“-])({_NUMBER})(?:({_JOINT})({_NUMBER}))?([ \u00a0]?)"
    rf"({'|'.join(map(re.escape, _WRITTEN))})(?![\w²/])"  # a label's "5 g/l" stays as it is
)
# Units as captions name them in words.
_NAMES = {"Kilograms": "Pounds", "kilograms": "pounds", "grams": "ounces",
          "centimetres": "inches", "metres": "feet"}  # fmt: skip
# A unit without a number: `[cm]`, `fewer per cm2`.
_ALONE = re.compile(rf"(\[|\bper )({'|'.join(map(re.escape, _WRITTEN))})(?![\w²])")
_PLACE = re.compile(r"\{unit:([^}]*)\}")


def in_us() -> bool:
    """Whether US units are chosen."""
    return WAYS.get().units == US


def unit(name: str) -> str:
    """The unit in which a measure is shown."""
    measure = MEASURES[name]
    return measure.us if in_us() else measure.metric


def value(metric: Amount, name: str) -> Amount:
    """A value as it is shown, unrounded."""
    measure = MEASURES[name]
    return metric * measure.factor + measure.offset if in_us() else metric


def metric_of(shown: float, name: str) -> float:
    """The metric value of one that is shown."""
    measure = MEASURES[name]
    return (shown - measure.offset) / measure.factor if in_us() else shown


@overload
def cell(metric: float, name: str, digits: int) -> float: ...
@overload
def cell(metric: float | None, name: str, digits: int) -> float | None: ...
def cell(metric: float | None, name: str, digits: int) -> float | None:
    """A value for a table or a text, rounded; `digits` are those of the metric one."""
    if metric is None:
        return None
    return round(value(metric, name), _digits(name, digits))


def number(metric: float, name: str, digits: int) -> str:
    """A value as it is shown, without its unit."""
    text = f"{value(metric, name):,.{_digits(name, digits)}f}"
    return text.replace("-", "−")


def said(metric: float, name: str, digits: int) -> str:
    """A value as it is shown, with its unit."""
    return f"{number(metric, name, digits)}{NBSP}{unit(name)}"


def ends(low: float, high: float, name: str, joint: str = "–") -> str:
    """From and to in whole units, without the unit; once where both are the same."""
    return joint.join(dict.fromkeys(number(end, name, 0) for end in (low, high)))


def span(low: float, high: float, name: str) -> str:
    """From and to in whole units, with the unit: `4 to 6 in`."""
    return f"{ends(low, high, name, ' to ')}{NBSP}{unit(name)}"


def plainly(metric: float, name: str) -> str:
    """A value with its unit, as exact as it is: `4.5 °C`."""
    return in_units(f"{metric:g} {MEASURES[name].metric}")


def kilograms(weight_kg: float) -> str:
    """A weight given in kilograms, with its unit, to three figures at most."""
    return said(weight_kg, "kg", 1 if value(weight_kg, "kg") < 20 else 0)


def degrees(temperature_c: float) -> str:
    """A temperature given in degrees Celsius, with its unit."""
    return said(temperature_c, "°C", 1)


def filled(text: str) -> str:
    """A text of ours with its units, and quantities that never change, put in."""
    return _PLACE.sub(lambda found: _fixed(found[1]), text)


def retold(sentence: str) -> str:
    """A sentence of the calculations, which speak metric, in the units and dates chosen."""
    return _retold(sentence, WAYS.get())


@lru_cache(RETOLD)
def _retold(sentence: str, _ways: Ways) -> str:
    """Trees in their thousands share few sentences: each is turned once under the ways chosen."""
    return redated(in_units(sentence))


def in_units(sentence: str) -> str:
    """A sentence with the measures in it turned into the units chosen."""
    if not in_us():
        return sentence
    sentence = _MEASURED.sub(_turned, sentence)
    return _ALONE.sub(lambda found: f"{found[1]}{MEASURES[_WRITTEN[found[2]]].us}", sentence)


def _fixed(spec: str) -> str:
    if spec in _NAMES:
        return _NAMES[spec] if in_us() else spec
    return unit(spec) if spec in MEASURES else in_units(spec)


def _turned(found: re.Match[str]) -> str:
    low, joint, high, gap, written = found.groups()
    name = _WRITTEN[written]
    if name == "°C" and low.startswith("+"):
        name = "°C warmer"
    ends = [_shown(text, name) for text in (low, high) if text]
    return f"{(joint or '').join(ends)}{gap}{_IN_WORDS.get(written, MEASURES[name].us)}"


def _shown(text: str, name: str) -> str:
    """A number as a sentence has it, in US units: as exact as it was."""
    metric = float(text.replace(",", "").replace("−", "-"))
    digits = len(text.partition(".")[2])
    shown = value(metric, name)
    digits = max(_digits(name, digits), 1 if shown < SHORT.get(name, 0) else 0)
    sign = "+" if text.startswith("+") else ""
    written = f"{shown:{',' if ',' in text else ''}.{digits}f}"
    written = written.rstrip("0").rstrip(".") if "." in written else written
    return sign + (written.replace("-", "−") if "−" in text else written)


def _digits(name: str, digits: int) -> int:
    measure = MEASURES[name]
    return max(measure.least, digits + measure.finer) if in_us() else digits
