"""What weather a site has, from whom, and what is wrong with it: for people to read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection

from harvest.store.sites import read_site, read_site_names
from harvest.store.weather import (
    read_ahead,
    read_days,
    read_sources,
    read_stations,
    sift_sites,
)
from harvest.weather.daily import TEMPERATURES
from harvest.weather.nearby import StationUse
from harvest.weather.sift import Sifted

OWN_RECORDS = "own records"


@dataclass(frozen=True)
class SourceStatus:
    """One source of a site's weather, most trusted first."""

    name: str
    kind: str
    days: int
    used: int
    """Days on which the merged record takes its temperatures."""
    first: date | None
    last: date | None
    attribution: str
    licence: str
    fetched_at: datetime | None
    stations: tuple[StationUse, ...]


@dataclass(frozen=True)
class SuspectDay:
    """A value that is kept but left out of all sums."""

    date: date
    column: str
    value: float
    rule: str
    source: str


@dataclass(frozen=True)
class Gap:
    """Days without a minimum and maximum, first to last."""

    first: date
    last: date
    days: int


@dataclass(frozen=True)
class WeatherStatus:
    """One site's weather as it stands on a day."""

    site: str
    first: date | None
    last: date | None
    days: int
    missing: int
    """Days between first and last without a minimum and maximum that count."""
    sources: tuple[SourceStatus, ...]
    suspect: tuple[SuspectDay, ...]
    confirmed: int
    gaps: tuple[Gap, ...]
    """Longest first."""
    ahead_issued: date | None
    ahead_days: int


def read_status(
    connection: Connection, as_of: date, site: str | None = None
) -> list[WeatherStatus]:
    """Every site's weather from before a day, or one site's.

    Raises UnknownNameError for a site not on record.
    """
    names = read_site_names(connection)
    if site is not None:
        names = [read_site(connection, site).site]
    days = read_days(connection, before=as_of)
    sifted = sift_sites(connection, as_of, site=names[0] if site is not None else None)
    sources, stations = read_sources(connection), read_stations(connection)
    ahead = read_ahead(connection, until=as_of)
    return [
        _status(
            name,
            days[days["site"] == name],
            sifted.get(name),
            sources[sources["site"] == name],
            stations[stations["site"] == name],
            ahead=ahead[(ahead["site"] == name) & (ahead["date"] >= pd.Timestamp(as_of))],
        )
        for name in names
    ]


def _status(
    site: str,
    days: pd.DataFrame,
    sifted: Sifted | None,
    sources: pd.DataFrame,
    stations: pd.DataFrame,
    *,
    ahead: pd.DataFrame,
) -> WeatherStatus:
    merged = pd.DataFrame(columns=["date", *TEMPERATURES, "source"])
    if sifted is not None:
        merged = sifted.merged[sifted.merged[list(TEMPERATURES)].notna().all(axis=1)]
    used = merged["source"].value_counts().to_dict()
    first = merged["date"].min().date() if len(merged) else None
    last = merged["date"].max().date() if len(merged) else None
    span = 0 if first is None or last is None else (last - first).days + 1
    issued = ahead["issued"].max().date() if len(ahead) else None
    standing = ahead[ahead["issued"] == ahead["issued"].max()]
    return WeatherStatus(
        site=site,
        first=first,
        last=last,
        days=len(merged),
        missing=span - len(merged),
        sources=tuple(
            _source(
                row,
                days[days["source"] == row["source"]],
                int(used.get(row["source"], 0)),
                stations[stations["source"] == row["source"]],
            )
            for row in sources.to_dict("records")
        ),
        suspect=() if sifted is None else tuple(suspect_days(sifted)),
        confirmed=int(days["confirmed"].sum()),
        gaps=_gaps(merged["date"]),
        ahead_issued=issued,
        ahead_days=len(standing),
    )


def _source(
    row: dict[Any, Any], days: pd.DataFrame, used: int, stations: pd.DataFrame
) -> SourceStatus:
    own = row["kind"] in ("logger", "file")
    fetched = row["fetched_at"]
    return SourceStatus(
        name=str(row["source"]),
        kind=str(row["kind"]),
        days=len(days),
        used=used,
        first=days["date"].min().date() if len(days) else None,
        last=days["date"].max().date() if len(days) else None,
        attribution=str(row["attribution"] or (OWN_RECORDS if own else "unknown")),
        licence=str(row["licence"] or (OWN_RECORDS if own else "unknown")),
        fetched_at=fetched.to_pydatetime() if isinstance(fetched, pd.Timestamp) else None,
        stations=tuple(
            StationUse(**{str(name): value for name, value in station.items()})
            for station in stations.drop(columns=["site", "source"]).to_dict("records")
        ),
    )


def suspect_days(sifted: Sifted) -> list[SuspectDay]:
    """What the checks found, by date."""
    return [
        SuspectDay(
            date=pd.Timestamp(row["date"]).date(),
            column=str(row["column"]),
            value=float(row["value"]),
            rule=str(row["rule"]),
            source=str(row["source"]),
        )
        for row in sifted.suspect.to_dict("records")
    ]


def _gaps(dates: pd.Series) -> tuple[Gap, ...]:
    """Holes between days on record, longest first."""
    known = np.sort(dates.to_numpy().astype("datetime64[D]"))
    steps = np.diff(known).astype(np.int64)
    holes = np.flatnonzero(steps > 1)
    gaps = [
        Gap(
            (known[at] + 1).astype(object),
            (known[at + 1] - 1).astype(object),
            int(steps[at]) - 1,
        )
        for at in holes
    ]
    return tuple(sorted(gaps, key=lambda gap: (-gap.days, gap.first)))
