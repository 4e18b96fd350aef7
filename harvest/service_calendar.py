"""The use cases about the year's calendar: what to do when, what was done, the file of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

import pandas as pd

from harvest.care import calendar_marks
from harvest.care.at_picking import AtPicking, at_picking
from harvest.care.calendar_file import Told, calendar_text, description, summary
from harvest.care.calendar_items import CalendarItem, not_dated, rule_items
from harvest.care.calendar_marks import CalendarMark, HeatSum, added_mark, find_item
from harvest.care.calendar_rules import kinds_of, rules_from
from harvest.care.crop_due import CropDue, crop_items
from harvest.care.item_notes import ItemNotes
from harvest.care.next_season import next_seasons
from harvest.care.own_items import kind_named, kinds_at, own_items
from harvest.care.site_days import forecast, measured
from harvest.care.watch import watch_items
from harvest.care.week import WeekTask, week_tasks
from harvest.errors import InputError, UnknownNameError
from harvest.service_known import Known, known_on
from harvest.store.about import read_about
from harvest.store.calendar_marks import drop_mark, read_marks, read_undone, save_mark
from harvest.store.history import Signature
from harvest.store.history_reading import read_batches
from harvest.store.orchard import Orchard
from harvest.store.reading import read_records
from harvest.store.reference import (
    calendar_table,
    frost_kill_table,
    species_table,
    watch_table,
)
from harvest.weather.daily import Daily

__all__ = [
    "AtPicking",
    "CalendarItem",
    "HeatSum",
    "Marked",
    "OrchardYear",
    "WeekTask",
    "add_item",
    "all_of_item",
    "calendar",
    "calendar_file",
    "calendar_item",
    "kinds_at",
    "mark_done",
    "move_item",
    "picking_advice",
    "put_off",
    "switch_off",
    "switch_on",
    "switched_off",
    "week",
]

# Items of a tree removed so long ago lie behind us [d].
GONE_DAYS = 400


@dataclass(frozen=True)
class OrchardYear:
    """The calendar's items, soonest first, and what cannot be said and why."""

    as_of: date
    items: tuple[CalendarItem, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True)
class Marked:
    """What was said about an item, and the change of the history that it is."""

    note: str
    batch: int | None
    """Its number, to be undone by; None where nothing changed."""
    item: CalendarItem | None = None
    """The item as it was; None for a kind of item and for one's own new one."""


def calendar(orchard: Orchard, as_of: date, *, known: Known | None = None) -> OrchardYear:
    """Everything the running and the next season ask for, as people marked it."""
    return _year(orchard, known or known_on(orchard, as_of))


def week(orchard: Orchard, as_of: date, *, known: Known | None = None) -> list[WeekTask]:
    """What this week asks for, what cannot wait first."""
    known = known or known_on(orchard, as_of)
    return week_tasks(_year(orchard, known).items, known.withholding, as_of)


def calendar_file(
    orchard: Orchard, as_of: date, *, site: str | None = None, tree: str | None = None,
    known: Known | None = None, told: Told = str,
) -> bytes:  # fmt: skip
    """The items from a week ago on as an iCalendar file (RFC 5545), of all or one site or tree.

    What an earlier file may have held and is switched off or undone by now, or whose trees are
    gone since, is in it as cancelled. `told` is how its sentences are told.
    """
    known = known or known_on(orchard, as_of)
    since = as_of - timedelta(days=7)

    def wanted(items: Sequence[CalendarItem]) -> list[CalendarItem]:
        return [i for i in items if i.last_day >= since and i.concerns(site, tree)]

    items = wanted(_year(orchard, known).items)
    kept = {item.uid for item in items}
    gone = [item for item in wanted(_once_asked_for(orchard, known)) if item.uid not in kept]
    changes = max((entry.number for entry in read_batches(orchard, 1)), default=0)
    name = read_about(orchard).name
    return calendar_text(items, name, as_of, changes, told, cancelled=gone)


def calendar_item(orchard: Orchard, code: str, as_of: date) -> CalendarItem:
    """One item by its code. Raises InputError where none or several begin with it."""
    return find_item(calendar(orchard, as_of).items, code)


def all_of_item(item: CalendarItem) -> str:
    """Everything there is to know of an item: how, why, how sure, of which trees, from where."""
    return f"{summary(item)} ({item.site})\n{description(item)}"


@cache
def picking_advice() -> dict[str, AtPicking]:
    """How to tell that fruit is ready and how to take and keep it, by species."""
    return at_picking(species_table())


def mark_done(
    orchard: Orchard, code: str, as_of: date, signed: Signature, *, undo: bool = False,
    known: Known | None = None,
) -> Marked:  # fmt: skip
    """Mark an item done, or not done after all."""
    item = find_item(calendar(orchard, as_of, known=known).items, code)
    if undo:
        note = f"not done: {_named(item)}"
        return Marked(note, drop_mark(orchard, "done", item.uid, signed, note), item)
    return _save(orchard, CalendarMark("done", item.uid, as_of), signed, item)


def move_item(
    orchard: Orchard, code: str, first: date, last: date, as_of: date, signed: Signature, *,
    known: Known | None = None,
) -> Marked:  # fmt: skip
    """Give an item other days. Raises InputError for days in the wrong order."""
    if last < first:
        raise InputError(
            "the last day must not lie before the first", given=f"{first} to {last}",
            todo="Swap the two days.",
        )  # fmt: skip
    item = find_item(calendar(orchard, as_of, known=known).items, code)
    mark = CalendarMark("moved", item.uid, as_of, first_day=first, last_day=last)
    return _save(orchard, mark, signed, item)


def put_off(
    orchard: Orchard, code: str, as_of: date, signed: Signature, *, known: Known | None = None
) -> Marked:
    """Put an item off to the week after the as-of date; its last day stays where it is later."""
    item = find_item(calendar(orchard, as_of, known=known).items, code)
    first = max(as_of, item.first_day) + timedelta(days=7)
    last = max(first, item.last_day)
    return move_item(orchard, code, first, last, as_of, signed, known=known)


def switch_off(
    orchard: Orchard, what: str, as_of: date, signed: Signature, *, site: str | None = None,
    known: Known | None = None,
) -> Marked:  # fmt: skip
    """Switch a kind of item off, everywhere or at a site, or a single one by its code."""
    items = calendar(orchard, as_of, known=known).items
    target, item = _off_target(items, what, site)
    mark = CalendarMark("off", target, as_of)
    return _save(orchard, mark, signed, item, target if item is None else "")


def switch_on(orchard: Orchard, what: str, signed: Signature, *, site: str | None = None) -> Marked:
    """Take a switching-off back; without a number where there was none."""
    target = what.casefold() if site is None else f"{what}@{site}".casefold()
    off = [row["target"] for row in read_marks(orchard, date.max) if row["mark"] == "off"]
    if target not in off:
        found = [each for each in off if each.startswith(what.casefold())]
        target = found[0] if len(found) == 1 else target
    note = f"on again: {what}"
    return Marked(note, drop_mark(orchard, "off", target, signed, note))


def switched_off(orchard: Orchard, as_of: date) -> list[str]:
    """What is switched off on a day: kinds, kinds at a site (kind@site), codes of single items."""
    return [row["target"] for row in read_marks(orchard, as_of) if row["mark"] == "off"]


def add_item(
    orchard: Orchard, site: str, title: str, when: tuple[date, date] | HeatSum, as_of: date,
    signed: Signature, *, why: str | None = None, what: str | None = None,
) -> Marked:  # fmt: skip
    """Add an item of one's own to a site's calendar, by days or by a sum of degree days.

    `what` is the tree, row, cultivar or species there that it is for; None: the site.
    Raises UnknownNameError for a site that is not on record or has nothing of that name,
    InputError for days or a sum that cannot be.
    """
    records = read_records(orchard, as_of)
    sites = {str(name).casefold(): str(name) for name in records.sites["site"]}
    if site.casefold() not in sites:
        raise UnknownNameError("site", site, list(sites.values()))
    site = sites[site.casefold()]
    of = None if what is None else kind_named(records.trees, site, what)
    mark = added_mark(site, title, when, why=why, on=as_of, what=of)
    named = ", ".join(part for part in (of, site) if part)
    return _save(orchard, mark, signed, None, f"{mark.title} ({named})")


def _save(
    orchard: Orchard, mark: CalendarMark, signed: Signature, item: CalendarItem | None,
    named: str = "",
) -> Marked:  # fmt: skip
    note = f"{mark.mark}: {named if item is None else _named(item)}"
    number = save_mark(orchard, dataclasses.asdict(mark), signed, note)
    return Marked(note, number, item)


def _named(item: CalendarItem) -> str:
    of = ", ".join(part for part in (item.what, item.site) if part)
    return f"{item.title} ({of})"


def _off_target(
    items: Sequence[CalendarItem], what: str, site: str | None
) -> tuple[str, CalendarItem | None]:
    kinds = {item.item.casefold() for item in items} | set(calendar_table()["item"])
    if what.casefold() in kinds:
        return (what.casefold() if site is None else f"{what}@{site}".casefold()), None
    item = find_item(items, what)
    return item.uid, item


def _year(orchard: Orchard, known: Known) -> OrchardYear:
    year, marks = known.once(_unmarked), _marks(orchard, known)
    own, unknown = _own(marks, known)
    items = calendar_marks.marked([*year.items, *own], marks)
    return OrchardYear(year.as_of, tuple(items), (*year.unknown, *unknown))


def _own(marks: Sequence[CalendarMark], known: Known) -> tuple[list[CalendarItem], list[str]]:
    by_heat = any(mark.degree_days is not None for mark in marks)
    return own_items(marks, known.records, known.once(_weather) if by_heat else {})


def _weather(known: Known) -> dict[str, Daily]:
    return measured(known.records)


def _marks(orchard: Orchard, known: Known) -> list[CalendarMark]:
    return [CalendarMark(**row) for row in read_marks(orchard, known.as_of)]


def _once_asked_for(orchard: Orchard, known: Known) -> list[CalendarItem]:
    """The year's items if nothing were switched off or undone and no tree had gone of late."""
    marks = [mark for mark in _marks(orchard, known) if mark.mark != "off"]
    marks += [CalendarMark(**row) for row in read_undone(orchard, known.as_of)]
    own, _ = _own(marks, known)
    items = [*known.once(_unmarked).items, *own]
    trees = known.records.trees
    late = trees["removed"] >= pd.Timestamp(known.as_of - timedelta(days=GONE_DAYS))
    # What a tree was before it was grafted over is over, but the tree stands.
    late &= trees["tree"] == trees["own_name"] if "own_name" in trees else True
    if late.any():
        standing = trees.assign(removed=trees["removed"].mask(late))
        there = {item.uid for item in items}
        before = Known(dataclasses.replace(known.records, trees=standing))
        own, _ = _own(marks, before)
        items += [i for i in (*before.once(_unmarked).items, *own) if i.uid not in there]
    return calendar_marks.marked(items, marks)


def _unmarked(all_known: Known) -> OrchardYear:
    """The year before anybody marked anything in it."""
    known = all_known.records
    seasons = [*all_known.tree_seasons, *next_seasons(known, all_known.traits)]
    weather = all_known.once(_weather)
    kinds = kinds_of(species_table(), frost_kill_table())
    due = _crop_due(all_known)
    advised = frozenset((each.tree, each.season) for each in due)
    items = rule_items(rules_from(calendar_table()), seasons, kinds, advised)
    watch, unknown = watch_items(watch_table(), known, seasons, weather)
    items += [*watch, *crop_items(due)]
    notes = ItemNotes(
        known, all_known.withholding, weather, forecast(known), picking_advice(), frost_kill_table()
    )
    year = tuple(notes.on(item) for item in items)
    return OrchardYear(known.as_of, year, (*unknown, *not_dated(seasons)))


def _crop_due(known: Known) -> list[CropDue]:
    trees = known.records.trees.set_index("tree")
    latitude, planted = trees["latitude"], trees["planted"]
    return [
        CropDue(
            tree=row.tree,
            site=row.site,
            species=row.species,
            cultivar=row.cultivar,
            season=row.season,
            latitude=float(latitude[row.tree]),
            strip=row.advice == "strip",
            fruit_limit=row.fruit_limit,
            act_by=row.act_by,
            why=" ".join(row.reasons),
            sources=row.sources,
        )
        for row in known.crop_advice
        if row.act_by is not None
        and row.advice in ("strip", "limit")
        and row.act_by >= planted[row.tree].date()
    ]
