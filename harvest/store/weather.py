"""Weather in the orchard: days by source, who they come from, what is trusted and confirmed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection, Text, cast, select

from harvest.store.schema import TABLES, WEATHER_AHEAD, WEATHER_SOURCES, WEATHER_STATIONS
from harvest.store.sites import read_site
from harvest.weather.daily import COLUMNS
from harvest.weather.sift import Sifted, sift_sources

# What a source is, most trusted first where a person has set no order of their own.
SOURCE_KINDS = ("logger", "file", "archive", "stations", "model")
FILE_SOURCE = "file"


def read_sources(connection: Connection) -> pd.DataFrame:
    """Sources of every site, most trusted first within a site.

    Columns id, site_id, site, source, kind, attribution, licence, fetched_at, trust, layout.
    """
    table, sites = WEATHER_SOURCES, TABLES["sites"]
    query = select(table, sites.c.site).join(sites, table.c.site_id == sites.c.id)
    result = connection.execute(query)
    frame = pd.DataFrame(result.fetchall(), columns=list(result.keys()))
    place = frame["trust"].astype(float).fillna(np.inf)
    kind = frame["kind"].map({name: rank for rank, name in enumerate(SOURCE_KINDS)})
    order = frame.assign(_place=place, _kind=kind.astype(float))
    order = order.sort_values(["site", "_place", "_kind", "source"], ignore_index=True)
    return order.drop(columns=["_place", "_kind"])


def read_days(
    connection: Connection, *, before: date | None = None, site: str | None = None
) -> pd.DataFrame:
    """Every stored day of every source, as it came in.

    Columns site, date, source, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h],
    confirmed.
    """
    table, sites = TABLES["weather"], TABLES["sites"]
    query = select(
        sites.c.site,
        cast(table.c.date, Text).label("date"),
        table.c.source,
        *(table.c[name] for name in COLUMNS),
        table.c.confirmed,
    ).join(sites, table.c.site_id == sites.c.id)
    if before is not None:
        query = query.where(table.c.date < before)
    if site is not None:
        query = query.where(sites.c.site == site)
    return _frame(connection.execute(query).fetchall(), ["site", "date", "source"], ["confirmed"])


def read_ahead(connection: Connection, *, until: date | None = None) -> pd.DataFrame:
    """Forecast days of every issue, or of those on or before a day.

    Columns site, issued, date, source, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h];
    sorted by site, date, issue.
    """
    table, sites = WEATHER_AHEAD, TABLES["sites"]
    query = select(
        sites.c.site,
        cast(table.c.issued, Text).label("issued"),
        cast(table.c.date, Text).label("date"),
        table.c.source,
        *(table.c[name] for name in COLUMNS),
    ).join(sites, table.c.site_id == sites.c.id)
    if until is not None:
        query = query.where(table.c.issued <= until)
    names = ["site", "issued", "date", "source"]
    frame = _frame(connection.execute(query).fetchall(), names, [])
    return frame.sort_values(["site", "date", "issued", "source"], ignore_index=True)


def _frame(rows: Iterable[Iterable[Any]], names: list[str], flags: list[str]) -> pd.DataFrame:
    """Rows as a typed frame: names, then the values, then flags."""
    columns = [*names, *COLUMNS, *flags]
    listed = [tuple(row) for row in rows]
    cells = dict(zip(columns, zip(*listed, strict=True), strict=True)) if listed else {}
    out: dict[str, pd.Series] = {}
    for name in columns:
        values = cells.get(name, ())
        if name in ("date", "issued"):
            days = np.array(values, dtype="datetime64[D]").astype("datetime64[s]")
            out[name] = pd.Series(days)
        elif name in flags:
            out[name] = pd.Series(np.array(values, dtype=bool))
        elif name in COLUMNS:
            out[name] = pd.Series(np.array(values, dtype=float))
        else:
            out[name] = pd.Series(values, dtype=object)
    return pd.DataFrame(out)


def trust_order(connection: Connection) -> dict[str, list[str]]:
    """Names of each site's sources, most trusted first."""
    sources = read_sources(connection)
    return {str(site): list(rows["source"]) for site, rows in sources.groupby("site")}


def sift_sites(
    connection: Connection, before: date | None = None, *, site: str | None = None
) -> dict[str, Sifted]:
    """Each site's sources checked and merged, by its order of trust, from days before a day."""
    return sifted_days(read_days(connection, before=before, site=site), trust_order(connection))


def sifted_days(days: pd.DataFrame, trust: Mapping[str, list[str]]) -> dict[str, Sifted]:
    """As `sift_sites`, of days that have been read (`read_days`, `trust_order`)."""
    return {
        str(site): sift_sources(rows.drop(columns="site"), trust.get(str(site), []))
        for site, rows in days.groupby("site")
    }


def suspect_among(connection: Connection, source: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Which of some rows (columns site, date) of a source are suspect.

    Columns line (the rows' index), column, value, rule.
    """
    found = []
    for site, own in rows.groupby("site"):
        stored = read_site(connection, str(site)).site
        for sifted in sift_sites(connection, site=stored).values():
            suspect = sifted.suspect[sifted.suspect["source"] == source]
            lines = pd.DataFrame({"date": own["date"], "line": own.index})
            found.append(suspect.merge(lines, on="date"))
    columns = ["line", "column", "value", "rule"]
    return pd.concat(found)[columns] if found else pd.DataFrame(columns=columns)


def read_stations(connection: Connection) -> pd.DataFrame:
    """Stations behind each source, nearest first.

    Columns site, source, station, name, distance_km, elevation_m, first_day, last_day, days,
    share.
    """
    table, sources, sites = WEATHER_STATIONS, WEATHER_SOURCES, TABLES["sites"]
    names = ("station", "name", "distance_km", "elevation_m", "first_day", "last_day")
    query = (
        select(sites.c.site, sources.c.source, *(table.c[n] for n in (*names, "days", "share")))
        .join(sources, table.c.source_id == sources.c.id)
        .join(sites, sources.c.site_id == sites.c.id)
        .order_by(sites.c.site, sources.c.source, table.c.distance_km)
    )
    result = connection.execute(query)
    return pd.DataFrame(result.fetchall(), columns=list(result.keys()))


def merged_weather(sifted: Mapping[str, Sifted]) -> pd.DataFrame:
    """The weather that the calculations see: one row per site and day, suspect values missing.

    `sifted` as by `sifted_days`. Columns site, date, tmin_c, tmax_c [degC], precip_mm [mm],
    wind_kmh [km/h], source; sorted by site and date.
    """
    parts = [found.merged.assign(site=site) for site, found in sifted.items()]
    columns = ["site", "date", *COLUMNS, "source"]
    if not parts:
        return _frame([], ["site", "date", "source"], [])[columns]
    merged = pd.concat(parts, ignore_index=True)[columns]
    return merged.astype({"site": object, "source": object})
