"""The service's list of weather stations: kept, refreshed when it can be, never half-written."""

from __future__ import annotations

import os
import sqlite3
import time
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvest.errors import WeatherSourceError
from harvest.weather.listening import TookTooLongError, listening, said_by, within

CLIENT = "meteostat"
# Time allowed [s] until the service says anything at all, and for the whole list.
FIRST_ANSWER_SECONDS = 2.5
LIST_SECONDS = 300.0
WEEK_SECONDS = 7 * 86400
NEVER_SECONDS = 10**10


LINE_TODO = (
    "Check the connection and try again; the weather already stored stays as it is and keeps "
    "working."
)


@dataclass(frozen=True)
class Station:
    """A weather station as the service lists it; unknown heights and days are None."""

    id: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float | None
    distance_km: float
    first_day: date | None
    last_day: date | None
    completeness: float | None
    """Share of days with a minimum and maximum between first and last, as the service says."""
    timezone: str | None = None


def refresh_list(client: Any) -> str:
    """Have a list of stations at hand, at most a week old where the service can be reached.

    Returns what is to be said of it, or "".

    Raises WeatherSourceError when there is none and none can be had.
    """
    config = client.config
    file = Path(config.stations_db_file)
    # The client would give up an old list when it cannot have a newer one.
    config.stations_db_ttl = NEVER_SECONDS
    usable = _is_station_list(file)
    if usable and time.time() - file.stat().st_mtime < WEEK_SECONDS:
        return ""
    try:
        _fetch_list(client, file)
    except WeatherSourceError:
        if not usable:
            raise
        day = date.fromtimestamp(file.stat().st_mtime)
        return f"The list of stations is that of {day}; no newer one could be had."
    return ""


def _fetch_list(client: Any, file: Path) -> None:
    """Fetch the list beside the old one and put it in its place only when it is whole."""
    config = client.config
    urls = list(config.stations_db_endpoints)
    config.stations_db_endpoints = [_first_to_answer(urls)]
    part = file.with_suffix(".part")
    config.stations_db_file = str(part)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        part.unlink(missing_ok=True)
        with listening(CLIENT):
            within(LIST_SECONDS, lambda: client.stations.connect().close())
        if not _is_station_list(part):
            raise no_answer(urls[0], "a list that breaks off or is damaged")
        os.replace(part, file)
    except WeatherSourceError:
        raise
    except Exception as error:  # the client raises bare exceptions
        raise no_answer(urls[0], said_by(error)) from error
    finally:
        part.unlink(missing_ok=True)
        config.stations_db_file = str(file)
        config.stations_db_endpoints = urls


def _first_to_answer(urls: list[str]) -> str:
    """The first address that begins to answer with a file."""
    from meteostat.core.network import network_service

    def ask(url: str) -> int:
        response = network_service.get(url, stream=True)
        response.close()
        return int(response.status_code)

    said = "no address to ask"
    end = time.monotonic() + FIRST_ANSWER_SECONDS
    with listening(CLIENT):
        for place, url in enumerate(urls):
            left = max(0.5, (end - time.monotonic()) / (len(urls) - place))
            try:
                status = within(left, lambda url=url: ask(url))  # type: ignore[misc]
            except TookTooLongError as error:
                said = str(error)
            except Exception as error:
                said = said_by(error)
            else:
                if status == 200:
                    return url
                said = f"HTTP status {status}"
    raise no_answer(urls[0] if urls else "", said)


def no_answer(address: str, said: str) -> WeatherSourceError:
    """The error of a service that is out of reach."""
    return WeatherSourceError(
        "the weather station service must answer",
        given=said,
        where=address.split("{", maxsplit=1)[0],
        todo=LINE_TODO,
    )


def _is_station_list(file: Path) -> bool:
    """Whether a file is a whole list of stations."""
    if not file.is_file():
        return False
    connection = sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)
    try:
        whole = connection.execute("PRAGMA quick_check(1)").fetchone() == ("ok",)
        return whole and all(
            connection.execute(f"SELECT 1 FROM {name} LIMIT 1").fetchone() is not None
            for name in ("stations", "names", "inventory")
        )
    except sqlite3.Error:
        return False
    finally:
        connection.close()


def listed(near: pd.DataFrame, inventory: pd.DataFrame | None) -> list[Station]:
    """Stations with their days on record; those that list no minimum or no maximum are left out."""
    found = []
    records = pd.DataFrame() if inventory is None else inventory.reset_index()
    for key, row in near.to_dict("index").items():
        own = records[records["station"] == key] if len(records) else records
        first: list[date] = []
        last: list[date] = []
        shares: list[float] = []
        for parameter in ("tmin", "tmax"):
            rows = own[own["parameter"] == parameter] if len(own) else own
            if len(rows) and rows["start"].notna().any() and rows["end"].notna().any():
                first.append(date.fromisoformat(str(rows["start"].dropna().min())[:10]))
                last.append(date.fromisoformat(str(rows["end"].dropna().max())[:10]))
                shares.append(float(pd.to_numeric(rows["completeness"]).max()))
        if len(first) < 2:
            continue
        height = row["elevation"]
        found.append(
            Station(
                id=str(key),
                name=str(row["name"]),
                latitude=float(row["latitude"]),
                longitude=float(row["longitude"]),
                elevation_m=None if pd.isna(height) else float(height),
                distance_km=float(row["distance"]) / 1000,
                first_day=max(first),
                last_day=min(last),
                completeness=None if np.isnan(shares).any() else min(shares),
                timezone=None if pd.isna(row["timezone"]) else str(row["timezone"]),
            )
        )
    return found
