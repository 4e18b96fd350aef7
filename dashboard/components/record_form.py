"""A form for one record: described here, made and sent by a script of its own (record_form.js)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.data import RecordField
from dashboard.measures import unit
from dashboard.texts import log as log_texts
from dashboard.texts import records as record_texts
from dashboard.views.records import measure_of, name_of
from dashboard.words import field_ways

MOST_SUGGESTED = 1000
# Measures that are sent with their unit.
TAKEN = ("kg", "cm")


@dataclass(frozen=True)
class FormField:
    """One field: its column, its words, what may be typed."""

    name: str
    label: str
    needed: bool = False
    hint: str = ""
    told: str = ""
    value: str = ""
    unit: str = ""
    """Put after a bare number."""
    number: bool = False
    kind: str = "text"
    choices: tuple[str, ...] = ()
    """The only words that may be typed."""
    suggestions: tuple[str, ...] = ()
    """Words that are offered while typing; others are welcome."""
    depends: str = ""
    """A field whose value says which of `lists` is offered."""
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    latest: str = ""
    """The last day that may be chosen."""
    here: tuple[str, str] = ("", "")
    """A button that fills in where the device is, and what is said where it does not know."""


def field_of(
    kind: str,
    column: RecordField,
    suggestions: Mapping[str, Sequence[str]],
    given: Mapping[str, str],
) -> FormField:
    """The field of one column of a kind of record."""
    name = column.header
    planted = name == "planted"
    return FormField(
        name=name,
        label=name_of(name),
        needed=column.needed or (name == "tree" and kind not in ("sprays", "events")),
        hint=record_texts.PLANTED_HINT if planted else "",
        told=record_texts.PLANTED_TOLD if planted else "",
        value=given.get(name, ""),
        unit=_unit(name),
        number=column.number,
        kind="date" if name in ("date", "removed") else "text",
        choices=column.choices,
        suggestions=tuple(suggestions.get(name, ()))[:MOST_SUGGESTED],
    )


def _unit(column: str) -> str:
    """The unit that goes with a bare number, where one is taken."""
    measure = measure_of(column)
    return unit(measure) if measure in TAKEN else ""


def form(
    kind: str,
    fields: Sequence[FormField],
    *,
    save: str = record_texts.ADD_SAVE,
    fixed: Mapping[str, str] | None = None,
    then: str = "",
    single: bool = False,
) -> Component:
    """A form of these fields.

    Parameters
    ----------
    fixed : cells that are sent besides what is typed.
    then : where to go when it is saved, relative to the page, with cells in braces; without it
        the page stays.
    single : one field to a row.
    """
    told: dict[str, Any] = {
        "kind": kind,
        "fields": [asdict(each) for each in fields],
        "fixed": dict(fixed or {}),
        "save": save,
        "then": then,
        "dates": field_ways(),
        "texts": record_texts.FORM
        | {"needed": record_texts.NEEDED, "saved": record_texts.ADD_SAVED,
           "keep": record_texts.ADD_KEEP, "blank": log_texts.SCRIPT["value_needed"],
           "asks": log_texts.SCRIPT["asks"], "replace": log_texts.SCRIPT["replace"],
           "undo": record_texts.UNDO},
    }  # fmt: skip
    described: dict[str, Any] = {"data-form": json.dumps(told, ensure_ascii=False)}
    return html.Div(
        id=f"form-{kind}", className="record-form single" if single else "record-form", **described
    )
