"""May I pick yet: withholding periods as logged, against picks made and picking forecast.

Earliest pick = the latest of (day of application + days on its label) over every application
that reached the tree: a repeated treatment starts the wait anew. Days are counted so that 7 days
after 1 June is 8 June. No days are known here but those a person typed from a label; without
them the answer is unknown. Definition of the pre-harvest interval: National Pesticide
Information Center (fact sheet).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, NamedTuple, TypeAlias

import pandas as pd

from harvest.care import texts
from harvest.care.applications import LONGEST_DAYS, Application, applications, as_planted
from harvest.care.outlook import TreeSeason, of_tree
from harvest.records import Records

Day: TypeAlias = date
Answer = Literal["clear", "wait", "unknown"]
# A chance below this is not called a clash: it is the edge of what the forecast tells.
LEAST_CLASH = 0.05
# Picks this far back are looked at [d]: fruit of a year ago may still be in store.
PICKS_DAYS = 366
ANY_CROP = ("all", "any", "every", "fruit", "orchard", "tree")


class TreeName(NamedTuple):
    """Which tree, and what it is."""

    tree: str
    site: str
    species: str
    cultivar: str
    removed: Day | None = None
    """When it was taken out; None: it stands."""


@dataclass(frozen=True, slots=True)
class PickedInside:
    """A pick that was made while a withholding period ran, or might have run."""

    date: date
    weight_kg: float
    product: str
    sprayed: Day
    earliest_pick: Day | None
    says: str


@dataclass(frozen=True, slots=True)
class Withholding:
    """Whether one tree may be picked by the labels as logged, and why not."""

    tree: str
    status: Answer
    earliest_pick: date | None
    """First day by every label logged; None where nothing was used or a period is unknown."""
    because: tuple[Application, ...]
    clashes_with_forecast: bool
    site: str
    species: str
    cultivar: str
    not_before: date | None
    """Where a period is unknown: the first day by the labels that are logged."""
    chance_ripe_before: float | None
    """Chance that the fruit is ripe before the earliest pick [1]; None where it cannot be told."""
    ripe_from: date | None
    ripe_to: date | None
    """8 in 10 chances: the fruit turns ripe between these days."""
    picked_inside: tuple[PickedInside, ...]
    says: tuple[str, ...]
    removed: date | None = None
    """When the tree was taken out; its fruit may still be eaten or sold. None: it stands."""
    cautions: tuple[str, ...] = texts.SPRAY_CAUTIONS


def withholding(records: Records, seasons: Sequence[TreeSeason]) -> list[Withholding]:
    """The answer for each standing tree on the as-of day of the records, in the trees' order.

    A tree that was taken out is among them where its fruit was picked too soon, or may have been;
    picks made before a tree was grafted over count as picks of the tree.

    Parameters
    ----------
    records : what was known on the as-of day.
    seasons : the trees' running seasons with their forecasts; a tree may have none or several.
    """
    reached, odd = applications(records)
    running = of_tree(seasons)
    picks = _recent_picks(records)
    found = (
        answer(
            name,
            reached.get(name.tree, []),
            running.get(name.tree, []),
            picks.get(name.tree, []),
            records.as_of,
            tuple(odd),
        )
        for name in _names(as_planted(records.trees))
    )
    return [each for each in found if each.removed is None or each.picked_inside]


def _names(trees: pd.DataFrame) -> list[TreeName]:
    columns = trees[["tree", "site", "species", "cultivar", "removed"]]
    return [
        TreeName(
            str(tree), str(site), str(species), str(cultivar),
            None if pd.isna(removed) else removed.date(),
        )
        for tree, site, species, cultivar, removed in columns.itertuples(index=False, name=None)
    ]  # fmt: skip


def answer(
    tree: TreeName,
    used: Sequence[Application],
    seasons: Sequence[TreeSeason],
    picks: Sequence[tuple[date, float]],
    as_of: date,
    odd: tuple[str, ...] = (),
) -> Withholding:
    """The answer for one tree from what reached it, its forecasts and its picks (day, kg)."""
    holding = [each for each in used if each.holds(as_of)]
    open_ended = [each for each in holding if each.withholding_days is None]
    known = [day for each in used if (day := each.earliest_pick) is not None]
    latest = max(known) if known else None
    running = latest if latest is not None and latest > as_of else None
    status: Answer = "unknown" if open_ended else "wait" if running else "clear"
    open_seasons = [each for each in seasons if not each.fruit_gone]
    share = _chance_before(open_seasons, running) if running else None
    inside = _picked_inside(used, picks)
    nearest = open_seasons[0].ripe if open_seasons else None
    # Fruit that should have been ripe long ago, and was never logged, may hang ripe now.
    missed = any(each.ripe.status == "unknown" for each in open_seasons)
    due = missed or (share is not None and share >= LEAST_CLASH)
    clash = bool(open_ended and open_seasons) or (running is not None and due)
    says = [each.says for each in inside]
    says += _sentences(status, holding, running, bool(used))
    if running and share is not None and due:
        says.append(texts.blocked(running, share))
    if open_ended and open_seasons:
        says.append(texts.blocked_unknown())
    if status == "clear":
        says += [*_ended_today(used, as_of), *_long_ago(used, as_of)]
    says += _off_label(holding, tree.species)
    if tree.removed is not None:
        says.append(texts.removed(tree.removed))
    return Withholding(
        status=status,
        earliest_pick=None if open_ended else latest,
        because=tuple(holding or used[-1:]),
        clashes_with_forecast=clash,
        not_before=running if open_ended else None,
        chance_ripe_before=share,
        ripe_from=nearest.quantile(0.1) if nearest else None,
        ripe_to=nearest.quantile(0.9) if nearest else None,
        picked_inside=tuple(inside),
        says=(*says, *odd),
        removed=tree.removed,
        tree=tree.tree,
        site=tree.site,
        species=tree.species,
        cultivar=tree.cultivar,
    )


def _chance_before(seasons: Sequence[TreeSeason], until: date) -> float | None:
    """Greatest chance that fruit of a running season is ripe before a day [1]."""
    last = until - timedelta(days=1)
    shares = [share for each in seasons if (share := each.ripe.by(last)) is not None]
    return max(shares) if shares else None


def _sentences(
    status: Answer, holding: Sequence[Application], running: date | None, any_used: bool
) -> list[str]:
    if status == "clear":
        return [texts.CLEAR if any_used else texts.NOTHING_LOGGED]
    said = [
        texts.unknown(each.product, each.date, running)
        for each in holding
        if each.withholding_days is None
    ]
    if status == "wait" and running:
        decisive = [each for each in holding if each.earliest_pick == running]
        said += [
            texts.wait(running, each.product, each.date, each.withholding_days or 0)
            for each in decisive
        ]
    return said


def _ended_today(used: Sequence[Application], as_of: date) -> list[str]:
    ended = [each for each in used if each.earliest_pick == as_of and each.date < as_of]
    return [texts.ends_today(each.product, as_of) for each in ended]


def _long_ago(used: Sequence[Application], as_of: date) -> list[str]:
    """Applications without a period, longer ago than any can be: told, not counted."""
    old = [each for each in used if each.unknown_but_old(as_of)]
    if not old:
        return []
    return [texts.old_unknown(old[-1].product, old[-1].date, len(old) - 1, LONGEST_DAYS)]


def _off_label(holding: Sequence[Application], species: str) -> list[str]:
    """Applications whose label, as logged, is for another crop."""
    kind = species.casefold()
    words = {kind, *kind.split()}
    said = []
    for each in holding:
        crop = (each.crop or "").casefold()
        named = any(word in crop for word in (*words, *ANY_CROP))
        if crop and not named:
            said.append(texts.crop_not_on_label(str(each.crop), species, each.product))
    return said


def _picked_inside(
    used: Sequence[Application], picks: Sequence[tuple[date, float]]
) -> list[PickedInside]:
    found = []
    for day, weight in picks:
        for each in used:
            if weight <= 0 or not each.holds(day):
                continue
            earliest = each.earliest_pick
            if earliest is None or each.withholding_days is None:
                says = texts.picked_unknown(each.product, each.date)
            else:
                says = texts.picked_inside(
                    day, each.product, each.date, each.withholding_days, earliest
                )
            found.append(PickedInside(day, weight, each.product, each.date, earliest, says))
    return found


def _recent_picks(records: Records) -> dict[str, list[tuple[date, float]]]:
    picks = records.picks
    since = pd.Timestamp(records.as_of) - pd.Timedelta(days=PICKS_DAYS)
    recent = picks[picks["date"] >= since]
    trees = recent["tree"]
    if "own_name" in records.trees:
        trees = trees.map(records.trees.set_index("tree")["own_name"])
    found: dict[str, list[tuple[date, float]]] = {}
    for tree, day, weight in zip(trees, recent["date"], recent["weight_kg"], strict=True):
        found.setdefault(str(tree), []).append((day.date(), float(weight)))
    return found
