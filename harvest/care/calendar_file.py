"""The calendar as an iCalendar file (RFC 5545): all-day windows, names that stay the same.

Windows are DATE values, so they are the same days in every time zone. A later export carries a
greater SEQUENCE under the same UID (3.8.7.4), so that a calendar that takes it in updates its
items; what is no longer asked for goes out with STATUS:CANCELLED (3.8.1.11) and leaves them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

from harvest.care import texts
from harvest.care.calendar_items import CalendarItem

if TYPE_CHECKING:
    from icalendar import Event

PRODUCT = "-//harvest//orchard calendar//EN"
SEQUENCE_FROM = date(2000, 1, 1)
CANCELLED = "No longer asked for: it was switched off or taken back, or its trees are gone."

Told = Callable[[str], str]
"""How a sentence is told: as it comes, or in other units and with dates in another order."""


def calendar_text(
    items: Sequence[CalendarItem],
    name: str,
    as_of: date,
    changes: int = 0,
    told: Told = str,
    *,
    cancelled: Sequence[CalendarItem] = (),
) -> bytes:
    """The items as an iCalendar file, UTF-8 with CRLF line ends, lines folded.

    Parameters
    ----------
    name : what the calendar is called.
    as_of : the day the items were known on; it sets DTSTAMP.
    changes : how often the orchard was changed so far. Days and changes set SEQUENCE, so that a
        file of the same day in which an item was moved counts as newer.
    told : how the sentences of an item are told.
    cancelled : items that earlier files may have held and that are no longer asked for.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"{name or 'Orchard'}: the year's work")
    sequence = (as_of - SEQUENCE_FROM).days + changes
    for status, those in (("CONFIRMED", items), ("CANCELLED", cancelled)):
        for item in those:
            event = _event(item, as_of, told, status)
            event.add("sequence", sequence)
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _event(item: CalendarItem, as_of: date, told: Told, status: str) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", item.uid)
    event.add("dtstamp", datetime.combine(as_of, time(0), tzinfo=UTC))
    event.add("dtstart", item.first_day)
    event.add("dtend", item.last_day + timedelta(days=1))  # the end is the first day after
    event.add("summary", told(summary(item)))
    event.add("description", told(description(item) if status == "CONFIRMED" else CANCELLED))
    event.add("location", item.site)
    event.add("categories", [item.item])
    event.add("transp", "TRANSPARENT")
    event.add("status", status)
    return event


def summary(item: CalendarItem) -> str:
    """One line: what, of which kind; whether it is done."""
    done = "Done: " if item.status == "done" else ""
    what = f": {item.what}" if item.what else ""
    return f"{done}{item.title}{what}"


def description(item: CalendarItem) -> str:
    """All there is to know of an item, a sentence a line."""
    lines = [f"{item.todo.rstrip('.')}."]
    if item.why:
        lines.append(f"Why: {item.why.rstrip('.')}.")
    if not item.days_set:
        lines.append(
            f"8 in 10: between {texts.on(item.earliest)} and {texts.on(item.latest)}; likeliest "
            f"{texts.on(item.first_day)} to {texts.on(item.last_day)}."
        )
    lines += item.notes
    if item.trees:
        lines.append(f"Trees: {', '.join(item.trees)}.")
    lines += item.cautions
    lines.append(f"Source: {item.source.rstrip('.')}.")
    return "\n".join(lines)
