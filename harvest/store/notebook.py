"""A notebook's loose table: one row a tree, and a column for each season or each date.

Nothing in such a table says what its cells are, so the person does: which column of which kind of
record they hold, and for seasons on which day of the year they are booked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import pandas as pd
from sqlalchemy import Connection, select

from harvest.errors import FileFormatError, InputError
from harvest.records import KINDS, fields
from harvest.seasons import season_start
from harvest.store.parsing import Refusal
from harvest.store.schema import TABLES
from harvest.store.tablefile import EXTRA, TextTable

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_SEASON = re.compile(r"(\d{4})(?:[/-](\d{2}|\d{4}))?")


@dataclass(frozen=True)
class Layout:
    """What a loose table holds, as the person says."""

    holds: str
    """The column that the cells are; `date` where they are the dates of something."""
    on: str = ""
    """Month and day on which a season's cells are booked, as 09-15; blank under dates."""
    always: Mapping[str, str] = field(default_factory=dict)
    """Columns that are the same for every cell: `bbch` 65."""


@dataclass(frozen=True)
class Unfolded:
    """A loose table as one with a row for each filled cell, numbered from 1."""

    table: TextTable
    places: tuple[tuple[int, Mapping[str, str]], ...]
    """The line in the file that each row comes from, and the file's column for each of ours."""
    ignored: tuple[str, ...]
    """Columns of the file with cells that are neither trees, seasons nor dates."""

    def in_the_file(self, notes: Iterable[Refusal]) -> tuple[Refusal, ...]:
        """What is said of rows, by the lines and columns of the file."""
        told = []
        for note in notes:
            line, columns = self.places[note.line - 1]
            told.append(replace(note, line=line, column=columns.get(note.column, note.column)))
        return tuple(told)


def unfold(connection: Connection, kind: str, table: TextTable, layout: Layout) -> Unfolded:
    """The loose table with a row for each filled cell.

    Raises FileFormatError where it has no column of trees or none of seasons or dates, InputError
    where what is said of it does not fit.
    """
    _said(kind, layout)
    names = [str(name) for name in table.cells.columns]
    trees = names[0]
    days = {n: n.strip() for n in names[1:] if _DAY.fullmatch(n.strip())}
    seasons = {n: _season(n) for n in names[1:] if n not in days and _season(n) is not None}
    if not days and not seasons:
        raise FileFormatError(
            "a loose table has a column of trees first, then seasons (2024, 2024/25) or dates",
            given=", ".join(names[:8]),
            where=f"{table.name}, header row",
        )
    if seasons and layout.holds != "date" and not layout.on:
        raise InputError(
            "cells under seasons need a day to be booked on",
            given="columns like " + ", ".join(list(seasons)[:3]),
            todo="Add the month and day: --on 09-15.",
        )
    south = _southern_trees(connection)
    rows, places = [], []
    for line, cells in zip(table.cells.index, table.cells.to_dict("records"), strict=True):
        tree = str(cells[trees]).strip()
        for name in (*days, *seasons):
            text = str(cells[name]).strip()
            if text in ("", "-", "–"):
                continue
            row = {**layout.always, trees_column(kind): tree, layout.holds: text}
            if name in days:
                row.setdefault("date", days[name])
            elif layout.holds != "date":
                row["date"] = _booked(seasons[name] or 0, layout.on, tree.casefold() in south)
            rows.append(row)
            columns = {trees_column(kind): trees, layout.holds: name, "date": name}
            places.append((int(str(line)), columns))
    headers = [trees_column(kind), "date", layout.holds, *layout.always]
    number = range(1, len(rows) + 1)
    index = pd.Index(dict.fromkeys(headers))
    frame = pd.DataFrame(rows, columns=index, index=number, dtype=object).fillna("")
    others = [n for n in names[1:] if n not in days and n not in seasons]
    ignored = tuple(
        "cells beyond the last column" if name == EXTRA else name
        for name in others
        if (table.cells[name].str.strip() != "").any()
    )
    return Unfolded(replace(table, cells=frame), tuple(places), ignored)


def trees_column(kind: str) -> str:
    """The column that names a record's tree. Raises InputError for kinds that have none."""
    if "tree" not in KINDS[kind].owner:
        raise InputError("a loose table holds records of trees", given=kind)
    return "tree"


def _said(kind: str, layout: Layout) -> None:
    headers = {f.header for f in fields(kind)}
    own = trees_column(kind)
    for name in (layout.holds, *layout.always):
        if name not in headers:
            raise InputError(
                f"the cells must be a column of {kind}",
                given=repr(name),
                todo=f"Columns: {', '.join(sorted(headers))}.",
            )
    for name in [f.header for f in fields(kind) if f.column_needed]:
        if name not in (own, "date", layout.holds, *layout.always):
            raise InputError(
                f"each cell needs its {name} too",
                given=f"cells that hold {layout.holds}",
                todo=f"Name one for all of them: --always {name}=….",
            )
    if layout.on:
        try:
            date.fromisoformat(f"2024-{layout.on}")
        except ValueError as error:
            raise InputError(
                "a month and day are written MM-DD", given=repr(layout.on), todo="Example: 09-15."
            ) from error


def _season(header: str) -> int | None:
    """The season a header names: 2024, or 2025 for 2024/25."""
    found = _SEASON.fullmatch(header.strip())
    if found is None:
        return None
    first, second = int(found[1]), found[2]
    if second is None:
        return first
    follows = int(second) in (first + 1, (first + 1) % 100)
    return first + 1 if follows else None


def _booked(season: int, on: str, south: bool) -> str:
    """The day of a season that falls on a month and day: 2026-02-10 of 2025/26 in the south."""
    start = season_start(season, -1.0 if south else 1.0)
    month, day = (int(part) for part in on.split("-"))
    year = start.year + (south and month < start.month)
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return str(date(year, month, 28 if (month, day) == (2, 29) and not leap else day))


def _southern_trees(connection: Connection) -> set[str]:
    trees, sites = TABLES["trees"], TABLES["sites"]
    query = select(trees.c.tree_key).join(sites, trees.c.site_id == sites.c.id)
    return set(connection.execute(query.where(sites.c.latitude < 0)).scalars())
