"""What people said about calendar items: done, moved, switched off, added."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from harvest.care.calendar_items import CalendarItem, order, uid_of
from harvest.errors import InputError

Word = Literal["done", "moved", "off", "added"]
# Sums, bases and cut-offs that can be meant [degC d, degC]; a typing slip lies outside.
MOST_DEGREE_DAYS, LOWEST_C, HIGHEST_C = 20_000.0, -20.0, 50.0


@dataclass(frozen=True, slots=True)
class CalendarMark:
    """One thing said about an item.

    `target` is the item's uid; for `off` it may be a kind of item ("frost watch"), switched off
    everywhere, or one at a site ("frost watch@Home"). `added` items carry their own title, site,
    what they are for (a tree, row, cultivar or species; None: the site) and reason, and either
    their days or a sum of degree days over `base_c`, cut off at `upper_c`, counted each year from
    the day of `count_from` or from the first event that has the words of `count_event`.
    """

    mark: Word
    target: str
    marked_on: date
    site: str | None = None
    title: str | None = None
    first_day: date | None = None
    last_day: date | None = None
    why: str | None = None
    what: str | None = None
    degree_days: float | None = None
    base_c: float | None = None
    upper_c: float | None = None
    count_from: date | None = None
    count_event: str | None = None


def marked(items: Sequence[CalendarItem], marks: Sequence[CalendarMark]) -> list[CalendarItem]:
    """The items as people marked them: without those off, those moved and done marked so."""
    by_word: dict[str, dict[str, CalendarMark]] = {}
    for mark in marks:
        by_word.setdefault(mark.mark, {})[mark.target.casefold()] = mark
    off, moved, done = (by_word.get(word, {}) for word in ("off", "moved", "done"))
    out = []
    for item in items:
        if {item.uid, item.item.casefold(), f"{item.item}@{item.site}".casefold()} & off.keys():
            continue
        to = moved.get(item.uid)
        if to is not None and to.first_day and to.last_day:
            item = replace(
                item,
                first_day=to.first_day,
                last_day=to.last_day,
                earliest=to.first_day,
                latest=to.last_day,
                moved=True,
            )
        out.append(replace(item, status="done") if item.uid in done else item)
    return sorted(out, key=order)


@dataclass(frozen=True, slots=True)
class HeatSum:
    """When to look, by warmth: `CalendarMark` says what its parts are [degC d, degC]."""

    degree_days: float
    base_c: float
    upper_c: float | None = None
    count_from: date | None = None
    count_event: str | None = None


def added_mark(
    site: str,
    title: str,
    when: tuple[date, date] | HeatSum,
    *,
    why: str | None,
    on: date,
    what: str | None = None,
) -> CalendarMark:
    """A mark that adds an item, for its first and last day or a sum of degree days.

    Raises InputError for days in the wrong order, no title, or a sum that cannot be.
    """
    if not title.strip():
        raise InputError("an added item needs a title", given=repr(title))
    title = title.strip()
    of = () if what is None else (what,)
    if isinstance(when, HeatSum):
        _check_sum(when)
        start = when.count_event or when.count_from
        uid = uid_of("added", site, title, *of, when.degree_days, when.base_c, start)
        return CalendarMark(
            "added", uid, on, site, title, why=why, what=what, **dataclasses.asdict(when)
        )
    first, last = when
    if last < first:
        raise InputError(
            "the last day must not lie before the first",
            given=f"{first} to {last}",
            todo="Swap the two days.",
        )
    uid = uid_of("added", site, title, *of, first)
    return CalendarMark("added", uid, on, site, title, first, last, why, what)


def _check_sum(heat: HeatSum) -> None:
    if not 0 < heat.degree_days <= MOST_DEGREE_DAYS:
        raise InputError(
            f"degree days must lie between 0 and {MOST_DEGREE_DAYS:g}",
            given=f"{heat.degree_days:g}",
        )
    upper = HIGHEST_C if heat.upper_c is None else heat.upper_c
    if not LOWEST_C <= heat.base_c < upper <= HIGHEST_C:
        raise InputError(
            f"the base must lie below the cut-off, both between {LOWEST_C:g} and {HIGHEST_C:g} °C",
            given=f"base {heat.base_c:g} °C, cut-off {upper:g} °C",
        )
    if (heat.count_from is None) == (not (heat.count_event or "").strip()):
        raise InputError(
            "degree days are counted either from a day or from the first event with certain words",
            given="both" if heat.count_from else "neither",
            todo="Name the day, or the words of the event (plum moth catch).",
        )


def find_item(items: Sequence[CalendarItem], code: str) -> CalendarItem:
    """The item a code means. Raises InputError where none or several begin with it."""
    found = [item for item in items if code and item.uid.startswith(code.casefold())]
    if len(found) == 1:
        return found[0]
    given = f"{code!r}, which {'fits several' if found else 'fits none'}"
    raise InputError(
        "the code of one calendar item is needed",
        given=given,
        todo="'harvest calendar' lists them with their codes.",
    )
