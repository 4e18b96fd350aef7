"""One site's daily temperatures as the forecast counts them.

Gaps are filled by the site's rules, and marked. Where a weather forecast was on record by the
as-of date, its days follow the last measured one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.weather.daily import DayHours
from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.site_record import SiteRecords

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# Days ahead of the as-of date up to which a stored forecast is taken; beyond about a week one is
# little better than the usual weather (common practice, no source).
FORECAST_DAYS = 7
# What a day must rest on to say how far the weather is known.
KNOWN = ("", "interpolate", "neighbours")


@dataclass(frozen=True)
class SiteWeather:
    """Daily minimum and maximum [degC] from `start` on, nan where missing and not filled.

    `rule` says what each day rests on (`harvest.weather.site_record.WholeRecord`); `hours`, shape
    (days, 24), holds the temperatures measured every hour [degC], nan for the others.
    """

    start: np.datetime64
    tmin_c: Floats
    tmax_c: Floats
    rule: NDArray[np.object_]
    own_years: float
    lenders: tuple[str, ...] = ()
    hours: Floats | None = None

    @property
    def filled(self) -> Bools:
        """Days that were not measured at the site, nor forecast for it."""
        return np.asarray(self.rule != "")

    @property
    def missing(self) -> Bools:
        """Days without a temperature that no rule filled."""
        return np.asarray(self.rule == "none")

    @cached_property
    def last_known(self) -> np.datetime64:
        """Last day with a temperature of that day: measured, between two, or at a neighbour."""
        return self.start + np.timedelta64(int(np.flatnonzero(np.isin(self.rule, KNOWN))[-1]), "D")


def site_weather(
    places: SiteRecords,
    site: str,
    as_of: np.datetime64,
    issues: pd.DataFrame | None = None,
    rules: Sequence[str] = DEFAULT_RULES,
    hours: DayHours | None = None,
) -> SiteWeather | None:
    """The series of one site to the day before `as_of`, or further where a forecast is on record.

    Parameters
    ----------
    places : the sites' measured days from before `as_of`.
    issues : forecast days of the site, columns issued (on or before `as_of`), date, tmin_c,
        tmax_c; of a day forecast more than once the latest issue counts.
    rules : how gaps are filled (`harvest.weather.gaps`).
    hours : temperatures measured every hour, from before `as_of`.

    Returns None where no day is known.
    """
    today = as_of.astype("datetime64[D]")
    measured_to = places.measured_to(site)
    forecast = None
    if issues is not None and measured_to is not None:
        forecast = _standing_forecast(issues, pd.Timestamp(measured_to), today)
    whole = places.whole(site, today, rules, forecast)
    if whole is None or not np.isin(whole.rule, KNOWN).any():
        return None
    days, rule = whole.days, whole.rule
    length = len(rule)
    if rule[-1] == "none":  # after the last known day the usual year follows, by whatever rule
        length = int(np.flatnonzero(np.isin(rule, KNOWN))[-1]) + 1
    return SiteWeather(
        days.start,
        days.columns["tmin_c"][:length],
        days.columns["tmax_c"][:length],
        rule[:length],
        whole.own_years,
        whole.lenders,
        None if hours is None else hours.between(days.start, length),
    )


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
