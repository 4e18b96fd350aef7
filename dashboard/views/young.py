"""Young trees: what each may carry this season, in the order of what must be done next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from dashboard.data import Crop, CropAdvice, SeasonYield, season_start

Urgency = Literal["overdue", "due", "ask", "done", "carry"]
ORDER: tuple[Urgency, ...] = ("overdue", "due", "ask", "carry", "done")
# A tree this young is listed whatever the advice: growers look for it here.
YOUNG_LEAF = 3


@dataclass(frozen=True)
class YoungTree:
    """One tree with its advice, how pressing it is, and what its seasons have been so far."""

    advice: CropAdvice
    urgency: Urgency
    done_on: date | None
    past: tuple[tuple[int, Crop], ...]
    """Leaf and crop of every season so far, oldest first."""

    @property
    def tree(self) -> str:
        """Name of the tree."""
        return self.advice.tree

    @property
    def site(self) -> str:
        """Name of the site."""
        return self.advice.site

    @property
    def species(self) -> str:
        """Name of the species."""
        return self.advice.species

    @property
    def cultivar(self) -> str:
        """Name of the cultivar."""
        return self.advice.cultivar


def young_trees(
    advice: Iterable[CropAdvice],
    yields: Iterable[SeasonYield],
    removals: Mapping[str, list[tuple[date, str]]],
    latitudes: Mapping[str, float],
    as_of: date,
) -> list[YoungTree]:
    """Trees that are not yet to carry a full crop, or are in their first three leaves.

    Advice to strip or limit that names no date to act by is done once fruit were taken off this
    season: `removals` are date and action (strip or thin) of each tree's logged thinnings.
    `latitudes` are those of the sites [deg].
    """
    crops: dict[str, dict[int, Crop]] = defaultdict(dict)
    for seen in yields:
        crops[seen.tree][seen.season] = seen.crop
    found = []
    for item in advice:
        if item.advice == "carry" and item.leaf > YOUNG_LEAF:
            continue
        past = tuple(
            (item.leaf - (item.season - season), crop)
            for season, crop in sorted(crops[item.tree].items())
            if season < item.season and item.leaf - (item.season - season) >= 1
        )
        start = season_start(item.season, latitudes[item.site])
        done = _done_on(item, removals.get(item.tree, []), start)
        found.append(YoungTree(item, _urgency(item, done, as_of), done, past))
    return sorted(found, key=_rank)


def _done_on(item: CropAdvice, logged: list[tuple[date, str]], start: date) -> date | None:
    if item.act_by is not None:
        return None
    enough = {"strip": ("strip",), "limit": ("strip", "thin")}.get(item.advice, ())
    return max((day for day, action in logged if action in enough and day >= start), default=None)


def _urgency(item: CropAdvice, done: date | None, as_of: date) -> Urgency:
    if done is not None:
        return "done"
    if item.advice == "unknown":
        return "ask"
    if item.advice == "carry":
        return "carry"
    return "overdue" if item.act_by is not None and item.act_by < as_of else "due"


def _rank(tree: YoungTree) -> tuple[int, date, str]:
    return ORDER.index(tree.urgency), tree.advice.act_by or date.max, tree.advice.tree
