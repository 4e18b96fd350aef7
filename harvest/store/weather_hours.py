"""Hourly temperatures in the orchard, by site and source, and the gap rules of each site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np
import pandas as pd
from sqlalchemy import Connection, Text, cast, select

from harvest.store.history import Batch
from harvest.store.schema import TABLES, WEATHER_GAPS, WEATHER_HOURS
from harvest.weather.daily import TEMPERATURES, DayHours, as_days
from harvest.weather.hours import HOURS, as_rows, day_hours, solar_days
from harvest.weather.sift import Sifted


def save_hours(made: Batch, site_id: int, source: str, hours: DayHours) -> int:
    """Keep hours of days of UTC; one that comes again replaces what stood there.

    Returns how many hours came in.
    """
    table = WEATHER_HOURS
    rows = as_rows(hours)
    if rows.empty:
        return 0
    mine = (table.c.site_id == site_id) & (table.c.source == source)
    first, last = rows["date"].min().date(), rows["date"].max().date()
    query = select(table.c.id, cast(table.c.date, Text), *(table.c[name] for name in HOURS))
    stored = made.connection.execute(query.where(mine, table.c.date.between(first, last))).all()
    ids = {row[1]: row for row in stored}
    dates = rows["date"].dt.strftime("%Y-%m-%d").tolist()
    known = np.array([day in ids for day in dates])
    values = rows[list(HOURS)].to_numpy()
    fresh: dict[str, Sequence[object]] = {
        "site_id": [site_id] * int((~known).sum()),
        "source": [source] * int((~known).sum()),
        "date": [day for day, there in zip(dates, known, strict=True) if not there],
        **{name: _plain(values[~known, at]) for at, name in enumerate(HOURS)},
    }
    made.insert(table.name, fresh)
    changes = {}
    for at in np.flatnonzero(known):
        before = ids[dates[at]]
        old = np.array(before[2:], dtype=float)
        new = np.where(np.isnan(values[at]), old, values[at])
        if not np.array_equal(old, new, equal_nan=True):
            changes[int(before[0])] = dict(zip(HOURS, _plain(new), strict=True))
    made.change(table.name, changes)
    return int((~np.isnan(values)).sum())


def _plain(values: np.ndarray) -> list[float | None]:
    return [None if np.isnan(value) else float(value) for value in values]


def read_hours(
    connection: Connection, *, before: date | None = None, site: str | None = None
) -> pd.DataFrame:
    """Every stored hour of every source: site, source, date (of UTC) and `HOURS` [degC]."""
    table, sites = WEATHER_HOURS, TABLES["sites"]
    query = select(
        sites.c.site,
        table.c.source,
        cast(table.c.date, Text).label("date"),
        *(table.c[name] for name in HOURS),
    ).join(sites, table.c.site_id == sites.c.id)
    if before is not None:
        query = query.where(table.c.date <= before)
    if site is not None:
        query = query.where(sites.c.site == site)
    rows = [tuple(row) for row in connection.execute(query)]
    frame = pd.DataFrame([row[:2] for row in rows], columns=["site", "source"], dtype=object)
    days = np.array([row[2] for row in rows], dtype="datetime64[D]")
    frame["date"] = days.astype("datetime64[s]")
    values = np.array([row[3:] for row in rows], dtype=np.float64).reshape(-1, 24)
    return pd.concat([frame, pd.DataFrame(values, columns=list(HOURS))], axis=1)


def merged_hours(
    hours: pd.DataFrame,
    sifted: Mapping[str, Sifted],
    trust: Mapping[str, Sequence[str]],
    longitude: Mapping[str, float],
) -> pd.DataFrame:
    """The measured hours that calculations see: columns site, date and `HOURS` [degC].

    Dates and hours are of local solar time. Each hour is from the most trusted source that has it;
    the hours of a source's suspect days are left out.
    """
    parts = []
    for name, rows in hours.groupby("site"):
        site = str(name)
        doubtful = sifted[site].suspect if site in sifted else None
        by_source = dict(tuple(rows.groupby("source")))
        order = [source for source in trust.get(site, ()) if source in by_source]
        order += sorted(set(map(str, by_source)) - set(order))
        placed = [
            _sound(solar_days(found, longitude[site]), doubtful, source)
            for source in order
            if (found := day_hours(by_source[source])) is not None
        ]
        start = min(each.start for each in placed)
        end = max(each.start + len(each.temp_c) for each in placed)
        length = int((end - start).astype(np.int64))
        out = np.full((length, 24), np.nan)
        for each in placed:
            other = each.between(start, length)
            out = np.where(np.isnan(out), other, out)
        parts.append(as_rows(DayHours(start, out)).assign(site=site))
    columns = ["site", "date", *HOURS]
    return pd.concat(parts, ignore_index=True)[columns] if parts else no_hours()


def _sound(hours: DayHours, suspect: pd.DataFrame | None, source: str) -> DayHours:
    """The hours without those of the source's suspect days."""
    if suspect is None or suspect.empty:
        return hours
    mine = suspect[(suspect["source"] == source) & suspect["column"].isin(TEMPERATURES)]
    dates = hours.start + np.arange(len(hours.temp_c))
    bad = np.isin(dates, as_days(mine["date"].to_numpy(dtype="datetime64[s]")))
    return DayHours(hours.start, np.where(bad[:, None], np.nan, hours.temp_c))


def no_hours() -> pd.DataFrame:
    """No measured hours, with their columns."""
    columns = {name: pd.Series(dtype=float) for name in HOURS}
    date_ = pd.Series(np.array([], dtype="datetime64[s]"))
    return pd.DataFrame({"site": pd.Series(dtype=object), "date": date_, **columns})


def read_gap_rules(connection: Connection) -> dict[str, tuple[str, ...]]:
    """The gap rules of each site that has its own."""
    table, sites = WEATHER_GAPS, TABLES["sites"]
    query = select(sites.c.site, table.c.rules).join(sites, table.c.site_id == sites.c.id)
    return {str(site): tuple(rules.split(",")) for site, rules in connection.execute(query)}


def save_gap_rules(made: Batch, site_id: int, rules: Sequence[str] | None) -> None:
    """Set the gap rules of a site; None: the usual ones."""
    table = WEATHER_GAPS
    query = select(table.c.id).where(table.c.site_id == site_id)
    there = made.connection.execute(query).scalar()
    if there is None and rules is not None:
        made.insert(table.name, {"site_id": [site_id], "rules": [",".join(rules)]})
    elif there is not None and rules is None:
        made.remove(table.name, [int(there)])
    elif there is not None and rules is not None:
        made.change(table.name, {int(there): {"rules": ",".join(rules)}})
