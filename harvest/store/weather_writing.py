"""Putting weather into the orchard, source by source, and what people decide about it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection, bindparam, delete, insert, select, update

from harvest.errors import InputError, UnknownNameError
from harvest.store.schema import TABLES, WEATHER_AHEAD, WEATHER_SOURCES, WEATHER_STATIONS
from harvest.store.sites import SiteRow
from harvest.store.weather import ensure_source, read_days, read_sources

_VALUES = ("tmin_c", "tmax_c", "precip_mm")
# A confirmed day stays confirmed when a value moves by no more than this [degC, mm]: stations are
# levelled anew on every fetch, and a tenth does not change what the person saw.
SAME_WITHIN = 0.5


@dataclass(frozen=True)
class Saved:
    """What became of days that came in."""

    new: int
    same: int
    changed: int


def save_source(
    connection: Connection,
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
    ensure_source(connection, site_id, source, kind)
    given: dict[str, Any] = {
        "attribution": attribution,
        "licence": licence,
        "fetched_at": fetched_at,
        "layout": None if layout is None else json.dumps(dict(layout), ensure_ascii=False),
    }
    known = {name: value for name, value in given.items() if value is not None}
    if known:
        table = WEATHER_SOURCES
        connection.execute(
            update(table).where(table.c.site_id == site_id, table.c.source == source).values(known)
        )


def save_days(connection: Connection, site_id: int, source: str, days: pd.DataFrame) -> Saved:
    """Add days of a source and change those that differ; days that are not handed in stay.

    Parameters
    ----------
    days : columns date, tmin_c, tmax_c [degC], precip_mm [mm], each date once.
    """
    table = TABLES["weather"]
    query = select(table.c.id, table.c.date, *(table.c[name] for name in _VALUES)).where(
        table.c.site_id == site_id, table.c.source == source
    )
    stored = connection.execute(query).all()
    before = np.array([row[2:] for row in stored], dtype=float).reshape(-1, len(_VALUES))
    place = pd.Series(np.arange(len(stored)), index=pd.DatetimeIndex([row[1] for row in stored]))
    match = place.reindex(pd.DatetimeIndex(days["date"])).to_numpy(dtype=float)
    known = ~np.isnan(match)
    after = days[list(_VALUES)].to_numpy(dtype=float)
    old = before[match[known].astype(int)]
    merged = np.where(np.isnan(after[known]), old, after[known])
    same = ((merged == old) | (np.isnan(merged) & np.isnan(old))).all(axis=1)
    moved = (~(np.abs(merged - old) <= SAME_WITHIN) & ~np.isnan(merged)).any(axis=1)
    fresh = [
        {"site_id": site_id, "source": source, "date": day, **values}
        for day, values in _plain(days.loc[~known, "date"], after[~known])
    ]
    if fresh:
        connection.execute(insert(table), fresh)
    ids = [stored[int(at)][0] for at in match[known][~same]]
    _change(connection, ids, merged[~same], moved[~same])
    return Saved(len(fresh), int(same.sum()), len(ids))


def _change(
    connection: Connection, ids: Sequence[int], values: np.ndarray, moved: np.ndarray
) -> None:
    if not ids:
        return
    table = TABLES["weather"]
    rows = [
        {"record_id": record, **{f"new_{name}": value for name, value in given.items()}}
        for record, (_, given) in zip(ids, _plain([None] * len(ids), values), strict=True)
    ]
    news: dict[str, Any] = {name: bindparam(f"new_{name}") for name in _VALUES}
    statement = update(table).where(table.c.id == bindparam("record_id"))
    connection.execute(statement.values(news), rows)
    doubtful = [record for record, much in zip(ids, moved, strict=True) if much]
    if doubtful:
        connection.execute(
            statement.values(confirmed=False), [{"record_id": record} for record in doubtful]
        )


def _plain(
    dates: Iterable[Any], values: np.ndarray
) -> list[tuple[date | None, dict[str, float | None]]]:
    """Days as the database takes them: dates and floats of Python's own, None for nan."""
    out = []
    for day, row in zip(dates, values, strict=True):
        cells = [None if np.isnan(value) else float(value) for value in row]
        out.append((None if day is None else day.date(), dict(zip(_VALUES, cells, strict=True))))
    return out


def save_ahead(
    connection: Connection, site_id: int, source: str, issued: date, days: pd.DataFrame
) -> int:
    """Keep a forecast's days as it was issued; a second one of the same day replaces the first."""
    table = WEATHER_AHEAD
    connection.execute(
        delete(table).where(
            table.c.site_id == site_id, table.c.source == source, table.c.issued == issued
        )
    )
    rows = [
        {"site_id": site_id, "source": source, "issued": issued, "date": day, **values}
        for day, values in _plain(days["date"], days[list(_VALUES)].to_numpy(dtype=float))
    ]
    if rows:
        connection.execute(insert(table), rows)
    return len(rows)


def save_stations(
    connection: Connection, site_id: int, source: str, stations: Iterable[Mapping[str, Any]]
) -> None:
    """Replace the stations that a source is worked out from."""
    own = select(WEATHER_SOURCES.c.id).where(
        WEATHER_SOURCES.c.site_id == site_id, WEATHER_SOURCES.c.source == source
    )
    source_id = connection.execute(own).scalar_one()
    table = WEATHER_STATIONS
    connection.execute(delete(table).where(table.c.source_id == source_id))
    rows = [{"source_id": source_id, **station} for station in stations]
    if rows:
        connection.execute(insert(table), rows)


def save_trust(connection: Connection, site: SiteRow, order: Sequence[str]) -> None:
    """Set a site's order of trust, most trusted first; sources not named follow by their kind.

    Raises UnknownNameError for a source that the site has not.
    """
    sources = read_sources(connection)
    known = list(sources.loc[sources["site_id"] == site.id, "source"])
    folded = {name.casefold(): name for name in known}
    for name in order:
        if name.casefold() not in folded:
            raise UnknownNameError(f"weather source of {site.site}", name, known)
    ranks = {folded[name.casefold()]: place for place, name in enumerate(order)}
    table = WEATHER_SOURCES
    for name in known:
        connection.execute(
            update(table)
            .where(table.c.site_id == site.id, table.c.source == name)
            .values(trust=ranks.get(name))
        )


def save_confirmed(
    connection: Connection, site: SiteRow, source: str, dates: Sequence[date], confirmed: bool
) -> None:
    """Mark days of a source as seen and right, or take the mark away.

    Raises InputError when a day is not on record.
    """
    table = TABLES["weather"]
    for day in dates:
        done = connection.execute(
            update(table)
            .where(table.c.site_id == site.id, table.c.source == source, table.c.date == day)
            .values(confirmed=confirmed)
        )
        if done.rowcount == 0:
            raise InputError(
                "the day must be on record", given=str(day), where=f"{site.site}, source {source}"
            )


def measured_at(connection: Connection, site: SiteRow) -> pd.DataFrame:
    """Days measured at the site itself (logger and own files), as `read_days` gives them."""
    sources = read_sources(connection)
    own = sources[(sources["site_id"] == site.id) & sources["kind"].isin(["logger", "file"])]
    days = read_days(connection, site=site.site)
    return days[days["source"].isin(own["source"])].reset_index(drop=True)
