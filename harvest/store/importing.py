"""Taking a table of records into the orchard: all good rows in one transaction, the rest refused.

A row is new, the same as on record, or changes a record with the same key. A blank cell never
erases what is on record. Importing the same file twice changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, time
from pathlib import Path

import numpy as np
import pandas as pd
from sqlalchemy import Connection

from harvest.records import KINDS, fields
from harvest.store.checking import (
    Findings,
    check_rows,
    key_of,
    line_of,
    refuse_other_trees,
    warn_of_moved_sites,
)
from harvest.store.doubting import Judge, doubts_about
from harvest.store.history import UNSIGNED, Batch, Signature, batch
from harvest.store.notebook import Layout, unfold
from harvest.store.orchard import Orchard
from harvest.store.parsing import Parsed, Refusal, parse
from harvest.store.reading import read_kind
from harvest.store.schema import TABLES
from harvest.store.tablefile import TextTable, read_table
from harvest.store.weather import FILE_SOURCE, suspect_among
from harvest.store.weather_writing import ensure_source
from harvest.weather.half_of_the_world import OTHER_HALF, of_the_other_half

# Rows written so far, and of how many.
Progress = Callable[[int, int], None]
# So many rows go to the database between two signs of progress.
BLOCK = 10_000


@dataclass(frozen=True)
class ImportReport:
    """What became of a file's rows."""

    kind: str
    file: str
    read: int
    new: int
    same: int
    changed: int
    refused: tuple[Refusal, ...]
    warnings: tuple[Refusal, ...]
    ignored_columns: tuple[str, ...]
    encoding: str
    dry_run: bool
    batch: int | None = None
    """Number of the change in the history; None where nothing changed."""
    assumed_units: tuple[str, ...] = ()
    """For each column whose name tells no unit, in which one it was read."""
    day_orders: tuple[str, ...] = ()
    """For each column of dates whose order only the column as a whole tells: how it was read."""


def import_file(
    orchard: Orchard,
    kind: str,
    path: Path,
    *,
    today: date,
    dry_run: bool = False,
    signed: Signature = UNSIGNED,
    judge: Judge | None = None,
    layout: Layout | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """Import one file of one kind of record.

    Parameters
    ----------
    today : the last day a record may be dated; the caller's today, never taken from the clock.
    dry_run : only say what would happen.
    signed : who imports, and when, for the history.
    judge : finds what looks wrong though it can be true; such rows are kept, with a warning.
    layout : what a loose table holds (`harvest.store.notebook`); None for one record a row.
    progress : is told how many rows are written, and of how many.

    Raises FileFormatError when the file is no table of that kind, StoreError when the database
    cannot be written; in both cases nothing has gone in.
    """
    return import_table(
        orchard, kind, read_table(path), today=today, dry_run=dry_run, signed=signed, judge=judge,
        layout=layout, progress=progress,
    )  # fmt: skip


def import_table(
    orchard: Orchard,
    kind: str,
    table: TextTable,
    *,
    today: date,
    dry_run: bool = False,
    signed: Signature = UNSIGNED,
    judge: Judge | None = None,
    layout: Layout | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """As `import_file`, of a table that was read already."""
    with (
        orchard.writing() as connection,
        batch(connection, "import", signed, table.name, trial=dry_run) as made,
    ):
        if layout is None:
            return take_in(made, kind, table, today=today, judge=judge, progress=progress)
        loose = unfold(connection, kind, table, layout)
        report = take_in(made, kind, loose.table, today=today, judge=judge, progress=progress)
        return replace(
            report,
            refused=loose.in_the_file(report.refused),
            warnings=loose.in_the_file(report.warnings),
            ignored_columns=loose.ignored,
        )


def take_in(
    made: Batch,
    kind: str,
    table: TextTable,
    *,
    today: date,
    judge: Judge | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """Take a table's good rows in as part of a batch."""
    connection = made.connection
    parsed = parse(kind, table)
    checked = check_rows(connection, kind, parsed, today)
    if kind == "sites":
        warn_of_moved_sites(connection, checked)
    if kind == "trees":
        refuse_other_trees(connection, checked)
    plan = _plan(connection, kind, parsed, checked)
    _insert(made, kind, plan.new, progress)
    _change(made, kind, plan.changed)
    if kind == "weather":
        checked.warnings += list(_other_half(connection, checked.rows))
        checked.warnings += _suspect(connection, checked.rows)
    if judge is not None:
        checked.warnings += _doubtful(connection, judge, kind, plan, today)
    refused = sorted([*parsed.refused, *checked.refused], key=lambda r: (r.line, r.column))
    return ImportReport(
        kind=kind,
        file=table.name,
        read=len(table.cells),
        new=len(plan.new),
        same=plan.same + checked.repeated,
        changed=len(plan.changed),
        refused=tuple(refused),
        warnings=tuple(checked.warnings),
        ignored_columns=parsed.ignored_columns,
        encoding=table.encoding,
        dry_run=made.trial,
        batch=None if made.trial else made.number,
        assumed_units=parsed.assumed_units,
        day_orders=parsed.day_orders,
    )


def _doubtful(
    connection: Connection, judge: Judge, kind: str, plan: _Plan, today: date
) -> list[Refusal]:
    """Rows just written that look wrong though they can be right."""
    rows = pd.concat([part for part in (plan.new, plan.changed) if len(part)] or [plan.new])
    found = doubts_about(connection, judge, kind, rows, today).sort_values("line", kind="stable")
    todo = "If it is right, let it stand: 'harvest check'."
    return [
        Refusal(line_of(line), "", str(rows.loc[line, "tree"]), said, todo, rule)
        for line, rule, said in found.itertuples(index=False)
    ]


def _other_half(connection: Connection, rows: pd.DataFrame) -> Iterator[Refusal]:
    """Sites whose days, just taken in, can hardly be theirs."""
    latitude = read_kind(connection, "sites").set_index("site")["latitude"]
    names = {name.casefold(): name for name in latitude.index}
    for site, days in rows.groupby("site"):
        known = names[str(site).casefold()]
        if of_the_other_half(days, float(latitude[known])):
            yield Refusal(line_of(days.index[0]), "site", known, OTHER_HALF.rstrip("."))


def _suspect(connection: Connection, rows: pd.DataFrame) -> list[Refusal]:
    """Days just taken in that the weather checks hold suspect."""
    found = suspect_among(connection, FILE_SOURCE, rows)
    return [
        Refusal(
            line_of(line),
            column,
            f"{value:g}",
            f"suspect, left out of all sums: {rule}",
            "If it is right, confirm it: harvest weather confirm.",
        )
        for line, column, value, rule in found.itertuples(index=False)
    ]


@dataclass(frozen=True)
class _Plan:
    new: pd.DataFrame
    changed: pd.DataFrame
    same: int


def _plan(connection: Connection, kind: str, parsed: Parsed, checked: Findings) -> _Plan:
    """Sort the good rows into new, changed (merged with what is on record) and the same."""
    rows = checked.rows
    dated = "date" in rows.columns and len(rows) > 0
    stored = read_kind(
        connection,
        kind,
        since=rows["date"].min().date() if dated else None,
        until=rows["date"].max().date() if dated else None,
        trees=_trees(rows),
        with_id=True,
    )
    if kind == "weather":
        stored = stored[stored["source"] == FILE_SOURCE].drop(columns="source")
    key = key_of(kind, rows)
    position = pd.Series(np.arange(len(stored)), index=key_of(kind, stored))
    match = position.reindex(key).to_numpy()
    known = ~np.isnan(match)
    before = stored.iloc[match[known].astype(int)].reset_index(drop=True)
    after = rows[known].reset_index(drop=True)
    differs = np.zeros(len(after), dtype=bool)
    owners = KINDS[kind].owner
    names = [n for n in parsed.columns if n not in KINDS[kind].key or n == kind[:-1]]
    for name in names:
        given = after[name].notna()
        fold = name in owners or name == kind[:-1]
        old, new = before[name], after[name]
        unlike = (old.str.casefold() != new.str.casefold()) if fold else old != new
        differs |= (given & unlike).to_numpy()
        after[name] = new.where(given, old)
    for field in fields(kind):
        if field.name not in parsed.columns:
            after[field.name] = before[field.name]
    after["id"] = before["id"]
    after.index = rows.index[known]
    return _Plan(new=rows[~known], changed=after[differs], same=int((~differs).sum()))


def _trees(rows: pd.DataFrame) -> list[int] | None:
    """Ids of the trees that rows hang on; None where some hang on sites."""
    if "tree_id" not in rows or rows["tree_id"].isna().any():
        return None
    return [int(tree) for tree in rows["tree_id"].unique()]


def values_of(kind: str, rows: pd.DataFrame) -> dict[str, list[object]]:
    """Rows as the database takes them, column by column: plain values, ids instead of names."""
    table = TABLES[kind]
    out: dict[str, list[object]] = {}
    for name in KINDS[kind].owner:
        out[f"{name}_id"] = _plain(rows[f"{name}_id"], int)
    for field in fields(kind):
        if field.name in table.c:
            out[field.name] = _plain(rows[field.name], field.type)
    if kind in ("sites", "trees"):
        out[f"{kind[:-1]}_key"] = [str(name).casefold() for name in rows[kind[:-1]]]
    if kind == "weather":  # what a person confirmed was the value that stood here before
        out["source"] = [FILE_SOURCE] * len(rows)
        out["confirmed"] = [False] * len(rows)
    return out


def _plain(column: pd.Series, kind: type) -> list[object]:
    missing = column.isna().to_numpy()
    values: Sequence[object]
    if kind is date:
        values = np.datetime_as_string(column.to_numpy().astype("datetime64[D]")).tolist()
    elif kind is int:
        values = column.fillna(0).astype("int64").tolist()
    elif kind is time:
        values = [None if value is None else value.isoformat() for value in column]
    else:
        values = column.tolist()
    if not missing.any():
        return list(values)
    return [None if absent else value for value, absent in zip(values, missing, strict=True)]


def _insert(made: Batch, kind: str, rows: pd.DataFrame, progress: Progress | None) -> None:
    if rows.empty:
        return
    if kind == "weather":
        for site in rows["site_id"].unique():
            ensure_source(made, int(site), FILE_SOURCE, "file")
    for start in range(0, len(rows), BLOCK):
        block = rows.iloc[start : start + BLOCK]
        made.insert(kind, values_of(kind, block))
        if progress is not None:
            progress(start + len(block), len(rows))


def _change(made: Batch, kind: str, rows: pd.DataFrame) -> None:
    if rows.empty:
        return
    columns = values_of(kind, rows)
    values = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    made.change(kind, dict(zip(rows["id"].astype(int).tolist(), values, strict=True)))
