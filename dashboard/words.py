"""How names, dates and numbers are written on a page."""

from __future__ import annotations

import html
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from dashboard.texts import MONTHS, MONTHS_SHORT

NAME_LENGTH = 40
NAMELESS = "(no name)"
_JOINERS = ("\u200c", "\u200d")
_ISOLATE, _RELEASE = "\u2068", "\u2069"


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
    """`12 August 2026`; without the year where it is that of `near`."""
    text = f"{when.day} {MONTHS[when.month - 1]}"
    return text if near is not None and near.year == when.year else f"{text} {when.year}"


def short_day(when: date) -> str:
    """`12 Aug`."""
    return f"{when.day} {MONTHS_SHORT[when.month - 1]}"


def span(first: date, last: date, near: date | None = None) -> str:
    """`10 to 16 August`, `28 August to 3 September`: both ends included."""
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day(last, near)}"
    return f"{day(first, near if first.year == last.year else None)} to {day(last, near)}"


def short_span(first: date, last: date) -> str:
    """`10–16 Aug`, `28 Aug – 3 Sep`."""
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}–{short_day(last)}"
    return f"{short_day(first)} – {short_day(last)}"


def week(monday: date, near: date | None = None) -> str:
    """The seven days from a Monday."""
    return span(monday, monday + timedelta(days=6), near)


def monday_of(when: date) -> date:
    """First day of the week a date lies in."""
    return when - timedelta(days=when.weekday())


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


def kilograms(weight_kg: float) -> str:
    """A weight with its unit, to three figures at most."""
    return f"{weight_kg:.1f}\u00a0kg" if weight_kg < 20 else f"{weight_kg:,.0f}\u00a0kg"


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
