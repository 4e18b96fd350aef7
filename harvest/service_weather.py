"""The use cases about weather: fetch it, take files in, say what is there, decide what counts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import pandas as pd
from sqlalchemy import Connection

from harvest.errors import InputError, WeatherSourceError
from harvest.store.history import UNSIGNED, Batch, Signature, batch
from harvest.store.orchard import Orchard
from harvest.store.sites import SiteRow, read_site
from harvest.store.weather import read_sources, sift_sites
from harvest.store.weather_choosing import choose_gap_rules, confirm_weather, trust_weather
from harvest.store.weather_hours import save_hours
from harvest.store.weather_status import (
    SourceStatus,
    WeatherStatus,
    read_status,
)
from harvest.store.weather_writing import (
    Saved,
    measured_at,
    save_ahead,
    save_days,
    save_source,
    save_stations,
    withdraw,
)
from harvest.weather.daily import Daily, DayHours, on_calendar
from harvest.weather.gaps import RULES as GAP_RULES
from harvest.weather.ghcn import ATTRIBUTION, LICENCE, read_ghcn
from harvest.weather.half_of_the_world import OTHER_HALF, of_the_other_half
from harvest.weather.logger import LoggerLayout, read_logger
from harvest.weather.nearby import (
    Fetched,
    Place,
    Progress,
    StationUse,
    fetch_nearby,
)
from harvest.weather.nearby_hours import hours_at_site, hours_nearby
from harvest.weather.rules import RULES
from harvest.weather.sift import sift_sources
from harvest.weather.stations import StationService

__all__ = [
    "FetchReport",
    "LoggerLayout",
    "SourceStatus",
    "WeatherFileReport",
    "WeatherStatus",
    "choose_gap_rules",
    "confirm_weather",
    "fetch_weather",
    "gap_rules",
    "import_ghcn",
    "import_logger",
    "station_service",
    "trust_weather",
    "weather_rules",
    "weather_status",
]

STATIONS_SOURCE, MODEL_SOURCE = "meteostat", "meteostat model"
LOGGER_SOURCE = "logger"
DEFAULT_YEARS, DEFAULT_HOUR_YEARS = 30, 10


@dataclass(frozen=True)
class FetchReport:
    """What fetching gave one site."""

    site: str
    saved: Saved
    modelled_days: int
    days_ahead: int
    hours: int
    """Measured hours that came in."""
    stations: tuple[StationUse, ...]
    attribution: str
    licences: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class WeatherFileReport:
    """What became of a weather file's days."""

    site: str
    source: str
    saved: Saved
    hours: int
    """Measured hours that came in."""
    suspect: int
    notes: tuple[str, ...]


def station_service(folder: Path) -> StationService:
    """The weather station service; `folder` keeps its list of stations and past years' files."""
    return StationService(folder)


def fetch_weather(
    orchard: Orchard,
    service: StationService,
    *,
    site: str,
    now: datetime,
    today: date,
    since: date | None = None,
    radius_km: float = 75.0,
    most_stations: int = 5,
    hour_years: int = DEFAULT_HOUR_YEARS,
    progress: Progress | None = None,
    signed: Signature = UNSIGNED,
) -> FetchReport:
    """Fetch one site's weather from the stations around it and store it; repeating it is safe.

    Parameters
    ----------
    now : the moment of fetching, kept with the source.
    today : today at the site; days from it on are kept as a forecast issued today.
    since : first day wanted; default: thirty years back.
    hour_years : how many years back hourly temperatures are wanted too; 0: none.

    Raises WeatherSourceError when the service does not give what is needed; nothing that is
    stored has changed then. InputError for a first day that is still to come.
    """
    with orchard.reading() as connection:
        row = read_site(connection, site)
        own = _own_record(connection, row)
    first = since or date(today.year - DEFAULT_YEARS, 1, 1)
    if first >= today:
        raise InputError("the first day to fetch lies before today", given=f"{first}")
    place = Place(row.latitude, row.longitude, row.elevation_m, row.timezone)
    fetched = fetch_nearby(
        service,
        place,
        since=first,
        today=today,
        own=own,
        radius_km=radius_km,
        most=most_stations,
        progress=progress,
    )
    begin = max(first, date(today.year - hour_years, 1, 1)) if hour_years else today
    hours, said = _hours(service, place, begin, today, fetched, radius_km)
    note = f"{row.site}, {STATIONS_SOURCE}{_span(fetched.days)}"
    with orchard.writing() as connection, batch(connection, "fetch", signed, note) as made:
        saved = _store(made, row, fetched, now, today)
        kept = 0 if hours is None else save_hours(made, row.id, STATIONS_SOURCE, hours)
    return FetchReport(
        site=row.site,
        saved=saved,
        modelled_days=len(fetched.modelled),
        days_ahead=len(fetched.ahead),
        hours=kept,
        stations=fetched.stations,
        attribution=fetched.terms.attribution,
        licences=fetched.terms.licences,
        notes=(*fetched.notes, *said),
    )


def _hours(
    service: StationService,
    place: Place,
    first: date,
    today: date,
    fetched: Fetched,
    radius_km: float,
) -> tuple[DayHours | None, tuple[str, ...]]:
    """Hours of the best station near by, at the site's level, and what is to be said of them."""
    if first >= today:
        return None, ()
    try:
        rows, station, _ = hours_nearby(
            service, place, first, today - timedelta(days=1), today=today, radius_km=radius_km
        )
    except WeatherSourceError as error:  # the days are there; they go in without
        return None, (f"No measured hours: {error}",)
    return hours_at_site(rows, station, place, fetched.days), ()


def _own_record(connection: Connection, row: SiteRow) -> Daily | None:
    """What was measured at the site itself, suspect days left out."""
    days = measured_at(connection, row)
    if days.empty:
        return None
    merged = sift_sources(days.drop(columns="site"), list(dict.fromkeys(days["source"]))).merged
    return None if merged.empty else on_calendar(merged)


def _store(made: Batch, row: SiteRow, fetched: Fetched, now: datetime, today: date) -> Saved:
    terms = {
        "attribution": fetched.terms.attribution,
        "licence": "; ".join(fetched.terms.licences),
        "fetched_at": now,
    }
    save_source(made, row.id, STATIONS_SOURCE, "stations", **terms)  # type: ignore[arg-type]
    saved = save_days(made, row.id, STATIONS_SOURCE, fetched.days)
    stations = [
        {name: getattr(use, name) for name in StationUse.__dataclass_fields__}
        for use in fetched.stations
    ]
    save_stations(made, row.id, STATIONS_SOURCE, stations)
    if len(fetched.modelled) or len(fetched.ahead):
        save_source(made, row.id, MODEL_SOURCE, "model", **terms)  # type: ignore[arg-type]
        save_days(made, row.id, MODEL_SOURCE, fetched.modelled)
        save_ahead(made, row.id, MODEL_SOURCE, today, fetched.ahead)
    return saved


def _span(days: pd.DataFrame) -> str:
    """From when to when days are, as the history has it."""
    if days.empty:
        return ""
    return f" {days['date'].min():%Y-%m-%d} to {days['date'].max():%Y-%m-%d}"


def import_ghcn(
    orchard: Orchard,
    site: str,
    path: Path,
    *,
    station: str | None = None,
    signed: Signature = UNSIGNED,
) -> WeatherFileReport:
    """Take in a GHCN-Daily file as one source of a site's weather; repeating it is safe.

    Raises FileFormatError when it cannot be read, UnknownNameError for a site not on record.
    """
    read = read_ghcn(path, station)
    notes = []
    if read.flagged:
        notes.append(f"Values left out that the archive's own checks flagged: {read.flagged}.")
    if read.contradicted:
        notes.append(
            f"Values left out that the file gives twice, each time another: {read.contradicted}."
        )
    source = f"GHCN-Daily {read.station}"
    with orchard.writing() as connection:
        row = read_site(connection, site)
        note = f"{path.name}: {row.site}, {source}{_span(read.days)}"
        with batch(connection, "import", signed, note) as made:
            save_source(made, row.id, source, "archive", attribution=ATTRIBUTION, licence=LICENCE)
            withdrawn = withdraw(made, row.id, source, read.left_out)
            saved = save_days(made, row.id, source, read.days)
        if withdrawn:
            notes.append(f"Of these on record until now, and taken out: {withdrawn}.")
        notes += _half_of_the_world(row, read.days)
        return _file_report(connection, row, source, saved, notes)


def import_logger(
    orchard: Orchard,
    site: str,
    path: Path,
    *,
    layout: LoggerLayout | None = None,
    source: str = LOGGER_SOURCE,
    signed: Signature = UNSIGNED,
) -> WeatherFileReport:
    """Take in a logger's file as days; its layout is kept and need not be said again.

    Parameters
    ----------
    layout : how the file is to be read; None: as it was last time for this site and source.

    Raises InputError when no layout is given and none is kept, FileFormatError when the file
    cannot be read with it.
    """
    with orchard.reading() as connection:
        row = read_site(connection, site)
        layout = layout or _kept_layout(connection, row, source)
    read = read_logger(path, layout, row.timezone)
    notes = list(read.notes)
    for count, what in (
        (read.unreadable, "Readings that could not be read"),
        (read.impossible, "Readings outside -90 to 60 degC, left out (look at sensor and unit)"),
        (read.partial_days, "Days with a hole of more than two hours, left out"),
    ):
        if count:
            notes.append(f"{what}: {count}.")
    if not row.timezone:
        notes.append(f"The site has no time zone on record; days are those of {layout.clock}.")
    note = f"{path.name}: {row.site}, {source}{_span(read.days)}"
    with orchard.writing() as connection:
        with batch(connection, "import", signed, note) as made:
            save_source(made, row.id, source, "logger", layout=layout.as_dict())
            saved = save_days(made, row.id, source, read.days)
            hours = 0 if read.hours is None else save_hours(made, row.id, source, read.hours)
        notes += _half_of_the_world(row, read.days)
        return _file_report(connection, row, source, saved, notes, hours)


def _half_of_the_world(row: SiteRow, days: pd.DataFrame) -> list[str]:
    """A warning where the days can hardly be of the site."""
    return [OTHER_HALF] if of_the_other_half(days, row.latitude) else []


def _kept_layout(connection: Connection, row: SiteRow, source: str) -> LoggerLayout:
    sources = read_sources(connection)
    own = sources[(sources["site_id"] == row.id) & (sources["source"] == source)]
    kept = own["layout"].dropna()
    if kept.empty:
        raise InputError(
            "the first file of a logger needs to be told which column holds what",
            given=f"no layout on record for {source} at {row.site}",
            todo="Give --time, --temperature, --unit and --clock once; they are remembered.",
        )
    return LoggerLayout.of_dict(json.loads(str(kept.iloc[0])))


def _file_report(
    connection: Connection,
    row: SiteRow,
    source: str,
    saved: Saved,
    notes: Sequence[str],
    hours: int = 0,
) -> WeatherFileReport:
    sifted = sift_sites(connection, site=row.site).get(row.site)
    suspect = 0
    if sifted is not None:
        suspect = len(sifted.suspect.loc[sifted.suspect["source"] == source, "date"].unique())
    return WeatherFileReport(row.site, source, saved, hours, suspect, tuple(notes))


def gap_rules() -> dict[str, str]:
    """Names of the rules by which missing days can be filled, and what each does."""
    return dict(GAP_RULES)


def weather_status(orchard: Orchard, as_of: date, site: str | None = None) -> list[WeatherStatus]:
    """What weather each site has from before a day: sources, gaps, suspect days, days ahead."""
    with orchard.reading() as connection:
        return read_status(connection, as_of, site)


def weather_rules() -> dict[str, str]:
    """Names of the checks that a day of weather goes through, and what each says."""
    return dict(RULES)
