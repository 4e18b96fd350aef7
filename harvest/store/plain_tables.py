"""The tables beside the records (weather, settings, what people decided) as text and back.

Ids stay in the database: a site goes by its name, a source by its site and name, so that the
tables can be taken in elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import pandas as pd
from sqlalchemy import Boolean, Connection, Date, DateTime, Float, Integer, Table, select

from harvest.errors import FileFormatError
from harvest.store.bulk import plain
from harvest.store.history import Batch
from harvest.store.schema import (
    CALENDAR_MARKS,
    DISMISSED,
    EXPERIENCE,
    SETTINGS,
    TABLES,
    WEATHER_AHEAD,
    WEATHER_GAPS,
    WEATHER_HOURS,
    WEATHER_SOURCES,
    WEATHER_STATIONS,
)
from harvest.store.spreadsheet import neutralised, restored
from harvest.store.tablefile import TextTable

# In the order in which they can be taken in: sources before their days.
PLAIN_TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        WEATHER_SOURCES, WEATHER_STATIONS, TABLES["weather"], WEATHER_AHEAD, WEATHER_HOURS,
        WEATHER_GAPS, CALENDAR_MARKS,
        SETTINGS, DISMISSED, EXPERIENCE,
    )
}  # fmt: skip
# What names one row of each.
KEYS: dict[str, tuple[str, ...]] = {
    "weather_sources": ("site", "source"),
    "weather_stations": ("site", "source", "station"),
    "weather": ("site", "source", "date"),
    "weather_ahead": ("site", "source", "issued", "date"),
    "weather_hours": ("site", "source", "date"),
    "weather_gaps": ("site",),
    "calendar_marks": ("mark", "target"),
    "settings": ("name",),
    "dismissed": ("rule", "facts"),
    "experience": ("orchard", "species", "cultivar"),
}


@dataclass(frozen=True)
class PlainReport:
    """What became of a table's rows."""

    name: str
    read: int
    new: int
    same: int


def names_of(table: Table) -> list[str]:
    """The columns as files have them: site and source by name."""
    out: list[str] = []
    for column in table.c:
        if column.name == "source_id":
            out += ["site", "source"]
        elif column.name != "id":
            out.append("site" if column.name == "site_id" else column.name)
    return out


def rows_of(connection: Connection, table: Table) -> list[list[Any]]:
    """All rows as plain values, in the order of `names_of`, sorted by what names them."""
    names = names_of(table)
    place = [names.index(name) for name in KEYS[table.name]]
    sites = _names(connection)
    sources = _sources(connection) if "source_id" in table.c else {}
    found = []
    for row in connection.execute(select(table)).mappings():
        values: list[Any] = []
        for name, value in row.items():
            if name == "source_id":
                values += sources[value]
            elif name == "site_id":
                values.append(sites.get(value))
            elif name != "id":
                values.append(plain(value))
        found.append(values)
    return sorted(found, key=lambda row: [str(row[at]) for at in place])


def cell(value: Any) -> str:
    """A plain value as a file has it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return neutralised(value) if isinstance(value, str) else str(value)


def take_plain(made: Batch, table: Table, read: TextTable) -> PlainReport:
    """Add the rows that are not there yet; those there stay as they are.

    Raises FileFormatError where a column is missing or a cell cannot be read; nothing goes in.
    """
    connection = made.connection
    names = names_of(table)
    missing = [name for name in names if name not in read.cells.columns]
    if missing:
        raise FileFormatError(
            f"an exported {table.name} file has the columns {', '.join(names)}",
            given=f"no {', '.join(missing)}",
            where=read.name,
        )
    place = [names.index(name) for name in KEYS[table.name]]
    there = {_key(row, place) for row in rows_of(connection, table)}
    sites = {name.casefold(): number for number, name in _names(connection).items()}
    rows, known = [], 0
    for line, cells in zip(read.cells.index, read.cells[names].to_numpy().tolist(), strict=True):
        row = [
            _value(table, name, restored(text), f"{read.name}, line {line}")
            for name, text in zip(names, cells, strict=True)
        ]
        if _key(row, place) in there:
            known += 1
        else:
            rows.append(dict(zip(names, row, strict=True)))
    _insert(made, table, rows, sites, read.name)
    return PlainReport(table.name, len(read.cells), len(rows), known)


def _insert(
    made: Batch, table: Table, rows: Sequence[dict[str, Any]], sites: dict[str, int], where: str
) -> None:
    by_name = {(s.casefold(), n): i for i, (s, n) in _sources(made.connection).items()}
    for row in rows:
        if "site" not in row:
            continue
        site = row.pop("site")
        known = None if site is None else sites.get(str(site).casefold())
        if "source_id" in table.c:
            row["source_id"] = by_name.get((str(site).casefold(), row.pop("source")))
        else:
            row["site_id"] = known
        if site is not None and (known is None or row.get("source_id", 0) is None):
            raise FileFormatError(
                "the site and its source must be on record", given=repr(site), where=where
            )
    if not rows:
        return
    made.insert(table.name, {name: [row[name] for row in rows] for name in rows[0]})


def _value(table: Table, name: str, text: str, where: str) -> Any:
    """A cell as a plain value. Raises FileFormatError."""
    column = table.c.get(name)
    if text == "" and (column is None or column.nullable):
        return None
    kind = None if column is None else column.type
    try:
        if isinstance(kind, Boolean):
            return {"yes": True, "no": False}[text]
        if isinstance(kind, Integer):
            return int(text)
        if isinstance(kind, Float):
            return float(text)
        if isinstance(kind, DateTime):
            return datetime.fromisoformat(text).isoformat()
        return date.fromisoformat(text).isoformat() if isinstance(kind, Date) else text
    except (ValueError, KeyError) as error:
        raise FileFormatError(
            f"the column {name} must be as it was exported", given=repr(text), where=where
        ) from error


def _key(row: Sequence[Any], place: Sequence[int]) -> tuple[str, ...]:
    return tuple(str(row[at]).casefold() for at in place)


def _names(connection: Connection) -> dict[int, str]:
    sites = TABLES["sites"]
    return {int(i): str(name) for i, name in connection.execute(select(sites.c.id, sites.c.site))}


def _sources(connection: Connection) -> dict[int, tuple[str, str]]:
    names = _names(connection)
    table = WEATHER_SOURCES
    rows = connection.execute(select(table.c.id, table.c.site_id, table.c.source))
    return {int(i): (names[int(site)], str(source)) for i, site, source in rows}


def as_frame(names: Sequence[str], rows: Sequence[Sequence[Any]]) -> pd.DataFrame:
    """Rows as text, as a file has them."""
    return pd.DataFrame([[cell(v) for v in row] for row in rows], columns=pd.Index(names))
