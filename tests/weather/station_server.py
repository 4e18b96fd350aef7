"""A real HTTP server on 127.0.0.1 with the station service's layout, well or badly behaved.

The layout is that of the service's own documentation (dev.meteostat.net, "Daily Data" and "Hourly
Data": one gzip CSV per station and year, a source column beside each value, several source names
separated by a space) and of the list of stations that its client reads.
"""

from __future__ import annotations

import gzip
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pandas as pd

from harvest.weather.stations import StationService


@dataclass
class Listed:
    """A station to serve: where it is, and its days (date, tmin_c, tmax_c, precip_mm,
    source and, where it has any, wind_kmh)."""

    id: str
    name: str
    latitude: float
    longitude: float
    elevation_m: int
    days: pd.DataFrame
    hours: pd.DataFrame | None = None
    completeness: int = 98


@dataclass
class Served:
    """The running server: its address, what was asked of it, and how it is to misbehave.

    `behaviour` maps the beginning of a path to "404", "500", "garbage", "cut", "hang" or "reset".
    """

    url: str
    asked: list[str] = field(default_factory=list)
    behaviour: dict[str, str] = field(default_factory=dict)
    released: threading.Event = field(default_factory=threading.Event)

    def service(self, folder: Path) -> StationService:
        """The client of this server, with a folder of its own."""
        return StationService(
            folder,
            list_urls=(f"{self.url}/stations.db",),
            daily_url=self.url + "/daily/{year}/{station}.csv.gz",
            hourly_url=self.url + "/hourly/{year}/{station}.csv.gz",
        )


@contextmanager
def serving(stations: list[Listed], folder: Path) -> Iterator[Served]:
    """Serve stations until the block ends."""
    files = _files(stations, folder)
    served = Served("")

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            served.asked.append(self.path)
            body = files.get(self.path)
            how = next((h for p, h in served.behaviour.items() if self.path.startswith(p)), "")
            if how == "hang":
                served.released.wait(60)
                return
            if how == "reset":
                self.connection.close()
                return
            if body is None or how in ("404", "500"):
                self.send_response(int(how or "404"))
                self.send_header("Content-Length", "0")
                self.end_headers()
                return
            if how == "garbage":
                body = b"this is no gzip file and no list of stations"
            self.send_response(200)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body[: len(body) // 2] if how == "cut" else body)

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    served.url = f"http://127.0.0.1:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield served
    finally:
        served.released.set()
        server.shutdown()
        thread.join()
        server.server_close()


def _files(stations: list[Listed], folder: Path) -> dict[str, bytes]:
    files = {"/stations.db": station_list(stations, folder / "served.db")}
    for station in stations:
        rows = station.days
        for year, part in rows.groupby(rows["date"].dt.year):
            files[f"/daily/{year}/{station.id}.csv.gz"] = _daily_csv(part)
        if station.hours is not None:
            for year, part in station.hours.groupby(station.hours["time"].dt.year):
                files[f"/hourly/{year}/{station.id}.csv.gz"] = _hourly_csv(part)
    return files


def _daily_csv(rows: pd.DataFrame) -> bytes:
    date = rows["date"].dt
    table = pd.DataFrame({"year": date.year, "month": date.month, "day": date.day})
    source = rows["source"] if "source" in rows else pd.Series("ghcnd", index=rows.index)
    rows = rows if "wind_kmh" in rows else rows.assign(wind_kmh=float("nan"))
    names = (("tmin", "tmin_c"), ("tmax", "tmax_c"), ("prcp", "precip_mm"), ("wspd", "wind_kmh"))
    for theirs, ours in names:
        table[theirs] = rows[ours]
        table[f"{theirs}_source"] = source.where(rows[ours].notna())
    return gzip.compress(table.to_csv(index=False).encode(), 1)


def _hourly_csv(rows: pd.DataFrame) -> bytes:
    time = rows["time"].dt
    table = pd.DataFrame(
        {"year": time.year, "month": time.month, "day": time.day, "hour": time.hour}
    )
    table["temp"] = rows["temp_c"]
    table["temp_source"] = rows["source"]
    table["prcp"] = 0.0
    table["prcp_source"] = rows["source"]
    table["wspd"] = 12.5
    table["wspd_source"] = rows["source"]
    return gzip.compress(table.to_csv(index=False).encode(), 1)


def station_list(stations: list[Listed], file: Path) -> bytes:
    """The service's list as a SQLite file."""
    file.unlink(missing_ok=True)
    connection = sqlite3.connect(file)
    connection.executescript(
        """
        CREATE TABLE stations (id TEXT, country TEXT, region TEXT, latitude REAL, longitude REAL,
                               elevation INTEGER, timezone TEXT);
        CREATE TABLE names (station TEXT, language TEXT, name TEXT);
        CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT);
        CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT, end TEXT,
                                completeness INTEGER);
        """
    )
    for one in stations:
        connection.execute(
            "INSERT INTO stations VALUES (?, 'CH', 'BS', ?, ?, ?, 'Europe/Zurich')",
            (one.id, one.latitude, one.longitude, one.elevation_m),
        )
        connection.execute("INSERT INTO names VALUES (?, 'en', ?)", (one.id, one.name))
        span = (str(one.days["date"].min().date()), str(one.days["date"].max().date()))
        connection.executemany(
            "INSERT INTO inventory VALUES (?, 'daily', ?, ?, ?, ?)",
            [(one.id, name, *span, one.completeness) for name in ("tmin", "tmax", "prcp")],
        )
    connection.commit()
    connection.close()
    return file.read_bytes()
