"""The year's calendar as its page shows it: what passes, by month, and a row for each kind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from dashboard.address import View
from dashboard.data import CalendarItem, Withholding

AHEAD_DAYS = 366
OLD_DAYS = 31
ABOUT_FRUIT = ("picking", "maturity test")
Held = Mapping[str, date | None]
DEADLINE = 2
"""Items of this urgency or more pressing have a last day that counts."""


@dataclass(frozen=True)
class Row:
    """One kind of work at a site, with the items of it."""

    title: str
    items: tuple[CalendarItem, ...]


@dataclass(frozen=True)
class Off:
    """What is switched off: a kind everywhere or at a site, or a single item."""

    target: str
    kind: str
    site: str | None
    single: bool


def passing(
    items: Iterable[CalendarItem], trees: Iterable[Withholding], view: View, as_of: date
) -> list[CalendarItem]:
    """Items of the coming year that concern the site or tree chosen, or trees that pass filters.

    Items of a whole site go with its trees.
    """
    tree = view.choice("tree")
    kept = [each for each in view.keep(trees) if tree in (None, each.tree)]
    narrow = view.filtered or tree is not None
    names, sites = {each.tree for each in kept}, {each.site for each in kept}
    since, until = as_of - timedelta(days=OLD_DAYS), as_of + timedelta(days=AHEAD_DAYS)
    return [
        item
        for item in items
        if item.on(since, until)
        and (item.last_day >= as_of or item.status == "done" or item.urgency <= DEADLINE)
        and (not narrow or item.site in sites)
        and (not narrow or not item.trees or names.intersection(item.trees))
    ]


def held_now(answers: Iterable[Withholding]) -> Held:
    """Trees that may not be picked, each with its earliest pick; None where that is unknown."""
    return {each.tree: each.earliest_pick for each in answers if each.status != "clear"}


def held_of(item: CalendarItem, held: Held, as_of: date) -> list[str]:
    """Trees of an item about fruit, running or near, that may not be picked when it begins."""
    if item.item not in ABOUT_FRUIT or item.first_day > as_of + timedelta(days=OLD_DAYS):
        return []
    return [
        tree
        for tree in item.trees
        if tree in held and ((until := held[tree]) is None or item.first_day < until)
    ]


def by_month(items: Sequence[CalendarItem], as_of: date) -> list[tuple[date, list[CalendarItem]]]:
    """Items by the month in which they begin; those that have begun under the present one."""
    months: dict[date, list[CalendarItem]] = {}
    for item in items:
        months.setdefault(max(item.first_day, as_of).replace(day=1), []).append(item)
    return sorted(months.items())


def rows_of(items: Sequence[CalendarItem]) -> list[Row]:
    """A row for each kind of work, in the order in which they begin."""
    titles: dict[str, list[CalendarItem]] = {}
    for item in items:
        titles.setdefault(item.title, []).append(item)
    return [Row(title, tuple(own)) for title, own in titles.items()]


def next_due(items: Iterable[CalendarItem], as_of: date) -> CalendarItem | None:
    """The open item whose last day counts and comes next."""
    due = [
        item
        for item in items
        if item.status == "open" and item.urgency <= DEADLINE and item.last_day >= as_of
        and item.first_day <= as_of + timedelta(days=OLD_DAYS)
    ]  # fmt: skip
    return min(due, key=lambda item: (item.last_day, item.urgency, item.title), default=None)


def off_of(target: str) -> Off:
    """What a mark of switching off means."""
    kind, _, site = target.partition("@")
    single = len(target) == 36 and target.count("-") == 4
    return Off(target, kind, site or None, single)
