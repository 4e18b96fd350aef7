"""Every change of a record goes through here, and keeps who, when, what before and after.

A batch is what one command did. It holds what it made, changed and took away, so that it can be
told and undone as a whole; a command that changes nothing leaves no batch.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from harvest.store.bulk import CHUNK, Plain, insert_many, new_ids, read_plain, update_many
from harvest.store.history_packing import highest_id, keep_packed
from harvest.store.schema import ATTACHMENTS, BATCHES, CHANGES, PACKED_KINDS, TABLES, TRACKED

UNKNOWN = "unknown"


@dataclass(frozen=True)
class Signature:
    """Who changes something, and when (UTC)."""

    who: str
    at: datetime | None


UNSIGNED = Signature(UNKNOWN, None)


@dataclass
class Batch:
    """What one command does to the records, written down as it is done."""

    connection: Connection
    action: str
    signed: Signature
    note: str = ""
    undoes: int | None = None
    number: int | None = None
    """The batch's number; None as long as nothing has changed."""
    trial: bool = False
    """Whether it is only to be said what would happen: at the end all is taken back."""
    summary: dict[str, list[int]] = field(default_factory=dict)
    """By kind: how many records were made, changed, taken away."""

    def insert(self, kind: str, columns: Mapping[str, Sequence[Any]]) -> Sequence[int]:
        """Make records, given column by column as plain values; their ids.

        A column `id` brings records back under the ids that they had.
        """
        number = len(next(iter(columns.values()), ()))
        if not number:
            return []
        if "id" in columns:
            ids = columns["id"]
        else:
            highest = highest_id(self.connection, kind)
            ids = new_ids(self.connection, TRACKED[kind], number, highest)
        insert_many(self.connection, TRACKED[kind], {**columns, "id": ids})
        facts = {name: values for name, values in columns.items() if name != "id"}
        rows = [_known(facts, values) for values in zip(*facts.values(), strict=True)]
        self._keep(kind, 0, [(i, None, row) for i, row in zip(ids, rows, strict=True)], rows)
        return ids

    def change(self, kind: str, changes: Mapping[int, Mapping[str, Any]]) -> int:
        """Set columns of records by id, as plain values; how many were not so already."""
        table = TRACKED[kind]
        stored = read_plain(self.connection, table, list(changes))
        differing: dict[int, Plain] = {}
        for record, values in changes.items():
            old = stored[record]
            news = {name: value for name, value in values.items() if value != old[name]}
            if news:
                differing[record] = news
        if differing:
            update_many(self.connection, table, differing)
            self._keep(
                kind,
                1,
                [
                    (record, {name: stored[record][name] for name in news}, news)
                    for record, news in differing.items()
                ],
                [stored[record] for record in differing],
            )
        return len(differing)

    def remove(self, kind: str, ids: Sequence[int]) -> None:
        """Take records away, and what is attached to them; the history keeps them whole."""
        table = TRACKED[kind]
        if kind in TABLES:
            self.remove("attachments", self._attached(kind, ids))
        stored = read_plain(self.connection, table, ids)
        if not stored:
            return
        rows = [without_blanks(row) for row in stored.values()]
        self._keep(kind, 2, [(i, row, None) for i, row in zip(stored, rows, strict=True)], rows)
        for start in range(0, len(ids), CHUNK):
            chosen = table.c.id.in_(list(ids[start : start + CHUNK]))
            self.connection.execute(delete(table).where(chosen))

    def _attached(self, kind: str, ids: Sequence[int]) -> list[int]:
        if kind == "weather":
            return []
        hanging = select(ATTACHMENTS.c.id, ATTACHMENTS.c.record_id).where(
            ATTACHMENTS.c.kind == kind
        )
        gone = set(ids)
        return [int(i) for i, record in self.connection.execute(hanging) if record in gone]

    def _keep(
        self,
        kind: str,
        sort: int,
        changes: Sequence[tuple[int, Plain | None, Plain | None]],
        whole: Sequence[Plain],
    ) -> None:
        """Write changes of one sort down; `whole` has each record's tree."""
        if self.number is None:
            self._begin()
        assert self.number is not None
        self.summary.setdefault(kind, [0, 0, 0])[sort] += len(changes)
        if kind in PACKED_KINDS:
            keep_packed(self.connection, kind, self.number, changes)
            return
        write = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
        ids = [record for record, _, _ in changes]
        insert_many(
            self.connection,
            CHANGES,
            {
                "kind": [kind] * len(ids),
                "record_id": ids,
                "batch_id": [self.number] * len(ids),
                "tree_id": ids if kind == "trees" else [row.get("tree_id") for row in whole],
                "before": [None if before is None else write(before) for _, before, _ in changes],
                "after": [None if after is None else write(after) for _, _, after in changes],
            },
        )

    def _begin(self) -> None:
        made = self.connection.execute(
            insert(BATCHES).values(
                action=self.action,
                who=self.signed.who or UNKNOWN,
                made_at=self.signed.at and self.signed.at.replace(tzinfo=None),
                note=self.note or None,
                summary="{}",
                undoes=self.undoes,
            )
        )
        key = made.inserted_primary_key
        assert key is not None
        self.number = int(key[0])

    def end(self) -> None:
        """Write down what it was, and how many records were made, changed and taken away."""
        if self.number is not None:
            self.connection.execute(
                update(BATCHES)
                .where(BATCHES.c.id == self.number)
                .values(summary=json.dumps(self.summary), note=self.note or None)
            )


@contextmanager
def batch(
    connection: Connection,
    action: str,
    signed: Signature,
    note: str = "",
    undoes: int | None = None,
    trial: bool = False,
) -> Iterator[Batch]:
    """A batch in a writing transaction; when that fails, the batch goes with it."""
    made = Batch(connection, action, signed, note, undoes, trial=trial)
    yield made
    if made.trial:
        connection.rollback()
        made.number = None
    else:
        made.end()


def without_blanks(row: Mapping[str, Any]) -> Plain:
    """A record without the columns that are blank."""
    return {name: value for name, value in row.items() if value is not None}


def _known(names: Mapping[str, Any], values: Sequence[Any]) -> Plain:
    return {n: v for n, v in zip(names, values, strict=True) if v is not None}
