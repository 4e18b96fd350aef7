"""Past forecasts beside what was logged: rows per season, and how far off they were."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt

from dashboard.data import PastForecast

FEW = 20
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9


@dataclass(frozen=True)
class Miss:
    """One past forecast in days from its median: where the range lay, where the ripe date fell."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    low: int
    """Start of the 80 % range, days from the median (not above 0)."""
    high: int
    logged: int
    """The logged ripe date, days from the median: above 0 is later than forecast."""
    inside: bool
    median: date
    observed: date
    first: date
    last: date


@dataclass(frozen=True)
class Score:
    """How far off a set of past forecasts was."""

    count: int
    mean_error: float
    """Mean absolute difference of logged date and median [d]."""
    bias: float
    """Mean of logged minus median [d]: above 0 means later than forecast."""
    inside: int
    """How many fell inside the 80 % range."""

    @property
    def spread(self) -> float:
        """How many inside lie beyond 4 in 5, in standard deviations of the binomial law."""
        return (self.inside - 0.8 * self.count) / sqrt(0.8 * 0.2 * self.count)

    @property
    def few(self) -> bool:
        """Whether there are too few to judge the ranges by."""
        return self.count < FEW


def misses(past: Iterable[PastForecast]) -> list[Miss]:
    """Each past forecast in days from its own median, oldest first."""
    found = [_miss(item) for item in past if {LOW, MIDDLE, HIGH} <= item.quantiles.keys()]
    return sorted(found, key=lambda miss: (miss.season, miss.cultivar.casefold(), miss.tree))


def score(found: Sequence[Miss]) -> Score | None:
    """Errors summed up; None without a past forecast."""
    if not found:
        return None
    return Score(
        count=len(found),
        mean_error=sum(abs(miss.logged) for miss in found) / len(found),
        bias=sum(miss.logged for miss in found) / len(found),
        inside=sum(miss.inside for miss in found),
    )


def by_cultivar(found: Iterable[Miss]) -> dict[tuple[str, str], list[Miss]]:
    """Misses by cultivar and site, in alphabetical order."""
    groups: dict[tuple[str, str], list[Miss]] = defaultdict(list)
    for miss in found:
        groups[miss.cultivar, miss.site].append(miss)
    return dict(sorted(groups.items(), key=lambda item: (item[0][0].casefold(), item[0][1])))


def _miss(item: PastForecast) -> Miss:
    low, median, high = (item.quantiles[level] for level in (LOW, MIDDLE, HIGH))
    return Miss(
        tree=item.tree,
        site=item.site,
        species=item.species,
        cultivar=item.cultivar,
        season=item.season,
        low=(low - median).days,
        high=(high - median).days,
        logged=(item.observed - median).days,
        inside=low <= item.observed <= high,
        median=median,
        observed=item.observed,
        first=low,
        last=high,
    )
