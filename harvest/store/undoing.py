"""Taking back what a command did, as a change of its own that can be taken back in turn."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, exists, select, update
from sqlalchemy.exc import IntegrityError

from harvest.errors import ConflictError, InputError
from harvest.store.bulk import Plain, read_plain
from harvest.store.history import Batch, Signature, batch, without_blanks
from harvest.store.history_packing import Change, changed_later, changes_of
from harvest.store.history_reading import BatchEntry, entry_of, no_such_change
from harvest.store.orchard import Orchard
from harvest.store.schema import BATCHES, TRACKED, WEATHER_SOURCES
from harvest.store.weather import FILE_SOURCE
from harvest.store.weather_writing import ensure_source

MOST_NAMED = 5
SOURCES = WEATHER_SOURCES.name
# What hangs on a source of weather by its site and name.
OF_SOURCES = ("weather", "weather_ahead", "weather_hours")
# What the program brings in at regular times; the last change of a person's is another.
ROUTINE = ("undo", "fetch")


@dataclass(frozen=True)
class Undone:
    """The batch that was taken back, and the one that did it."""

    batch: BatchEntry
    by: BatchEntry


def undo(orchard: Orchard, number: int | None, signed: Signature) -> Undone:
    """Take a batch back: by its number, or the last one that still stands and is no undoing.

    A fetch of weather is taken back by its number only: it may come between what a person did and
    their thinking better of it.

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
                    f"nothing else may hang on what change {row.id} did to be taken back",
                    given="records that came later and need it, or that it needs and are gone",
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
        open_ = BATCHES.c.undone_by.is_(None) & (BATCHES.c.action.not_in(ROUTINE))
        row = connection.execute(query.where(open_).order_by(BATCHES.c.id.desc())).first()
        if row is None:
            raise InputError("there must be something to undo", given="a history without changes")
        return row
    row = connection.execute(query.where(BATCHES.c.id == number)).first()
    if row is None:
        raise no_such_change(number)
    if row.undone_by is not None:
        raise InputError(
            "the change must not be undone yet",
            given=f"{number}, undone by {row.undone_by}",
            todo=f"'harvest undo --import {row.undone_by}' brings it back.",
        )
    return row


def _take_back(made: Batch, row: Row[Any]) -> None:
    connection = made.connection
    by_kind: dict[str, list[Change]] = {kind: [] for kind in TRACKED}
    for change in changes_of(connection, row.id):
        by_kind[change.kind].append(change)
    for kind, own in by_kind.items():  # owners come before what hangs on them
        _refuse_changed(connection, row.id, kind, own)
        _bring_back(made, kind, own)
        if kind != SOURCES:
            _change_back(made, kind, own)
    for kind in reversed(TRACKED):
        if kind == SOURCES:  # what hung on them has gone by now
            _forget_empty_sources(made, by_kind)
            _change_back(made, kind, own=by_kind[kind])
        else:
            made.remove(kind, [c.record_id for c in by_kind[kind] if c.before is None])


def _bring_back(made: Batch, kind: str, changes: Sequence[Change]) -> None:
    rows = [{"id": c.record_id, **(c.before or {})} for c in changes if c.after is None]
    if not rows:
        return
    if kind == "weather":  # an undoing of earlier versions took the source away unseen
        for site, source in {(row["site_id"], row["source"]) for row in rows}:
            ensure_source(made, site, source, FILE_SOURCE)
    names = [column.name for column in TRACKED[kind].c]
    made.insert(kind, {name: [row.get(name) for row in rows] for name in names})


def _change_back(made: Batch, kind: str, own: Sequence[Change]) -> None:
    """Set what a batch changed to what it was; a record that is gone by now stays so."""
    before = {c.record_id: c.before for c in own if c.before is not None and c.after is not None}
    if before:
        there = read_plain(made.connection, TRACKED[kind], list(before))
        made.change(kind, {record: before[record] for record in there})


def _refuse_changed(
    connection: Connection, batch_id: int, kind: str, changes: Sequence[Change]
) -> None:
    """Raise ConflictError where a record is not as the batch left it.

    A source that the batch made may have changed: it stays as long as anything hangs on it.
    """
    if kind == SOURCES:
        changes = [c for c in changes if c.before is not None]
    stored = read_plain(connection, TRACKED[kind], [c.record_id for c in changes])
    moved = [c.record_id for c in changes if not _as_left(c, stored.get(c.record_id))]
    if not moved:
        return
    later = changed_later(connection, kind, moved[:MOST_NAMED], batch_id)
    numbers = ", ".join(map(str, later))
    raise ConflictError(
        f"the {kind} must be as change {batch_id} left them",
        given=f"{len(moved)} changed since{f', by change {numbers}' if numbers else ''}",
        todo="Nothing was changed. Undo the later ones first ('harvest undo --import N').",
    )


def _as_left(change: Change, stored: Plain | None) -> bool:
    if change.after is None:
        return stored is None
    if stored is None:
        return False
    if change.before is None:
        return bool(without_blanks(stored) == change.after)
    return all(stored[name] == value for name, value in change.after.items())


def _forget_empty_sources(made: Batch, changes: Mapping[str, Iterable[Change]]) -> None:
    """Take away the sources that the batch made or filled and on which nothing hangs any more."""
    table = WEATHER_SOURCES
    ids = {change.record_id for change in changes[SOURCES] if change.before is None}
    filled = {
        (change.after["site_id"], change.after["source"])
        for kind in OF_SOURCES
        for change in changes[kind]
        if change.before is None and change.after is not None
    }
    hanging = [
        exists().where(other.c.site_id == table.c.site_id, other.c.source == table.c.source)
        for other in (TRACKED[kind] for kind in OF_SOURCES)
    ]
    query = select(table.c.id, table.c.site_id, table.c.source)
    for each in hanging:
        query = query.where(~each)
    empty = [
        int(number)
        for number, site, source in made.connection.execute(query)
        if number in ids or (site, source) in filled
    ]
    stations = TRACKED["weather_stations"]
    behind = select(stations.c.id).where(stations.c.source_id.in_(empty))
    made.remove(stations.name, list(made.connection.execute(behind).scalars()))
    made.remove(SOURCES, empty)
