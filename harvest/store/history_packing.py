"""The history's changes read back, and those of many rows of weather kept packed.

A fetch levels thousands of days anew. A row of history for each would soon outgrow the days, so
what a batch did to one table of weather is kept in one piece: its changes as JSON, compressed.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, func, insert, select

from harvest.store.bulk import Plain
from harvest.store.schema import CHANGES, PACKED_CHANGES, PACKED_KINDS

FAST = 1  # level of compression: days of one source are much alike, higher ones gain little


@dataclass(frozen=True)
class Change:
    """What a batch did to one record: the columns that changed, before and after."""

    kind: str
    record_id: int
    before: Plain | None
    after: Plain | None


def keep_packed(
    connection: Connection,
    kind: str,
    batch: int,
    changes: Sequence[tuple[int, Plain | None, Plain | None]],
) -> None:
    """Write changes of one table down in one piece, each as id, before, after."""
    text = json.dumps(changes, ensure_ascii=False, separators=(",", ":"))
    connection.execute(
        insert(PACKED_CHANGES).values(
            kind=kind,
            batch_id=batch,
            last_id=max(record for record, _, _ in changes),
            packed=zlib.compress(text.encode(), FAST),
        )
    )


def changes_of(connection: Connection, batch: int) -> list[Change]:
    """All that a batch did, by record."""
    single = select(CHANGES.c.kind, CHANGES.c.record_id, CHANGES.c.before, CHANGES.c.after)
    found = [
        Change(kind, record, before and json.loads(before), after and json.loads(after))
        for kind, record, before, after in connection.execute(
            single.where(CHANGES.c.batch_id == batch)
        )
    ]
    packed = select(PACKED_CHANGES.c.kind, PACKED_CHANGES.c.packed)
    for kind, data in connection.execute(packed.where(PACKED_CHANGES.c.batch_id == batch)):
        found += [Change(kind, *each) for each in _unpacked(data)]
    return sorted(found, key=lambda change: change.record_id)


def changed_later(
    connection: Connection, kind: str, records: Sequence[int], batch: int
) -> list[int]:
    """Numbers of the batches after one that changed some records."""
    query = select(CHANGES.c.batch_id).where(
        CHANGES.c.kind == kind, CHANGES.c.record_id.in_(records), CHANGES.c.batch_id > batch
    )
    found = {int(number) for number in connection.execute(query).scalars()}
    if kind in PACKED_KINDS:
        table, wanted = PACKED_CHANGES, set(records)
        later = select(table.c.batch_id, table.c.packed)
        later = later.where(table.c.kind == kind, table.c.batch_id > batch)
        for number, data in connection.execute(later):
            if any(each[0] in wanted for each in _unpacked(data)):
                found.add(int(number))
    return sorted(found)


def highest_id(connection: Connection, kind: str) -> int:
    """The highest id that a record of a kind ever had, as far as the history goes; 0: none."""
    query = select(func.max(CHANGES.c.record_id)).where(CHANGES.c.kind == kind)
    highest = connection.execute(query).scalar() or 0
    if kind in PACKED_KINDS:
        packed = select(func.max(PACKED_CHANGES.c.last_id)).where(PACKED_CHANGES.c.kind == kind)
        highest = max(highest, connection.execute(packed).scalar() or 0)
    return int(highest)


def _unpacked(data: bytes) -> list[tuple[int, Plain | None, Plain | None]]:
    found: list[tuple[int, Plain | None, Plain | None]] = json.loads(zlib.decompress(data))
    return found
