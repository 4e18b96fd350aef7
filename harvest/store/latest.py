"""Everything on record as it stands; after a change only the kinds it touched are read again."""

from __future__ import annotations

from collections.abc import Hashable
from threading import Lock

from harvest.records import KINDS
from harvest.store.orchard import Orchard
from harvest.store.reading import Tables, read_tables
from harvest.store.record_stamp import OF_WEATHER, RecordStamp


class LatestTables:
    """The records of an orchard, read when they are asked for and have changed.

    Several threads may share it: one reads, the others wait. `stamp` differs after every change.
    """

    def __init__(self, orchard: Orchard) -> None:
        self.stamp = RecordStamp(orchard)
        self._orchard = orchard
        self._lock = Lock()
        self._tables: Tables | None = None
        self._stamps: dict[str, Hashable] = {}

    def read(self) -> Tables:
        """The records. Raises StoreError when the database does not answer."""
        with self._lock:
            stamps = self._now()
            changed = {kind for kind in KINDS if stamps[kind] != self._stamps.get(kind)}
            if self._tables is None or changed:
                tables = read_tables(self._orchard, earlier=self._tables, changed=changed)
                if self._now() != stamps:  # what was kept may not fit what was read
                    tables = read_tables(self._orchard)
                self._tables, self._stamps = tables, stamps
            return self._tables

    def _now(self) -> dict[str, Hashable]:
        """What differs after every change to a kind, or to those its records are named by."""
        named_by = {kind: {f"{owner}s" for owner in KINDS[kind].owner} for kind in KINDS}
        own = {kind: OF_WEATHER if kind == "weather" else {kind} for kind in KINDS}
        return {kind: self.stamp.of(own[kind] | named_by[kind]) for kind in KINDS}
