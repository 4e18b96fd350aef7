"""A date in a tree's season as care needs it: seen, or the chances of the days to come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from harvest.errors import QuantityError

Floats = NDArray[np.float64]
Status = Literal["observed", "forecast", "unknown"]
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9


@dataclass(frozen=True, eq=False)
class DateOutlook:
    """When something happens: the day it was seen, or the chances of the days ahead.

    `chances` [1], shape (days,), from the day `first` on, adding up to 1 at most; what is missing
    lies beyond.
    """

    status: Status
    seen: date | None = None
    first: date | None = None
    chances: Floats | None = None
    why_unknown: tuple[str, ...] = ()

    def by(self, day: date) -> float | None:
        """Chance that it has come by the end of a day [1]; None where nothing is known."""
        if self.seen is not None:
            return 1.0 if self.seen <= day else 0.0
        if self.chances is None or self.first is None:
            return None
        upto = (day - self.first).days + 1
        return float(min(1.0, self.chances[: max(upto, 0)].sum()))

    def quantile(self, level: float) -> date | None:
        """The day by which it has come with this chance (0 to 1); None where nothing is known.

        Raises QuantityError for a level outside 0 to 1.
        """
        if not 0 < level < 1:
            raise QuantityError("a level between 0 and 1 is needed", given=f"{level:g}")
        if self.seen is not None:
            return self.seen
        if self.chances is None or self.first is None:
            return None
        if level not in self._asked:
            at = int(np.searchsorted(np.cumsum(self.chances), level - 1e-12))
            self._asked[level] = self.first + timedelta(days=min(at, len(self.chances) - 1))
        return self._asked[level]

    @cached_property
    def _asked(self) -> dict[float, date]:
        """Quantiles worked out so far: several ask for the same few."""
        return {}

    @property
    def middle(self) -> date | None:
        """The day by which it has come with an even chance."""
        return self.quantile(MIDDLE)


UNKNOWN = DateOutlook("unknown")


def quantile_days(outlooks: Sequence[DateOutlook], levels: Sequence[float]) -> Floats:
    """Days (ordinals) by which each date has come with each chance, as `DateOutlook.quantile`.

    Returns shape (dates, levels), nan where nothing is known.
    """
    out = np.full((len(outlooks), len(levels)), np.nan)
    alike: dict[int, list[tuple[int, int, Floats]]] = {}  # as many days ahead
    for row, each in enumerate(outlooks):
        if each.seen is not None:
            out[row] = each.seen.toordinal()
        elif each.chances is not None and each.first is not None:
            ahead = (row, each.first.toordinal(), each.chances)
            alike.setdefault(len(each.chances), []).append(ahead)
    for length, some in alike.items():
        rows, first, chances = zip(*some, strict=True)
        upto = np.cumsum(chances, axis=1)
        for column, level in enumerate(levels):
            steps = (upto < level - 1e-12).sum(axis=1)
            out[rows, column] = np.array(first) + np.minimum(steps, length - 1)
    return out


def seen_on(day: date) -> DateOutlook:
    """A date that was seen."""
    return DateOutlook("observed", seen=day)


def around(middle: date, sd_days: float) -> DateOutlook:
    """A date known by its mean and standard deviation [d], taken as normal.

    Raises QuantityError for a spread below zero.
    """
    if not sd_days >= 0:
        raise QuantityError("a spread in days, not below 0, is needed", given=f"{sd_days:g}")
    from scipy.special import ndtr

    reach = int(np.ceil(4 * sd_days)) + 1
    edges = np.arange(-reach, reach + 2) - 0.5
    chances = np.diff(ndtr(edges / max(sd_days, 0.05)))
    return DateOutlook("forecast", first=middle - timedelta(days=reach), chances=chances)


@dataclass(frozen=True, slots=True, eq=False)
class TreeSeason:
    """One tree in one season that is running or to come, with its three dates."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    latitude: float
    leaf: int
    """Growing season since planting; 1 is the first."""
    bloom: DateOutlook
    ripe: DateOutlook
    last_pick: DateOutlook
    fruit_gone: bool = False
    """The last pick is on record, or all fruit was stripped or lost."""


def of_tree(seasons: Sequence[TreeSeason]) -> dict[str, list[TreeSeason]]:
    """Tree-seasons by tree, in their order."""
    found: dict[str, list[TreeSeason]] = {}
    for each in seasons:
        found.setdefault(each.tree, []).append(each)
    return found
