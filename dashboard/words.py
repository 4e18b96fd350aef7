"""How names, dates and numbers are written on a page."""

from __future__ import annotations

import html
import json
import re
import unicodedata
from collections.abc import Iterable, Sequence
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from dashboard.texts import DATE_FIELD, MONTHS, MONTHS_SHORT, WEEKDAYS_SHORT

NAME_LENGTH = 40
METRIC, US = "metric", "us"
DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "day first", "month first", "year first"


@dataclass(frozen=True)
class Ways:
    """How numbers and dates are written for whoever asks now."""

    units: str = METRIC
    dates: str = DAY_FIRST
    first_day: int = 1
    """First day of the week: 0 is Sunday, 1 Monday, 6 Saturday."""


WAYS: ContextVar[Ways] = ContextVar("ways", default=Ways())  # noqa: B039
"""Set for each request from the orchard's settings; everything that is shown goes by it."""
NAMELESS = "(no name)"
# A date in quotes is as somebody typed it, one after "example" teaches how to type one.
_ISO_DATE = re.compile(
    r"(?<![\w'“-])(?<!example )(?<!Example: )(\d{4}-\d\d-\d\d)(?:T(\d\d:\d\d)(?::00)?)?(?![\w-])"
)
_WRITTEN_DATE = re.compile(
    rf"(?<!['“])\b(\d{{1,2}}) ({'|'.join((*MONTHS, *MONTHS_SHORT))})\b(?: (\d{{4}}))?"
)
_JOINERS = ("\u200c", "\u200d")
_ISOLATE, _RELEASE = "\u2068", "\u2069"


@lru_cache(maxsize=4096)
def shown(name: str, limit: int = NAME_LENGTH) -> str:
    """A name as people typed it, made safe to stand in a line of ours.

    Control and direction-changing characters are dropped, white space is closed up, a name longer
    than `limit` ends in an ellipsis, and one that runs from right to left is isolated so that it
    cannot turn its neighbours round.
    """
    closed = " ".join(name.split())[: 20 * limit]
    plain = closed.isascii() and closed.isprintable()
    kept = closed if plain else "".join(letter for letter in closed if _harmless(letter))
    if len(kept) > limit:
        kept = kept[: limit - 1].rstrip() + "…"
    if plain:
        return kept or NAMELESS
    if any(unicodedata.bidirectional(letter) in ("R", "AL", "AN") for letter in kept):
        kept = f"{_ISOLATE}{kept}{_RELEASE}"
    return kept or NAMELESS


def _harmless(letter: str) -> bool:
    """Whether a letter neither controls anything nor changes the direction of what follows."""
    return letter in _JOINERS or unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co")


def plot_text(name: str, limit: int = NAME_LENGTH) -> str:
    """A name for a figure, where text is read as markup: shown as it is, never obeyed."""
    return html.escape(shown(name, limit), quote=False)


def day(when: date, near: date | None = None) -> str:
    """`12 August 2026`, `August 12, 2026`, `2026-08-12`; without the year where it is `near`'s."""
    order = WAYS.get().dates
    if order == YEAR_FIRST:
        return when.isoformat()
    month, same = MONTHS[when.month - 1], near is not None and near.year == when.year
    if order == MONTH_FIRST:
        return f"{month} {when.day}" + ("" if same else f", {when.year}")
    return f"{when.day} {month}" + ("" if same else f" {when.year}")


def short_day(when: date) -> str:
    """`12 Aug`, `Aug 12`, `08-12`."""
    order = WAYS.get().dates
    if order == YEAR_FIRST:
        return f"{when:%m-%d}"
    month = MONTHS_SHORT[when.month - 1]
    return f"{month} {when.day}" if order == MONTH_FIRST else f"{when.day} {month}"


def short_date(when: date) -> str:
    """`12 Aug 2026`, `Aug 12, 2026`, `2026-08-12`."""
    order = WAYS.get().dates
    if order == YEAR_FIRST:
        return when.isoformat()
    return f"{short_day(when)}{',' if order == MONTH_FIRST else ''} {when.year}"


def day_pattern() -> str:
    """How the axis of a figure, and what is said over it, writes a `short_day`."""
    return {DAY_FIRST: "%-d %b", MONTH_FIRST: "%b %-d", YEAR_FIRST: "%m-%d"}[WAYS.get().dates]


def dates_in_grid(value: str) -> str:
    """What a grid evaluates (`assets/tables.js`) to write dates in a value as `short_date`."""
    return f"orchardDates({value}, {json.dumps([WAYS.get().dates, MONTHS_SHORT])})"


def field_ways() -> dict[str, object]:
    """What a date field of a script needs (`assets/date_field.js`): order, names, first weekday."""
    ways = WAYS.get()
    return {
        "order": ways.dates,
        "months": MONTHS_SHORT,
        "weekdays": WEEKDAYS_SHORT,
        "first": first_weekday(),
        "texts": DATE_FIELD,
    }


def span(first: date, last: date, near: date | None = None) -> str:
    """`10 to 16 August`, `28 August to 3 September`: both ends included."""
    if (first.year, first.month) == (last.year, last.month):
        if WAYS.get().dates == DAY_FIRST:
            return f"{first.day} to {day(last, near)}"
        if WAYS.get().dates == MONTH_FIRST:
            year = "" if near is not None and near.year == last.year else f", {last.year}"
            return f"{MONTHS[first.month - 1]} {first.day} to {last.day}{year}"
    return f"{day(first, near if first.year == last.year else None)} to {day(last, near)}"


def short_span(first: date, last: date) -> str:
    """`10–16 Aug`, `28 Aug – 3 Sep`."""
    if (first.year, first.month) == (last.year, last.month):
        if WAYS.get().dates == DAY_FIRST:
            return f"{first.day}–{short_day(last)}"
        if WAYS.get().dates == MONTH_FIRST:
            return f"{short_day(first)}–{last.day}"
    return f"{short_day(first)} – {short_day(last)}"


def week(first: date, near: date | None = None) -> str:
    """The seven days from the first of a week."""
    return span(first, first + timedelta(days=6), near)


def first_weekday() -> int:
    """The weekday on which weeks begin, as `date.weekday` counts: 0 is Monday."""
    return (WAYS.get().first_day - 1) % 7


def week_start(when: date) -> date:
    """First day of the week a date lies in."""
    return when - timedelta(days=(when.weekday() - first_weekday()) % 7)


def redated(sentence: str) -> str:
    """A sentence of the calculations with its dates (`2026-08-12`, `12 Aug 2026`) as chosen."""
    if WAYS.get().dates != DAY_FIRST:
        sentence = _WRITTEN_DATE.sub(_rewritten, sentence)
    return _ISO_DATE.sub(_from_iso, sentence)


def _from_iso(found: re.Match[str]) -> str:
    try:
        return day(date.fromisoformat(found[1])) + (f" {found[2]}" if found[2] else "")
    except ValueError:
        return found[0]


def _rewritten(found: re.Match[str]) -> str:
    number, name, year = int(found[1]), found[2], found[3]
    months = MONTHS if name in MONTHS else MONTHS_SHORT
    if WAYS.get().dates == MONTH_FIRST:
        return f"{name} {number}" + (f", {year}" if year else "")
    return (f"{year}-" if year else "") + f"{months.index(name) + 1:02}-{number:02}"


def percent(share: float) -> str:
    """`62 %`, never `0 %` or `100 %` for what is only nearly so."""
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{share:.0%}".replace("%", "\u00a0%")


def signed_percent(share: float) -> str:
    """`+8 %`, `−8 %`."""
    sign = "−" if round(share * 100) < 0 else "+"
    return f"{sign}{abs(round(share * 100))}\u00a0%"


def count(number: int, one: str, many: str) -> str:
    """`1 tree`, `3 trees`."""
    return f"{number:,} {one if number == 1 else many}"


def listing(words: Iterable[str], most: int | None = None) -> str:
    """`a, b and c`; with `most`, the rest is counted: `a, b and 4 more`."""
    items: Sequence[str] = list(words)
    if most is not None and len(items) > most:
        items = [*items[:most], f"{len(items) - most} more"]
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]
