"""Does each tree get pollen: partners in bloom with it, near it, and of a kind that serves.

There is no standard index of overlap; days both between BBCH 61 and 67, and their share of the
tree's own days, are counted here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import isnan
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.care.bees import BeeWeather, bee_weather
from harvest.care.bloom_windows import FADES_AFTER, OPENS_BEFORE, BloomWindow, bloom_window
from harvest.care.outlook import TreeSeason
from harvest.care.tree_distance import Spots
from harvest.compatibility import Kind, Parents, Serves
from harvest.records import Records
from harvest.tree_years import full_blooms
from harvest.weather.daily import Daily

Verdict = Literal["no partner needed", "partner in bloom", "partner, but far",
                  "partner, but little overlap", "no partner", "unknown"]  # fmt: skip
# Flowers take pollen for two to five days after opening, by species: from memory. An overlap
# shorter than this is called little.
LITTLE_DAYS = 3
# So many trees are listed of those that serve, of those that may and of those that do not.
MOST_LISTED = 20
SERVES: dict[Serves, int] = {"yes": 0, "unknown": 1, "no": 2}

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Partner:
    """Another tree of the site as a source of pollen."""

    tree: str
    cultivar: str
    serves: Serves
    why: str
    overlap_days: int | None
    """Days in bloom together this season [d]; None where either bloom is not known."""
    overlap_share: float | None
    """Of the tree's own days in bloom [1]."""
    give_or_take_days: int
    """How far the less sure of the two blooms may be off, 8 in 10 [d]; 0 where both are logged.
    A forward or late spring moves both, so the overlap is surer than either date."""
    past_overlap_days: float | None
    """Mean over past seasons in which both full blooms were logged [d]."""
    past_seasons: int
    rows_apart: int | None
    places_apart: int | None
    """Places along the row; None where a row or position is not recorded."""
    distance_m: float | None
    """None where a row, a place or the site's spacing is not on record [m]."""
    far: bool
    """Further than handbooks let a partner stand."""


@dataclass(frozen=True, slots=True)
class Pollination:
    """Whether one tree has a partner this season, and why."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    need: str
    verdict: Verdict
    reasons: tuple[str, ...]
    bloom_first: date | None
    bloom_last: date | None
    bloom_basis: str | None
    give_or_take_days: int
    """How far its bloom may be off, 8 in 10 [d]; 0 where it is logged or not known."""
    partners: tuple[Partner, ...]
    """Trees whose pollen serves or may, the longest overlap first; then those that do not."""
    left_out: int
    """Others, less useful, that are not listed."""
    bees: BeeWeather | None


@dataclass(frozen=True, slots=True)
class _Standing:
    season: TreeSeason
    kind: Kind
    window: BloomWindow | None


def pollination(
    records: Records,
    seasons: Sequence[TreeSeason],
    parents: Parents,
    weather: Mapping[str, Daily],
) -> list[Pollination]:
    """The verdict for each standing tree in the season the calendar gives.

    Parameters
    ----------
    records : with seasons. seasons : running tree-seasons; of each tree the latest counts.
    parents : the reference tables. weather : the record of each site.
    """
    latest = {each.tree: each for each in sorted(seasons, key=lambda each: each.season)}
    logged = _first_logged(records.stages, latest)
    past = _past_blooms(records, latest)
    spacing = records.sites.set_index("site")[["row_spacing_m", "tree_spacing_m"]].astype(float)
    found = {}
    for site, rows in records.trees[records.trees["tree"].isin(list(latest))].groupby("site"):
        names = rows["tree"].tolist()
        trees = [
            _Standing(
                season=season,
                kind=parents.kind(season.species, season.cultivar),
                window=bloom_window(season, logged.get(season.tree, {})),
            )
            for season in map(latest.__getitem__, names)
        ]
        spots = Spots(
            rows["row"].to_numpy(dtype=np.float64),
            rows["position"].to_numpy(dtype=np.float64),
            *spacing.loc[[site]].iloc[0].tolist(),
        )
        blooms = past.reindex(names).to_numpy(dtype=np.float64)
        judge = _Judge(trees, spots, blooms, parents, weather.get(str(site)))
        found.update({name: judge.judged(at) for at, name in enumerate(names)})
    return [found[tree] for tree in records.trees["tree"] if tree in found]


def _first_logged(
    stages: pd.DataFrame, latest: Mapping[str, TreeSeason]
) -> dict[str, dict[int, date]]:
    """First day of each stage logged in each tree's latest season."""
    now = stages["tree"].map({tree: each.season for tree, each in latest.items()})
    first = stages[stages["season"] == now].groupby(["tree", "bbch"])["date"].min()
    trees, codes = (first.index.get_level_values(level) for level in ("tree", "bbch"))
    found: dict[str, dict[int, date]] = {}
    for tree, code, day in zip(trees, codes, first.dt.date, strict=True):
        found.setdefault(str(tree), {})[int(code)] = day
    return found


class _Judge:
    """The trees of one site, each judged beside all others."""

    def __init__(
        self,
        trees: Sequence[_Standing],
        spots: Spots,
        past_blooms: Floats,
        parents: Parents,
        record: Daily | None,
    ) -> None:
        self._trees, self._spots, self._past = trees, spots, past_blooms
        self._parents, self._record = parents, record
        kinds = list(dict.fromkeys(tree.kind for tree in trees))
        number = {kind: at for at, kind in enumerate(kinds)}
        self._kind = np.array([number[tree.kind] for tree in trees])
        self._matches = [[parents.match(one, other) for other in kinds] for one in kinds]
        self._serves = np.array(
            [[-1 if each is None else SERVES[each.serves] for each in row] for row in self._matches]
        )
        self._bees: dict[tuple[date, date], BeeWeather] = {}
        windows = [
            (np.nan, np.nan, 0)
            if (window := tree.window) is None
            else (window.first.toordinal(), window.last.toordinal(), window.give_or_take_days)
            for tree in trees
        ]
        self._first, self._last, self._give = np.array(windows, dtype=np.float64).reshape(-1, 3).T

    def judged(self, at: int) -> Pollination:
        """The verdict for one of the trees."""
        tree = self._trees[at]
        near_m = self._parents.distance_m(tree.season.species)
        partners, left_out = self._partners(at, near_m)
        verdict, reasons = _verdict(tree.kind, partners, self._spots, near_m)
        window, season = tree.window, tree.season
        return Pollination(
            tree=season.tree,
            site=season.site,
            species=season.species,
            cultivar=season.cultivar,
            season=season.season,
            need=tree.kind.need or "unknown",
            verdict=verdict,
            reasons=tuple(reasons),
            bloom_first=window.first if window else None,
            bloom_last=window.last if window else None,
            bloom_basis=window.basis if window else None,
            give_or_take_days=window.give_or_take_days if window else 0,
            partners=tuple(partners),
            left_out=left_out,
            bees=self._bee_weather(window, season.latitude) if window else None,
        )

    def _partners(self, at: int, near_m: float | None) -> tuple[list[Partner], int]:
        """The other trees of kinds that cross with it, the most useful first; how many more."""
        tree = self._trees[at]
        matches, serves = self._matches[self._kind[at]], self._serves[self._kind[at]][self._kind]
        serves[at] = -1
        together = np.minimum(self._last, self._last[at]) - np.maximum(self._first, self._first[at])
        days = np.maximum(together + 1, 0.0)
        rows, places = self._spots.rows_from(at), self._spots.places_from(at)
        metres = self._spots.metres_from(at)
        far = metres > (np.inf if near_m is None else near_m)
        past_days, past_seasons = self._past_overlaps(at)
        whole = _most_useful_first(serves, days, rows, places, metres, far)
        order = np.concatenate(
            [whole[serves[whole] == code][:MOST_LISTED] for code in SERVES.values()]
        )
        length = tree.window.days if tree.window else 0
        columns = (days, self._give, past_days, past_seasons, rows, places, metres, far)
        told = zip(order.tolist(), *(each[order].tolist() for each in columns), strict=True)
        found = []
        for n, days_both, give, past, seasons, row, place, metre, too_far in told:
            match, open_both = matches[self._kind[n]], not isnan(days_both)
            assert match is not None
            found.append(
                Partner(
                    tree=self._trees[n].season.tree,
                    cultivar=self._trees[n].season.cultivar,
                    serves=match.serves,
                    why=match.why,
                    overlap_days=int(days_both) if open_both else None,
                    overlap_share=days_both / length if open_both else None,
                    give_or_take_days=int(max(give, self._give[at])) if open_both else 0,
                    past_overlap_days=past if seasons else None,
                    past_seasons=seasons,
                    rows_apart=None if isnan(row) else int(row),
                    places_apart=None if isnan(place) else int(place),
                    distance_m=None if isnan(metre) else metre,
                    far=too_far,
                )
            )
        return found, len(whole) - len(order)

    def _past_overlaps(self, at: int) -> tuple[Floats, NDArray[np.int64]]:
        """Mean days together with each tree in past seasons that both have, and how many."""
        length = OPENS_BEFORE + FADES_AFTER + 1
        days = np.maximum(0.0, length - np.abs(self._past - self._past[at]))
        seasons = (~np.isnan(days)).sum(axis=1)
        return np.nansum(days, axis=1) / np.maximum(seasons, 1), seasons

    def _bee_weather(self, window: BloomWindow, latitude: float) -> BeeWeather:
        days = (window.first, window.last)
        if days not in self._bees:
            self._bees[days] = bee_weather(self._record, *days, latitude)
        return self._bees[days]


def _most_useful_first(
    serves: NDArray[np.int64], days: Floats, rows: Floats, places: Floats, metres: Floats,
    far: NDArray[np.bool_],
) -> NDArray[np.int64]:  # fmt: skip
    """Those that serve, in bloom together, near, longest, nearest; kinds that never cross: none."""
    together = np.where(np.isnan(days), 1, np.where(days > 0, 0, 2))
    apart = np.nan_to_num(rows) * 100 + np.nan_to_num(places)
    distance = np.where(np.isnan(metres), apart, metres)
    order = np.lexsort((distance, -np.nan_to_num(days), far, together, serves))
    return order[serves[order] >= 0]


def _past_blooms(records: Records, latest: Mapping[str, TreeSeason]) -> pd.DataFrame:
    """Day number of each tree's full bloom in every season but its latest, nan where unknown.

    A row for each tree, a column for each season.
    """
    blooms = full_blooms(records.stages)
    now = blooms["tree"].map({tree: each.season for tree, each in latest.items()})
    blooms["day"] = blooms["bloom"].to_numpy().astype("datetime64[D]").astype(float)
    past = blooms[blooms["season"] != now]
    return past.pivot_table(index="tree", columns="season", values="day")


def _verdict(
    kind: Kind, partners: Sequence[Partner], spots: Spots, near_m: float | None
) -> tuple[Verdict, list[str]]:
    need = f"{kind.cultivar}: {kind.need or 'whether it needs a partner is not known'}" + (
        f" ({kind.need_from})." if kind.need else "."
    )
    reasons = [need]
    serving = [each for each in partners if each.serves == "yes"]
    maybe = [each for each in partners if each.serves == "unknown"]
    best = serving[0] if serving else None
    if kind.need == "self-fruitful":
        return "no partner needed", reasons
    verdict: Verdict
    if best is not None and best.overlap_days is None:
        verdict = "unknown"
        reasons.append(f"{best.tree} ({best.cultivar}) would serve, but the blooms are not known.")
    elif best is not None and (best.overlap_days or 0) > 0:
        little = (best.overlap_days or 0) < LITTLE_DAYS
        near: Verdict = "partner, but far" if best.far else "partner in bloom"
        verdict = "partner, but little overlap" if little else near
        reasons += [_told(best), *_how_far(best, spots, near_m)]
    elif maybe and any(each.overlap_days is None or each.overlap_days > 0 for each in maybe):
        verdict = "unknown"
        reasons.append(f"{maybe[0].tree} ({maybe[0].cultivar}): {maybe[0].why}.")
    elif kind.need:
        verdict = "no partner"
        reasons.append(_why_none(partners))
    else:
        verdict = "unknown"
    return verdict, reasons


def _told(best: Partner) -> str:
    give = f", give or take {best.give_or_take_days}" if best.give_or_take_days else ""
    share = "" if best.overlap_share is None else f" ({best.overlap_share:.0%} of its own bloom)"
    return (
        f"{best.tree} ({best.cultivar}) is in bloom with it for {best.overlap_days} days"
        f"{give}{share}; {best.why}."
    )


def _how_far(best: Partner, spots: Spots, near_m: float | None) -> list[str]:
    """How far away it stands beside what handbooks ask, or what is to be entered to know it."""
    if near_m is None:
        return []
    asked = f"handbooks ask for about {near_m:g} m or less (common practice, no source)"
    if best.distance_m is not None:
        where = f"{best.tree} stands about {best.distance_m:.0f} m away"
        return [f"{where}: too far, {asked}." if best.far else f"{where}; {asked}."]
    lacking = "each tree's row and position"
    if best.rows_apart is not None and best.places_apart is not None:
        named = {"row_spacing_m": spots.row_spacing_m, "tree_spacing_m": spots.tree_spacing_m}
        lacking = "the site's " + " and ".join(n for n, value in named.items() if np.isnan(value))
    return [f"How far away it stands is unknown: enter {lacking}; {asked}."]


def _why_none(partners: Sequence[Partner]) -> str:
    if not partners:
        return "No other tree of a kind that could serve stands at this site."
    order = {"yes": 0, "unknown": 1}
    apart = sorted((each for each in partners if each.serves in order),
                   key=lambda each: order[each.serves])  # fmt: skip
    if not apart:
        return "; ".join(dict.fromkeys(f"{each.cultivar}: {each.why}" for each in partners)) + "."
    best = apart[0]
    who = f"{best.tree} ({best.cultivar})"
    past = ""
    if best.past_overlap_days is not None and round(best.past_overlap_days) > 0:
        seasons = f"{best.past_seasons} past season" + ("s" if best.past_seasons > 1 else "")
        past = f" In {seasons} they bloomed together {best.past_overlap_days:.0f} days on average."
    if best.serves == "yes":
        return f"{who} would serve, but blooms at another time this season.{past}"
    return f"{who} blooms at another time this season; {best.why}.{past}"
