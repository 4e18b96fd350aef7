"""What the page of records shows and takes: grid requests read, cells told, changes in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.data import Asked, BatchEntry, ChangeEntry, Condition, RecordField, Shown
from dashboard.texts import log as log_texts
from dashboard.texts import records as record_texts
from dashboard.words import listing, shown

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
    cells = row.get("cells", row)
    return Shown(
        row["id"], {str(n): "" if v is None else str(v) for n, v in cells.items() if n != "id"}
    )


def row_of(record: Shown) -> dict[str, Any]:
    """A record as the grid has it."""
    return {**record.cells, "id": record.id}


def change_of(event: Mapping[str, Any]) -> Change | None:
    """The change that the grid tells of."""
    column, after = event.get("colId"), shown_from(event.get("data"))
    if after is None or not isinstance(column, str):
        return None
    before = "" if event.get("oldValue") is None else str(event["oldValue"])
    typed = "" if event.get("value") is None else str(event["value"])
    return Change(Shown(after.id, {**after.cells, column: before}), column, typed.strip())


def asked_of(kind: str, tree: str, request: Mapping[str, Any]) -> Asked:
    """What the grid asks for."""
    order = tuple(
        (str(each.get("colId")), each.get("sort") == "desc")
        for each in request.get("sortModel") or ()
    )
    filters = request.get("filterModel") or {}
    conditions = {
        str(column): Condition(
            SORTS[each["type"]], str(each.get("filter", "")), str(each.get("filterTo", ""))
        )
        for column, each in filters.items()
        if each.get("type") in SORTS
    }
    return Asked(kind, order, conditions, tree)


def name_of(column: str) -> str:
    """A column in words, with its unit."""
    return record_texts.UNITS.get(column) or log_texts.FIELD_NAMES.get(column, column)


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
        "width": 150 if field.header in ("tree", "site", "product", "note", "date") else 120,
    }
    if field.choices:
        definition["cellEditor"] = "agSelectCellEditor"
        definition["cellEditorParams"] = {"values": ["", *field.choices]}
    return definition


def record_words(kind: str, cells: Mapping[str, str]) -> str:
    """A record named in words: whose, what day."""
    who = shown(cells.get("tree") or cells.get("site") or "")
    one = record_texts.KIND_COUNTS[kind][0]
    day = cells.get("date", "")
    return f"{one} {who}" if kind in ("sites", "trees") else f"{one} of {who}, {shown(day)}"


def changed_words(before: str, after: str, column: str) -> str:
    """One cell's change in words."""
    return record_texts.CHANGED_CELL.format(
        column=name_of(column), before=_filled(before), after=_filled(after)
    )


def _filled(text: str) -> str:
    return f"“{shown(text)}”" if text else record_texts.NOTHING


def when(entry: BatchEntry | ChangeEntry) -> str:
    """When something was done [UTC]."""
    return f"{entry.at:%Y-%m-%d %H:%M} UTC" if entry.at else record_texts.WHEN_UNKNOWN


def counts_words(entry: BatchEntry) -> str:
    """How many records a batch made, changed and took away."""
    said = []
    for each in entry.counts:
        numbers = (each.new, each.changed, each.removed)
        parts = [
            template.format(n=numbers[place])
            for template, place in record_texts.COUNTS
            if numbers[place]
        ]
        name = record_texts.TABLES.get(each.kind, each.kind)
        said.append(f"{name}: {', '.join(parts)}")
    return "; ".join(said)


def change_words(entry: ChangeEntry) -> str:
    """What a change did to a record, column by column."""
    before, after = entry.before or {}, entry.after or {}
    cells = []
    for column in dict.fromkeys([*before, *after]):
        old, new = before.get(column), after.get(column)
        template = record_texts.TREE_NEW if entry.before is None else record_texts.TREE_CELL
        cells.append(template.format(column=name_of(column), before=_told(old), after=_told(new)))
    return listing(cells, 6)


def _told(value: object) -> str:
    return record_texts.NOTHING if value is None else shown(str(value))
