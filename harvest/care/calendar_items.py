"""The items of the year's calendar, from rules and forecasts, one for each site and kind."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np

from harvest.care.calendar_rules import Kinds, Rule, RuledTrees, Window
from harvest.care.outlook import TreeSeason
from harvest.seasons import season_label

# Names that are worked out the same on every computer: RFC 9562, version 5, of this namespace.
NAMESPACE = uuid.UUID("6f0a3f54-2a3b-5d0e-9a63-6b0f6a3f2c11")
CODE_LENGTH = 8

Status = Literal["open", "done"]


@dataclass(frozen=True, slots=True)
class CalendarItem:
    """Something the year asks for: when, why, for which trees, and whether it is done."""

    uid: str
    """The same in every run, so that a calendar that takes it in again updates it."""
    code: str
    """The uid's beginning: what people type to mark it."""
    item: str
    title: str
    site: str
    what: str
    """The kind of tree: a cultivar, a species, or all trees of the site."""
    what_species: str
    """Its species; blank where it is about several."""
    season: int
    season_shown: str
    first_day: date
    last_day: date
    earliest: date
    latest: date
    """8 in 10: it begins no sooner than `earliest` and ends no later than `latest`."""
    trees: tuple[str, ...]
    todo: str
    why: str
    source: str
    urgency: int
    """0 cannot wait, 1 a lost day does harm, 2 a deadline, 3 this week, 4 some time."""
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    status: Status = "open"
    moved: bool = False
    added: bool = False

    @property
    def days_set(self) -> bool:
        """Whether a person set its days, or its one possible start is known."""
        sure = (self.earliest, self.latest) == (self.first_day, self.last_day)
        return self.moved or (self.added and sure)

    def on(self, first: date, last: date) -> bool:
        """Whether its days meet those from `first` to `last`."""
        return self.first_day <= last and first <= self.last_day

    def concerns(self, site: str | None, tree: str | None) -> bool:
        """Whether it is about a site and a tree, by any spelling of case; None: any."""
        trees = {name.casefold() for name in self.trees}
        return (site is None or site.casefold() == self.site.casefold()) and (
            tree is None or tree.casefold() in trees
        )


def uid_of(*parts: object) -> str:
    """A name for an item that is the same in every run."""
    key = "|".join(str(part).casefold() for part in parts)
    return str(uuid.uuid5(NAMESPACE, key))


def rule_items(
    rules: Sequence[Rule],
    seasons: Iterable[TreeSeason],
    kinds: Kinds,
    advised: frozenset[tuple[str, int]] = frozenset(),
) -> list[CalendarItem]:
    """The items that the rules make of tree-seasons; trees of one kind share an item.

    `advised` are the trees and seasons that have an item of their own for thinning.
    Sorted by first day, then urgency.
    """
    trees = RuledTrees(list(seasons), kinds)
    own = np.array([(each.tree, each.season) in advised for each in trees.seasons], dtype=bool)
    items = []
    for rule in rules:
        days = rule.days(trees)
        wanted = np.asarray(~np.isnan(days).any(axis=1))
        if rule.item == "thinning":
            wanted &= ~own
        for rows in trees.alike(rule.per, wanted):
            together = [trees.seasons[row] for row in rows.tolist()]
            items.append(_item(rule, Window.around(days[rows]), together))
    return sorted(items, key=order)


def not_dated(seasons: Iterable[TreeSeason]) -> list[str]:
    """What is missing from the calendar because a tree's bloom or ripe date is unknown, and why."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for tree in seasons:
        if tree.fruit_gone:
            continue
        if tree.bloom.status == "unknown":
            missing, why = "all that goes by bloom", tree.bloom.why_unknown
        elif tree.ripe.status == "unknown":
            missing, why = "picking, testing and storing", tree.ripe.why_unknown
        else:
            continue
        reason = " ".join(why) or "No date can be told."
        groups.setdefault((tree.site, missing, reason), []).append(tree.tree)
    return [
        f"{site}: {missing} of {', '.join(trees)}: {reason}"
        for (site, missing, reason), trees in groups.items()
    ]


def order(item: CalendarItem) -> tuple[date, int, str, str, str]:
    """How items are listed: by first day, then urgency, then name."""
    return item.first_day, item.urgency, item.site, item.title, item.what


def with_notes(
    item: CalendarItem, notes: Sequence[str], urgency: int | None = None
) -> CalendarItem:
    """The item with more to know, and more urgent where that is said."""
    level = item.urgency if urgency is None else min(item.urgency, urgency)
    return replace(item, notes=(*item.notes, *notes), urgency=level)


def _what(rule: Rule, tree: TreeSeason) -> str:
    if rule.per == "site":
        return "all trees" if "evergreen" not in rule.kinds else "evergreen trees"
    return tree.species if rule.per == "species" else f"{tree.species} {tree.cultivar}"


def _item(rule: Rule, window: Window, together: Sequence[TreeSeason]) -> CalendarItem:
    """The item of some trees of one site, season and kind."""
    tree = together[0]
    what = _what(rule, tree)
    uid = uid_of(rule.item, tree.site, what, tree.season)
    return CalendarItem(
        uid=uid,
        code=uid[:CODE_LENGTH],
        item=rule.item,
        title=rule.title,
        site=tree.site,
        what=what,
        what_species="" if rule.per == "site" else tree.species,
        season=tree.season,
        season_shown=season_label(tree.season, tree.latitude),
        first_day=window.first,
        last_day=window.last,
        earliest=window.earliest,
        latest=window.latest,
        trees=tuple(each.tree for each in together),
        todo=rule.todo,
        why=rule.why,
        source=rule.source,
        urgency=rule.urgency,
        cautions=rule.cautions,
    )
