"""The years of a place laid side by side: chill, heat and cold nights of each season.

A season is laid out from the start of its chill: 1 October of the year before in the north, 1
April in the south, for 640 days, so that citrus picked in the next summer is still in it. Chill is
counted for five months from there (to the end of February in the north, of August in the south).
Missing days are filled by the site's gap rules; a season with more than one in twenty missing in
its first fifteen months, or with one that no rule fills, is left out. Days still to come are taken
as usual. Hours measured at the site count as measured; the others are worked out, and what they
make of a day is brought to the level of measured ones, so that years with and without can be
compared.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from harvest.seasons import is_southern, season_start
from harvest.thermal import (
    chill_hours,
    chill_portions,
    degree_days,
    growing_degree_hours,
)
from harvest.weather.daily import Daily
from harvest.weather.hours import hours_of, on_one_level

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DAYS, CORE_DAYS = 640, 457
CHILL_DAYS = 151
# Chill may go on gathering for a late bloomer until the end of spring [d].
CHILL_MOST_DAYS = 243
MOST_MISSING = 0.05
NORMAL_YEARS = 30  # WMO-No. 1203: a climatological normal is of thirty years


@dataclass(frozen=True)
class ClimateYears:
    """Seasons of one place, shape (seasons, 640 days), warmed by `warming_c` throughout.

    `tmin_c`, `tmax_c` [degC]; `to_season` days from the layout's first day to the season's.
    """

    seasons: Ints
    latitude: float
    warming_c: float
    tmin_c: Floats
    tmax_c: Floats
    filled: float
    """Share of days that were missing [1]."""
    hours_c: Floats | None = None
    """Measured hours [degC], shape (seasons, 640, 24), nan where worked out."""
    _warmth: dict[tuple[float, float | None], Floats] = field(
        default_factory=dict, repr=False, compare=False
    )

    def __len__(self) -> int:
        return len(self.seasons)

    @property
    def to_season(self) -> int:
        """Position of the season's first day (1 January, 1 July) in the layout [d]."""
        return int((season_start(2026, self.latitude) - chill_start(2026, self.latitude)).days)

    @property
    def _slot(self) -> Ints:
        """Day of the year of each day of the layout [d, 0 on 1 January]."""
        first = chill_start(2026, self.latitude).timetuple().tm_yday
        return (first - 1 + np.arange(DAYS)) % 365

    @cached_property
    def _hours(self) -> Floats:
        """Hours worked out [degC], shape (seasons, 640 * 24)."""
        return hours_of(self.tmin_c, self.tmax_c, self.latitude, self._slot + 1)

    def _by_day(self, running: Callable[[Floats], Floats], days: int) -> Floats:
        measured = None if self.hours_c is None else self.hours_c[:, :days]
        return on_one_level(running, self._hours[:, : days * 24], measured, self._slot[:days])

    @cached_property
    def portions(self) -> Floats:
        """Running chill portions at the end of each day, shape (seasons, 243) [chill portion]."""
        return self._by_day(partial(chill_portions, every=24), CHILL_MOST_DAYS)

    @cached_property
    def cold_hours(self) -> Floats:
        """Running hours above 0 and up to 7.2 degC at the end of each day, (seasons, 243) [h]."""
        return self._by_day(lambda hours: chill_hours(hours)[:, 23::24], CHILL_MOST_DAYS)

    @cached_property
    def degree_hours(self) -> Floats:
        """Running growing degree hours (linear, 4.5 to 25 degC), shape (seasons, 640)."""
        return self._by_day(_degree_hours_by_day, DAYS)

    def degree_days(self, base_c: float, upper_c: float | None) -> Floats:
        """Running degree days over a base, single sine, shape (seasons, 640) [degC d]."""
        if (base_c, upper_c) not in self._warmth:
            daily = degree_days(
                self.tmin_c, self.tmax_c, base=base_c, upper=upper_c, method="single sine"
            )
            self._warmth[base_c, upper_c] = np.cumsum(daily, axis=1)
        return self._warmth[base_c, upper_c]

    def warmed(self, by_c: float) -> ClimateYears:
        """The same years with every temperature raised [degC]."""
        return ClimateYears(
            self.seasons, self.latitude, self.warming_c + by_c, self.tmin_c + by_c,
            self.tmax_c + by_c, self.filled, None if self.hours_c is None else self.hours_c + by_c,
        )  # fmt: skip


def chill_start(season: int, latitude: float) -> date:
    """First day of the layout: 1 October in the north, 1 April in the south."""
    return date(season - 1, 4 if is_southern(latitude) else 10, 1)


def _degree_hours_by_day(hours: Floats) -> Floats:
    return np.asarray(np.cumsum(growing_degree_hours(hours), axis=1)[:, 23::24], dtype=np.float64)


def safe_chill(totals: Floats) -> float:
    """The amount exceeded in 90 % of years (safe winter chill; Luedeling & Brown 2011)."""
    return float(np.quantile(totals, 0.1)) if totals.size else float("nan")


def climate_years(
    record: Daily,
    latitude: float,
    whole: Daily | None = None,
) -> ClimateYears:
    """The seasons of a record that are whole enough; may be none.

    Parameters
    ----------
    record : the place's weather, gaps nan. latitude : [deg]; its sign says which half-year.
    whole : the same with its gaps filled; None: a missing day is as usual for that day.
    """
    low, high, seasons, holes, measured = [], [], [], [], []
    for season in range(record.years.start, record.years.stop + 1):
        first = chill_start(season, latitude)
        cold, warm = (record.values(name, first, DAYS) for name in ("tmin_c", "tmax_c"))
        missing = np.isnan(cold + warm)[:CORE_DAYS].mean()
        if whole is not None:
            cold, warm = (whole.values(name, first, DAYS) for name in ("tmin_c", "tmax_c"))
        if missing > MOST_MISSING or _unfilled(cold + warm, first, whole):
            continue
        low.append(cold)
        high.append(warm)
        seasons.append(season)
        holes.append(missing)
        if record.hours is not None:
            measured.append(record.measured_hours(first, DAYS))
    tmin, tmax = (_filled(np.array(each).reshape(-1, DAYS)) for each in (low, high))
    return ClimateYears(
        np.array(seasons, dtype=np.int64), latitude, 0.0, tmin, np.maximum(tmin, tmax),
        float(np.mean(holes)) if holes else 0.0, np.array(measured) if measured else None,
    )  # fmt: skip


def _unfilled(values: Floats, first: date, whole: Daily | None) -> bool:
    """Whether a day before the end of a record made whole is missing all the same."""
    if whole is None:
        return False
    inside = np.arange(len(values)) + whole.position(first) < len(whole)
    return bool(np.isnan(values[inside]).any())


def _filled(table: Floats) -> Floats:
    """Days to come as usual for that day of the layout over the other seasons."""
    if not len(table):
        return table
    count = (~np.isnan(table)).sum(axis=0)
    usual = np.nansum(table, axis=0) / np.maximum(count, 1)
    # A day that no season has: as the same day a year before in the layout, else its neighbour.
    for at in np.flatnonzero(count == 0):
        usual[at] = usual[at - 365] if at >= 365 else usual[at - 1]
    return np.where(np.isnan(table), usual, table)
