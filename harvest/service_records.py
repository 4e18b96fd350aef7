"""The use cases of keeping records: take in, log, correct, undo, tell the history."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from harvest.store.history import Signature
from harvest.store.history_reading import (
    BatchEntry,
    ChangeEntry,
    Counts,
    read_batches,
    read_tree_history,
)
from harvest.store.importing import ImportReport, import_file
from harvest.store.orchard import Orchard
from harvest.store.undoing import Undone, undo

__all__ = [
    "BatchEntry",
    "ChangeEntry",
    "Counts",
    "Signature",
    "Undone",
    "history",
    "import_signed",
    "tree_history",
    "undo_batch",
]


def import_signed(
    orchard: Orchard,
    kind: str,
    path: Path,
    *,
    today: date,
    signed: Signature,
    dry_run: bool = False,
) -> ImportReport:
    """Take a file of records in; the good rows go in, the others are listed with their reason."""
    return import_file(orchard, kind, path, today=today, signed=signed, dry_run=dry_run)


def history(orchard: Orchard, most: int | None = None) -> list[BatchEntry]:
    """What was done to the orchard's records, newest first."""
    return read_batches(orchard, most)


def tree_history(orchard: Orchard, tree: str) -> list[ChangeEntry]:
    """Everything that was done to one tree and its records, newest first."""
    return read_tree_history(orchard, tree)


def undo_batch(orchard: Orchard, number: int | None, signed: Signature) -> Undone:
    """Take back one batch, or the last that stands."""
    return undo(orchard, number, signed)
