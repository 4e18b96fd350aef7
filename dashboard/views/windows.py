"""When each cultivar, or each tree, is ripe: the rows of the picking forecast."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dashboard.data import EventForecast, season_label
from dashboard.views.blocks import Block, TreeSeason
from dashboard.words import week_start

State = Literal["picking", "to come", "over", "unknown"]
Key = tuple[str, str, str, int, str]
Picked = dict[tuple[str, int], list[date]]
LOW, LOWER, MIDDLE, UPPER, HIGH = 0.1, 0.25, 0.5, 0.75, 0.9


@dataclass(frozen=True)
class Window:
    """One row: a cultivar at a site, or one tree, in one season."""

    site: str
    species: str
    cultivar: str
    season: int
    label: str
    """How the season is shown."""
    trees: tuple[str, ...]
    single: bool
    """Whether the row stands for one tree rather than for a cultivar."""
    state: State
    quantiles: dict[float, date]
    """Ripe dates of the trees not yet ripe, taken together; empty where none is forecast."""
    weeks: dict[date, float]
    """Probability by week (its first day) for a tree of the row that is not yet ripe."""
    blooms: tuple[date, ...]
    """Full blooms that were logged."""
    bloom_range: tuple[date, date] | None
    """The 80 % range of the blooms still forecast, taken together."""
    ripe: tuple[date, ...]
    """Ripe dates that were logged."""
    picks: tuple[date, ...]
    last_pick: date | None
    """Day the picking ended, or its median while that is forecast."""
    unknown_trees: tuple[str, ...]
    basis: str
    warnings: tuple[str, ...]
    blocked: tuple[Block, ...] = ()
    """Its trees that may not be picked though their fruit is, or may be, ripe."""

    @property
    def blocked_until(self) -> date | None:
        """First day on which all its trees may be picked; None while a label is unread."""
        days = [block.until for block in self.blocked]
        return None if None in days else max((day for day in days if day), default=None)

    @property
    def all_blocked(self) -> bool:
        """Whether every one of its trees may not be picked."""
        return len(self.blocked) == len(self.trees)

    @property
    def name(self) -> str:
        """What the row is called: the cultivar, or the tree."""
        return self.trees[0] if self.single else self.cultivar

    @property
    def title(self) -> str:
        """The name with the cultivar, where the row is a tree."""
        return f"{self.trees[0]} {self.cultivar}" if self.single else self.cultivar

    @property
    def when(self) -> date:
        """The date the row is sorted by: first logged ripe date, else the forecast's median."""
        if self.ripe:
            return self.ripe[0]
        return self.quantiles.get(0.5, date.max)

    @property
    def likeliest_week(self) -> tuple[date, float] | None:
        """First day and probability of the likeliest week; None where nothing is forecast."""
        if not self.weeks:
            return None
        return max(self.weeks.items(), key=lambda item: (item[1], -item[0].toordinal()))

    def ripe_by(self, day: date) -> float:
        """Probability that a tree not yet ripe on the as-of date is ripe by the end of a day."""
        return float(_shares(self.quantiles, np.array([day.toordinal()]))[0])


def windows(
    forecasts: Iterable[EventForecast],
    picks: Iterable[tuple[str, int, date]],
    latitudes: Mapping[str, float],
    as_of: date,
    *,
    by_tree: bool = False,
) -> list[Window]:
    """Rows sorted by date, those of which nothing is known last.

    `picks` are tree, season and date of every picking pass; `latitudes` those of the sites [deg].
    """
    groups: dict[Key, list[EventForecast]] = defaultdict(list)
    for item in forecasts:
        groups[_key(item, by_tree)].append(item)
    picked: Picked = defaultdict(list)
    for tree, season, day in picks:
        picked[tree, season].append(day)
    rows = [
        _window(key, events, picked, season_label(key[3], latitudes[key[0]]), as_of)
        for key, events in groups.items()
    ]
    return sorted(rows, key=lambda row: (row.when, row.name.casefold(), row.site))


def with_blocks(rows: Iterable[Window], blocks: Mapping[TreeSeason, Block]) -> list[Window]:
    """Rows that know which of their trees may not be picked; those picked already stay as is."""
    return [
        row
        if row.state == "over"
        else replace(
            row,
            blocked=tuple(
                blocks[tree, row.season] for tree in row.trees if (tree, row.season) in blocks
            ),
        )
        for row in rows
    ]


def mixture(distributions: Sequence[dict[float, date]]) -> dict[float, date]:
    """Quantiles of a tree drawn at random from several, from the quantiles of each.

    Between quantiles the probability is taken to rise in a straight line.
    """
    if len(distributions) < 2:
        return dict(distributions[0]) if distributions else {}
    days = sorted({day.toordinal() for each in distributions for day in each.values()})
    grid = np.arange(days[0] - 1, days[-1] + 2)
    shares = np.mean([_shares(each, grid) for each in distributions], axis=0)
    return {
        p: date.fromordinal(int(grid[min(int(np.searchsorted(shares, p - 1e-9)), len(grid) - 1)]))
        for p in sorted(distributions[0])
    }


def coming_weeks(rows: Sequence[Window], as_of: date, weeks: int) -> dict[date, list[Window]]:
    """Rows still to come by their likeliest week, for this week and those that follow."""
    start = week_start(as_of)
    agenda: dict[date, list[Window]] = {start + timedelta(weeks=n): [] for n in range(weeks)}
    for row in rows:
        likeliest = row.likeliest_week
        if row.state == "to come" and likeliest is not None and likeliest[0] in agenda:
            agenda[likeliest[0]].append(row)
    return agenda


def _key(item: EventForecast, by_tree: bool) -> Key:
    return item.site, item.species, item.cultivar, item.season, item.tree if by_tree else ""


def _window(
    key: Key, events: list[EventForecast], picked: Picked, label: str, as_of: date
) -> Window:
    site, species, cultivar, season, tree = key
    ripe = [item for item in events if item.event == "ripe"]
    ends = [item for item in events if item.event == "last pick"]
    coming = [item for item in ripe if item.status == "forecast"]
    logged = {item.tree: item.observed for item in ripe if item.observed is not None}
    weeks: dict[date, float] = defaultdict(float)
    for item in coming:
        for week in item.weeks:
            weeks[week.start] += week.probability / len(coming)
    trees = tuple(sorted({item.tree for item in events}))
    passes = sorted(day for name in trees for day in picked.get((name, season), ()))
    last = _last_pick(ends)
    blooms = [item for item in events if item.event == "full bloom"]
    bloom = mixture([item.quantiles for item in blooms if item.quantiles])
    return Window(
        site=site,
        species=species,
        cultivar=cultivar,
        season=season,
        label=label,
        trees=trees,
        single=bool(tree),
        state=_state(coming, logged, ends, as_of),
        quantiles=mixture([item.quantiles for item in coming]),
        weeks=dict(sorted(weeks.items())),
        blooms=tuple(sorted(item.observed for item in blooms if item.observed is not None)),
        bloom_range=(bloom[LOW], bloom[HIGH]) if bloom else None,
        ripe=tuple(sorted(logged.values())),
        picks=tuple(passes),
        last_pick=last,
        unknown_trees=tuple(item.tree for item in ripe if item.status == "unknown"),
        basis=_basis(coming or ripe or events),
        warnings=tuple(dict.fromkeys(text for item in ripe for text in item.warnings)),
    )


def _state(
    coming: list[EventForecast],
    logged: dict[str, date],
    ends: list[EventForecast],
    as_of: date,
) -> State:
    if not logged:
        return "to come" if coming else "unknown"
    if coming:
        return "picking"
    ended = [_ended(item, as_of) for item in ends if item.tree in logged]
    return "over" if ended and all(ended) else "picking"


def _ended(last: EventForecast, as_of: date) -> bool:
    """Whether picking is over: logged so, or all but certainly past."""
    if last.status == "observed":
        return True
    return last.status == "forecast" and max(last.quantiles.values()) < as_of


def _last_pick(ends: list[EventForecast]) -> date | None:
    medians = [item.observed or item.quantiles.get(0.5) for item in ends]
    known = [day for day in medians if day is not None]
    return max(known, default=None)


def _basis(items: list[EventForecast]) -> str:
    return items[0].basis.prior if items else "none"


def _shares(quantiles: dict[float, date], days: NDArray[np.int64]) -> NDArray[np.float64]:
    """Probability that the event has come by each day (an ordinal), straight between quantiles."""
    if not quantiles:
        return np.full(len(days), np.nan)
    levels = sorted(quantiles)
    at = np.array([quantiles[level].toordinal() for level in levels], dtype=float)
    low, high = at[0] - 1, at[-1] + 1
    known = np.concatenate([[low], at, [high]])
    shares = np.concatenate([[0.0], levels, [1.0]])
    last_of_day = np.append(known[1:] != known[:-1], True)
    return np.asarray(np.interp(days, known[last_of_day], shares[last_of_day]))
