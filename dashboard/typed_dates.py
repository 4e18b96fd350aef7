"""Dates as people type them, in the order in which they are shown, read as ISO 8601.

ISO 8601 itself is always understood. What is no date stays as it was typed, and is refused, with
what to do, where it would be kept.
"""

from __future__ import annotations

import re
from datetime import date
from typing import NamedTuple

from dashboard.texts import MONTHS
from dashboard.words import DAY_FIRST, WAYS

# A spray's date may have a time of day behind it.
_TIME = re.compile(r"(?:T|,? +)(\d\d:\d\d(?::\d\d)?)$")
_NAMED = re.compile(r"(?:(\d{1,2})\.? +)?([^\W\d_]{3,})\.?(?: +(\d{1,2}))?(?:,? +(\d{4}))?")
_NUMBERS = re.compile(r"(?:(\d{1,2})[/.])?(\d{1,2})[/.](\d{4})")


class _Parts(NamedTuple):
    year: int | None
    month: int
    day: int | None


def typed_day(text: str) -> str:
    """A day, perhaps with a time, as ISO 8601: `Aug 12, 2026`, `12.8.2026` and their like."""
    time = _TIME.search(text)
    found = _parts(text[: time.start()] if time else text)
    if found is None or found.year is None or found.day is None:
        return text
    try:
        day = date(found.year, found.month, found.day).isoformat()
    except ValueError:
        return text
    return f"{day}T{f'{time[1]}:00'[:8]}" if time else day


def typed_part(text: str) -> str:
    """What dates in ISO 8601 have in common with a part of one: of `Aug 2026`, `2026-08-`."""
    found = _parts(text)
    if found is None:
        return text
    year = "" if found.year is None else f"{found.year}"
    return f"{year}-{found.month:02}-" + ("" if found.day is None else f"{found.day:02}")


def _parts(text: str) -> _Parts | None:
    """Year, month and day of a date, or of what is there of one."""
    if found := _NAMED.fullmatch(text.strip()):
        before, name, after, year = found.groups()
        named = [full.casefold().startswith(name.casefold()) for full in MONTHS]
        if not any(named) or (before and after):
            return None
        day = before or after
        return _Parts(int(year) if year else None, named.index(True) + 1, int(day) if day else None)
    if found := _NUMBERS.fullmatch(text.strip()):
        first, second, year = found.groups()
        if first is None:
            return _Parts(int(year), int(second), None)
        day, month = (first, second) if WAYS.get().dates == DAY_FIRST else (second, first)
        return _Parts(int(year), int(month), int(day))
    return None
