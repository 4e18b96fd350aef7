"""What the page of records shows and takes: grid requests read, cells told, changes in words."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.data import (
    KINDS_IN_WORDS,
    Asked,
    BatchEntry,
    ChangeEntry,
    Condition,
    RecordField,
    Shown,
)
from dashboard.measures import filled, in_us, metric_of, unit, value
from dashboard.texts import log as log_texts
from dashboard.texts import records as record_texts
from dashboard.typed_dates import typed_day, typed_part
from dashboard.words import dates_in_grid, listing, redated, short_date, shown

KINDS = tuple(record_texts.KIND_NAMES)
# The grid's words for a filter, and ours.
SORTS = {
    "contains": "contains",
    "equals": "equals",
    "greaterThanOrEqual": "at least",
    "lessThanOrEqual": "at most",
    "inRange": "between",
    "blank": "blank",
    "notBlank": "filled",
}
TEXT_FILTERS = ("contains", "equals", "blank", "notBlank")
NUMBER_FILTERS = ("equals", "greaterThanOrEqual", "lessThanOrEqual", "inRange", "blank", "notBlank")


DAYS = ("date", "planted", "removed")
# Where a row holds its measures as they are kept.
KEPT = "kept"
# Half of the last place in which a measure is shown.
HALF_SHOWN = 0.005
_UNIT = re.compile(r"\{unit:([^}]*)\}")
_PLAIN, _TYPED = re.compile(r"\d+(?:\.\d+)?"), re.compile(r"\d[\d.,]*")
# A comma that marks the decimals, or parts the thousands.
_EITHER = re.compile(r"[1-9]\d*,\d{3}")


@dataclass(frozen=True)
class Change:
    """One cell of a record as a person changed it in the table."""

    seen: Shown
    """The record as it was shown to them."""
    column: str
    typed: str


@dataclass(frozen=True)
class Conflict:
    """Two changes of one record: what the person saw and typed, and what is there now."""

    kind: str
    seen: Shown
    typed: Mapping[str, str]
    now: Shown

    def rows(self) -> list[tuple[str, str, str, str]]:
        """Columns in which the versions differ: name, seen, typed, there now."""
        mine = {**self.seen.cells, **self.typed}
        return [
            (column, before, mine[column], self.now.cells.get(column, ""))
            for column, before in self.seen.cells.items()
            if len({before, mine[column], self.now.cells.get(column, "")}) > 1
        ]

    def as_json(self) -> dict[str, Any]:
        """As the browser keeps it until the person has chosen."""
        return {"kind": self.kind, "now": _json(self.now), "typed": dict(self.typed)}


@dataclass(frozen=True)
class Outcome:
    """What became of a change: in words, with its number where it can be taken back."""

    words: str
    batch: int | None = None
    conflict: Conflict | None = None


def _json(record: Shown) -> dict[str, Any]:
    return {"id": record.id, "cells": dict(record.cells)}


def shown_from(row: object) -> Shown | None:
    """A record back from the browser; None where it is none."""
    if not isinstance(row, dict) or not isinstance(row.get("id"), int):
        return None
    cells = {str(n): "" if v is None else str(v) for n, v in row.get("cells", row).items()
             if n not in ("id", KEPT)}  # fmt: skip
    # A day that was opened and left as it is comes back as it was shown.
    cells |= {name: typed_day(cells[name]) for name in DAYS if name in cells}
    return Shown(row["id"], {**cells, **_untouched(cells, row.get(KEPT))})


def row_of(record: Shown) -> dict[str, Any]:
    """A record as the grid has it: its measures in the units chosen, beside them as they are kept.

    What is not touched goes back as it was kept, so that showing it in other units moves nothing.
    """
    cells = {column: shown_cell(column, text) for column, text in record.cells.items()}
    own = {column: text for column, text in record.cells.items() if cells[column] != text}
    return {**cells, "id": record.id} | ({KEPT: own} if own else {})


def _untouched(cells: Mapping[str, str], kept: object) -> dict[str, str]:
    """The measures of a row as they are kept, of those typed anew the value in metric."""
    if not isinstance(kept, dict):
        return {}
    return {
        column: text
        if cells.get(column) == shown_cell(column, text)
        else kept_cell(column, cells[column])
        for column, text in kept.items()
        if column in cells
    }


def measure_of(column: str) -> str | None:
    """The measure that a column holds; None for words and plain numbers."""
    found = _UNIT.search(record_texts.UNITS.get(column, ""))
    return found[1] if found else None


def shown_cell(column: str, text: str) -> str:
    """A cell as it is shown: a measure in the unit chosen."""
    measure = measure_of(column)
    if measure is None or not in_us() or not _PLAIN.fullmatch(text):
        return text
    return f"{value(float(text), measure):.2f}".rstrip("0").rstrip(".")


def taken_name(column: str) -> str:
    """A column's name for a spreadsheet, with the unit chosen: `weight_lb`, as an import reads."""
    measure = measure_of(column)
    return column if measure is None else f"{column.rpartition('_')[0]}_{unit(measure)}"


def taken_cell(column: str, text: str) -> str:
    """A cell for a spreadsheet: a measure in the unit chosen, exact."""
    measure = measure_of(column)
    exact = measure is not None and in_us() and _PLAIN.fullmatch(text)
    return f"{value(float(text), measure):.10g}" if measure and exact else text


def kept_cell(column: str, typed: str) -> str:
    """A cell as it is kept, from what was typed in the unit, or the order of dates, shown.

    A number whose mark could mean either gets its unit, and is refused or read where it is kept.
    """
    if column in DAYS:
        return typed_day(typed)
    measure = measure_of(column)
    if measure is None or not in_us() or not _TYPED.fullmatch(typed):
        return typed
    if not _PLAIN.fullmatch(typed.replace(",", ".")) or _EITHER.fullmatch(typed):
        return typed + unit(measure)
    return f"{round(metric_of(float(typed.replace(',', '.')), measure), 9):.10g}"


def change_of(event: Mapping[str, Any]) -> Change | None:
    """The change that the grid tells of."""
    column = event.get("colId")
    if shown_from(event.get("data")) is None or not isinstance(column, str):
        return None
    data = {**event["data"], column: event.get("oldValue")}
    typed = "" if event.get("value") is None else str(event["value"])
    seen = shown_from(data)
    return None if seen is None else Change(seen, column, kept_cell(column, typed.strip()))


def asked_of(kind: str, tree: str, request: Mapping[str, Any]) -> Asked:
    """What the grid asks for."""
    order = tuple(
        (str(each.get("colId")), each.get("sort") == "desc")
        for each in request.get("sortModel") or ()
    )
    filters = request.get("filterModel") or {}
    conditions = {
        str(column): _condition(str(column), each)
        for column, each in filters.items()
        if each.get("type") in SORTS
    }
    return Asked(kind, order, conditions, tree)


def _condition(column: str, each: Mapping[str, Any]) -> Condition:
    """A filter in the units in which the column is kept; equal is what is shown as equal."""
    sort, given = SORTS[each["type"]], (str(each.get("filter", "")), str(each.get("filterTo", "")))
    if sort == "contains" and column in DAYS:
        return Condition(sort, typed_part(given[0]))
    if column not in DAYS and sort == "equals" and kept_cell(column, given[0]) != given[0]:
        number = float(given[0].replace(",", "."))
        sort, given = "between", (f"{number - HALF_SHOWN}", f"{number + HALF_SHOWN}")
    return Condition(sort, *(kept_cell(column, text) for text in given))


def name_of(column: str) -> str:
    """A column in words, with its unit."""
    return filled(record_texts.UNITS.get(column) or log_texts.FIELD_NAMES.get(column, column))


def grid_columns(fields: Sequence[RecordField]) -> list[dict[str, Any]]:
    """Column definitions of the grid."""
    return [_column(number, field) for number, field in enumerate(fields)]


def _column(number: int, field: RecordField) -> dict[str, Any]:
    definition: dict[str, Any] = {
        "field": field.header,
        "headerName": name_of(field.header),
        "pinned": "left" if number == 0 else None,
        "filter": "agNumberColumnFilter" if field.number else "agTextColumnFilter",
        "filterParams": {
            "filterOptions": list(NUMBER_FILTERS if field.number else TEXT_FILTERS),
            "maxNumConditions": 1,
        },
        "type": "rightAligned" if field.number else None,
        # On a phone the tree, the date and what was measured are seen together.
        "width": 150 if field.header in ("site", "product", "note") else 120,
    }
    if field.header in DAYS:
        definition["valueFormatter"] = {"function": dates_in_grid("params.value")}
        definition["cellEditorParams"] = {"useFormatter": True}
    if field.choices:
        definition["cellEditor"] = "agSelectCellEditor"
        definition["cellEditorParams"] = {"values": ["", *field.choices]}
    return definition


def record_words(kind: str, cells: Mapping[str, str]) -> str:
    """A record named in words: whose, what day."""
    who = shown(cells.get("tree") or cells.get("site") or "")
    one = record_texts.KIND_COUNTS[kind][0]
    day = redated(shown(cells.get("date", "")))
    return f"{one} {who}" if kind in ("sites", "trees") else f"{one} of {who}, {day}"


def changed_words(before: str, after: str, column: str) -> str:
    """One cell's change in words."""
    return record_texts.CHANGED_CELL.format(
        column=name_of(column), before=_quoted(column, before), after=_quoted(column, after)
    )


def cell_words(column: str, text: str) -> str:
    """A cell in words: a measure in the unit chosen, a date in its order."""
    if not text:
        return record_texts.NOTHING
    told = shown(shown_cell(column, text), 200)
    return redated(told) if column in DAYS else told


def _quoted(column: str, text: str) -> str:
    return f"“{cell_words(column, text)}”" if text else record_texts.NOTHING


def when(entry: BatchEntry | ChangeEntry) -> str:
    """When something was done [UTC]."""
    if entry.at is None:
        return record_texts.WHEN_UNKNOWN
    return record_texts.WHEN.format(day=short_date(entry.at.date()), time=f"{entry.at:%H:%M}")


def counts_words(entry: BatchEntry) -> str:
    """How many records a batch made, changed and took away."""
    said = []
    for each in entry.counts:
        parts = [
            template.format(n=number)
            for template, number in zip(record_texts.COUNTS, each.told, strict=True)
            if number
        ]
        name = KINDS_IN_WORDS.get(each.kind, each.kind)
        said.append(f"{name}: {', '.join(parts)}")
    return "; ".join(said)


def change_words(entry: ChangeEntry) -> str:
    """What a change did to a record, column by column.

    Of a record that was made or taken away, what it holds beside its name.
    """
    if entry.before is None or entry.after is None:
        held, named = entry.before or entry.after or {}, entry.record.split(", ")
        cells = [
            record_texts.TREE_NEW.format(column=name_of(column), after=_told(column, kept))
            for column, kept in held.items()
            if not {str(kept), f"{column} {kept}"} & set(named)
        ]
    else:
        cells = [
            record_texts.TREE_CELL.format(
                column=name_of(column),
                before=_told(column, entry.before.get(column)),
                after=_told(column, entry.after.get(column)),
            )
            for column in dict.fromkeys([*entry.before, *entry.after])
        ]
    return listing(cells, 6)


def _told(column: str, kept: object) -> str:
    return record_texts.NOTHING if kept is None else cell_words(column, str(kept))
