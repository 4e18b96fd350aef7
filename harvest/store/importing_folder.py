"""Taking a whole exported folder in, as one change that can be undone as one."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path, PurePosixPath

from harvest.errors import FileFormatError
from harvest.records import KINDS
from harvest.store.attachment_tables import FOLDER, take_attachments
from harvest.store.attachment_tables import NAME as ATTACHED
from harvest.store.checking import OTHER_TREE, line_of
from harvest.store.doubting import Judge
from harvest.store.exporting import DESCRIPTION
from harvest.store.history import Signature, batch
from harvest.store.importing import ImportReport, Progress, take_in
from harvest.store.orchard import Orchard
from harvest.store.parsing import Refusal
from harvest.store.plain_tables import PLAIN_TABLES, PlainReport, take_plain
from harvest.store.tablefile import TextTable, read_table

ENDINGS = (".csv", ".xlsx")
TODO = "Give the tree a name of its own in every file of the folder, and import it again."


@dataclass(frozen=True)
class FolderReport:
    """What became of a folder's files."""

    kinds: tuple[ImportReport, ...]
    tables: tuple[PlainReport, ...]
    batch: int | None


def import_folder(
    orchard: Orchard,
    folder: Path,
    *,
    today: date,
    signed: Signature,
    dry_run: bool = False,
    judge: Judge | None = None,
    progress: Progress | None = None,
) -> FolderReport:
    """Take in a folder that `harvest export` wrote: every file of it that is there.

    `progress` is told how many of its files are in, and of how many.

    Raises FileFormatError when it holds none, names a file outside itself, or a file is no table;
    nothing has gone in then.
    """
    files = _files(folder)
    number = len(files)
    kinds: list[ImportReport] = []
    tables, others = [], frozenset[str]()
    with (
        orchard.writing() as connection,
        batch(connection, "import", signed, folder.name, trial=dry_run) as made,
    ):
        for name in ("sites", "trees", *PLAIN_TABLES, *KINDS):
            path = files.pop(name, None)
            if path is None:
                continue
            if name in PLAIN_TABLES:
                tables.append(take_plain(made, PLAIN_TABLES[name], read_table(path)))
            else:
                read, left = _of_known_trees(read_table(path), others)
                report = take_in(made, name, read, today=today, judge=judge)
                kinds.append(_with_refused(report, left))
            if name == "trees":
                others = frozenset(
                    note.value.casefold() for note in kinds[-1].refused if note.todo == OTHER_TREE
                )
            if progress is not None:
                progress(number - len(files), number)
        path = files.pop(ATTACHED, None)
        if path is not None:
            read, left = _of_known_trees(read_table(path), others)
            report = take_attachments(connection, made, read, folder / FOLDER, dry_run=dry_run)
            kinds.append(_with_refused(report, left))
    return FolderReport(tuple(kinds), tuple(tables), made.number)


def _of_known_trees(
    table: TextTable, others: frozenset[str]
) -> tuple[TextTable, tuple[Refusal, ...]]:
    """The table without the records of trees that are others' here, which would get them."""
    column = next((name for name in ("tree", "record") if name in table.cells), None)
    if not others or column is None:
        return table, ()
    names = table.cells[column]
    if column == "record":  # what something is attached to: {"tree": "Old Pearmain 3", …}
        names = names.str.extract(r'"tree": "((?:[^"\\]|\\.)*)"', expand=False).fillna("")
    theirs = names.str.strip().str.casefold().isin(others)
    left = tuple(
        Refusal(line_of(line), column, str(name).strip(), "another tree here has this name", TODO)
        for line, name in names[theirs].items()
    )
    return replace(table, cells=table.cells[~theirs]), left


def _with_refused(report: ImportReport, left: tuple[Refusal, ...]) -> ImportReport:
    refused = sorted([*report.refused, *left], key=lambda note: (note.line, note.column))
    return replace(report, read=report.read + len(left), refused=tuple(refused))


def _files(folder: Path) -> dict[str, Path]:
    """The file of each table: as the folder's description says, else by its name."""
    if not folder.is_dir():
        raise FileFormatError("a folder must be there to read", given="none", where=str(folder))
    described = folder / DESCRIPTION
    named: dict[str, str] = {}
    if described.is_file():
        try:
            package = json.loads(described.read_text(encoding="utf-8"))
            named = {str(r["name"]): str(r["path"]) for r in package["resources"]}
        except (ValueError, TypeError, LookupError) as error:
            raise FileFormatError(
                "the description must be one of a data package",
                given=str(error),
                where=str(described),
            ) from error
    found: dict[str, Path] = {}
    for name in (*KINDS, *PLAIN_TABLES, ATTACHED):
        words = [named[name]] if name in named else [f"{name}{end}" for end in ENDINGS]
        for word in words:
            path = _inside(folder, word)
            if path.is_file():
                found.setdefault(name, path)
    if not found:
        raise FileFormatError(
            "the folder must hold files that 'harvest export' wrote",
            given="none of them",
            where=str(folder),
            todo="Expected: sites.csv, trees.csv and others.",
        )
    return found


def _inside(folder: Path, word: str) -> Path:
    """A path of the folder's own. Raises FileFormatError for one that leads out of it."""
    path = folder / word
    plain = PurePosixPath(word)
    leads_out = plain.is_absolute() or ".." in plain.parts or "\\" in word or ":" in word
    if leads_out or not path.resolve().is_relative_to(folder.resolve()):
        raise FileFormatError(
            "every file must lie inside the folder",
            given=repr(word),
            where=str(folder / DESCRIPTION),
            todo="Nothing was read. Put the file into the folder.",
        )
    return path
