"""How far a season has come at a site: warmth and chill so far beside the same days of past years.

Years are laid side by side from one day of the calendar on. A missing day of a year is taken as
usual for that day over the other years; a past year with more than one in twenty missing is left
out, and the running one says how many of its days were.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial

import numpy as np
from numpy.typing import NDArray

from harvest.care.climate_years import (
    CHILL_MOST_DAYS,
    MOST_MISSING,
    chill_start,
)
from harvest.seasons import calendar_season, season_start
from harvest.thermal import chill_portions, degree_days
from harvest.weather.daily import Daily
from harvest.weather.hours import hours_of, on_one_level

Floats = NDArray[np.float64]
Running = Callable[[Floats, Floats, list[date]], Floats]
"""Running totals of years from their minima, maxima, shape (years, days), and first days."""

YEAR_DAYS = 365
# Past years from which a usual course can be told.
LEAST_YEARS = 3
# Share of the year's warmth below which days ahead or behind tell nothing yet [1].
TOO_EARLY = 0.02


@dataclass(frozen=True)
class Course:
    """A running total day by day, shape (days,), from `first` on.

    `now` to the last day that is known, nan after it; `ahead` where a forecast carries it on,
    else nan; `least`, `median`, `most` of the past years; `filled` days of `now` taken as usual.
    """

    first: date
    now: Floats
    ahead: Floats
    least: Floats
    median: Floats
    most: Floats
    years: int
    filled: int

    @property
    def last_day(self) -> date | None:
        """Last day that `now` knows."""
        known = np.flatnonzero(~np.isnan(self.now))
        return None if not known.size else self.first + timedelta(days=int(known[-1]))

    @property
    def total(self) -> float | None:
        """The total by `last_day`."""
        known = self.now[~np.isnan(self.now)]
        return float(known[-1]) if known.size else None

    @property
    def usual(self) -> float | None:
        """The median of past years by `last_day`; None where they are too few."""
        last = self.last_day
        if last is None or self.years < LEAST_YEARS:
            return None
        return float(self.median[(last - self.first).days])

    @property
    def days_ahead(self) -> int | None:
        """Days by which the total is ahead of the median year; None while that tells nothing."""
        last, total, usual = self.last_day, self.total, self.usual
        if last is None or total is None or usual is None:
            return None
        if max(total, usual) < TOO_EARLY * self.median[-1]:
            return None
        usual_day = float(np.interp(total, self.median, np.arange(len(self.median))))
        return round(usual_day - (last - self.first).days)

    def on(self, day: date) -> float | None:
        """The running year's total at the end of a day; None where it is not known."""
        at = (day - self.first).days
        if not 0 <= at < len(self.now):
            return None
        value = self.now[at]
        return None if np.isnan(value) else float(value)


def heat_course(
    record: Daily,
    ahead: Daily | None,
    as_of: date,
    latitude: float,
    limits: tuple[float, float | None],
) -> Course:
    """Degree days (single sine) from the first day of the season on [degC d].

    Parameters
    ----------
    record : days before the as-of date. ahead : what is forecast from it on.
    limits : base and upper threshold [degC], no upper where None.
    """
    season = calendar_season(as_of, latitude)
    first_days = _first_days(record, season, latitude, season_start)

    def running(low: Floats, high: Floats, _: list[date]) -> Floats:
        daily = degree_days(low, high, base=limits[0], upper=limits[1], method="single sine")
        return np.cumsum(daily, axis=-1)

    return _course(record, ahead, first_days, YEAR_DAYS, running)


def chill_course(record: Daily, ahead: Daily | None, as_of: date, latitude: float) -> Course:
    """Chill portions from 1 October (in the south 1 April) to the end of spring.

    From that day on the winter is the one that began with it, before it the last one. Hours
    measured at the site count as measured; the others are worked out from minimum and maximum, and
    what they make of a day is brought to the level of measured ones.
    """
    season = calendar_season(as_of, latitude)
    if as_of >= chill_start(season + 1, latitude):
        season += 1
    first_days = _first_days(record, season, latitude, chill_start)
    first = first_days[0].timetuple().tm_yday - 1
    slot = (first + np.arange(CHILL_MOST_DAYS)) % YEAR_DAYS

    def running(low: Floats, high: Floats, first_of: list[date]) -> Floats:
        hours = hours_of(low, high, latitude, slot + 1)
        measured = None
        if record.hours is not None:
            measured = np.array([record.measured_hours(day, CHILL_MOST_DAYS) for day in first_of])
        return on_one_level(partial(chill_portions, every=24), hours, measured, slot)

    return _course(record, ahead, first_days, CHILL_MOST_DAYS, running)


def heat_between(
    record: Daily, spans: Sequence[tuple[date, date]], limits: tuple[float, float | None]
) -> Floats:
    """Degree days from the day after a first date to a last one [degC d], shape (spans,).

    nan where more than one day in twenty is missing; the others are taken as the mean of the rest.
    """
    daily = degree_days(
        record.columns["tmin_c"],
        record.columns["tmax_c"],
        base=limits[0],
        upper=limits[1],
        method="single sine",
    )
    sums = np.full(len(spans), np.nan)
    for row, (first, last) in enumerate(spans):
        begin, end = record.position(first) + 1, record.position(last) + 1
        if begin < 0 or end > len(daily) or end <= begin:
            continue
        part = daily[begin:end]
        missing = np.isnan(part)
        if missing.mean() <= MOST_MISSING:
            sums[row] = part[~missing].mean() * len(part)
    return sums


def _first_days(
    record: Daily, season: int, latitude: float, start: Callable[[int, float], date]
) -> list[date]:
    """First days of the running year and of those before it that the record reaches."""
    seasons = range(season, record.years.start - 1, -1)
    return [start(each, latitude) for each in seasons]


def _course(
    record: Daily,
    ahead: Daily | None,
    first_days: Sequence[date],
    length: int,
    running: Running,
) -> Course:
    """Running totals of the first of some years, and of the others beside it."""
    low, high = (
        np.array([record.values(name, first, length) for first in first_days])
        for name in ("tmin_c", "tmax_c")
    )
    missing = np.isnan(low) | np.isnan(high)
    past = np.flatnonzero(missing[1:].mean(axis=1) <= MOST_MISSING) + 1
    known = np.flatnonzero(~missing[0])
    end = int(known[-1]) + 1 if known.size else 0
    if ahead is not None:
        forecast = [ahead.values(name, first_days[0], length) for name in ("tmin_c", "tmax_c")]
        for values, coming in zip((low, high), forecast, strict=True):
            values[0, end:] = coming[end:]
    reach = end + int(np.cumprod(~np.isnan(low[0, end:] + high[0, end:])).sum())
    low, high = (_filled(each, past) for each in (low, high))
    shown = np.r_[0, past]
    first_of = [first_days[at] for at in shown]
    totals = running(low[shown], np.maximum(high, low)[shown], first_of)
    now, carried = totals[0].copy(), totals[0].copy()
    now[end:] = np.nan
    carried[: max(end - 1, 0)] = np.nan
    carried[reach if reach > end else 0 :] = np.nan
    others = totals[1:]
    nothing = np.full(length, np.nan)
    return Course(
        first=first_days[0],
        now=now,
        ahead=carried,
        least=others.min(axis=0) if len(others) else nothing,
        median=np.median(others, axis=0) if len(others) else nothing,
        most=others.max(axis=0) if len(others) else nothing,
        years=len(others),
        filled=int(missing[0, :end].sum()),
    )


def _filled(table: Floats, past: NDArray[np.int64]) -> Floats:
    """Missing days as usual for that day; where no year has it, as the nearest day that one has."""
    rows = table[np.r_[0, past]] if len(past) else table[:1]
    count = (~np.isnan(rows)).sum(axis=0)
    usual = np.nansum(rows, axis=0) / np.maximum(count, 1)
    known = np.flatnonzero(count)
    if known.size:
        usual = np.interp(np.arange(table.shape[1]), known, usual[known])
    return np.where(np.isnan(table), usual, table)
