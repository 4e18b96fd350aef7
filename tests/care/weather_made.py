"""Weather of a site for the tests: as many days as there are values of rain."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from harvest.care.site_days import SiteDays


def site_days(
    start: date,
    rain: Sequence[float],
    *,
    tmin: Sequence[float] | None = None,
    tmax: Sequence[float] | None = None,
    wind: Sequence[float] | None = None,
) -> SiteDays:
    """A record from `start` on; temperatures of 5 and 15 degC where none are given."""
    count = len(rain)
    low = np.full(count, 5.0) if tmin is None else np.array(tmin, dtype=float)
    high = np.full(count, 15.0) if tmax is None else np.array(tmax, dtype=float)
    felt = None if wind is None else np.array(wind, dtype=float)
    return SiteDays(start, low, high, np.array(rain, dtype=float), felt)
