"""What may come after the as-of date: stored forecast days first, then past years as an ensemble.

Each past year's weather from the same day of the year on is one possible future. Years count
alike or the recent decades more, and the warming of the record can be added back to the earlier
ones. A site with a short record borrows the past of a neighbour or a reference series, brought
to its own level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvest.errors import QuantityError
from harvest.weather.daily import TEMPERATURES, Bools, Daily, Days, Floats, Ints, as_days
from harvest.weather.neighbours import brought_to

YEAR_DAYS = 365.25
WEIGHTS: dict[str, str] = {
    "all years": "Every past year counts alike.",
    "recent decades": "A year counts half for every fifteen years it lies back.",
}
HALVING_YEARS = 15.0
# A past year counts as a possible future when no more than this share of it was filled.
MOST_FILLED = 0.1
# Fewest years from which a warming is read.
LEAST_TREND_YEARS = 20


@dataclass(frozen=True)
class Ahead:
    """Possible weather from the as-of date on.

    `tmin_c`, `tmax_c` [degC] have shape (members, horizon); `weight`, shape (members,), adds up
    to 1; `years_back` says how many years earlier a member's weather was; the first
    `forecast_days` days are a stored forecast, the same in every member; `borrowed` marks members
    from another place's record.
    """

    start: np.datetime64
    tmin_c: Floats
    tmax_c: Floats
    weight: Floats
    years_back: Ints
    borrowed: Bools
    forecast_days: int
    warming_c_per_decade: float
    """What was added back [degC per 10 years]; 0 where nothing was, nan where it was asked for
    but the record is too short to tell."""

    def __len__(self) -> int:
        return len(self.weight)


@dataclass(frozen=True)
class Choice:
    """How the ensemble is made; which choice serves best is a question of scores, not of taste."""

    weights: str = "all years"
    warming: bool = False
    horizon_days: int = 365
    most_years: int = 40
    least_years: int = 10
    """Own past years below which another record is borrowed from."""


_DEFAULT = Choice()


def weather_ahead(
    past: Daily,
    filled: Bools,
    *,
    choice: Choice = _DEFAULT,
    forecast: Daily | None = None,
    borrow: Daily | None = None,
    rise_m: float = 0.0,
) -> Ahead:
    """The ensemble that follows the last day of a record.

    Parameters
    ----------
    past : the site's record up to the day before the as-of date, gaps filled; nan where unknown.
    filled : days of it that were filled, shape (days,).
    choice : weights, warming, horizon.
    forecast : stored forecast days from the as-of date on (see `forecast_on`); counted until its
        first missing day.
    borrow : a longer record of another place, used where the site has fewer than
        `choice.least_years` past years; its days from the as-of date on are never looked at.
    rise_m : how much higher the site lies than that place [m], where they share too few days.

    Raises QuantityError for weights that have no such name.
    """
    if choice.weights not in WEIGHTS:
        raise QuantityError(f"weights are {' or '.join(WEIGHTS)}", given=choice.weights)
    start = past.start + len(past)
    own, back = _members(past, filled, start, choice)
    borrowed = np.zeros(len(back), dtype=bool)
    warming = 0.0
    trend_from = past
    if borrow is not None and len(back) < choice.least_years:
        known = borrow.between(borrow.start, max(0, int((start - borrow.start).astype(np.int64))))
        level = brought_to(past, known, rise_m)
        other, other_back = _members(level, np.isnan(level.columns["tmin_c"]), start, choice)
        new = ~np.isin(other_back, back)
        own = {name: np.concatenate([own[name], other[name][new]]) for name in own}
        back = np.concatenate([back, other_back[new]])
        borrowed = np.concatenate([borrowed, np.ones(int(new.sum()), dtype=bool)])
        trend_from = level
    if choice.warming and len(back):
        warming = _warming(trend_from)
        own = {name: own[name] + np.nan_to_num(warming) * back[:, None] / 10 for name in own}
    known_days = _put_forecast(own, forecast, start)
    weight = np.ones(len(back))
    if choice.weights == "recent decades":
        weight = 0.5 ** (back / HALVING_YEARS)
    return Ahead(
        start=start,
        tmin_c=own["tmin_c"],
        tmax_c=own["tmax_c"],
        weight=weight / weight.sum() if len(weight) else weight,
        years_back=back,
        borrowed=borrowed,
        forecast_days=known_days,
        warming_c_per_decade=warming,
    )


def forecast_on(issues: pd.DataFrame, as_of: np.datetime64) -> Daily | None:
    """The forecast that stood on a day: for each day ahead its latest issue up to then.

    Parameters
    ----------
    issues : one site's forecast days of every issue, columns issued, date, tmin_c, tmax_c.
    as_of : issues after it are not looked at, days before it are left out.

    Returns days from `as_of` on, or None when none has both temperatures on that first day.
    """
    day = as_of.astype("datetime64[D]")
    dates, issued = (as_days(issues[name].to_numpy()) for name in ("date", "issued"))
    standing = issues[(issued <= day) & (dates >= day)].sort_values(["date", "issued"])
    latest = standing.drop_duplicates("date", keep="last")
    if latest.empty:
        return None
    at = as_days(latest["date"].to_numpy()).astype(np.int64) - day.astype(np.int64)
    columns = {name: np.full(int(at.max()) + 1, np.nan) for name in TEMPERATURES}
    for name in TEMPERATURES:
        columns[name][at] = latest[name].to_numpy(dtype=np.float64)
    found = Daily(day, columns)
    return found if _leading(found) > 0 else None


def _leading(days: Daily) -> int:
    """Days at the start that have both temperatures, up to the first that has not."""
    lacking = np.isnan(days.columns["tmin_c"]) | np.isnan(days.columns["tmax_c"])
    return int(np.argmax(lacking)) if lacking.any() else len(days)


def _put_forecast(members: dict[str, Floats], forecast: Daily | None, start: np.datetime64) -> int:
    """Write the forecast's days over every member's; how many there were."""
    if forecast is None:
        return 0
    horizon = members["tmin_c"].shape[1]
    from_start = forecast.between(start, horizon)
    days = _leading(from_start)
    for name in TEMPERATURES:
        members[name][:, :days] = from_start.columns[name][:days]
    return days


def _members(
    past: Daily, filled: Bools, start: np.datetime64, choice: Choice
) -> tuple[dict[str, Floats], Ints]:
    """What followed the same day in each earlier year; shape (members, horizon), years back."""
    length, horizon = len(past), choice.horizon_days
    end = int((start - past.start).astype(np.int64))
    back = np.arange(1, choice.most_years + 1)
    begins = np.round(end - back * YEAR_DAYS).astype(np.int64)
    possible = (begins >= 0) & (begins + horizon <= length)
    back, begins = back[possible], begins[possible]
    holes = np.concatenate([[0], np.cumsum(filled)])
    share = (holes[begins + horizon] - holes[begins]) / horizon
    rows = begins[:, None] + np.arange(horizon)
    values = {name: past.columns[name][rows] for name in TEMPERATURES}
    whole = ~np.isnan(values["tmin_c"] + values["tmax_c"]).any(axis=1)
    kept = whole & (share <= MOST_FILLED)
    return {name: values[name][kept] for name in TEMPERATURES}, back[kept]


def _warming(past: Daily) -> float:
    """Change of the mean temperature [degC per 10 years]: median slope between all pairs of years.

    Theil 1950, Sen 1968 (J. Am. Stat. Assoc. 63:1379-1389). Years are counted back from the end
    of the record, so that each is whole. nan with fewer than 20 of them.
    """
    mean = (past.columns["tmin_c"] + past.columns["tmax_c"]) / 2
    count = int(len(mean) / YEAR_DAYS)
    edges = len(mean) - np.round(np.arange(count + 1) * YEAR_DAYS).astype(np.int64)
    sums = np.concatenate([[0.0], np.cumsum(np.nan_to_num(mean))])
    known = np.concatenate([[0], np.cumsum(~np.isnan(mean))])
    days = known[edges[:-1]] - known[edges[1:]]
    whole = days > (1 - MOST_FILLED) * YEAR_DAYS
    if whole.sum() < LEAST_TREND_YEARS:
        return float("nan")
    yearly = (sums[edges[:-1]] - sums[edges[1:]])[whole] / days[whole]
    year = -np.flatnonzero(whole).astype(float)
    first, second = np.triu_indices(len(year), 1)
    slopes = (yearly[second] - yearly[first]) / (year[second] - year[first])
    return float(np.median(slopes)) * 10


def dates_ahead(ahead: Ahead) -> Days:
    """The days of the ensemble, shape (horizon,)."""
    return np.asarray(ahead.start + np.arange(ahead.tmin_c.shape[1]))
