"""Weather of a site for the tests: as many days as there are values of rain."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from harvest.weather.daily import Daily, Floats

Values = Sequence[float] | Floats


def site_days(
    start: date,
    rain: Values,
    *,
    tmin: Values | None = None,
    tmax: Values | None = None,
    wind: Values | None = None,
) -> Daily:
    """A record from `start` on; temperatures of 5 and 15 degC where none are given, no wind."""
    count = len(rain)
    columns = {
        "tmin_c": np.full(count, 5.0) if tmin is None else np.array(tmin, dtype=float),
        "tmax_c": np.full(count, 15.0) if tmax is None else np.array(tmax, dtype=float),
        "precip_mm": np.array(rain, dtype=float),
        "wind_kmh": np.full(count, np.nan) if wind is None else np.array(wind, dtype=float),
    }
    return Daily(np.datetime64(start, "D"), columns)
