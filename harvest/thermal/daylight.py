"""Day length from latitude and day of year.

Two published models. They differ by their declination of the sun (at most 0.2 h) and by what
they call sunrise: `horizon_deg` is how far the centre of the sun stands below the horizon then.

| horizon_deg | day begins when |
|---|---|
| 0 | the centre of the sun is level with the horizon (the definition of FAO-56) |
| 0.26667 | the top of the sun is level with the horizon |
| 0.8333 | the top of the sun appears, with refraction: the almanac's sunrise (from memory) |
| 6 | civil twilight begins (from memory) |
"""

from __future__ import annotations

import math
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from harvest.errors import QuantityError
from harvest.thermal._checks import FloatArray, broadcast_leading, within

DaylightMethod = Literal["fao56", "cbm"]


def day_length(
    latitude: npt.ArrayLike,
    day_of_year: npt.ArrayLike,
    *,
    method: DaylightMethod = "fao56",
    horizon_deg: float = 0.0,
) -> FloatArray:
    """Return the day's length [h], 0 in polar night and 24 in polar day.

    Parameters
    ----------
    latitude : [deg], south negative.
    day_of_year : 1..366, broadcast against `latitude`.
    method : "fao56" or "cbm", see References.
    horizon_deg : depth of the sun's centre below the horizon at sunrise and sunset [deg],
        -18..18; see the module. FAO-56 is defined for 0 only.

    Raises
    ------
    QuantityError
        A latitude, day or horizon out of range, shapes that do not fit, an unknown method, a
        horizon given with FAO-56.

    References
    ----------
    Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, eq 24, 25, 34; the
    arccosine's argument is clipped to -1..1 beyond the polar circles (not in the paper).
    Forsythe, Rykiel, Stahl, Wu & Schoolfield 1995, Ecol. Modelling 80:87-95, the CBM model.
    """
    where = within(latitude, "latitude", -90, 90, "degrees")
    day = within(day_of_year, "day_of_year", 1, 366, "days")
    broadcast_leading({"latitude": where.shape, "day_of_year": day.shape}, "latitude and day")
    if method not in get_args(DaylightMethod):
        raise QuantityError('one of "fao56", "cbm" is needed', given=repr(method), where="method")
    depth = math.radians(float(within(horizon_deg, "horizon_deg", -18, 18, "degrees")))
    phi = np.radians(where.astype(np.float64))
    if method == "cbm":
        delta = _declination_cbm(day)
        cosine = (math.sin(depth) + np.sin(phi) * np.sin(delta)) / (np.cos(phi) * np.cos(delta))
        return np.asarray(24.0 - 24.0 / math.pi * np.arccos(np.clip(cosine, -1.0, 1.0)))
    if depth != 0.0:
        raise QuantityError(
            "FAO-56 defines day length for the sun's centre on the horizon, horizon_deg 0",
            given=f"{horizon_deg:g}",
            where="horizon_deg",
            todo='Use method "cbm" for another horizon.',
        )
    return np.asarray(24.0 / math.pi * sunset_hour_angle(phi, declination(day)))


def declination(day_of_year: FloatArray) -> FloatArray:
    """Return the sun's declination [rad] on a day of the year (FAO-56 eq 24)."""
    return np.asarray(0.409 * np.sin(2.0 * math.pi / 365.0 * day_of_year - 1.39))


def sunset_hour_angle(latitude_rad: FloatArray, declination_rad: FloatArray) -> FloatArray:
    """Return the hour angle of sunset [rad], 0..pi (FAO-56 eq 25, clipped)."""
    cosine = -np.tan(latitude_rad) * np.tan(declination_rad)
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def _declination_cbm(day_of_year: FloatArray) -> FloatArray:
    """Return the sun's declination [rad] from the angle of the earth's orbit (CBM, eq 1-2)."""
    theta = 0.2163108 + 2.0 * np.arctan(0.9671396 * np.tan(0.00860 * (day_of_year - 186.0)))
    return np.asarray(np.arcsin(0.39795 * np.cos(theta)))
