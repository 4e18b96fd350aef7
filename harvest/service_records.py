"""The use cases of keeping records: take in, log, correct, undo, tell the history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

import pandas as pd

from harvest.records import EVENTS, Records, fields
from harvest.store.about import read_about
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
    read_products,
)
from harvest.store.doubting import Doubt, dismiss, open_doubts
from harvest.store.editing import Shown, edit_record, remove_record, show_records
from harvest.store.exporting import Exported, export_folder
from harvest.store.finding import find_record, kind_of, state_of
from harvest.store.history import Signature
from harvest.store.history_reading import (
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
from harvest.store.logging_records import MEASURED, LogReport, Subject
from harvest.store.logging_records import log_records as log_judged
from harvest.store.naming import trees_as_of
from harvest.store.notebook import Layout
from harvest.store.orchard import Orchard
from harvest.store.reading import count_kinds, read_kind
from harvest.store.reference import bbch_table, cultivar_table, species_table
from harvest.store.restoring import Restored, list_backups, restore
from harvest.store.rules import doubts
from harvest.store.undoing import Undone, undo
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons
from harvest.units import QUANTITIES

__all__ = [
    "DAILY_KEPT",
    "Asked",
    "Attachment",
    "Backup",
    "BatchEntry",
    "ChangeEntry",
    "Column",
    "Condition",
    "Counts",
    "Doubt",
    "EntryLists",
    "Exported",
    "FolderReport",
    "GrowthStages",
    "Layout",
    "LogReport",
    "Orchard",
    "RecordField",
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
    "entry_lists",
    "event_names",
    "export_folder",
    "find_record",
    "growth_stages",
    "history",
    "import_folder",
    "import_records",
    "kept_backups",
    "kind_of",
    "kinds_of_fruit",
    "log_columns",
    "log_records",
    "media_type_of",
    "one_record",
    "open_doubts_of",
    "record_fields",
    "remove_record",
    "restore_orchard",
    "show_records",
    "site_places",
    "spreadsheet_text",
    "state_of",
    "tree_history",
    "undo_batch",
]


@dataclass(frozen=True)
class Column:
    """A column that a record may have, and what it means."""

    name: str
    help: str

    @staticmethod
    def unit_of(name: str) -> str:
        """The column's unit, blank for words and plain numbers."""
        unit = QUANTITIES[name].unit if name in QUANTITIES else "1"
        return {"1": "", "d": "days", "degBrix": "°Brix"}.get(unit, unit)


def log_columns(kind: str) -> tuple[Column, ...]:
    """The columns of a kind of record besides whose it is and when."""
    found = []
    for field in fields(kind):
        if field.name in ("tree", "site", "date", "time_of_day"):
            continue
        quantity = QUANTITIES.get(field.header)
        told = quantity.meaning if quantity else field.header.replace("_", " ")
        unit = Column.unit_of(field.header)
        words = " (yes or no)" if field.type is bool else f" ({unit})" if unit else ""
        if field.name in MEASURED:
            words = ", with its unit"
        found.append(Column(field.header, f"{told[0].upper()}{told[1:]}{words}."))
    return tuple(found)


@dataclass(frozen=True)
class RecordField:
    """A column of a kind of record as a table or a form needs to know it."""

    header: str
    number: bool
    choices: tuple[str, ...]
    needed: bool


def record_fields(kind: str) -> tuple[RecordField, ...]:
    """All columns of a kind of record; a spray's time of day is part of its date."""
    return tuple(
        RecordField(
            field.header,
            field.type in (int, float),
            ("yes", "no") if field.type is bool else field.choices,
            field.value_needed,
        )
        for field in fields(kind)
        if field.type is not time
    )


@dataclass(frozen=True)
class EntryLists:
    """What a form has to know of an orchard before anything is typed."""

    trees: pd.DataFrame
    """Standing trees by site, row and position: tree, site, species and cultivar as grafted."""
    sites: pd.DataFrame
    """Sites with their latitude [deg]."""
    products: tuple[str, ...]
    """Products that were sprayed before."""
    fixed_day: date | None
    """The demo's own day; None for an orchard that lives today."""


def entry_lists(orchard: Orchard) -> EntryLists:
    """What a form has to know, read at once."""
    with orchard.reading() as connection:
        trees = trees_as_of(connection, date.max)
        sites = read_kind(connection, "sites")
        products = read_products(connection)
    standing = trees[trees["removed"].isna()]
    order = ["site", "row", "position", "tree"]
    return EntryLists(
        standing.sort_values(order, na_position="last", kind="stable", ignore_index=True),
        sites[["site", "latitude"]],
        products,
        read_about(orchard).demo_as_of,
    )


def event_names() -> tuple[str, ...]:
    """What can befall a tree or a site."""
    return EVENTS


@dataclass(frozen=True)
class GrowthStages:
    """Growth stages in words, by group of species and BBCH code; and the group of each species."""

    groups: Mapping[str, str]
    words: Mapping[str, Mapping[int, str]]


def growth_stages() -> GrowthStages:
    """The growth stages that have words here."""
    kinds, stages = species_table(), bbch_table()
    words: dict[str, dict[int, str]] = {}
    for group, code, name in zip(
        stages["species_group"], stages["code"], stages["stage_name"], strict=True
    ):
        words.setdefault(str(group), {})[int(code)] = str(name)
    return GrowthStages(dict(zip(kinds["species"], kinds["group"], strict=True)), words)


def kinds_of_fruit(trees: pd.DataFrame | None = None) -> dict[str, tuple[str, ...]]:
    """Every species known here with its cultivars, those of some trees among them."""
    columns = ["species", "cultivar"]
    known = pd.concat([frame[columns] for frame in (cultivar_table(), trees) if frame is not None])
    return {
        str(species): tuple(sorted(set(known.loc[known["species"] == species, "cultivar"])))
        for species in species_table()["species"]
    }


def spreadsheet_text(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Rows of `Shown` records to be pasted into a spreadsheet: tabs between, no line breaks.

    Their cells are written so already that no spreadsheet takes one for a formula.
    """
    lines = [[" ".join(cell.split()) for cell in row] for row in (header, *rows)]
    return "\n".join("\t".join(line) for line in lines)


def site_places(orchard: Orchard) -> pd.DataFrame:
    """Sites with their longitude [deg] and time zone: what tells which day it is there."""
    with orchard.reading() as connection:
        return read_kind(connection, "sites")[["site", "longitude", "timezone"]]


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
