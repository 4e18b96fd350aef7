"""What a day of the year is usually like at a place, by estimates that outliers cannot move.

Centre and spread are the biweight mean and standard deviation (Lanzante 1996, Int. J. Climatol.
16:1197-1226) of the days around each week's middle over all years, as in the outlier check of
GHCN-Daily (Durre et al. 2010, J. Appl. Meteorol. Climatol. 49:1615-1633).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvest.weather.daily import TEMPERATURES, YEAR_SLOTS, Daily, Floats, day_slot, month_of

WEEKS = 53
# Days to either side of a week's middle: 15 days as published, a month where the record is short.
WINDOWS = (7, 15)
# Fewest values from which a spread is judged: 100 as published; three winters' months here.
LEAST_VALUES = 90
# Values beyond this many median deviations get no weight (Lanzante 1996).
CENSOR = 7.5


@dataclass(frozen=True)
class Climate:
    """What is usual at a place, for minimum and maximum each; nan: unknown.

    `centre` and `spread` [degC] of each week, shape (53,); `coldest` and `warmest` value [degC] on
    record in each calendar month, shape (12,).
    """

    centre: dict[str, Floats]
    spread: dict[str, Floats]
    coldest: dict[str, Floats]
    warmest: dict[str, Floats]

    def departure(self, column: str, values: Floats, days: Daily) -> Floats:
        """Distance of values of each day from that day's usual, in spreads; nan where unknown."""
        week = day_slot(days.dates) // 7
        spread = self.spread[column][week]
        # A week that never varied says nothing of what is unusual in it.
        return np.asarray(
            (values - self.centre[column][week]) / np.where(spread > 0, spread, np.nan)
        )


def climate_of(days: Daily) -> Climate:
    """The climate of a record; nan for weeks with too few values.

    Parameters
    ----------
    days : the record, values known to be wrong already taken out as nan.
    """
    centre, spread, coldest, warmest = {}, {}, {}, {}
    month = month_of(days.dates) - 1
    for name in TEMPERATURES:
        coldest[name], warmest[name] = np.full(12, np.nan), np.full(12, np.nan)
        np.fmin.at(coldest[name], month, days.columns[name])
        np.fmax.at(warmest[name], month, days.columns[name])
        found = np.full((2, WEEKS), np.nan)
        by_year = _by_year(days, name)
        for window in WINDOWS:
            samples = _around_weeks(by_year, window)
            enough = (~np.isnan(samples)).sum(axis=1) >= LEAST_VALUES
            short = np.isnan(found[0]) & enough
            if short.any():
                found[:, short] = _biweight(samples[short])
        centre[name], spread[name] = found
    return Climate(centre, spread, coldest, warmest)


def _by_year(days: Daily, name: str) -> Floats:
    """Values as years by day of the year, shape (years, 366)."""
    years = days.dates.astype("datetime64[Y]").astype(np.int64)
    table = np.full((int(years[-1] - years[0]) + 1, YEAR_SLOTS), np.nan)
    table[years - years[0], day_slot(days.dates)] = days.columns[name]
    return table


def _around_weeks(by_year: Floats, window: int) -> Floats:
    """All values within `window` days of each week's middle, shape (53, values)."""
    middles = np.minimum(7 * np.arange(WEEKS) + 3, YEAR_SLOTS - 1)
    near = (middles[:, None] + np.arange(-window, window + 1)) % YEAR_SLOTS
    return np.asarray(by_year[:, near].transpose(1, 0, 2).reshape(WEEKS, -1))


def _biweight(samples: Floats) -> Floats:
    """Biweight mean and standard deviation of each row, shape (2, rows); nan is left out."""
    middle = _row_median(samples)
    off = samples - middle[:, None]
    deviation = np.maximum(_row_median(np.abs(off)), 0.05)
    reach = off / (CENSOR * deviation[:, None])
    inside = np.abs(np.nan_to_num(reach, nan=2.0)) < 1
    square = np.where(inside, reach, 0.0) ** 2
    weight = np.where(inside, (1 - square) ** 2, 0.0)
    clean = np.where(inside, off, 0.0)
    mean = middle + (weight * clean).sum(axis=1) / weight.sum(axis=1)
    above = (clean**2 * np.where(inside, (1 - square) ** 4, 0.0)).sum(axis=1)
    below = np.where(inside, (1 - square) * (1 - 5 * square), 0.0).sum(axis=1)
    count = (~np.isnan(samples)).sum(axis=1)
    return np.stack([mean, np.sqrt(count * above) / np.abs(below)])


def _row_median(rows: Floats) -> Floats:
    """Median of each row without its nan."""
    ordered = np.sort(rows, axis=1)
    count = (~np.isnan(rows)).sum(axis=1)
    low, high = (count - 1) // 2, count // 2
    at = np.arange(len(rows))
    return np.asarray((ordered[at, low] + ordered[at, high]) / 2)
