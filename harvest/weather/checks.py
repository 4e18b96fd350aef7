"""Named checks of daily weather. A day that fails one is suspect: kept, shown, left out of sums.

The thresholds with a source follow the checks of GHCN-Daily (Durre et al. 2010, J. Appl.
Meteorol. Climatol. 49:1615-1633; summary at ncei.noaa.gov). The others are ours: chosen so that
76 years at Basel and Washington DC give no false alarm (tests/weather/test_checks.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvest.units import QUANTITIES
from harvest.weather.climate import Climate, climate_of
from harvest.weather.daily import (
    COLUMNS,
    TEMPERATURES,
    Bools,
    Daily,
    Floats,
    as_days,
    month_of,
    on_calendar,
)
from harvest.weather.rules import (
    CLIMATE,
    CROSSED,
    DOUBLE,
    IMPOSSIBLE,
    JUMP,
    MIXED,
    NOUGHT,
    RANGE,
    REPEATED,
    STUCK,
    found_rows,
    nothing_found,
    without_confirmed,
)

# Durre et al. 2010: gap in a month's values, spreads from the usual, spike or dip, range of a day.
GAP_C = 10.0
MOST_SPREADS = 6.0
SPIKE_C = 25.0
WIDEST_RANGE_C = 40.0
LONGEST_STREAK = 20
LEAST_MONTH_VALUES = 90
# Ours: a spike by the site's own day-to-day change, and a milder one that is also out of season.
SPIKE_CHANGES = 6.0
LEAST_SPIKE_C = 15.0
ODD_SPREADS = 3.7
ODD_CHANGES = 3.0
LEAST_CHANGES = 60
# Ours: a run of equal days counts when it would come by chance less than once in a thousand
# records as long as this one, and has at least this many days (both columns equal, one equal).
CHANCE_OF_RUN = 1e-3
PAIR_RUN_DAYS, SINGLE_RUN_DAYS, LEVEL_RUN_DAYS = 5, 8, 3
# Ours: days that fit the climate badly as they are and well when converted, a few near another.
MISFIT_SPREADS, FIT_SPREADS = 4.5, 3.0
UNIT_DAYS, UNIT_REACH_DAYS = 3, 7
LEAST_REPEATED_DAYS = 20


_Marks = dict[str, Bools]


@dataclass(frozen=True)
class _Case:
    """One record under check."""

    rows: pd.DataFrame
    """As they came in, so that a date may be there twice."""
    days: Daily
    climate: Climate
    taken: _Marks
    """What the checks before have marked."""


def find_suspect(days: pd.DataFrame, climate: Climate | None = None) -> pd.DataFrame:
    """Days of one source that fail a check of their own record.

    Parameters
    ----------
    days : columns date, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h] and, where a person
        has confirmed days, confirmed (bool); any order.
    climate : the site's climate from a longer record, for a record too short to have its own.

    Returns
    -------
    Columns date, column, value, rule (a key of `RULES`): the first rule, in their order, that a
    value fails; sorted by date. Confirmed days are not in it.
    """
    if days.empty:
        return nothing_found()
    daily = on_calendar(days)
    taken = {name: np.zeros(len(daily), dtype=bool) for name in COLUMNS}
    case = _Case(days, daily, _reference(daily, climate), taken)
    parts = []
    for rule, check in _CHECKS:
        for name, marked in check(case).items():
            new = marked & ~taken[name] & ~np.isnan(daily.columns[name])
            taken[name] |= new
            if new.any():
                parts.append(found_rows(daily, name, new, rule))
    return without_confirmed(parts, days)


def _reference(daily: Daily, climate: Climate | None) -> Climate:
    """The record's own climate where it is long enough, else the one handed in.

    Coldest and warmest are those of the climate handed in, for months with few values of their
    own; a record's own extremes cannot judge it.
    """
    possible = {
        name: np.where(_impossible(name, values), np.nan, values)
        for name, values in daily.columns.items()
    }
    own = climate_of(Daily(daily.start, possible))
    if climate is None:
        return own
    few = {
        name: np.bincount(month_of(daily.dates)[~np.isnan(values)], minlength=13)[1:]
        < LEAST_MONTH_VALUES
        for name, values in possible.items()
    }
    names = TEMPERATURES
    return Climate(
        {n: np.where(np.isnan(own.centre[n]), climate.centre[n], own.centre[n]) for n in names},
        {n: np.where(np.isnan(own.spread[n]), climate.spread[n], own.spread[n]) for n in names},
        {n: np.where(few[n], climate.coldest[n], -np.inf) for n in names},
        {n: np.where(few[n], climate.warmest[n], np.inf) for n in names},
    )


def _check_doubles(case: _Case) -> _Marks:
    """Dates that stand there more than once with values that differ."""
    names = [name for name in COLUMNS if name in case.rows]
    if case.rows["date"].is_unique:
        return {}
    plain = case.rows[["date", *names]].drop_duplicates()
    twice = plain.loc[plain["date"].duplicated(keep=False), "date"].unique()
    marked = np.isin(case.days.dates, as_days(np.asarray(twice, dtype="datetime64[s]")))
    return dict.fromkeys(names, marked)


def _impossible(name: str, values: Floats) -> Bools:
    limits = QUANTITIES[name]
    return np.asarray((values < limits.low) | (values > limits.high))


def _check_impossible(case: _Case) -> _Marks:
    return {name: _impossible(name, values) for name, values in case.days.columns.items()}


def _check_crossed(case: _Case) -> _Marks:
    low, high = (case.days.columns[name] for name in TEMPERATURES)
    crossed = low > high
    return {"tmin_c": crossed, "tmax_c": crossed}


def _check_nought(case: _Case) -> _Marks:
    low, high = (case.days.columns[name] for name in TEMPERATURES)
    both = np.zeros(len(low), dtype=bool)
    for mark in (0.0, -17.8):
        both |= (np.abs(low - mark) < 0.03) & (np.abs(high - mark) < 0.03)
    return {"tmin_c": both, "tmax_c": both}


def _check_range(case: _Case) -> _Marks:
    low, high = (case.days.columns[name] for name in TEMPERATURES)
    near = np.fmax(low, np.fmax(_shifted(low, 1), _shifted(low, -1)))
    return {"tmax_c": high - near >= WIDEST_RANGE_C}


def _check_climate(case: _Case) -> _Marks:
    found = {}
    month = month_of(case.days.dates)
    for name in TEMPERATURES:
        values = case.days.columns[name]
        marked = np.abs(case.climate.departure(name, values, case.days)) >= MOST_SPREADS
        for number in range(1, 13):
            mine = month == number
            low, high = _gap_limits(values[mine])
            low = np.fmax(low, case.climate.coldest[name][number - 1] - GAP_C)
            high = np.fmin(high, case.climate.warmest[name][number - 1] + GAP_C)
            marked[mine] |= (values[mine] <= low) | (values[mine] >= high)
        found[name] = marked
    return found


def _gap_limits(values: Floats) -> tuple[float, float]:
    """Values at or beyond which a month's values stand apart from the rest by the gap."""
    ordered = np.sort(values[~np.isnan(values)])
    if len(ordered) < LEAST_MONTH_VALUES:
        return -np.inf, np.inf
    gaps = np.flatnonzero(np.diff(ordered) >= GAP_C)
    middle = len(ordered) // 2
    below, above = gaps[gaps < middle], gaps[gaps >= middle]
    low = float(ordered[below[-1]]) if below.size else -np.inf
    high = float(ordered[above[0] + 1]) if above.size else np.inf
    return low, high


def _check_jump(case: _Case) -> _Marks:
    found = {}
    for name in TEMPERATURES:
        values = np.where(case.taken[name], np.nan, case.days.columns[name])
        before, after = values - _shifted(values, 1), values - _shifted(values, -1)
        spike = np.where(before * after > 0, np.minimum(np.abs(before), np.abs(after)), 0.0)
        marked, limit = np.zeros(len(values), dtype=bool), SPIKE_C
        known = np.abs(before[~np.isnan(before)])
        if len(known) >= LEAST_CHANGES:
            usual = 1.4826 * float(np.median(known))
            limit = min(SPIKE_C, max(SPIKE_CHANGES * usual, LEAST_SPIKE_C))
            away = case.climate.departure(name, values, case.days)
            # One night's frost between mild nights does happen; it must not be lost here.
            away = away if name == "tmin_c" else np.abs(away)
            marked |= (away >= ODD_SPREADS) & (spike >= ODD_CHANGES * usual)
        marked |= spike >= limit
        found[name] = marked | (_lone_step(np.where(marked, np.nan, values), name) >= limit)
    return found


def _lone_step(values: Floats, name: str) -> Floats:
    """Distance of each day from its neighbour, where it has but one: at an end of the record or
    beside a hole. A fall of the minimum is none, as it may be a frost."""
    before, after = values - _shifted(values, 1), values - _shifted(values, -1)
    away = np.fmax(before, after)
    lone = np.isnan(before) != np.isnan(after)
    return np.where(lone, away if name == "tmin_c" else np.abs(away), 0.0)


def _check_stuck(case: _Case) -> _Marks:
    low, high = (case.days.columns[name] for name in TEMPERATURES)
    same = {name: _shifted(values, 1) == values for name, values in case.days.columns.items()}
    pair = _long_runs(same["tmin_c"] & same["tmax_c"], PAIR_RUN_DAYS)
    level = _runs(low == high, LEVEL_RUN_DAYS)
    return {name: pair | level | _long_runs(same[name], SINGLE_RUN_DAYS) for name in TEMPERATURES}


def _long_runs(again: Bools, least: int) -> Bools:
    """Days in runs of equal days that are too long for chance, first day of the run included.

    `again` marks a day equal to the day before it.
    """
    count = len(again)
    short = again & ~_runs(again, least - 1)
    chance = (short.sum() + 1) / count
    days = least
    while days < LONGEST_STREAK and count * chance ** (days - 1) >= CHANCE_OF_RUN:
        days += 1
    run = _runs(again, days - 1)
    return np.asarray(run | np.append(run[1:] & ~again[:-1], False))


def _runs(marked: Bools, least: int) -> Bools:
    """Marked days that stand in an unbroken row of at least `least`."""
    edges = np.diff(np.concatenate([[0], marked.astype(np.int8), [0]]))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    kept = np.zeros(len(marked) + 1, dtype=np.int64)
    long = ends - begins >= least
    np.add.at(kept, begins[long], 1)
    np.add.at(kept, ends[long], -1)
    return np.cumsum(kept)[:-1] > 0


def _check_repeated(case: _Case) -> _Marks:
    """Months alike in every value, by the bytes of their first 28 days."""
    month = case.days.dates.astype("datetime64[M]").astype(np.int64)
    begins = np.flatnonzero(np.diff(month, prepend=month[0] - 1))
    begins = begins[begins + 28 <= len(month)]
    begins = begins[month[begins + 27] == month[begins]]
    rows = begins[:, None] + np.arange(28)
    pair = np.stack([case.days.columns[name][rows] for name in TEMPERATURES], axis=1)
    full = (~np.isnan(pair)).sum(axis=2).min(axis=1) >= LEAST_REPEATED_DAYS
    varied = np.nanmax(np.where(np.isnan(pair), -np.inf, pair), axis=2) > np.nanmin(
        np.where(np.isnan(pair), np.inf, pair), axis=2
    )
    usable = np.flatnonzero(full & varied.all(axis=1))
    keys = pd.Series([pair[row].tobytes() for row in usable], dtype=object)
    again = usable[keys.duplicated(keep=False).to_numpy(dtype=bool)]
    marked = np.isin(month, month[begins[again]])
    return {"tmin_c": marked, "tmax_c": marked}


def _check_units(case: _Case) -> _Marks:
    """Days near one another that fit only when read in another unit."""
    given = _misfit(case, lambda values: values)
    marked = np.zeros(len(case.days), dtype=bool)
    for read_as in _READINGS:
        other = _misfit(case, read_as)
        odd = np.flatnonzero((given >= MISFIT_SPREADS) & (other <= FIT_SPREADS))
        for group in np.split(odd, np.flatnonzero(np.diff(odd) > UNIT_REACH_DAYS) + 1):
            if (given[group] >= MOST_SPREADS).sum() >= UNIT_DAYS:
                span = slice(group[0], group[-1] + 1)
                marked[span] |= other[span] < given[span]
    return {"tmin_c": marked, "tmax_c": marked}


def _misfit(case: _Case, read_as: Callable[[Floats], Floats]) -> Floats:
    """Spreads from the usual of the worse of minimum and maximum; nan where neither is known."""
    away = [
        np.abs(case.climate.departure(name, read_as(case.days.columns[name]), case.days))
        for name in TEMPERATURES
    ]
    return np.asarray(np.fmax(away[0], away[1]))


_READINGS: tuple[Callable[[Floats], Floats], ...] = (
    lambda values: (values - 32) * 5 / 9,
    lambda values: values * 9 / 5 + 32,
    lambda values: values / 10,
)

_CHECKS: tuple[tuple[str, Callable[[_Case], _Marks]], ...] = (
    (DOUBLE, _check_doubles),
    (MIXED, _check_units),
    (IMPOSSIBLE, _check_impossible),
    (CROSSED, _check_crossed),
    (NOUGHT, _check_nought),
    (RANGE, _check_range),
    (CLIMATE, _check_climate),
    (JUMP, _check_jump),
    (STUCK, _check_stuck),
    (REPEATED, _check_repeated),
)


def _shifted(values: Floats, by: int) -> Floats:
    """Each day's value `by` days earlier; nan at the end that has none."""
    out = np.full(len(values), np.nan)
    if by > 0:
        out[by:] = values[:-by]
    else:
        out[:by] = values[-by:]
    return out
