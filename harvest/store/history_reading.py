"""Telling the history: what was done, by whom, when; and all that befell one tree's records."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, select

from harvest.errors import InputError
from harvest.records import HEADERS, KINDS
from harvest.store.bulk import Plain, read_plain
from harvest.store.history import UNKNOWN
from harvest.store.history_packing import changes_of
from harvest.store.naming import tree_ids, tree_named
from harvest.store.orchard import Orchard
from harvest.store.schema import BATCHES, CHANGES, TABLES, TRACKED

OWNERS = ("sites", "trees")
# What names a row of the tables beside the records, where it has it.
NAMING = ("source", "mark", "target", "title", "name", "rule", "orchard", "cultivar", "date")
# An item of the calendar by its id, of which people are shown the beginning.
_ITEM = re.compile(r"\b([0-9a-f]{8})(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b")
# Where something is chosen, and the usual counts as long as nothing is.
CHOSEN = ("settings", "weather_gaps")
# What a person is not told of a row: what its name says already, and what only the program needs.
HIDDEN = {"tree_id", "site_id", "tree_key", "site_key", "record_id", "attached_at", "sha256"}
HIDDEN_OF = {
    "attachments": {"kind", "filename", "media_type", "bytes", "who"},
    "calendar_marks": {"mark", "target"},
    "dismissed": {"rule", "who", "dismissed_at"},
    "settings": {"name"},
}

KINDS_IN_WORDS = {
    "weather": "days of weather",
    "weather_sources": "sources of weather",
    "weather_stations": "weather stations",
    "weather_ahead": "days ahead",
    "weather_hours": "days with hours",
    "weather_gaps": "rules for missing days",
    "calendar_marks": "marks on the calendar",
    "experience": "cultivars from other orchards",
    "dismissed": "warnings let stand",
    "settings": "settings",
    "attachments": "photos and notes",
}
"""Kinds of the history that are no records, as people call them."""


@dataclass(frozen=True)
class Counts:
    """How many records of one kind a batch made, changed and took away."""

    kind: str
    new: int
    changed: int
    removed: int

    @property
    def told(self) -> tuple[int, int, int]:
        """The three as a person counts: a first choice, or one given up, is a change as well."""
        numbers = self.new, self.changed, self.removed
        return (0, sum(numbers), 0) if self.kind in CHOSEN else numbers


@dataclass(frozen=True)
class BatchEntry:
    """What one command did: its number, who, when (UTC), what to."""

    number: int
    action: str
    who: str
    at: datetime | None
    note: str
    counts: tuple[Counts, ...]
    undoes: int | None
    undone_by: int | None


@dataclass(frozen=True)
class ChangeEntry:
    """What a batch did to one record: the columns that changed, before and after."""

    number: int
    action: str
    who: str
    at: datetime | None
    kind: str
    record: str
    """The record in words: its date and what else names it."""
    record_id: int
    before: Plain | None
    after: Plain | None
    undone: bool


def read_batches(orchard: Orchard, most: int | None = None) -> list[BatchEntry]:
    """What was done, newest first."""
    query = select(BATCHES).order_by(BATCHES.c.id.desc())
    with orchard.reading() as connection:
        rows = connection.execute(query if most is None else query.limit(most)).all()
    return [entry_of(row) for row in rows]


def entry_of(row: Row[Any]) -> BatchEntry:
    """A batch as it is told."""
    counts = json.loads(row.summary)
    return BatchEntry(
        number=row.id,
        action=row.action,
        who=row.who,
        at=row.made_at,
        note=row.note or "",
        counts=tuple(Counts(kind, *numbers) for kind, numbers in counts.items()),
        undoes=row.undoes,
        undone_by=row.undone_by,
    )


def read_tree_history(orchard: Orchard, tree: str) -> list[ChangeEntry]:
    """Everything that was ever done to a tree and its records, newest first.

    A tree is found by a part of its name as well, one that was taken away by its whole name.
    Raises as `tree_named`.
    """
    with orchard.reading() as connection:
        tree_id = _tree_id(connection, tree)
        query = (
            select(CHANGES, BATCHES.c.action, BATCHES.c.who, BATCHES.c.made_at,
                   BATCHES.c.undone_by, BATCHES.c.undoes)
            .join(BATCHES, CHANGES.c.batch_id == BATCHES.c.id)
            .where(CHANGES.c.tree_id == tree_id)
            .order_by(CHANGES.c.batch_id, CHANGES.c.kind, CHANGES.c.record_id)
        )  # fmt: skip
        rows = connection.execute(query).all()
    states: dict[tuple[str, int], Plain] = {}
    return [_change(row, states) for row in rows][::-1]


def read_change(orchard: Orchard, number: int, most: int) -> list[ChangeEntry]:
    """What one batch did to each record, the first `most` of them.

    Raises InputError where there is no such batch.
    """
    with orchard.reading() as connection:
        row = connection.execute(select(BATCHES).where(BATCHES.c.id == number)).first()
        if row is None:
            raise no_such_change(number)
        changes = changes_of(connection, number)[:most]
        by_kind: dict[str, list[int]] = {}
        for change in changes:
            by_kind.setdefault(change.kind, []).append(change.record_id)
        now = {kind: read_plain(connection, TRACKED[kind], ids) for kind, ids in by_kind.items()}
        owners = _owner_names(connection)
    told = []
    for each in changes:
        own = now[each.kind].get(each.record_id, {})
        state = own | (each.before or {}) | (each.after or {})
        whose = [names.get(state.get(f"{owner}_id", 0), "") for owner, names in owners.items()]
        words = ", ".join(word for word in (*whose, _in_words(each.kind, state)) if word)
        told.append(ChangeEntry(
            row.id, row.action, row.who or UNKNOWN, row.made_at, each.kind, words, each.record_id,
            _told(each.kind, each.before), _told(each.kind, each.after), row.undone_by is not None,
        ))  # fmt: skip
    return told


def no_such_change(number: int) -> InputError:
    """A number that no batch has."""
    return InputError(
        "a change of this number must be in the history",
        given=str(number),
        todo="'harvest history' lists the numbers.",
    )


def _owner_names(connection: Connection) -> dict[str, dict[int, str]]:
    """Names of trees and sites by id, those that are on record."""
    found = {}
    for name in ("tree", "site"):
        table = TABLES[f"{name}s"]
        rows = connection.execute(select(table.c.id, table.c[name]))
        found[name] = {int(number): str(known) for number, known in rows}
    return found


def _tree_id(connection: Connection, tree: str) -> int:
    standing = tree_ids(connection, [tree.strip()])
    if standing:
        return standing[0]
    key = tree.strip().casefold()
    query = select(CHANGES.c.record_id, CHANGES.c.before, CHANGES.c.after)
    gone = connection.execute(query.where(CHANGES.c.kind == "trees")).all()
    for record, before, after in reversed(gone):
        if key in {json.loads(text).get("tree_key") for text in (before, after) if text}:
            return int(record)
    return tree_ids(connection, [tree_named(connection, tree, date.max)])[0]


def _change(row: Row[Any], states: dict[tuple[str, int], Plain]) -> ChangeEntry:
    """One change as it is told; `states` follows what each record was."""
    before = None if row.before is None else json.loads(row.before)
    after = None if row.after is None else json.loads(row.after)
    state = states.get((row.kind, row.record_id), {}) | (before or {}) | (after or {})
    states[row.kind, row.record_id] = state
    return ChangeEntry(
        number=row.batch_id,
        action=row.action,
        who=row.who or UNKNOWN,
        at=row.made_at,
        kind=row.kind,
        record=_in_words(row.kind, state),
        record_id=row.record_id,
        before=_told(row.kind, before),
        after=_told(row.kind, after),
        undone=row.undone_by is not None,
    )


def _in_words(kind: str, state: Plain) -> str:
    if kind not in KINDS:
        if kind == "attachments":
            hangs_on = "" if state["kind"] in OWNERS else f" ({state['kind'][:-1]})"
            return f"{state['filename']}{hangs_on}"
        named = (str(state[n]) for n in NAMING if state.get(n) is not None)
        return ", ".join(_ITEM.sub(r"\1", name) for name in named)
    names = [name for name in KINDS[kind].key if name not in ("tree", "site") or kind in OWNERS]
    words = [
        f"{HEADERS.get(name, name)} {state[name]}" if name in ("pass_number", "bbch") else
        str(state[name])
        for name in names
        if state.get(name) is not None
    ]  # fmt: skip
    return ", ".join(words)


def _told(kind: str, values: Plain | None) -> Plain | None:
    """The columns that a person knows, by their headers."""
    if values is None:
        return None
    hidden = HIDDEN | HIDDEN_OF.get(kind, set())
    return {HEADERS.get(n, n): value for n, value in values.items() if n not in hidden}
