"""Weather stations near a site and their days, through the meteostat client.

Meteostat (meteostat.net) gathers the open records of the national weather services. The client's
own settings (MS_* environment variables) are honoured where they are set.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvest.errors import WeatherSourceError
from harvest.weather.listening import Heard, TookTooLongError, listening, said_by, within
from harvest.weather.station_list import (
    CLIENT,
    FIRST_ANSWER_SECONDS,
    Station,
    listed,
    no_answer,
    refresh_list,
)

# Time allowed [s] between two bytes, for one file once the service has answered at all, and for
# the first file when the list could not be had just before.
SILENCE_SECONDS = 3.5
FILE_SECONDS = 30.0
SECOND_TRY_SECONDS = 1.5
# Files of years that are over for good are kept this long before they are asked for again [s].
KEEP_SECONDS = 180 * 86400
# Our columns and what the service calls them, in the same units.
DAILY = {"tmin_c": "tmin", "tmax_c": "tmax", "precip_mm": "prcp", "wind_kmh": "wspd"}
HOURLY = {"temp_c": "temp", "precip_mm": "prcp", "wind_kmh": "wspd"}


@dataclass(frozen=True)
class Terms:
    """Who must be named, and the licences the data came under."""

    attribution: str = ""
    licences: tuple[str, ...] = ()

    def __or__(self, other: Terms) -> Terms:
        names = [*self.attribution.split(", "), *other.attribution.split(", ")]
        seen = dict.fromkeys(name for name in names if name)
        return Terms(", ".join(seen), tuple(dict.fromkeys((*self.licences, *other.licences))))


@dataclass(frozen=True)
class StationDays:
    """What one request gave: `rows` with date (or time), values, modelled; None where nothing.

    `problem` says in a few words why there is nothing: no file, a damaged file.
    """

    rows: pd.DataFrame | None
    terms: Terms = field(default_factory=Terms)
    problem: str = ""


class StationService:
    """The station service; nothing is asked and nothing heavy imported until a method is called.

    Parameters
    ----------
    folder : where the list of stations and files of past years are kept.
    list_urls, daily_url, hourly_url : other places than the client's own to ask, for example
        "http://127.0.0.1:8000/daily/{year}/{station}.csv.gz".
    """

    def __init__(
        self,
        folder: Path,
        *,
        list_urls: tuple[str, ...] = (),
        daily_url: str = "",
        hourly_url: str = "",
    ) -> None:
        self.folder = folder
        self._urls = (list_urls, daily_url, hourly_url)
        self._answered = False
        self._first_seconds = FIRST_ANSWER_SECONDS
        self.notes: list[str] = []

    def nearest(
        self, latitude: float, longitude: float, *, radius_km: float, most: int = 40
    ) -> list[Station]:
        """Stations within a radius that list a minimum and a maximum, nearest first.

        Raises WeatherSourceError when there is no list and none can be had.
        """
        client = self._client()
        note = refresh_list(client)
        if note:
            self.notes.append(note)
            self._first_seconds = SECOND_TRY_SECONDS
        point = client.Point(latitude, longitude)
        try:
            near = client.stations.nearby(point, radius=radius_km * 1000, limit=most)
            days = client.stations.inventory(list(near.index)).df if len(near) else None
        except (sqlite3.Error, pd.errors.DatabaseError, ValueError, KeyError) as error:
            raise WeatherSourceError(
                "the list of weather stations must be readable",
                given=str(error).splitlines()[0],
                where=str(client.config.stations_db_file),
                todo="Delete that file; it is fetched again.",
            ) from error
        return listed(near, days)

    def year(self, station: Station, year: int, *, today: date) -> StationDays:
        """One station's daily values of one calendar year.

        `rows` has the columns date, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h],
        modelled (True where a weather model stands in for a measured temperature); the past years
        come from the kept files.

        Raises WeatherSourceError when the service does not answer.
        """
        client = self._client()
        first, last = date(year, 1, 1), date(year, 12, 31)
        names = [client.Parameter(theirs) for theirs in DAILY.values()]

        def ask() -> Any:
            return client.daily(_as_client(client, station), first, last, parameters=names)

        series, heard = self._ask(client, ask, keep=year < today.year - 1)
        frame = series.fetch(sources=True)
        if frame is None:
            return StationDays(None, problem=_problem(heard))
        rows = pd.DataFrame({"date": _as_dates(frame.index)})
        for ours, theirs in DAILY.items():
            rows[ours] = _numbers(frame, theirs)
        rows["modelled"] = _modelled(frame, ("tmin", "tmax"))
        return StationDays(rows, _terms(series))

    def hours(self, station: Station, first: date, last: date) -> StationDays:
        """One station's hourly temperatures, first to last day [UTC], at most three years.

        `rows` has the columns time (UTC), temp_c [degC], precip_mm [mm], wind_kmh [km/h], modelled.

        Raises WeatherSourceError when the service does not answer.
        """
        client = self._client()
        names = [client.Parameter(theirs) for theirs in HOURLY.values()]
        end = pd.Timestamp(last) + pd.Timedelta(hours=23)

        def ask() -> Any:
            where = _as_client(client, station)
            return client.hourly(where, pd.Timestamp(first), end, parameters=names)

        series, heard = self._ask(client, ask, keep=False)
        frame = series.fetch(sources=True)
        if frame is None:
            return StationDays(None, problem=_problem(heard))
        rows = pd.DataFrame({"time": pd.DatetimeIndex(frame.index).as_unit("s")})
        for ours, theirs in HOURLY.items():
            rows[ours] = _numbers(frame, theirs)
        rows["modelled"] = _modelled(frame, ("temp",))
        return StationDays(rows, _terms(series))

    def _client(self) -> Any:
        """The client, set up for this service; its settings are global and set on every call."""
        import meteostat
        from meteostat.providers.meteostat import daily, hourly

        config = meteostat.config
        list_urls, daily_url, hourly_url = self._urls
        if list_urls:
            config.stations_db_endpoints = list(list_urls)
        config.daily_endpoint = daily_url or config.daily_endpoint
        config.hourly_endpoint = hourly_url or config.hourly_endpoint
        # The modules copy their address when first imported.
        daily.ENDPOINT, hourly.ENDPOINT = config.daily_endpoint, config.hourly_endpoint
        # Kept files are named without the address they came from: a folder for each address.
        mark = f"{config.daily_endpoint} {config.hourly_endpoint}".encode()
        place = self.folder / hashlib.sha256(mark).hexdigest()[:12]
        ours = {
            "cache_directory": str(place),
            "stations_db_file": str(place / "stations.db"),
            "cache_ttl": KEEP_SECONDS,
            "network_max_retries": 0,
            "network_timeout": SILENCE_SECONDS,
        }
        for name, value in ours.items():
            if f"MS_{name.upper()}" not in os.environ:
                setattr(config, name, value)
        return meteostat

    def _ask(self, client: Any, ask: Callable[[], Any], *, keep: bool) -> tuple[Any, Heard]:
        """A time series from the client, and what its log said; dead lines raise."""
        config = client.config
        config.cache_enable = keep
        seconds = FILE_SECONDS if self._answered else self._first_seconds
        Path(config.cache_directory).mkdir(parents=True, exist_ok=True)
        with listening(CLIENT) as heard:
            try:
                series = within(seconds, ask, silence_seconds=SILENCE_SECONDS)
            except TookTooLongError as error:
                raise no_answer(config.daily_endpoint, str(error)) from error
            except (OSError, EOFError, ValueError) as error:
                raise no_answer(config.daily_endpoint, said_by(error)) from error
        for dead in filter(_is_dead_line, heard.errors):
            raise no_answer(config.daily_endpoint, said_by(dead)) from dead
        self._answered = True
        return series, heard


def _is_dead_line(error: BaseException) -> bool:
    """Whether an error means that the service is out of reach, not that one file is amiss."""
    import http.client
    import zlib
    from urllib.error import HTTPError

    if isinstance(error, HTTPError):
        return error.code >= 500 or error.code == 429
    if isinstance(error, (EOFError, zlib.error)) or type(error).__name__ == "BadGzipFile":
        return False
    return isinstance(error, (OSError, http.client.HTTPException))


def _problem(heard: Heard) -> str:
    """Why there is nothing: the service has no such file, or the file cannot be read."""
    if heard.errors:
        return f"damaged file ({said_by(heard.errors[0])})"
    return "no file" if heard.not_found else "no values"


def _as_client(client: Any, station: Station) -> Any:
    return client.Station(
        id=station.id,
        name=station.name,
        latitude=station.latitude,
        longitude=station.longitude,
        elevation=None if station.elevation_m is None else round(station.elevation_m),
        timezone=station.timezone,
    )


def _as_dates(index: pd.Index) -> np.ndarray:
    return np.asarray(pd.DatetimeIndex(index).to_numpy().astype("datetime64[D]")).astype(
        "datetime64[s]"
    )


def _numbers(frame: pd.DataFrame, name: str) -> np.ndarray:
    if name not in frame:
        return np.full(len(frame), np.nan)
    return np.asarray(frame[name].to_numpy(dtype=np.float64, na_value=np.nan))


def _modelled(frame: pd.DataFrame, names: tuple[str, ...]) -> np.ndarray:
    """Rows in which a weather model stands in for a measurement."""
    from meteostat.core.providers import provider_service
    from meteostat.enumerations import Grade

    models = {str(p.id) for p in provider_service.providers if p.grade is Grade.FORECAST}
    out = np.zeros(len(frame), dtype=bool)
    for name in names:
        if f"{name}_source" in frame:
            sources = frame[f"{name}_source"].fillna("").astype(str)
            out |= np.array([not models.isdisjoint(text.split()) for text in sources], dtype=bool)
    return out


# The service's own terms, as its client states them; the licences of the records come with them.
SERVICE_LICENCE = "CC BY 4.0 (https://creativecommons.org/licenses/by/4.0/)"


def _terms(series: Any) -> Terms:
    licences = [f"{licence.name} ({licence.url})" for licence in series.licenses if licence.name]
    return Terms(str(series.attribution), tuple(dict.fromkeys((SERVICE_LICENCE, *licences))))
