"""One site's daily temperatures as an unbroken series.

Gaps are filled with the site's own mean for that day of the year and marked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SMOOTHING_DAYS = 15


@dataclass(frozen=True)
class SiteWeather:
    """Daily minimum and maximum [degC] from `start` on, without gaps; `filled` marks the gaps."""

    start: np.datetime64
    tmin_c: Floats
    tmax_c: Floats
    filled: Bools

    @property
    def end(self) -> np.datetime64:
        """The day after the last day of the series."""
        return self.start + np.timedelta64(len(self.tmin_c), "D")

    @property
    def last_measured(self) -> np.datetime64:
        """Last day with a measured temperature."""
        return self.start + np.timedelta64(int(np.flatnonzero(~self.filled)[-1]), "D")


def site_weather(weather: pd.DataFrame, as_of: np.datetime64) -> SiteWeather | None:
    """The series of one site up to the day before `as_of`, or None without a measured day.

    Parameters
    ----------
    weather : rows of one site before `as_of`, columns date, tmin_c, tmax_c [degC].
    """
    known = weather.dropna(subset=["tmin_c", "tmax_c"])
    if known.empty:
        return None
    days = known["date"].to_numpy().astype("datetime64[D]")
    start = days.min()
    length = int((as_of.astype("datetime64[D]") - start) / np.timedelta64(1, "D"))
    at = ((days - start) / np.timedelta64(1, "D")).astype(np.int64)
    values = np.full((2, length), np.nan)
    values[0, at] = known["tmin_c"].to_numpy()
    values[1, at] = known["tmax_c"].to_numpy()
    filled = np.isnan(values[0])
    if filled.any():
        slot = _day_of_year_slot(start, length)
        for series in values:
            series[filled] = _climatology(series, slot)[slot[filled]]
    return SiteWeather(start, values[0], values[1], filled)


def _day_of_year_slot(start: np.datetime64, length: int) -> NDArray[np.int64]:
    """Day of the year 0..365 of each day."""
    days = start + np.arange(length)
    new_year = days.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray((days - new_year).astype(np.int64))


def _climatology(series: Floats, slot: NDArray[np.int64]) -> Floats:
    """Mean of each day of the year, smoothed over its neighbours, shape (366,)."""
    known = ~np.isnan(series)
    total = np.bincount(slot[known], series[known], minlength=366)
    count = np.bincount(slot[known], minlength=366).astype(float)
    window = SMOOTHING_DAYS
    while True:
        near = np.ones(2 * window + 1)
        padded = [np.concatenate([a[-window:], a, a[:window]]) for a in (total, count)]
        sums, counts = (np.convolve(a, near, mode="valid") for a in padded)
        if counts.min() > 0 or window >= 183:
            return np.where(counts > 0, sums / np.maximum(counts, 1), total.sum() / count.sum())
        window = min(2 * window, 183)
