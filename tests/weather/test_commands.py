"""`harvest weather …` as a user runs it, against a real station server on 127.0.0.1."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from tests.orchards import write_csv
from tests.weather.open_records import record
from tests.weather.station_server import Listed, Served, serving

MESSAGE_WITHIN_SECONDS = 5.0


@dataclass
class Desk:
    """A user's orchard, command line and settings."""

    folder: Path
    settings: dict[str, str]

    def run(self, *arguments: str, code: int = 0) -> subprocess.CompletedProcess[str]:
        command = [str(Path(sys.executable).with_name("harvest")), "--orchard",
                   str(self.folder / "orchard.sqlite"), *arguments]  # fmt: skip
        done = subprocess.run(
            command, capture_output=True, text=True, check=False, env=os.environ | self.settings
        )
        assert done.returncode == code, done.stderr
        return done

    def status(self, *arguments: str) -> dict[str, object]:
        told = json.loads(self.run("weather", "status", "--format", "json", *arguments).stdout)
        assert len(told) == 1
        return dict(told[0])


@pytest.fixture
def desk(tmp_path: Path, sqlite_template: Path) -> Desk:
    shutil.copyfile(sqlite_template, tmp_path / "orchard.sqlite")
    desk = Desk(tmp_path, {"XDG_CACHE_HOME": str(tmp_path / "cache")})
    desk.run("import", "sites", str(write_csv(tmp_path / "sites.csv", [
        {"site": "Home", "latitude": 47.55, "longitude": 7.6, "elevation_m": 270,
         "timezone": "Europe/Zurich"},
    ])))  # fmt: skip
    return desk


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """Basel's last six years, moved so that they end two days ago."""
    days = record("basel", "2020-01-01", "2026-02-18").assign(precip_mm=0.0)
    end = pd.Timestamp(datetime.now(UTC).date() - timedelta(days=2))
    days["date"] = (days["date"] + (end - days["date"].max())).astype("datetime64[s]")
    with serving([Listed("06601", "Basel", 47.54, 7.58, 316, days)], tmp_path) as running:
        yield running


def pointed_at(desk: Desk, served: Served) -> None:
    """The client's own settings, from the environment."""
    desk.settings |= {
        "MS_STATIONS_DB_ENDPOINTS": json.dumps([f"{served.url}/stations.db"]),
        "MS_DAILY_ENDPOINT": served.url + "/daily/{year}/{station}.csv.gz",
        "MS_HOURLY_ENDPOINT": served.url + "/hourly/{year}/{station}.csv.gz",
    }


def test_fetch_and_status_from_an_empty_orchard(desk: Desk, served: Served) -> None:
    pointed_at(desk, served)
    assert "no weather on record" in desk.run("weather", "status").stdout
    since = f"{datetime.now(UTC).year - 3}-01-01"
    told = desk.run("weather", "fetch", "--since", since)
    assert "Asking the weather stations around Home" in told.stderr
    for word in ("Basel", "06601", "km", "316 m", "Meteostat", "creativecommons.org"):
        assert word in told.stdout
    status = desk.status()
    assert list(status)[:7] == ["site", "from", "to", "days", "missing", "sources", "suspect"]
    assert (status["site"], status["from"], status["suspect"]) == ("Home", since, [])
    (source,) = status["sources"]  # type: ignore[misc]
    assert source["name"] == "meteostat"
    assert source["days"] == status["days"]
    assert "Meteostat" in source["attribution"]
    assert source["stations"][0]["distance_km"] == pytest.approx(1.9, abs=0.1)
    table = desk.run("weather", "status").stdout
    for word in ("Home:", "meteostat", "Basel", "newest day"):
        assert word in table
    assert "meteostat: Meteostat; licence: CC BY 4.0 (" in table


def test_without_network_there_is_a_message_and_the_weather_stays(
    desk: Desk, served: Served
) -> None:
    pointed_at(desk, served)
    desk.run("weather", "fetch", "--since", f"{datetime.now(UTC).year - 1}-01-01")
    began = time.monotonic()
    before = desk.status()  # what starting the program takes on this machine now
    started = time.monotonic()
    desk.settings["MS_DAILY_ENDPOINT"] = "http://127.0.0.1:9/daily/{year}/{station}.csv.gz"
    told = desk.run("weather", "fetch", code=1)
    assert time.monotonic() - started - (started - began) < MESSAGE_WITHIN_SECONDS
    assert "Connection refused" in told.stderr
    assert "stays as it is" in told.stderr
    assert "Traceback" not in told.stderr
    assert desk.status() == before


def test_a_site_without_stations_does_not_keep_the_others_from_theirs(
    desk: Desk, served: Served
) -> None:
    pointed_at(desk, served)
    far = {"site": "Far Reach", "latitude": -33.9, "longitude": 18.9}
    desk.run("import", "sites", str(write_csv(desk.folder / "far.csv", [far])))
    told = desk.run("weather", "fetch", "--since", f"{datetime.now(UTC).year}-01-01", code=1)
    assert "Far Reach: nothing fetched." in told.stderr
    assert "within 75 km is needed" in told.stderr
    assert "Home: " in told.stdout
    status = json.loads(desk.run("weather", "status", "--format", "json").stdout)
    assert [(row["site"], row["days"] > 0) for row in status] == [
        ("Far Reach", False), ("Home", True),
    ]  # fmt: skip


def test_suspect_days_are_listed_as_promised_and_confirmed(desk: Desk) -> None:
    days = record("basel", "1950-01-01", "1959-12-31")[["date", "tmin_c", "tmax_c"]]
    days["tmax_c"] = days["tmax_c"].where(days["date"] != "1955-01-02", 31.4)
    days.assign(site="Home").to_csv(desk.folder / "weather.csv", index=False)
    told = desk.run("weather", "import", str(desk.folder / "weather.csv"))
    assert "1955-01-02" not in told.stdout
    assert "31.4" in told.stderr
    status = desk.status()
    assert (status["from"], status["to"]) == ("1950-01-01", "1959-12-31")
    assert (status["days"], status["missing"]) == (3651, 1)
    (suspect,) = status["suspect"]  # type: ignore[misc]
    promised = {"date": "1955-01-02", "column": "tmax_c", "value": 31.4}
    assert promised.items() <= suspect.items()
    assert suspect["rule"] == "outside the site's climate"
    assert desk.status("--as-of", "1954-06-01")["suspect"] == []
    assert "counts now" in desk.run("weather", "confirm", "home", "1955-01-02").stdout
    assert desk.status()["suspect"] == []
    assert (
        "only a suspect day" in desk.run("weather", "confirm", "home", "1955-01-02", code=1).stderr
    )


def test_a_loggers_columns_are_said_once(desk: Desk) -> None:
    clock = pd.date_range("2025-05-01", "2025-05-03", freq="20min")
    rows = pd.DataFrame({"When": clock.strftime("%d/%m/%Y %H:%M"), "Air °F": 50.0})
    rows.loc[10, "Air °F"] = 41.0
    file = str(desk.folder / "logger.csv")
    rows.to_csv(file, index=False)
    asked = desk.run("weather", "import", file, "--as", "logger", code=1)
    assert "Give --time, --temperature, --unit and --clock once" in asked.stderr
    said = ("--time", "When", "--temperature", "Air °F", "--unit", "f", "--clock",
            "Europe/Zurich", "--time-format", "%d/%m/%Y %H:%M")  # fmt: skip
    half = desk.run("weather", "import", file, "--as", "logger", "--unit", "c", code=1)
    assert "said whole; given: only C." in half.stderr
    unit = desk.run("weather", "import", file, "--as", "logger", *said[:4], *said[6:], code=1)
    assert "given: temperatures in no unit, rain in mm. Give --unit C" in unit.stderr
    told = desk.run("weather", "import", file, "--as", "logger", *said)
    assert "2 days new" in told.stdout
    assert "2 the same" in desk.run("weather", "import", file, "--as", "logger").stdout
    assert desk.status()["sources"][0]["kind"] == "logger"  # type: ignore[index]


def test_trust_is_set_by_name_and_an_unknown_source_is_said(desk: Desk) -> None:
    days = record("basel", "2020-01-01", "2020-12-31")[["date", "tmin_c", "tmax_c"]]
    days.assign(site="Home").to_csv(desk.folder / "weather.csv", index=False)
    desk.run("weather", "import", str(desk.folder / "weather.csv"))
    (desk.folder / "a.csv").write_text("SZ000001940,20200101,TMIN,-12,,,S,\n")
    desk.run("weather", "import", str(desk.folder / "a.csv"), "--as", "ghcn")
    assert "Add --as ghcn" in desk.run("weather", "import", "SZ000001940.dly.gz", code=1).stderr
    told = desk.run("weather", "trust", "Home", "GHCN-Daily SZ000001940", "file")
    assert "GHCN-Daily SZ000001940 before file" in told.stdout
    assert (
        "a known weather source of Home is needed"
        in desk.run("weather", "trust", "Home", "radio", code=1).stderr
    )
