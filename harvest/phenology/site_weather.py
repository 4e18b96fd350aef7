"""One site's daily temperatures as an unbroken series, and what may come after it.

Gaps are filled with the site's own mean for that day of the year and marked. What comes after
the as-of date is an ensemble: each past year's weather from the same day on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.thermal import degree_days

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

YEAR_DAYS = 365.25
# How far a forecast looks ahead [d]: citrus takes most of a year from bloom.
HORIZON_DAYS = 365
# A past year counts as a possible future only when no more than this share of it was filled.
MOST_FILLED = 0.1
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

    def position(self, days: NDArray[np.datetime64]) -> NDArray[np.int64]:
        """Index of each day in the series; below 0 or past the end where it is outside."""
        return ((days.astype("datetime64[D]") - self.start) / np.timedelta64(1, "D")).astype(
            np.int64
        )


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
    return (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64)


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


@dataclass(frozen=True)
class HeatAhead:
    """Heat of a site summed over its past and over each possible future.

    `past` [degC d], shape (days + 1,): sum up to the start of each day of the series.
    `ahead` [degC d], shape (members, HORIZON_DAYS): sum from the as-of date to the end of each
    day ahead.
    """

    past: Floats
    ahead: Floats

    def since(self, begin: NDArray[np.int64], end: NDArray[np.int64]) -> Floats:
        """Heat of the days after `begin` up to and including `end` (positions in the series)."""
        return np.asarray(self.past[end + 1] - self.past[begin + 1])


def heat_ahead(weather: SiteWeather, base_c: float, upper_c: float | None) -> HeatAhead:
    """Degree days, single sine, horizontal cut-off, of the past and of every past year's weather
    from the as-of date's day on (Baskerville & Emin 1969).

    A year is a possible future when its days from that date on are on record for the whole
    horizon and at most a tenth of them were filled.
    """
    daily = degree_days(
        weather.tmin_c, weather.tmax_c, base=base_c, upper=upper_c, method="single sine"
    )
    past = np.concatenate([[0.0], np.cumsum(daily)])
    return HeatAhead(past, _futures(past, weather.filled))


def _futures(past: Floats, filled: Bools) -> Floats:
    """Running sums of the days that followed the as-of date's day in each earlier year."""
    length = len(filled)
    years = np.arange(1, int(length / YEAR_DAYS) + 1)
    begins = length - np.round(years * YEAR_DAYS).astype(np.int64)
    begins = begins[(begins >= 0) & (begins + HORIZON_DAYS <= length)]
    if begins.size == 0:
        return np.empty((0, HORIZON_DAYS))
    gaps = np.concatenate([[0], np.cumsum(filled)])
    share = (gaps[begins + HORIZON_DAYS] - gaps[begins]) / HORIZON_DAYS
    begins = begins[share <= MOST_FILLED]
    days = begins[:, None] + np.arange(1, HORIZON_DAYS + 1)
    return np.asarray(past[days] - past[begins][:, None])
