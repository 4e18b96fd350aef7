"""Seasons of trees, cultivars, sites and so on, as pictures and sentences take them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from dashboard.data import Crop, ForecastPicked, GroupSeason, SeasonReasons, season_label

JUDGED = ("good", "poor")
# Crops from which on something can be said of their forecasts; shares of crops inside 80 % ranges
# that tell of ranges too narrow or too wide; and the share on one side of the middle from which on
# it lay too low or too high. Trees of a season err together, so all of it is rough [judgement].
LEAST_CROPS = 10
TOO_NARROW, TOO_WIDE, ONE_SIDED = 0.65, 0.92, 0.7


@dataclass(frozen=True)
class GroupRow:
    """One group's seasons, oldest first."""

    name: str
    seasons: tuple[GroupSeason, ...]

    @property
    def latest(self) -> GroupSeason | None:
        """The latest season of which anything is on record."""
        return next((each for each in reversed(self.seasons) if recorded(each)), None)


@dataclass(frozen=True)
class Cause:
    """One candidate reason for a group's season."""

    cause: str
    trees: int
    """Trees of which the records support it."""
    example: str
    """What the records say of the tree it is best supported for."""
    tree: str


@dataclass(frozen=True)
class Why:
    """A good or poor season, and what the records hold about it, strongest evidence first."""

    season: GroupSeason
    trees: int
    """Trees whose own season came out the same way."""
    causes: tuple[Cause, ...]


@dataclass(frozen=True)
class SiteAnswer:
    """A site's latest season with a pick, the last whole one before it, and what lies behind."""

    site: str
    latest: GroupSeason
    before: GroupSeason | None
    why: Why | None


@dataclass(frozen=True)
class Foreseen:
    """What forecasts of past crops were worth."""

    crops: int
    seasons: tuple[int, ...]
    inside: int
    """Crops inside the 80 % range of their forecast."""
    above: int
    """Crops above the middle of it."""
    missed: float | None
    """Share of what was picked by which the middle missed it, the middle one of all crops."""
    guess_missed: float | None
    """The same for the mean of the tree's crops until then; None where too few had one."""

    @property
    def range_was(self) -> Literal["few", "narrow", "wide", "right"]:
        """What the share inside tells of the range."""
        if self.crops < LEAST_CROPS:
            return "few"
        share = self.inside / self.crops
        return "narrow" if share < TOO_NARROW else "wide" if share > TOO_WIDE else "right"

    @property
    def middle_was(self) -> Literal["low", "high"] | None:
        """Whether crops lay on one side of the middle."""
        if self.crops < LEAST_CROPS:
            return None
        share = self.above / self.crops
        return "low" if share > ONE_SIDED else "high" if share < 1 - ONE_SIDED else None


def foreseen(rows: Sequence[ForecastPicked]) -> Foreseen:
    """Forecasts of past crops beside what was picked, added up; of one crop at least."""
    weighed = [row for row in rows if row.picked_kg > 0]
    guessed = [(row, row.own_mean_kg) for row in weighed if row.own_mean_kg is not None]
    both = len(guessed) >= LEAST_CROPS
    misses = [
        _missed(row.kg[0.5], row) for row in ([row for row, _ in guessed] if both else weighed)
    ]
    return Foreseen(
        crops=len(rows),
        seasons=tuple(sorted({row.season for row in rows})),
        inside=sum(came_inside(row) for row in rows),
        above=sum(row.picked_kg > row.kg[0.5] for row in rows),
        missed=median(misses) if misses else None,
        guess_missed=median(_missed(kg, row) for row, kg in guessed) if both else None,
    )


def came_inside(row: ForecastPicked) -> bool:
    """Whether a crop came inside the 80 % range of its forecast."""
    return row.kg[0.1] <= row.picked_kg <= row.kg[0.9]


def _missed(kg: float, row: ForecastPicked) -> float:
    return abs(kg - row.picked_kg) / row.picked_kg


def recorded(season: GroupSeason) -> bool:
    """Whether anything is on record of a season."""
    return bool(season.trees_picked or season.trees_none or season.trees_stripped)


def kind(season: GroupSeason) -> Crop:
    """Picked where any tree was; else stripped, none, or not recorded, in that order."""
    if season.trees_picked:
        return "picked"
    if season.trees_stripped:
        return "stripped"
    return "none" if season.trees_none else "not recorded"


def group_rows(groups: Iterable[GroupSeason]) -> list[GroupRow]:
    """Groups of which anything is on record, by name."""
    found: dict[str, list[GroupSeason]] = defaultdict(list)
    for each in groups:
        found[each.name].append(each)
    return [
        GroupRow(name, tuple(found[name]))
        for name in sorted(found, key=str.casefold)
        if any(recorded(each) for each in found[name])
    ]


def seasons_shown(rows: Iterable[GroupRow], most: int) -> list[int]:
    """The latest seasons, from the first of which anything is recorded; at most so many."""
    seasons = [each.season for row in rows for each in row.seasons if recorded(each)]
    if not seasons:
        return []
    return list(range(max(min(seasons), max(seasons) - most + 1), max(seasons) + 1))


def answers(rows: Iterable[GroupRow], whys: Mapping[tuple[str, int], Why]) -> list[SiteAnswer]:
    """What is said of each site at the top."""
    found = []
    for row in rows:
        picked = [each for each in row.seasons if each.trees_picked]
        if not picked:
            continue
        latest = picked[-1]
        before = [each for each in picked[:-1] if each.complete]
        found.append(
            SiteAnswer(
                site=row.name,
                latest=latest,
                before=before[-1] if before and not latest.complete else None,
                why=whys.get((row.name, latest.season)),
            )
        )
    return found


def whys(
    groups: Iterable[GroupSeason],
    reasons: Sequence[SeasonReasons],
    group_of: Mapping[str, str],
) -> list[Why]:
    """Good and poor seasons, latest first, with the candidate reasons of their trees.

    `group_of` names the group of each tree. A cause counts by the evidence for it, added up over
    the trees whose own season came out the same way.
    """
    found: dict[tuple[str, int, str], list[SeasonReasons]] = defaultdict(list)
    for each in reasons:
        if each.tree in group_of:
            found[group_of[each.tree], each.season, each.verdict].append(each)
    judged = [each for each in groups if each.verdict in JUDGED]
    judged.sort(key=lambda each: (-each.season, each.name.casefold()))
    return [_why(each, found[each.name, each.season, each.verdict]) for each in judged]


def _why(season: GroupSeason, trees: Sequence[SeasonReasons]) -> Why:
    weight: dict[str, float] = defaultdict(float)
    count: dict[str, int] = defaultdict(int)
    best: dict[str, tuple[float, str, str]] = {}
    for tree in trees:
        for reason in {each.cause: each for each in reversed(tree.reasons)}.values():
            weight[reason.cause] += reason.strength
            count[reason.cause] += 1
            if reason.strength > best.get(reason.cause, (-1.0, "", ""))[0]:
                best[reason.cause] = (reason.strength, reason.text, tree.tree)
    ordered = sorted(weight, key=lambda cause: -weight[cause])
    return Why(
        season=season,
        trees=len(trees),
        causes=tuple(Cause(each, count[each], *best[each][1:]) for each in ordered),
    )


def labels(seasons: Iterable[int], latitudes: Iterable[float]) -> dict[int, str]:
    """What seasons are called: `2025/26` in the south, the plain year where sites of both meet."""
    known = set(latitudes)
    south = bool(known) and all(latitude < 0 for latitude in known)
    return {season: season_label(season, -1.0 if south else 1.0) for season in seasons}
