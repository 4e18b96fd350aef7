"""Whether records changed, told apart from marks, settings and the like."""

from __future__ import annotations

import json
from collections.abc import Hashable, Iterable
from threading import Lock

from sqlalchemy import select

from harvest.store.orchard import Orchard
from harvest.store.schema import BATCHES, PACKED_KINDS

# Kinds of the history that no calculation reads.
BESIDE_RECORDS = frozenset({"calendar_marks", "settings", "dismissed", "attachments"})
# Kinds that the weather of the sites is made of.
OF_WEATHER = frozenset({"sites", "weather", "weather_gaps", "weather_sources", *PACKED_KINDS})


class RecordStamp:
    """Something that differs after every change to records or weather, and mostly only then.

    It goes by the history: batches that changed nothing but marks, settings, doubts let stand or
    attachments leave it as it is, and so do sign-ins, which are no batches. Where the history is
    not the one that was seen before (a backup was restored), it differs. Threads may share it.
    """

    def __init__(self, orchard: Orchard) -> None:
        self._orchard = orchard
        self._lock = Lock()
        self._whole: Hashable = None
        self._newest: tuple[int, str] | None = None
        self._first: Hashable = None
        # Of each kind that changed since the first look: its last change's place among them all.
        self._changed: dict[str, tuple[int, Hashable]] = {}

    def now(self) -> Hashable:
        """The stamp of all records. Raises StoreError when the database does not answer."""
        with self._lock:
            self._look()
            return self._of(self._changed.keys() - BESIDE_RECORDS)

    def of(self, kinds: Iterable[str]) -> Hashable:
        """The stamp of some kinds of the history alone. Raises StoreError as `now`."""
        with self._lock:
            self._look()
            return self._of(kinds)

    def _of(self, kinds: Iterable[str]) -> Hashable:
        latest = max((self._changed[kind] for kind in kinds if kind in self._changed), default=None)
        return self._first if latest is None else latest[1]

    def _look(self) -> None:
        """Look at the batches since the newest one that was seen, and at that one again."""
        whole, seen = self._orchard.stamp(), self._newest
        if whole == self._whole:
            return
        columns = BATCHES.c.id, BATCHES.c.who, BATCHES.c.made_at, BATCHES.c.summary
        query = select(*columns).where(BATCHES.c.id >= (seen[0] if seen else 0))
        with self._orchard.reading() as connection:
            rows = [
                (int(number), f"{who} {made_at} {summary}", frozenset(json.loads(summary)))
                for number, who, made_at, summary in connection.execute(
                    query.order_by(BATCHES.c.id)
                )
            ]
        if not (seen and rows and rows[0][:2] == seen):
            self._first, self._changed = whole, {}
        else:
            for number, _, kinds in rows[1:]:
                self._changed |= dict.fromkeys(kinds, (number, whole))
        if rows:
            self._newest = rows[-1][:2]
        self._whole = whole
