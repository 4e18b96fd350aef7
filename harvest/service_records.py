"""The use cases of keeping records: take in, log, correct, undo, tell the history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path

import pandas as pd

from harvest.records import Records
from harvest.store.attaching import (
    Attachment,
    attach,
    attachment_bytes,
    attachments,
    detach,
    media_type_of,
)
from harvest.store.backing_up import (
    DAILY_KEPT,
    ENDINGS,
    Backup,
    back_up,
    back_up_daily,
    backups_folder,
)
from harvest.store.browsing import (
    Asked,
    Condition,
    RecordPage,
    browse_records,
    one_record,
)
from harvest.store.doubting import Doubt, dismiss, open_doubts
from harvest.store.editing import Shown, edit_record, remove_record, show_records
from harvest.store.exporting import Exported, export_folder
from harvest.store.finding import find_record, kind_of, state_of
from harvest.store.history import Signature
from harvest.store.history_reading import (
    KINDS_IN_WORDS,
    BatchEntry,
    ChangeEntry,
    Counts,
    read_batches,
    read_change,
    read_tree_history,
)
from harvest.store.importing import ImportReport, import_file
from harvest.store.importing import Progress as ImportProgress
from harvest.store.importing_folder import FolderReport
from harvest.store.importing_folder import import_folder as import_folder_judged
from harvest.store.integrity import check_integrity
from harvest.store.logging_records import OF_ONE_TREE, LogReport, Subject
from harvest.store.logging_records import log_records as log_judged
from harvest.store.naming import site_named, tree_named, trees_of
from harvest.store.notebook import Layout
from harvest.store.orchard import Orchard
from harvest.store.reading import count_kinds, read_kind
from harvest.store.restoring import Restored, list_backups, restore
from harvest.store.rules import doubts
from harvest.store.undoing import Undone, undo
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons

__all__ = [
    "DAILY_KEPT",
    "KINDS_IN_WORDS",
    "OF_ONE_TREE",
    "Asked",
    "Attachment",
    "Backup",
    "BatchEntry",
    "ChangeEntry",
    "Condition",
    "Counts",
    "Doubt",
    "Exported",
    "FolderReport",
    "Layout",
    "LogReport",
    "Orchard",
    "RecordPage",
    "Restored",
    "Shown",
    "Signature",
    "Subject",
    "Undone",
    "attach",
    "attachment_bytes",
    "attachments",
    "backup_orchard",
    "browse_records",
    "change_history",
    "check_integrity",
    "count_kinds",
    "daily_backup",
    "detach",
    "dismiss_doubts",
    "edit_record",
    "export_folder",
    "find_record",
    "history",
    "import_folder",
    "import_records",
    "kept_backups",
    "kind_of",
    "log_records",
    "media_type_of",
    "one_record",
    "open_doubts_of",
    "remove_record",
    "restore_orchard",
    "show_records",
    "site_places",
    "state_of",
    "tree_history",
    "undo_batch",
]

PLACE = ["site", "latitude", "longitude", "timezone"]


def site_places(
    orchard: Orchard, about: Subject | None = None, day: date = date.max
) -> pd.DataFrame:
    """Sites with their latitude, longitude [deg] and time zone: which day and season it is there.

    `about`: only the sites of these trees, or this one; `day`: trees of a kind that stand then.
    Raises InputError, UnknownNameError where they cannot be told.
    """
    with orchard.reading() as connection:
        sites = read_kind(connection, "sites")[PLACE]
        if about is None:
            return sites
        if about.site:
            return sites[sites["site"] == site_named(connection, about.site)]
        trees = read_kind(connection, "trees")
        if about.all_of:
            named = trees_of(connection, about.all_of, day)
        else:
            named = [tree_named(connection, about.tree, day)]
    return sites[sites["site"].isin(trees.loc[trees["tree"].isin(named), "site"])]


def import_records(
    orchard: Orchard,
    kind: str,
    path: Path,
    *,
    today: date,
    signed: Signature,
    dry_run: bool = False,
    layout: Layout | None = None,
    progress: ImportProgress | None = None,
) -> ImportReport:
    """Take a file of records in; the good rows go in, the others are listed with their reason."""
    return import_file(
        orchard, kind, path, today=today, signed=signed, dry_run=dry_run, judge=judge,
        layout=layout, progress=progress,
    )  # fmt: skip


def import_folder(
    orchard: Orchard,
    folder: Path,
    *,
    today: date,
    signed: Signature,
    dry_run: bool = False,
    progress: ImportProgress | None = None,
) -> FolderReport:
    """Take in a folder that `export_folder` wrote, as one change."""
    return import_folder_judged(
        orchard, folder, today=today, signed=signed, dry_run=dry_run, judge=judge,
        progress=progress,
    )  # fmt: skip


def log_records(
    orchard: Orchard,
    kind: str,
    about: Subject,
    cells: Mapping[str, str],
    *,
    today: date,
    signed: Signature,
    replace: bool = False,
    trial: bool = False,
    ask: bool = False,
    entry: str | None = None,
) -> LogReport:
    """Log one record, or one for each tree of a kind; a trial only says what would happen.

    With `ask`, nothing is logged where it looks odd. What arrived before under the same `entry` is
    not logged again.
    """
    return log_judged(
        orchard, kind, about, cells, today=today, signed=signed, replace=replace, trial=trial,
        ask=ask, entry=entry, judge=judge,
    )  # fmt: skip


def open_doubts_of(orchard: Orchard, as_of: date, tree: str | None = None) -> list[Doubt]:
    """Records that look wrong though they can be right, without those let stand; or one tree's."""
    return open_doubts(orchard, judge, as_of, tree)


def dismiss_doubts(
    orchard: Orchard, codes: Sequence[str], *, as_of: date, signed: Signature
) -> list[Doubt]:
    """Let records stand that look wrong, by the codes of their warnings."""
    return dismiss(orchard, judge, codes, as_of=as_of, signed=signed)


def judge(known: Records) -> pd.DataFrame:
    """What in the records looks wrong though it can be right (`harvest.store.rules`)."""
    traits = tree_traits(known)
    return doubts(with_seasons(known, traits), traits)


def backup_orchard(orchard: Orchard, path: Path | None, at: datetime) -> Backup:
    """Copy the orchard into a file; by default into the folder of its copies, under the moment.

    Raises StoreError where it cannot be done.
    """
    url = orchard.engine.url
    if path is None:
        ending = ENDINGS[url.get_backend_name()]
        path = backups_folder(url) / f"by-hand-{at:%Y-%m-%d-%H%M%S}{ending}"
    return back_up(orchard.engine, path)


def daily_backup(orchard: Orchard, today: date) -> Backup | None:
    """Keep a copy of the day, unless there is one; only of an orchard that has records."""
    if not read_batches(orchard, 1):
        return None
    return back_up_daily(orchard.engine, today)


def kept_backups(address: str) -> list[Backup]:
    """The copies kept beside an orchard, newest first."""
    return list_backups(address)


def restore_orchard(address: str, path: Path, at: datetime) -> Restored:
    """Put a copy in the orchard's place, after checking it; what was there is kept."""
    return restore(address, path, at)


def history(orchard: Orchard, most: int | None = None) -> list[BatchEntry]:
    """What was done to the orchard's records, newest first."""
    return read_batches(orchard, most)


def change_history(orchard: Orchard, number: int, most: int) -> list[ChangeEntry]:
    """What one change did to each record, most of them at most. Raises InputError for none."""
    return read_change(orchard, number, most)


def tree_history(orchard: Orchard, tree: str) -> list[ChangeEntry]:
    """Everything that was done to one tree and its records, newest first."""
    return read_tree_history(orchard, tree)


def undo_batch(orchard: Orchard, number: int | None, signed: Signature) -> Undone:
    """Take back one batch, or the last that stands."""
    return undo(orchard, number, signed)
