"""One site's daily temperatures as an unbroken series.

Gaps are filled with the site's own mean for that day of the year and marked. Where a weather
forecast was on record by the as-of date, its days follow the last measured one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SMOOTHING_DAYS = 15
# Days ahead of the as-of date up to which a stored forecast is taken; beyond about a week one is
# little better than the usual weather (common practice, no source).
FORECAST_DAYS = 7


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
    def last_known(self) -> np.datetime64:
        """Last day with a temperature, measured or of a stored forecast."""
        return self.start + np.timedelta64(int(np.flatnonzero(~self.filled)[-1]), "D")


def site_weather(
    weather: pd.DataFrame, as_of: np.datetime64, issues: pd.DataFrame | None = None
) -> SiteWeather | None:
    """The series of one site to the day before `as_of`, or further where a forecast is on record.

    Parameters
    ----------
    weather : rows of one site before `as_of`, columns date, tmin_c, tmax_c [degC].
    issues : forecast days of the site, columns issued (on or before `as_of`), date, tmin_c,
        tmax_c; of a day forecast more than once the latest issue counts.

    Returns None without a measured day.
    """
    known = weather.dropna(subset=["tmin_c", "tmax_c"])
    if known.empty:
        return None
    today = as_of.astype("datetime64[D]")
    if issues is not None:
        known = pd.concat([known, _standing_forecast(issues, known["date"].max(), today)])
    days = known["date"].to_numpy().astype("datetime64[D]")
    start = days.min()
    end = max(today, days.max() + np.timedelta64(1, "D"))
    length = int((end - start) / np.timedelta64(1, "D"))
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


def _standing_forecast(
    issues: pd.DataFrame, measured_to: pd.Timestamp, today: np.datetime64
) -> pd.DataFrame:
    """Forecast days in unbroken sequence after the last measured one, a week ahead at most."""
    last = pd.Timestamp(today) + pd.Timedelta(days=FORECAST_DAYS - 1)
    days = issues[(issues["date"] > measured_to) & (issues["date"] <= last)]
    days = days[days["issued"] <= pd.Timestamp(today)].dropna(subset=["tmin_c", "tmax_c"])
    days = days.sort_values(["date", "issued"], kind="stable").drop_duplicates("date", keep="last")
    since = (days["date"] - measured_to).dt.days.to_numpy()
    unbroken = int((since == np.arange(1, len(days) + 1)).cumprod().sum())
    return days[["date", "tmin_c", "tmax_c"]].head(unbroken)


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
