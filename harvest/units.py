"""Nomenclature: every column and quantity a person can type or read, its unit and its limits.

Values are converted to these units once, when they enter; everything inside speaks metric.
Limits refuse what cannot be (a typing slip), they do not judge what is unusual.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit, meaning and the range in which a value can be true at all."""

    meaning: str
    unit: str
    low: float
    high: float


QUANTITIES: dict[str, Quantity] = {
    "latitude": Quantity("latitude, south negative", "deg", -90, 90),
    "longitude": Quantity("longitude, west negative", "deg", -180, 180),
    "elevation_m": Quantity("height above sea level", "m", -430, 6000),
    "tmin_c": Quantity("lowest air temperature of the day", "degC", -90, 60),
    "tmax_c": Quantity("highest air temperature of the day", "degC", -90, 60),
    "precip_mm": Quantity("rain and melted snow of the day", "mm", 0, 2000),
    "wind_kmh": Quantity("mean wind speed of the day", "km/h", 0, 200),
    "bbch": Quantity("growth stage, BBCH code", "1", 0, 99),
    "percent_open": Quantity("share of the flowers that are open", "%", 0, 100),
    "weight_kg": Quantity("weight picked", "kg", 0, 2000),
    "fruit_count": Quantity("number of fruit picked", "1", 0, 100_000),
    "pass": Quantity("number of the picking pass in its season", "1", 1, 99),
    "graded_out_kg": Quantity("part of the weight that was graded out", "kg", 0, 2000),
    "brix": Quantity("soluble solids", "degBrix", 0, 60),
    "firmness_kg": Quantity("flesh firmness", "kg", 0, 20),
    "starch": Quantity("starch clearing score", "1", 0, 10),
    "fruit_removed": Quantity("number of fruit removed", "1", 0, 100_000),
    "fruit_left": Quantity("number of fruit left", "1", 0, 100_000),
    "girth_cm": Quantity("girth of the trunk at its mark", "cm", 0.1, 1000),
    "withholding_days": Quantity("withholding period typed from the label", "d", 0, 730),
    "severity": Quantity("severity: 0 none, 1 light, 2 middling, 3 heavy", "1", 0, 3),
    "row": Quantity("row in the orchard", "1", 0, 100_000),
    "position": Quantity("position in the row", "1", 0, 100_000),
    "row_spacing_m": Quantity("distance from one row to the next", "m", 0.1, 100),
    "tree_spacing_m": Quantity("distance from one place in a row to the next", "m", 0.1, 100),
}


@dataclass(frozen=True, slots=True)
class Conversion:
    """How a column in another unit becomes ours: `value * factor + offset`."""

    column: str
    factor: float
    offset: float = 0.0


# International avoirdupois pound and inch (exact by the 1959 agreement; NIST SP 811, Appendix B).
KG_PER_LB = 0.45359237
CM_PER_IN = 2.54
M_PER_FT = 12 * CM_PER_IN / 100
KM_PER_MI = 5280 * M_PER_FT / 1000
# An hour has 3600 s, a kilometre 1000 m.
KMH_PER_M_S = 3.6

CONVERSIONS: dict[str, Conversion] = {
    "tmin_f": Conversion("tmin_c", 5 / 9, -160 / 9),
    "tmax_f": Conversion("tmax_c", 5 / 9, -160 / 9),
    "precip_in": Conversion("precip_mm", 10 * CM_PER_IN),
    "wind_mph": Conversion("wind_kmh", KM_PER_MI),
    "wind_m_s": Conversion("wind_kmh", KMH_PER_M_S),
    "weight_lb": Conversion("weight_kg", KG_PER_LB),
    "graded_out_lb": Conversion("graded_out_kg", KG_PER_LB),
    "firmness_lb": Conversion("firmness_kg", KG_PER_LB),
    "girth_in": Conversion("girth_cm", CM_PER_IN),
    "elevation_ft": Conversion("elevation_m", M_PER_FT),
    "row_spacing_ft": Conversion("row_spacing_m", M_PER_FT),
    "tree_spacing_ft": Conversion("tree_spacing_m", M_PER_FT),
}


def convert(column: str, values: NDArray[np.float64]) -> tuple[str, NDArray[np.float64]]:
    """Turn a column in another unit into ours.

    Parameters
    ----------
    column : name of the column as it came in, for example `tmin_f`.
    values : the numbers in that column's unit, any shape; nan stays nan.

    Returns
    -------
    The column's name in our units and its values, rounded to 1e-9 so that an exact
    conversion (212 degF) gives an exact value (100 degC). Columns already in our units
    come back unchanged.
    """
    conversion = CONVERSIONS.get(column)
    if conversion is None:
        return column, values
    return conversion.column, np.round(values * conversion.factor + conversion.offset, 9)


def fahrenheit_days_to_celsius_days(value: float) -> float:
    """Degree days in degF d [degF d] to degree days in degC d [degC d]; a difference, no offset."""
    return value * 5 / 9
