"""Plain forecasts that a model must beat, each with its own spread, from earlier seasons only.

A baseline sees the dates of the tree's cultivar at its site in the seasons before, one a season:
the mean day of season; the logged bloom plus the mean days from bloom to ripe; a straight line
through the years; and last season's date. Spreads are those of new values of a normal sample with
unknown variance (Student's distribution).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MEAN_DAY = "mean day of season"
INTERVAL = "bloom + mean interval"
TREND = "trend"
LAST_SEASON = "last season"
# Fewest earlier seasons that give a spread, and a slope.
LEAST_SEASONS, LEAST_FOR_TREND = 3, 5
# Dates are whole days, so no baseline is surer than this [d].
LEAST_SD = 0.5


@dataclass(frozen=True)
class Plain:
    """A Student distribution of a day of season: mean and scale [d], degrees of freedom."""

    mean: float
    scale: float
    freedom: int


def baselines(seasons: Floats, days: Floats, season: int) -> dict[str, Plain]:
    """Baselines of a season from the days [d] of earlier seasons, arrays of shape (n,).

    A baseline for which there are too few seasons is left out.
    """
    order = np.argsort(seasons)
    seasons, days = seasons[order], days[order]
    found: dict[str, Plain] = {}
    if len(days) >= LEAST_SEASONS:
        found[MEAN_DAY] = mean_of(days)
        step = np.sqrt(np.mean(np.diff(days) ** 2))
        found[LAST_SEASON] = Plain(float(days[-1]), max(float(step), LEAST_SD), len(days) - 1)
    if len(days) >= LEAST_FOR_TREND:
        found[TREND] = _line(seasons - season, days)
    return found


def mean_of(days: Floats) -> Plain:
    """A new value of the sample that some values [d] come from."""
    size = len(days)
    sd = max(float(days.std(ddof=1)), LEAST_SD)
    return Plain(float(days.mean()), sd * float(np.sqrt(1 + 1 / size)), size - 1)


def _line(years: Floats, days: Floats) -> Plain:
    """A straight line through the years, read at year 0."""
    design = np.column_stack([np.ones(len(years)), years])
    inverse = np.linalg.inv(design.T @ design)
    effects = inverse @ (design.T @ days)
    freedom = len(days) - 2
    variance = max(float(((days - design @ effects) ** 2).sum()) / freedom, LEAST_SD**2)
    return Plain(float(effects[0]), float(np.sqrt(variance * (1 + inverse[0, 0]))), freedom)


class EarlierSeasons:
    """Dates of each cultivar at each site, one row a season, to take baselines from.

    `past` has columns site, cultivar_key, season, `day` of season of the event [d], and
    `interval` from bloom to it [d]; nan where not known.
    """

    def __init__(self, past: pd.DataFrame) -> None:
        known = past[past["day"].notna()]
        cells = known.groupby(["site", "cultivar_key", "season"], as_index=False)
        means = cells[["day", "interval"]].mean()
        self._by_cultivar = {
            key: rows[["season", "day", "interval"]].to_numpy(dtype=float)
            for key, rows in means.groupby(["site", "cultivar_key"])
        }

    def plain(
        self, site: str, cultivar_key: str, season: int, bloom_day: float
    ) -> dict[str, Plain]:
        """Baselines of one tree's season; `bloom_day` nan where its bloom is not to be used."""
        rows = self._by_cultivar.get((site, cultivar_key))
        if rows is None:
            return {}
        rows = rows[rows[:, 0] < season]
        found = baselines(rows[:, 0], rows[:, 1], season)
        interval = rows[~np.isnan(rows[:, 2]), 2]
        if not np.isnan(bloom_day) and len(interval) >= LEAST_SEASONS:
            alone = mean_of(interval)
            found[INTERVAL] = Plain(bloom_day + alone.mean, alone.scale, alone.freedom)
        return found
