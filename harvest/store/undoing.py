"""Taking back what a command did, as a change of its own that can be taken back in turn."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, delete, exists, select, update
from sqlalchemy.exc import IntegrityError

from harvest.errors import ConflictError, InputError
from harvest.store.bulk import Plain, read_plain
from harvest.store.history import Batch, Signature, batch, without_blanks
from harvest.store.history_reading import BatchEntry, entry_of
from harvest.store.orchard import Orchard
from harvest.store.schema import BATCHES, CHANGES, TABLES, TRACKED, WEATHER_SOURCES
from harvest.store.weather import FILE_SOURCE, ensure_source

MOST_NAMED = 5


@dataclass(frozen=True)
class Undone:
    """The batch that was taken back, and the one that did it."""

    batch: BatchEntry
    by: BatchEntry


def undo(orchard: Orchard, number: int | None, signed: Signature) -> Undone:
    """Take a batch back: by its number, or the last one that still stands and is no undoing.

    Raises InputError when there is none, ConflictError when one of its records was changed since
    or others hang on it; then nothing is changed.
    """
    with orchard.writing() as connection:
        row = _wanted(connection, number)
        with batch(connection, "undo", signed, row.note or "", undoes=row.id) as made:
            try:
                _take_back(made, row)
            except IntegrityError as error:
                raise ConflictError(
                    f"batch {row.id} must be free to be taken back",
                    given="records that hang on its own, or its own on records that are gone",
                    todo="Nothing was changed. Undo those first; 'harvest history' lists them.",
                ) from error
        connection.execute(
            update(BATCHES).where(BATCHES.c.id == row.id).values(undone_by=made.number)
        )
        if row.undoes is not None:  # the undoing is undone: what it took back stands again
            stands = update(BATCHES).where(BATCHES.c.id == row.undoes)
            connection.execute(stands.values(undone_by=None))
        found = select(BATCHES).where(BATCHES.c.id.in_([row.id, made.number]))
        first, second = connection.execute(found.order_by(BATCHES.c.id)).all()
        return Undone(entry_of(first), entry_of(second))


def _wanted(connection: Connection, number: int | None) -> Row[Any]:
    query = select(BATCHES)
    if number is None:
        open_ = BATCHES.c.undone_by.is_(None) & (BATCHES.c.action != "undo")
        row = connection.execute(query.where(open_).order_by(BATCHES.c.id.desc())).first()
        if row is None:
            raise InputError("there must be something to undo", given="a history without changes")
        return row
    row = connection.execute(query.where(BATCHES.c.id == number)).first()
    todo = "'harvest history' lists the numbers."
    if row is None:
        raise InputError(
            "a batch of this number must be in the history", given=str(number), todo=todo
        )
    if row.undone_by is not None:
        raise InputError(
            "the batch must not be undone yet",
            given=f"{number}, undone by {row.undone_by}",
            todo=f"'harvest undo --import {row.undone_by}' brings it back.",
        )
    return row


def _take_back(made: Batch, row: Row[Any]) -> None:
    connection = made.connection
    query = select(CHANGES).where(CHANGES.c.batch_id == row.id)
    changes = connection.execute(query.order_by(CHANGES.c.record_id)).all()
    by_kind = {kind: [c for c in changes if c.kind == kind] for kind in TRACKED}
    for kind, own in by_kind.items():  # owners come before what hangs on them
        _refuse_changed(connection, kind, own)
        gone = [c for c in own if c.after is None]
        _bring_back(made, kind, gone)
        changed = [c for c in own if c.before is not None and c.after is not None]
        if changed:
            made.change(kind, {c.record_id: json.loads(c.before) for c in changed})
    for kind in reversed(TRACKED):
        made.remove(kind, [c.record_id for c in by_kind[kind] if c.before is None])
        if kind == "weather" and by_kind[kind]:
            _forget_empty_sources(connection)


def _bring_back(made: Batch, kind: str, gone: Iterable[Row[Any]]) -> None:
    rows = [{"id": c.record_id, **json.loads(c.before)} for c in gone]
    if rows:
        for site, source in {(row["site_id"], row["source"]) for row in rows if kind == "weather"}:
            ensure_source(made.connection, site, source, "file")
        names = [column.name for column in TRACKED[kind].c]
        made.insert(kind, {name: [row.get(name) for row in rows] for name in names})


def _refuse_changed(connection: Connection, kind: str, changes: list[Row[Any]]) -> None:
    """Raise ConflictError where a record is not as the batch left it."""
    stored = read_plain(connection, TRACKED[kind], [c.record_id for c in changes])
    moved = [c.record_id for c in changes if not _as_left(c, stored.get(c.record_id))]
    if not moved:
        return
    later = connection.execute(
        select(CHANGES.c.batch_id)
        .where(CHANGES.c.kind == kind, CHANGES.c.record_id.in_(moved[:MOST_NAMED]))
        .where(CHANGES.c.batch_id > changes[0].batch_id)
        .distinct()
        .order_by(CHANGES.c.batch_id)
    ).scalars()
    numbers = ", ".join(map(str, later))
    raise ConflictError(
        f"the {kind} must be as batch {changes[0].batch_id} left them",
        given=f"{len(moved)} changed since{f', by batch {numbers}' if numbers else ''}",
        todo="Nothing was changed. Undo the later ones first ('harvest undo --import N').",
    )


def _as_left(change: Row[Any], stored: Plain | None) -> bool:
    if change.after is None:
        return stored is None
    if stored is None:
        return False
    after = json.loads(change.after)
    if change.before is None:
        return bool(without_blanks(stored) == after)
    return all(stored[name] == value for name, value in after.items())


def _forget_empty_sources(connection: Connection) -> None:
    """A site's own weather file of which no day is left is no source of weather any more."""
    weather, sources = TABLES["weather"], WEATHER_SOURCES
    days = exists().where(
        weather.c.site_id == sources.c.site_id, weather.c.source == sources.c.source
    )
    plain = sources.c.trust.is_(None) & sources.c.attribution.is_(None)
    connection.execute(delete(sources).where(sources.c.source == FILE_SOURCE, plain, ~days))
