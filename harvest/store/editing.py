"""Correcting or removing one record that somebody has before their eyes.

What they saw comes along: where the record is not so any more, somebody else changed it in the
meantime, and nothing is overwritten.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import pandas as pd
from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from harvest.errors import ConflictError, InputError
from harvest.records import HEADERS, KINDS, fields
from harvest.store.bulk import Plain, read_plain
from harvest.store.checking import check_rows
from harvest.store.history import Batch, Signature, batch
from harvest.store.importing import values_of
from harvest.store.logging_records import as_table, in_our_units
from harvest.store.naming import tree_ids
from harvest.store.orchard import Orchard
from harvest.store.parsing import parse
from harvest.store.reading import read_kind
from harvest.store.record_cells import cells_of
from harvest.store.schema import TABLES

# A bare number is in the column's unit; one with a unit after it is converted.
WITH_UNIT = re.compile(r"\s*[0-9][0-9.,]*\s*[a-zA-Z\"]")


@dataclass(frozen=True)
class Shown:
    """One record as it is shown: its id, and its cells by column as text."""

    id: int
    cells: Mapping[str, str]


def show_records(orchard: Orchard, kind: str, tree: str | None = None) -> list[Shown]:
    """Records of one kind as text, with their ids; of all trees or of one, by its full name."""
    with orchard.reading() as connection:
        ids = None if tree is None else tree_ids(connection, [tree])
        frame = read_kind(connection, kind, trees=ids, with_id=True)
    return shown_of(kind, frame)


def edit_record(
    orchard: Orchard,
    kind: str,
    seen: Shown,
    typed: Mapping[str, str],
    *,
    today: date,
    signed: Signature,
) -> int | None:
    """Change cells of a record; the number of the change, None where it was so already.

    Parameters
    ----------
    seen : the record as the person saw it.
    typed : the cells they changed, by column; a blank empties a cell.

    Raises ConflictError where the record is not as it was seen, InputError where a cell cannot be
    used; nothing is changed then.
    """
    with orchard.writing() as connection, batch(connection, "edit", signed) as made:
        _as_seen(connection, kind, seen)
        united = {n: text for n, text in typed.items() if WITH_UNIT.match(text)}
        row = {**seen.cells, **typed, **in_our_units(united)}
        parsed = parse(kind, as_table(kind, [row]))
        checked = check_rows(connection, kind, parsed, today)
        for refusal in (*parsed.refused, *checked.refused):
            raise InputError(
                refusal.reason, given=repr(refusal.value), where=refusal.column, todo=refusal.todo
            )
        made.note = f"{kind}: {row.get('tree') or row.get('site', '')}"
        columns = values_of(kind, checked.rows)
        try:
            made.change(kind, {seen.id: {n: values[0] for n, values in columns.items()}})
        except IntegrityError as error:
            names = ", ".join(HEADERS.get(name, name) for name in KINDS[kind].key)
            raise ConflictError(
                f"no two {kind} may have the same {names}",
                given="a record that is there already",
                todo="Nothing was changed. Correct that one instead.",
            ) from error
    return made.number


def remove_record(orchard: Orchard, kind: str, seen: Shown, signed: Signature) -> int | None:
    """Take a record away; the history keeps it, and `undo` brings it back.

    Raises ConflictError where it is not as it was seen, or other records hang on it.
    """
    with orchard.writing() as connection, batch(connection, "remove", signed) as made:
        _as_seen(connection, kind, seen)
        made.note = f"{kind}: {seen.cells.get('tree') or seen.cells.get('site', '')}"
        _remove(made, kind, seen.id)
    return made.number


def _remove(made: Batch, kind: str, record: int) -> None:
    try:
        made.remove(kind, [record])
    except IntegrityError as error:
        raise ConflictError(
            f"{kind} must have no records of their own to be taken away",
            given="others hang on it",
            todo="A tree that was felled gets a date of removal instead.",
        ) from error


def _as_seen(connection: Connection, kind: str, seen: Shown) -> None:
    """Raise ConflictError where the record is not as it was seen."""
    if kind == "weather":
        raise InputError(
            "days of weather are corrected by importing them", given="one day to be changed"
        )
    stored = read_plain(connection, TABLES[kind], [seen.id]).get(seen.id)
    now = None if stored is None else _now(connection, kind, seen.id, stored)
    if now is not None and all(now.get(name) == text for name, text in seen.cells.items()):
        return
    differing = (
        [f"{n} {now.get(n) or 'blank'}" for n, text in seen.cells.items() if now.get(n) != text]
        if now is not None
        else ["taken away"]
    )
    raise ConflictError(
        "the record must be as you saw it",
        given=f"changed elsewhere meanwhile: {', '.join(differing)}",
        todo="Nothing was changed. Look at it again; 'harvest history TREE' tells who changed it.",
    )


def _now(connection: Connection, kind: str, record: int, stored: Plain) -> Mapping[str, str] | None:
    tree = record if kind == "trees" else stored.get("tree_id")
    frame = read_kind(connection, kind, trees=None if tree is None else [tree], with_id=True)
    own = frame[frame["id"] == record]
    return next((shown.cells for shown in shown_of(kind, own)), None)


def shown_of(kind: str, frame: pd.DataFrame) -> list[Shown]:
    """Records of a frame that has their ids, as they are shown."""
    header, cells = cells_of(kind, frame)
    assert len(header) <= len(fields(kind))
    return [
        Shown(int(record), dict(zip(header, row, strict=True)))
        for record, row in zip(frame["id"].tolist(), cells, strict=True)
    ]
