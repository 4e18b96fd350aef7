"""Dates in other forms than ISO 8601, read where they can mean one day only.

`15 July 2026`, `July 15, 2026` and `2026/7/15` say which part is what. Of 15/7/2026 the 15 can be
no month; of 1/9/2026 only the rest of its column can tell: where all dates of it that do tell have
the day first, so has this one. What can mean two days, and a year of two digits, is not read.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Mapping
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
import pandas as pd

MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
_TIME = r"(?:(?:T|,? +)(\d\d:\d\d(?::\d\d)?))?"
_DAY_NAME = re.compile(
    rf"(\d{{1,2}})(?:st|nd|rd|th)?\.?[ -]*([a-z]{{3,9}})\.?,?[ -]*(\d{{4}}){_TIME}"
)
_NAME_DAY = re.compile(rf"([a-z]{{3,9}})\.?[ -]*(\d{{1,2}})(?:st|nd|rd|th)?,?[ -]+(\d{{4}}){_TIME}")
_NUMBERS = re.compile(rf"(0?[1-9]|[1-3]\d)([/.-])(0?[1-9]|[1-3]\d)\2(\d{{4}}){_TIME}")
_YEAR_FIRST = re.compile(rf"(\d{{4}})([/.-])(\d{{1,2}})\2(\d{{1,2}}){_TIME}")
_COUNTED = re.compile(r"[1-6]\d{4}(?:\.\d+)?")
# Day 0 of the numbers by which spreadsheets count days (ECMA-376, part 1, 18.17.4.1; from memory).
_SPREADSHEET = date(1899, 12, 30)

DAY_FIRST, MONTH_FIRST = "day first", "month first"
FORM = "Write dates as YYYY-MM-DD, for example 2026-04-09."


class _Typed(NamedTuple):
    """A date as typed: the year, its two numbers as they come, a time of day or nothing."""

    text: str
    year: int
    first: int
    second: int
    time: str | None

    @property
    def unsure(self) -> bool:
        """Whether either number may be the month, and it matters."""
        return self.first <= 12 and self.second <= 12 and self.first != self.second


def read_otherwise(texts: pd.Series) -> pd.Series:
    """Days of what is not ISO 8601 in a column, by line: datetime64[s], NaT where not read."""
    pairs = _pairs(texts)
    order = _order(pairs)[0]
    days = {line: _one_meaning(text) for line, text in texts.items()}
    for line, pair in pairs.items():
        if pair.unsure and not order:
            continue
        day_first = order == DAY_FIRST if pair.unsure else pair.second <= 12
        day, month = (pair.first, pair.second) if day_first else (pair.second, pair.first)
        days[line] = _moment(pair.year, month, day, pair.time)
    moments = [np.datetime64("NaT", "s") if each is None else each for each in days.values()]
    return pd.Series(np.array(moments, dtype="datetime64[s]"), index=texts.index)


def order_told(texts: pd.Series) -> str:
    """In which order dates were read of which only the column as a whole tells it, and by what.

    Blank where there are none.
    """
    pairs = _pairs(texts)
    order, line = _order(pairs)
    if not order or not any(pair.unsure for pair in pairs.values()):
        return ""
    return f"{order}, as {pairs[line].text} in line {line} can only be"


def why_not(text: str) -> str:
    """Why a text was not read as a date."""
    pair = _pair(text)
    if pair is not None and pair.unsure:
        one = _shown(pair.year, pair.second, pair.first)
        other = _shown(pair.year, pair.first, pair.second)
        return f"may be {one} or {other}"
    if _COUNTED.fullmatch(text):
        day = _SPREADSHEET + timedelta(days=int(float(text)))
        return f"a spreadsheet's number of a day, {day.isoformat()} if its days count from 1900"
    if pair is not None or re.match(r"\d{4}-\d{2}-\d{2}", text) or _YEAR_FIRST.fullmatch(text):
        return "no such day in the calendar"
    return "not a date as understood"


def _one_meaning(text: str) -> np.datetime64 | None:
    """A date that says which part is what, or nothing."""
    folded = text.casefold()
    if found := _DAY_NAME.fullmatch(folded):
        day, name, year, time = found.groups()
    elif found := _NAME_DAY.fullmatch(folded):
        name, day, year, time = found.groups()
    elif found := _YEAR_FIRST.fullmatch(text):
        return _moment(int(found[1]), int(found[3]), int(found[4]), found[5])
    else:
        return None
    month = [full.startswith("sep" if name == "sept" else name) for full in MONTHS]
    return _moment(int(year), month.index(True) + 1, int(day), time) if any(month) else None


def _pairs(texts: pd.Series) -> dict[Hashable, _Typed]:
    """The dates of two numbers and a year in a column, by line."""
    some = texts[texts.str.fullmatch(_NUMBERS)]
    return {line: pair for line, text in some.items() if (pair := _pair(text)) is not None}


def _order(pairs: Mapping[Hashable, _Typed]) -> tuple[str, Hashable]:
    """The one order that the dates of a column tell, and the line of the first that does."""
    told: dict[str, Hashable] = {}
    for line, pair in pairs.items():
        if min(pair.first, pair.second) <= 12 < max(pair.first, pair.second):
            told.setdefault(DAY_FIRST if pair.first > 12 else MONTH_FIRST, line)
    return next(iter(told.items())) if len(told) == 1 else ("", None)


def _pair(text: str) -> _Typed | None:
    found = _NUMBERS.fullmatch(text)
    return found and _Typed(text, int(found[4]), int(found[1]), int(found[3]), found[5])


def _moment(year: int, month: int, day: int, time: str | None) -> np.datetime64 | None:
    try:
        day_of = date(year, month, day).isoformat()
        return np.datetime64(f"{day_of}T{time}" if time else day_of, "s")
    except ValueError:
        return None


def _shown(year: int, month: int, day: int) -> str:
    return f"{day} {MONTHS[month - 1].capitalize()} {year}"
