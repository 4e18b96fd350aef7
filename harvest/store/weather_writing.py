"""Putting weather into the orchard, source by source, as part of a batch of the history."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import ColumnElement, Connection, Table, select

from harvest.store.bulk import plain
from harvest.store.history import Batch
from harvest.store.schema import TABLES, WEATHER_AHEAD, WEATHER_SOURCES, WEATHER_STATIONS
from harvest.store.sites import SiteRow
from harvest.store.weather import read_days, read_sources
from harvest.weather.daily import COLUMNS

# A confirmed day stays confirmed when a value moves by no more than this [degC, mm, km/h]: stations
# are levelled anew on every fetch, and a tenth does not change what the person saw; nor does wind
# that comes to a day without any.
SAME_WITHIN = 0.5
WIND = COLUMNS.index("wind_kmh")


@dataclass(frozen=True)
class Saved:
    """What became of days that came in."""

    new: int
    same: int
    changed: int


def ensure_source(made: Batch, site_id: int, source: str, kind: str) -> None:
    """Put a source on record for a site, unless it is there."""
    save_source(made, site_id, source, kind)


def save_source(
    made: Batch,
    site_id: int,
    source: str,
    kind: str,
    *,
    attribution: str | None = None,
    licence: str | None = None,
    fetched_at: datetime | None = None,
    layout: Mapping[str, str] | None = None,
) -> None:
    """Put a source on record, or bring what is known of it up to date; blanks erase nothing."""
    given: dict[str, Any] = {
        "attribution": attribution,
        "licence": licence,
        "fetched_at": plain(fetched_at),
        "layout": None if layout is None else json.dumps(dict(layout), ensure_ascii=False),
    }
    known = {name: value for name, value in given.items() if value is not None}
    there = _source_id(made.connection, site_id, source)
    if there is None:
        row = {"site_id": site_id, "source": source, "kind": kind, **known}
        made.insert("weather_sources", {name: [value] for name, value in row.items()})
    elif known:
        made.change("weather_sources", {there: known})


def _source_id(connection: Connection, site_id: int, source: str) -> int | None:
    table = WEATHER_SOURCES
    own = select(table.c.id).where(table.c.site_id == site_id, table.c.source == source)
    found = connection.execute(own).scalar()
    return None if found is None else int(found)


def save_days(made: Batch, site_id: int, source: str, days: pd.DataFrame) -> Saved:
    """Add days of a source and change those that differ; days that are not handed in stay.

    Parameters
    ----------
    days : columns date, tmin_c, tmax_c [degC] and, where known, precip_mm [mm], wind_kmh [km/h],
        each date once.
    """
    table = TABLES["weather"]
    query = select(table.c.id, table.c.date, *(table.c[name] for name in COLUMNS)).where(
        table.c.site_id == site_id, table.c.source == source
    )
    stored = made.connection.execute(query).all()
    before = np.array([row[2:] for row in stored], dtype=float).reshape(-1, len(COLUMNS))
    place = pd.Series(np.arange(len(stored)), index=pd.DatetimeIndex([row[1] for row in stored]))
    match = place.reindex(pd.DatetimeIndex(days["date"])).to_numpy(dtype=float)
    known = ~np.isnan(match)
    after = _values(days)
    old = before[match[known].astype(int)]
    merged = np.where(np.isnan(after[known]), old, after[known])
    same = ((merged == old) | (np.isnan(merged) & np.isnan(old))).all(axis=1)
    moved = ~(np.abs(merged - old) <= SAME_WITHIN) & ~np.isnan(merged)
    moved[:, WIND] &= ~np.isnan(old[:, WIND])
    moved = moved.any(axis=1)
    _insert_days(made, site_id, source, days.loc[~known, "date"], after[~known])
    ids = [int(stored[int(at)][0]) for at in match[known][~same]]
    changes = dict(zip(ids, _plain(merged[~same]), strict=True))
    for record, much in zip(ids, moved[~same], strict=True):
        if much:
            changes[record]["confirmed"] = False
    made.change("weather", changes)
    return Saved(int((~known).sum()), int(same.sum()), len(ids))


def withdraw(made: Batch, site_id: int, source: str, values: pd.DataFrame) -> int:
    """Blank values on record that their source no longer stands by; how many there were.

    Parameters
    ----------
    values : columns date and, for each of `COLUMNS`, True where the value is withdrawn. A day that
        a person has confirmed keeps its own.
    """
    table = TABLES["weather"]
    query = select(table.c.id, table.c.date, *(table.c[name] for name in COLUMNS)).where(
        table.c.site_id == site_id, table.c.source == source, table.c.confirmed.is_(False)
    )
    gone = dict(zip(values["date"].dt.date, values[list(COLUMNS)].to_numpy(), strict=True))
    changes = {}
    for number, day, *stored in made.connection.execute(query).all() if gone else ():
        blank = {
            name: None
            for name, value, off in zip(COLUMNS, stored, gone.get(day, ()), strict=False)
            if off and value is not None
        }
        if blank:
            changes[int(number)] = blank
    made.change("weather", changes)
    return sum(map(len, changes.values()))


def _insert_days(
    made: Batch, site_id: int, source: str, dates: pd.Series, values: np.ndarray
) -> None:
    number = len(dates)
    rows = _plain(values)
    made.insert(
        "weather",
        {
            "site_id": [site_id] * number,
            "source": [source] * number,
            "date": dates.dt.strftime("%Y-%m-%d").tolist(),
            **{name: [row[name] for row in rows] for name in COLUMNS},
            "confirmed": [False] * number,
        },
    )


def _values(days: pd.DataFrame) -> np.ndarray:
    """The days' values, shape (days, columns), nan where a column is not among theirs."""
    return days.reindex(columns=list(COLUMNS)).to_numpy(dtype=float)


def _plain(values: np.ndarray) -> list[dict[str, Any]]:
    """Days as the database takes them: floats of Python's own, None for nan."""
    return [
        {
            name: None if np.isnan(value) else float(value)
            for name, value in zip(COLUMNS, row, strict=True)
        }
        for row in values
    ]


def save_ahead(made: Batch, site_id: int, source: str, issued: date, days: pd.DataFrame) -> int:
    """Keep a forecast's days as it was issued; a second one of the same day replaces the first."""
    own = {"site_id": site_id, "source": source, "issued": issued.isoformat()}
    dates = days["date"].dt.strftime("%Y-%m-%d")
    values = _plain(_values(days))
    rows = [{**own, "date": day, **row} for day, row in zip(dates, values, strict=True)]
    table = WEATHER_AHEAD
    mine = (table.c.site_id == site_id) & (table.c.source == source) & (table.c.issued == issued)
    _replace(made, table, mine, "date", rows)
    return len(rows)


def save_stations(
    made: Batch, site_id: int, source: str, stations: Iterable[Mapping[str, Any]]
) -> None:
    """Replace the stations that a source is worked out from."""
    table, own = WEATHER_STATIONS, _source_id(made.connection, site_id, source)
    rows = [{"source_id": own, **station} for station in stations]
    _replace(made, table, table.c.source_id == own, "station", rows)


def _replace(
    made: Batch,
    table: Table,
    mine: ColumnElement[bool],
    key: str,
    rows: Iterable[Mapping[str, Any]],
) -> None:
    """Make a few rows what is there: those of the same key change, others go and come."""
    names = [column.name for column in table.c if column.name != "id"]
    after = {row[key]: {name: plain(row.get(name)) for name in names} for row in rows}
    stored = made.connection.execute(select(table.c.id, table.c[key]).where(mine)).all()
    there = {plain(value): int(number) for number, value in stored}
    made.remove(table.name, [number for value, number in there.items() if value not in after])
    made.change(table.name, {there[v]: row for v, row in after.items() if v in there})
    new = [row for value, row in after.items() if value not in there]
    made.insert(table.name, {name: [row[name] for row in new] for name in names})


def measured_at(connection: Connection, site: SiteRow) -> pd.DataFrame:
    """Days measured at the site itself (logger and own files), as `read_days` gives them."""
    sources = read_sources(connection)
    own = sources[(sources["site_id"] == site.id) & sources["kind"].isin(["logger", "file"])]
    days = read_days(connection, site=site.site)
    return days[days["source"].isin(own["source"])].reset_index(drop=True)
