"""What weather a site has, from whom, and what is wrong with it: for people to read."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection

from harvest.store.sites import read_site, read_site_names
from harvest.store.weather import (
    merged_weather,
    read_ahead,
    read_days,
    read_sources,
    read_stations,
    sifted_days,
    trust_order,
)
from harvest.store.weather_hours import merged_hours, read_gap_rules, read_hours
from harvest.weather.daily import TEMPERATURES
from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.hours import HOURS
from harvest.weather.nearby import StationUse
from harvest.weather.sift import Sifted
from harvest.weather.site_record import LENT, SiteRecords

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
    gap_rules: tuple[str, ...]
    """How missing days are filled, in the order in which the rules are tried."""
    filled: dict[str, int]
    """Days of the gaps by the rule that fills them; "none": still missing."""
    hours: int
    """Measured hours that count."""
    hours_first: date | None
    hours_last: date | None


def read_status(
    connection: Connection, as_of: date, site: str | None = None
) -> list[WeatherStatus]:
    """Every site's weather from before a day, or one site's.

    Raises UnknownNameError for a site not on record.
    """
    rows = [read_site(connection, name) for name in read_site_names(connection)]
    wanted = rows if site is None else [read_site(connection, site)]
    days, trust = read_days(connection, before=as_of), trust_order(connection)
    sifted = sifted_days(days, trust)
    sources, stations = read_sources(connection), read_stations(connection)
    ahead = read_ahead(connection, until=as_of)
    ahead = ahead[ahead["date"] >= pd.Timestamp(as_of)]
    longitude = {row.site: row.longitude for row in rows}
    hours = merged_hours(read_hours(connection, before=as_of), sifted, trust, longitude)
    hours = hours[hours["date"] < pd.Timestamp(as_of)]
    places = SiteRecords(pd.DataFrame([asdict(row) for row in rows]), merged_weather(sifted))
    rules = read_gap_rules(connection)
    return [
        _status(
            row.site,
            *(frame[frame["site"] == row.site] for frame in (days, sources, stations)),
            sifted=sifted.get(row.site),
            ahead=ahead[ahead["site"] == row.site],
            hours=hours[hours["site"] == row.site],
            gaps=_Filling(places, rules.get(row.site, DEFAULT_RULES)),
        )
        for row in wanted
    ]


@dataclass(frozen=True)
class _Filling:
    """What fills the gaps of a site."""

    places: SiteRecords
    rules: tuple[str, ...]

    def by_rule(self, site: str, last: date) -> dict[str, int]:
        """Days of the gaps up to the last day on record, by the rule that fills them."""
        whole = self.places.whole(site, np.datetime64(last, "D") + 1, self.rules)
        if whole is None:
            return {}
        filled = whole.rule[~np.isin(whole.rule, ["", LENT])]
        return {str(rule): int((filled == rule).sum()) for rule in dict.fromkeys(filled)}


def _status(
    site: str,
    days: pd.DataFrame,
    sources: pd.DataFrame,
    stations: pd.DataFrame,
    *,
    sifted: Sifted | None,
    ahead: pd.DataFrame,
    hours: pd.DataFrame,
    gaps: _Filling,
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
        gap_rules=gaps.rules,
        filled={} if last is None else gaps.by_rule(site, last),
        hours=int(hours[list(HOURS)].notna().to_numpy().sum()),
        hours_first=hours["date"].min().date() if len(hours) else None,
        hours_last=hours["date"].max().date() if len(hours) else None,
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
        attribution=_said(row["attribution"], own),
        licence=_said(row["licence"], own),
        fetched_at=fetched.to_pydatetime() if isinstance(fetched, pd.Timestamp) else None,
        stations=tuple(
            StationUse(**{str(name): value for name, value in station.items()})
            for station in stations.drop(columns=["site", "source"]).to_dict("records")
        ),
    )


def _said(text: Any, own: bool) -> str:
    """Whose the data are, or on what terms, where it is on record."""
    return text if isinstance(text, str) and text else OWN_RECORDS if own else "unknown"


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
