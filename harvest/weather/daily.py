"""One place's days as arrays without holes in time, with the hours that were measured there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Days = NDArray[np.datetime64]
Day = date | np.datetime64

COLUMNS = ("tmin_c", "tmax_c", "precip_mm", "wind_kmh")
TEMPERATURES = ("tmin_c", "tmax_c")
YEAR_SLOTS = 366


@dataclass(frozen=True)
class DayHours:
    """Hourly temperatures [degC] of every day from `start` on, shape (days, 24); nan: none."""

    start: np.datetime64
    temp_c: Floats

    def between(self, first: Day, count: int) -> Floats:
        """The hours of `count` days from a day on, shape (count, 24); nan outside its own."""
        return _cut(self.temp_c, _days_since(self.start, first), count)

    def on(self, days: Days) -> Floats:
        """The hours of some days, shape (..., 24)."""
        at = as_days(days).astype(np.int64) - self.start.astype("datetime64[D]").astype(np.int64)
        inside = (at >= 0) & (at < len(self.temp_c))
        found = self.temp_c[np.where(inside, at, 0)]
        return np.where(inside[..., None], found, np.nan)


@dataclass(frozen=True)
class Daily:
    """Values of every day from `start` on, nan where there is none.

    `columns` holds one array of shape (days,) per column: tmin_c, tmax_c [degC], precip_mm [mm],
    wind_kmh, the day's mean [km/h]; `hours` what was measured every hour, if anything was.
    """

    start: np.datetime64
    columns: dict[str, Floats]
    hours: DayHours | None = None

    def __len__(self) -> int:
        return len(self.columns["tmin_c"])

    @property
    def dates(self) -> Days:
        """Every day, shape (days,)."""
        return np.asarray(self.start + np.arange(len(self)))

    @property
    def years(self) -> range:
        """Calendar years from the first day to the last."""
        last = self.start + len(self) - 1
        return range(self.start.astype(date).year, last.astype(date).year + 1)

    def position(self, day: Day) -> int:
        """Index of a day; below 0 or past the end where it is outside."""
        return _days_since(self.start, day)

    def values(self, column: str, first: Day, count: int) -> Floats:
        """`count` values of a column from a day on, nan outside its own days."""
        return _cut(self.columns[column], self.position(first), count)

    def windows(self, column: str, first: Days, count: int) -> Floats:
        """`count` values of a column from each of some days on, shape (n, count), as `values`."""
        held = self.columns[column]
        at = (as_days(first) - self.start).astype(np.int64)[:, None] + np.arange(count)
        inside = (at >= 0) & (at < len(held))
        return np.where(inside, held[np.where(inside, at, 0)], np.nan)

    def measured_hours(self, first: Day, count: int) -> Floats:
        """Measured hours of `count` days from a day on [degC], shape (count, 24); nan: none."""
        if self.hours is None:
            return np.full((count, 24), np.nan)
        return self.hours.between(first, count)

    def between(self, first: Day, count: int) -> Daily:
        """The same place over `count` days from a day on; nan outside its own."""
        columns = {name: self.values(name, first, count) for name in self.columns}
        return replace(self, start=self.start + self.position(first), columns=columns)


def _days_since(start: np.datetime64, day: Day) -> int:
    return int((np.array(day, "datetime64[D]") - start).astype(np.int64))


def _cut(values: Floats, begin: int, count: int) -> Floats:
    """`count` rows of an array from a position on, nan before its first and after its last."""
    out = np.full((count, *values.shape[1:]), np.nan)
    low, high = max(begin, 0), min(begin + count, len(values))
    if high > low:
        out[low - begin : high - begin] = values[low:high]
    return out


def as_days(dates: Days) -> Days:
    """Dates to the day, whatever unit they come in."""
    return dates.astype("datetime64[D]")


def on_calendar(days: pd.DataFrame) -> Daily:
    """Spread rows of one place and source over an unbroken calendar.

    Parameters
    ----------
    days : columns date, tmin_c, tmax_c [degC] and, where known, precip_mm [mm], wind_kmh [km/h];
        one row at least, any order. Of two rows with one date the later row counts.
    """
    dates = as_days(days["date"].to_numpy())
    start = dates.min()
    length = int((dates.max() - start).astype(np.int64)) + 1
    at = dates.astype(np.int64) - start.astype(np.int64)
    values = {}
    for name in COLUMNS:
        values[name] = np.full(length, np.nan)
        if name in days:
            values[name][at] = days[name].to_numpy(dtype=np.float64)
    return Daily(start, values)


def day_slot(dates: Days) -> Ints:
    """Day of the year 0..365 of each day; 29 February has a slot of its own in leap years."""
    years = dates.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray((as_days(dates) - years).astype(np.int64))


def month_of(dates: Days) -> Ints:
    """Month 1..12 of each day."""
    return dates.astype("datetime64[M]").astype(np.int64) % 12 + 1
