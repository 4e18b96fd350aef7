"""Weeks without fruit, and which cultivars that would do here would fill them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from harvest.care.climate_fit import ClimateFit
from harvest.care.outlook import TreeSeason
from harvest.records import Records
from harvest.seasons import days_of_season, season_start

WEEK = 7
YEAR_WEEKS = 52
LEAST_SEASONS = 2
# A cultivar must do well in at least this share of years to be named.
LEAST_WELL = 0.5


@dataclass(frozen=True, slots=True)
class PickingSpan:
    """When fruit of one kind is usually picked, in days of season [d]."""

    name: str
    first: float
    last: float
    basis: str

    def covers(self, week: int) -> bool:
        """Whether it is picked in a week (0: the season's first), across the year's end too."""
        days = np.arange(round(self.first), round(self.last) + 1)
        return bool(((days - 1) // WEEK % YEAR_WEEKS == week).any())


@dataclass(frozen=True, slots=True)
class GapWeek:
    """A week in which nothing is picked, and what would fill it."""

    week: int
    """Week of the season, 1 the first."""
    starts: str
    """Its first day, MM-DD."""
    would_fill: tuple[str, ...]
    """Cultivars, the surest first."""


def own_spans(records: Records, usual: Sequence[TreeSeason]) -> dict[str, list[PickingSpan]]:
    """When each standing tree is usually picked, by site.

    A tree with two seasons of picks goes by the median of its first and last ones, any other by
    the usual dates of the season to come (`usual`).
    """
    picked = _picked(records)
    found: dict[str, list[PickingSpan]] = {}
    for each in usual:
        span = picked.get(each.tree)
        if span is None:
            first, last = each.ripe.middle, each.last_pick.middle
            if first is None or last is None:
                continue
            start = season_start(each.season, each.latitude)
            days = [float((day - start).days + 1) for day in (first, last)]
            span = PickingSpan(each.tree, days[0], days[1], "usual dates")
        found.setdefault(each.site, []).append(span)
    return found


def _picked(records: Records) -> dict[str, PickingSpan]:
    picks = records.picks[records.picks["weight_kg"] > 0]
    if picks.empty:
        return {}
    latitude = picks["tree"].map(records.trees.set_index("tree")["latitude"])
    days = picks.assign(day=days_of_season(picks["date"], picks["season"], latitude))
    seasons = days.groupby(["tree", "season"])["day"].agg(["min", "max"]).groupby(level="tree")
    table = pd.DataFrame(
        {"first": seasons["min"].median(), "last": seasons["max"].median(), "n": seasons.size()}
    )
    table = table[table["n"] >= LEAST_SEASONS]
    return {
        str(tree): PickingSpan(str(tree), float(first), float(last), f"{int(n)} seasons of picks")
        for tree, first, last, n in zip(
            table.index, table["first"], table["last"], table["n"], strict=True
        )
    }


def gap_weeks(
    own: Sequence[PickingSpan],
    fits: Sequence[ClimateFit],
    windows: Sequence[float],
    latitude: float,
) -> list[GapWeek]:
    """Weeks of the season in which nothing of one's own is picked, and what would fill them.

    Parameters
    ----------
    own : what is picked now. fits : candidates, with the days from first to last pick of each in
    `windows` [d].
    """
    candidates = []
    for fit, window in zip(fits, windows, strict=True):
        ripe = fit.scenarios[0].ripe if fit.scenarios else None
        if ripe is not None and fit.rank >= LEAST_WELL:
            name = f"{fit.species} {fit.cultivar}".strip()
            span = PickingSpan(name, ripe.day_of_season, ripe.day_of_season + window, "climate fit")
            candidates.append((fit.rank, span))
    candidates.sort(key=lambda each: (-each[0], each[1].name))
    start: date = season_start(2026, latitude)
    return [
        GapWeek(
            week=week + 1,
            starts=f"{start + timedelta(days=WEEK * week):%m-%d}",
            would_fill=tuple(span.name for _, span in candidates if span.covers(week)),
        )
        for week in range(YEAR_WEEKS)
        if not any(span.covers(week) for span in own)
    ]
