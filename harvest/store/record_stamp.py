"""Whether records changed, told apart from marks, settings and the like."""

from __future__ import annotations

import json
from collections.abc import Hashable
from threading import Lock

from sqlalchemy import select

from harvest.store.orchard import Orchard
from harvest.store.schema import BATCHES

# Kinds of the history that no calculation reads.
BESIDE_RECORDS = frozenset({"calendar_marks", "settings", "dismissed", "attachments"})


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
        self._records: Hashable = None

    def now(self) -> Hashable:
        """The stamp. Raises StoreError when the database does not answer."""
        whole = self._orchard.stamp()
        with self._lock:
            if whole != self._whole:
                self._look(whole)
                self._whole = whole
            return self._records

    def _look(self, whole: Hashable) -> None:
        """Look at the batches since the newest one that was seen, and at that one again."""
        seen = self._newest
        columns = BATCHES.c.id, BATCHES.c.who, BATCHES.c.made_at, BATCHES.c.summary
        query = select(*columns).where(BATCHES.c.id >= (seen[0] if seen else 0))
        with self._orchard.reading() as connection:
            rows = [
                (int(number), f"{who} {made_at} {summary}", frozenset(json.loads(summary)))
                for number, who, made_at, summary in connection.execute(
                    query.order_by(BATCHES.c.id)
                )
            ]
        known = bool(seen and rows and rows[0][:2] == seen)
        later = rows[1:] if known else rows
        if not known or any(kinds - BESIDE_RECORDS for _, _, kinds in later):
            self._records = whole
        if rows:
            self._newest = rows[-1][:2]
