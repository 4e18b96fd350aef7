"""Hours and gap rules through the orchard, on SQLite and on PostgreSQL."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvest.errors import QuantityError, UnknownNameError
from harvest.service_weather import (
    LoggerLayout,
    choose_gap_rules,
    confirm_weather,
    fetch_weather,
    import_logger,
    trust_weather,
    weather_status,
)
from harvest.store.importing import import_file
from harvest.store.orchard import Orchard
from harvest.store.reading import read_records
from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.hours import HOURS
from tests.orchards import put
from tests.weather.open_records import record
from tests.weather.station_server import Listed, serving

TODAY = date(2021, 3, 10)
HOME = {
    "site": "Home", "latitude": 47.55, "longitude": 7.6, "elevation_m": 270,
    "timezone": "Europe/Zurich",
}  # fmt: skip
LAYOUT = LoggerLayout(time="t", temperature="temp", unit="C", clock="Europe/Zurich")


@pytest.fixture
def home(orchard: Orchard, tmp_path: Path) -> Orchard:
    put(orchard, "sites", [HOME, {"site": "Other", "latitude": 46, "longitude": 7}], tmp_path)
    return orchard


def course(moments: pd.DatetimeIndex) -> np.ndarray:
    """Temperatures that tell their hour of UTC: 10 degC and a tenth for each hour."""
    return np.asarray(10 + moments.hour / 10 + (moments.day_of_year % 10) / 100)


def logged(folder: Path, first: str, last: str, name: str = "logger.csv") -> Path:
    """Readings every ten minutes on a wall clock with summer time."""
    moments = pd.date_range(first, last, freq="10min", tz="Europe/Zurich", inclusive="left")
    around = (moments.tz_convert("UTC") + pd.Timedelta(minutes=30)).floor("h")
    rows = pd.DataFrame({"t": moments.tz_localize(None), "temp": course(around)})
    path = folder / name
    rows.to_csv(path, index=False)
    return path


def hours_of(orchard: Orchard, as_of: date = TODAY) -> pd.DataFrame:
    hours = read_records(orchard, as_of).weather_hours
    assert hours is not None
    return hours.set_index("date")[list(HOURS)]


def test_a_loggers_hours_are_kept_in_utc_through_the_change_of_clocks(
    home: Orchard, tmp_path: Path
) -> None:
    """The night of 25 October 2020 has 25 hours, 01:00 UTC being the second 02:00 of the clock."""
    path = logged(tmp_path, "2020-10-24", "2020-10-27")
    first = import_logger(home, "Home", path, layout=LAYOUT)
    assert first.hours == 74
    again = import_logger(home, "Home", path)
    assert (again.saved.new, again.hours) == (0, 74)
    found = hours_of(home)
    for hour in range(23):  # local solar time at 7.6 degrees east is an hour ahead of UTC
        expected = course(pd.DatetimeIndex([f"2020-10-25 {hour:02d}:00"]))[0]
        assert found.loc["2020-10-25", f"h{hour + 1:02d}_c"] == pytest.approx(expected, abs=0.06)
    (status,) = weather_status(home, TODAY, "Home")
    assert status.hours == 74
    assert {source.attribution for source in status.sources} == {"own records"}
    assert (status.hours_first, status.hours_last) == (date(2020, 10, 23), date(2020, 10, 27))


def test_hours_are_known_from_the_day_after(home: Orchard, tmp_path: Path) -> None:
    import_logger(home, "Home", logged(tmp_path, "2020-10-24", "2020-10-27"), layout=LAYOUT)
    assert hours_of(home, date(2020, 10, 25)).index.max() == pd.Timestamp("2020-10-24")
    later = read_records(home, TODAY).until(date(2020, 10, 25)).weather_hours
    assert later is not None
    assert later["date"].max() == pd.Timestamp("2020-10-24")


def test_hours_of_a_suspect_day_are_left_out_until_it_is_confirmed(
    home: Orchard, tmp_path: Path
) -> None:
    days = record("basel", "2011-01-01", "2020-10-01")[["date", "tmin_c", "tmax_c"]]
    path = tmp_path / "weather.csv"
    days.assign(site="home").to_csv(path, index=False)
    import_file(home, "weather", path, today=TODAY)
    moments = pd.date_range("2020-01-10", "2020-01-20", freq="10min", inclusive="left")
    temp = 3 + np.sin(np.arange(len(moments)) / 144 * 2 * np.pi)
    temp = temp + np.repeat(np.arange(10) % 4, 144) + np.where(moments.day == 15, 26.0, 0.0)
    file = tmp_path / "january.csv"
    pd.DataFrame({"t": moments, "temp": temp}).to_csv(file, index=False)
    report = import_logger(home, "Home", file, layout=LAYOUT)
    assert report.suspect == 1
    assert "2020-01-15" not in hours_of(home).index.strftime("%Y-%m-%d")
    confirm_weather(home, "Home", [date(2020, 1, 15)])
    assert hours_of(home).loc["2020-01-15"].max() == pytest.approx(31, abs=0.1)


def test_the_most_trusted_source_that_has_an_hour_gives_it(home: Orchard, tmp_path: Path) -> None:
    import_logger(home, "Home", logged(tmp_path, "2020-06-01", "2020-06-04"), layout=LAYOUT)
    warmer = pd.read_csv(tmp_path / "logger.csv")
    warmer["temp"] += 2
    warmer.iloc[:288].to_csv(tmp_path / "second.csv", index=False)
    import_logger(home, "Home", tmp_path / "second.csv", layout=LAYOUT, source="a second")
    trust_weather(home, "Home", ["logger", "a second"])
    first = hours_of(home)
    trust_weather(home, "Home", ["a second", "logger"])
    second = hours_of(home)
    change = (second - first).to_numpy()
    assert np.nanmax(change) == pytest.approx(2)
    assert np.nanmin(change[-1:]) == 0


def test_hours_of_a_station_come_at_the_sites_level(home: Orchard, tmp_path: Path) -> None:
    """The station lies 400 m above the site: by day 2.6 degC colder (6.5 degC per km, ICAO)."""
    days = record("basel", "2018-01-01", "2021-03-08").assign(precip_mm=0.0)
    times = pd.date_range("2021-01-01", "2021-03-08 23:00", freq="h").as_unit("s")
    of_day = days.set_index("date").reindex(times.normalize())
    swing = (1 - np.cos((times.hour - 3) / 24 * 2 * np.pi)) / 2
    temp = of_day["tmin_c"] + (of_day["tmax_c"] - of_day["tmin_c"]) * swing
    hours = pd.DataFrame(
        {"time": times, "temp_c": temp.round(1).to_numpy(), "source": "dwd_hourly"}
    )
    hill = Listed("06601", "Hill", 47.54, 7.58, 670, days, hours)
    with serving([hill], tmp_path) as served:
        report = fetch_weather(
            home, served.service(tmp_path / "kept"), site="Home", today=TODAY,
            now=datetime(2021, 3, 10, 8), since=date(2018, 1, 1),
        )  # fmt: skip
        assert report.hours > 1500
        found = hours_of(home).loc["2021-01-02":"2021-03-07"].max(axis=1)  # type: ignore[misc]
        station = days.set_index("date")["tmax_c"].reindex(found.index)
        assert (found - station).mean() == pytest.approx(2.6, abs=0.2)
        served.behaviour["/hourly/"] = "404"
        without = fetch_weather(
            home, served.service(tmp_path / "kept"), site="Home", today=TODAY,
            now=datetime(2021, 3, 10, 8), since=date(2018, 1, 1),
        )  # fmt: skip
    assert without.hours == 0
    assert any(note.startswith("No measured hours:") for note in without.notes)
    import_logger(home, "Home", logged(tmp_path, "2020-06-01", "2020-06-04"), layout=LAYOUT)
    (status,) = weather_status(home, TODAY, "Home")
    assert status.hours == report.hours + 73
    assert status.sources[0].licence == "own records"


def test_gap_rules_are_chosen_kept_and_shown(home: Orchard, tmp_path: Path) -> None:
    days = record("basel", "2011-01-01", "2020-12-31")[["date", "tmin_c", "tmax_c"]]
    gone = days["date"].between("2020-05-01", "2020-05-05") | (days["date"] == "2020-07-07")
    path = tmp_path / "weather.csv"
    days[~gone].assign(site="home").to_csv(path, index=False)
    import_file(home, "weather", path, today=TODAY)
    (usual,) = weather_status(home, TODAY, "Home")
    assert (usual.gap_rules, usual.filled) == (DEFAULT_RULES, {"climate": 5, "interpolate": 1})
    assert choose_gap_rules(home, ["none"], "home") == {"Home": ("none",)}
    (none,) = weather_status(home, TODAY, "Home")
    assert (none.gap_rules, none.filled) == (("none",), {"none": 6})
    assert read_records(home, TODAY).gap_rules == {"Home": ("none",)}
    both = choose_gap_rules(home, ["interpolate", "climate"])
    assert both == dict.fromkeys(("Home", "Other"), ("interpolate", "climate"))
    assert choose_gap_rules(home, [], "Home") == {"Home": DEFAULT_RULES}
    with pytest.raises(QuantityError, match="gap rules are none, interpolate"):
        choose_gap_rules(home, ["guess"], "Home")
    with pytest.raises(UnknownNameError, match="Hom"):
        choose_gap_rules(home, ["none"], "Hom")
