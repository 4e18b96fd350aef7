"""What people said about calendar items: done, moved, switched off, added."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from harvest.care.calendar_items import CODE_LENGTH, CalendarItem, order, uid_of
from harvest.errors import InputError

Word = Literal["done", "moved", "off", "added"]
OWN_SOURCE = "added by you"


@dataclass(frozen=True, slots=True)
class CalendarMark:
    """One thing said about an item.

    `target` is the item's uid; for `off` it may be a kind of item ("frost watch"), switched off
    everywhere, or one at a site ("frost watch@Home"). `added` items carry their own title, days,
    site and reason.
    """

    mark: Word
    target: str
    marked_on: date
    site: str | None = None
    title: str | None = None
    first_day: date | None = None
    last_day: date | None = None
    why: str | None = None


def marked(items: Sequence[CalendarItem], marks: Sequence[CalendarMark]) -> list[CalendarItem]:
    """The items as people marked them: without those off, with those added, moved and done."""
    by_word: dict[str, dict[str, CalendarMark]] = {}
    for mark in marks:
        by_word.setdefault(mark.mark, {})[mark.target.casefold()] = mark
    off, moved, done = (by_word.get(word, {}) for word in ("off", "moved", "done"))
    out = []
    for item in [*items, *_added(by_word.get("added", {}).values())]:
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


def added_mark(
    site: str, title: str, first_day: date, last_day: date, *, why: str | None, on: date
) -> CalendarMark:
    """A mark that adds an item. Raises InputError for days in the wrong order or no title."""
    if last_day < first_day:
        raise InputError(
            "the last day must not lie before the first",
            given=f"{first_day} to {last_day}",
            todo="Swap the two days.",
        )
    if not title.strip():
        raise InputError("an added item needs a title", given=repr(title))
    uid = uid_of("added", site, title, first_day)
    return CalendarMark("added", uid, on, site, title.strip(), first_day, last_day, why)


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


def _added(marks: Iterable[CalendarMark]) -> list[CalendarItem]:
    out = []
    for mark in marks:
        first, last = mark.first_day, mark.last_day
        if first is None or last is None:
            continue
        out.append(
            CalendarItem(
                uid=mark.target,
                code=mark.target[:CODE_LENGTH],
                item="added",
                title=mark.title or "",
                site=mark.site or "",
                what="",
                what_species="",
                season=first.year,
                season_shown="",
                first_day=first,
                last_day=last,
                earliest=first,
                latest=last,
                trees=(),
                todo=mark.title or "",
                why=mark.why or "",
                source=OWN_SOURCE,
                urgency=2,
                added=True,
            )
        )
    return out
