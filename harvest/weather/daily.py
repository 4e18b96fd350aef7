"""One place's days as arrays without holes in time, and how they compare with its climate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Days = NDArray[np.datetime64]

COLUMNS = ("tmin_c", "tmax_c", "precip_mm", "wind_kmh")
TEMPERATURES = ("tmin_c", "tmax_c")
YEAR_SLOTS = 366


@dataclass(frozen=True)
class Daily:
    """Values of every day from `start` on, nan where there is none.

    `columns` holds one array of shape (days,) per column: tmin_c, tmax_c [degC], precip_mm [mm],
    wind_kmh [km/h].
    """

    start: np.datetime64
    columns: dict[str, Floats]

    def __len__(self) -> int:
        return len(self.columns["tmin_c"])

    @property
    def dates(self) -> Days:
        """Every day, shape (days,)."""
        return np.asarray(self.start + np.arange(len(self)))

    def position(self, dates: Days) -> Ints:
        """Index of each date; below 0 or past the end where it is outside."""
        return np.asarray(as_days(dates).astype(np.int64) - self.start.astype(np.int64))

    def between(self, start: np.datetime64, length: int) -> Daily:
        """The same place over other days; nan outside its own."""
        at = np.arange(length) + int((start - self.start).astype(np.int64))
        inside = (at >= 0) & (at < len(self))
        out = {}
        for name, values in self.columns.items():
            out[name] = np.full(length, np.nan)
            out[name][inside] = values[at[inside]]
        return Daily(start, out)


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
