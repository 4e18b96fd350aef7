"""The station service's real client against a real HTTP server on 127.0.0.1, good and bad days.

Every test has a folder of its own for what the client keeps: its kept files are named without the
address they came from.
"""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvest.errors import WeatherSourceError
from harvest.weather.daily import on_calendar
from harvest.weather.nearby import (
    Place,
    choose_stations,
    days_from_hours,
    fetch_nearby,
)
from harvest.weather.nearby_hours import hours_nearby
from harvest.weather.station_list import Station
from harvest.weather.stations import StationService
from tests.weather.open_records import record
from tests.weather.station_server import Listed, Served, serving

TODAY = date(2021, 3, 10)
SINCE = date(2019, 1, 1)
HOME = Place(47.55, 7.6, 270.0, "Europe/Zurich")
MESSAGE_WITHIN_SECONDS = 5.0


def basel() -> pd.DataFrame:
    return record("basel", "2018-01-01", "2021-03-08")


def colder(days: pd.DataFrame, by: float) -> pd.DataFrame:
    return days.assign(tmin_c=days["tmin_c"] - by, tmax_c=days["tmax_c"] - by)


def stations() -> list[Listed]:
    days = basel().assign(precip_mm=1.5, wind_kmh=9.4)
    return [
        Listed("06601", "Basel", 47.54, 7.58, 316, days),
        Listed("X0002", "Hill", 47.60, 7.70, 516, colder(days, 1.3).assign(wind_kmh=20.0)),
    ]


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with serving(stations(), tmp_path) as running:
        yield running


@pytest.fixture(autouse=True)
def _settings() -> Iterator[None]:
    """The client's settings are global to the process: put them back."""
    import meteostat

    names = [name for name in dir(meteostat.config) if not name.startswith("_")]
    before = {n: v for n in names if not callable(v := getattr(meteostat.config, n))}
    yield
    for name, value in before.items():
        setattr(meteostat.config, name, value)


def fetched(service: StationService, **given: object):  # type: ignore[no-untyped-def]
    arguments = {"since": SINCE, "today": TODAY} | given
    return fetch_nearby(service, HOME, **arguments)


def refused(served: Served, folder: Path) -> tuple[str, float]:
    """The message of a fetch that must fail, and how long it took [s]."""
    began = time.monotonic()
    with pytest.raises(WeatherSourceError, match="already stored stays as it is") as caught:
        fetched(served.service(folder))
    return str(caught.value), time.monotonic() - began


# Good days


def test_days_of_the_stations_near_by_come_levelled_with_their_terms(
    served: Served, tmp_path: Path
) -> None:
    found = fetched(served.service(tmp_path / "kept"))
    truth = basel()[lambda d: d["date"] >= "2019-01-01"]
    assert found.days["date"].tolist() == truth["date"].tolist()
    # Basel lies 46 m higher than the place: 6.5 degC per km by day (ICAO Doc 7488), half by night.
    lifted = found.days["tmax_c"].to_numpy() - truth["tmax_c"].to_numpy()
    assert np.allclose(lifted, 0.046 * 6.5, atol=0.06)
    lifted = found.days["tmin_c"].to_numpy() - truth["tmin_c"].to_numpy()
    assert np.allclose(lifted, 0.046 * 3.25, atol=0.06)
    assert set(found.days["precip_mm"]) == {1.5}
    near, far = found.stations
    assert (near.station, near.name, near.elevation_m) == ("06601", "Basel", 316)
    assert near.distance_km == pytest.approx(1.9, abs=0.1)
    assert (near.last_day, near.days) == (date(2021, 3, 8), len(truth))
    assert near.share + far.share == pytest.approx(1, abs=0.002)
    assert near.share > 0.7
    # Wind is weighed as it was measured at 9.4 and 20 km/h, whatever the heights.
    assert found.days["wind_kmh"].min() == found.days["wind_kmh"].max()
    assert found.days["wind_kmh"].iloc[0] == pytest.approx(
        9.4 * near.share + 20 * far.share, abs=0.1
    )
    assert "Meteostat" in found.terms.attribution
    assert any("creativecommons.org" in licence for licence in found.terms.licences)
    assert found.notes == ()


def test_the_years_gone_by_are_kept_and_the_running_ones_asked_for_again(
    served: Served, tmp_path: Path
) -> None:
    first = fetched(served.service(tmp_path / "kept"))
    asked = list(served.asked)
    served.asked.clear()
    second = fetched(served.service(tmp_path / "kept"))
    pd.testing.assert_frame_equal(first.days, second.days)
    assert "/daily/2019/06601.csv.gz" in asked
    assert "/daily/2019/06601.csv.gz" not in served.asked
    assert "/daily/2021/06601.csv.gz" in served.asked
    assert "/stations.db" not in served.asked


def test_two_addresses_never_share_what_is_kept(tmp_path: Path) -> None:
    for warm in (0.0, 5.0):
        days = colder(basel(), -warm)
        with serving([Listed("06601", "Basel", 47.55, 7.6, 270, days)], tmp_path) as served:
            found = fetched(served.service(tmp_path / "kept"))
        truth = days[days["date"] >= "2019-01-01"]
        assert np.allclose(found.days["tmax_c"], truth["tmax_c"])


def test_progress_is_told_station_by_station_and_ends_complete(
    served: Served, tmp_path: Path
) -> None:
    told: list[tuple[str, int, int]] = []
    fetched(served.service(tmp_path / "kept"), progress=lambda *step: told.append(step))
    assert told[0] == ("Basel 2021", 0, 6)
    assert told[-1] == ("done", 6, 6)


def test_what_a_model_stands_in_for_is_kept_apart_from_what_was_measured(tmp_path: Path) -> None:
    """The service's files hold "model data as substitute for missing observations" (its own
    documentation), named in the source column."""
    days = basel()
    extra = pd.DataFrame(
        {"date": pd.date_range("2021-03-09", "2021-03-14").astype("datetime64[s]"),
         "tmin_c": 2.0, "tmax_c": 12.0, "precip_mm": 0.0}
    )  # fmt: skip
    days = pd.concat([days.assign(source="dwd_daily"), extra.assign(source="dwd_mosmix")])
    days.loc[days["date"] == "2020-05-05", "source"] = "metar dwd_mosmix"
    with serving([Listed("06601", "Basel", 47.55, 7.6, 270, days)], tmp_path) as served:
        found = fetched(served.service(tmp_path / "kept"))
    assert "2020-05-05" not in set(found.days["date"].dt.strftime("%Y-%m-%d"))
    assert found.modelled["date"].dt.strftime("%Y-%m-%d").tolist() == ["2020-05-05", "2021-03-09"]
    assert found.ahead["date"].dt.strftime("%Y-%m-%d").tolist() == [
        f"2021-03-{day}" for day in range(10, 15)
    ]
    assert (found.ahead["tmax_c"] == 12.0).all()
    assert "Deutscher Wetterdienst" in found.terms.attribution


def test_days_ahead_come_from_hours_where_the_daily_files_have_none(tmp_path: Path) -> None:
    times = pd.date_range("2021-03-05", "2021-03-16 12:00", freq="h")
    clock = (times + pd.Timedelta(hours=1)).hour  # winter time at Basel
    hours = pd.DataFrame({"time": times, "temp_c": 10.0 - np.abs(clock - 14), "source": "metar"})
    hours.loc[hours["time"] >= "2021-03-09 23:00", "source"] = "dwd_mosmix"
    station = Listed("06601", "Basel", 47.55, 7.6, 270, basel(), hours)
    with serving([station], tmp_path) as served:
        found = fetched(served.service(tmp_path / "kept"))
    assert found.days["date"].max() == pd.Timestamp("2021-03-09")
    assert found.ahead["date"].tolist() == pd.date_range("2021-03-10", "2021-03-15").tolist()
    assert set(found.ahead["tmax_c"]) == {10.0}
    assert set(found.ahead["tmin_c"]) == {-4.0}


def test_hours_come_from_the_best_station_that_has_any_across_the_new_year(
    tmp_path: Path,
) -> None:
    times = pd.date_range("2020-12-30", "2021-01-03 23:00", freq="h")
    hours = pd.DataFrame({"time": times, "temp_c": np.arange(len(times)) / 10, "source": "metar"})
    both = [
        Listed("X0001", "Silent", 47.55, 7.6, 270, basel()),
        Listed("X0002", "Hill", 47.60, 7.70, 516, basel(), hours),
    ]
    with serving(both, tmp_path) as served:
        service = served.service(tmp_path / "kept")
        rows, station, terms = hours_nearby(
            service, HOME, date(2020, 12, 31), date(2021, 1, 2), today=TODAY
        )
        with pytest.raises(WeatherSourceError, match="hourly temperatures within 75 km"):
            hours_nearby(service, HOME, date(2019, 5, 1), date(2019, 5, 2), today=TODAY)
    assert station.name == "Hill"
    assert rows["time"].tolist() == times[24:96].tolist()
    assert np.allclose(rows["temp_c"], hours["temp_c"][24:96])
    assert not rows["modelled"].any()
    assert "Meteostat" in terms.attribution


def test_hours_make_the_local_days_also_when_the_clocks_change() -> None:
    """28 March 2021 had 23 hours at Basel, from 23 UTC the evening before to 22 UTC."""
    times = pd.date_range("2021-03-27 23:00", "2021-03-28 21:00", freq="h")
    hours = pd.DataFrame(
        {"time": times, "temp_c": np.arange(len(times)) * 1.0, "precip_mm": 0.1, "modelled": False}
    ).assign(wind_kmh=np.where(np.arange(len(times)) < 11, 5.0, 17.0))
    days = days_from_hours(hours, "Europe/Zurich")
    assert days["date"].tolist() == [pd.Timestamp("2021-03-28")]
    assert days[["tmin_c", "tmax_c"]].to_numpy().tolist() == [[0.0, 22.0]]
    assert days["precip_mm"].iloc[0] == pytest.approx(2.3)
    assert days["wind_kmh"].iloc[0] == pytest.approx((11 * 5 + 12 * 17) / 23)
    assert days_from_hours(hours.iloc[3:], "Europe/Zurich").empty


def test_a_wild_value_of_one_station_does_not_spoil_the_record(tmp_path: Path) -> None:
    days = basel()
    wild = days.copy()
    wild.loc[wild["date"] == "2020-01-10", "tmax_c"] = 39.0
    both = [
        Listed("06601", "Basel", 47.55, 7.6, 270, wild),
        Listed("X0002", "Hill", 47.60, 7.70, 516, colder(days, 1.3)),
    ]
    with serving(both, tmp_path) as served:
        found = fetched(served.service(tmp_path / "kept"))
    got = found.days.set_index("date").loc["2020-01-10", "tmax_c"]
    assert got == pytest.approx(days.set_index("date").loc["2020-01-10", "tmax_c"], abs=0.3)


def test_the_sites_own_logger_sets_the_level(served: Served, tmp_path: Path) -> None:
    own = on_calendar(colder(basel(), 4.0)[lambda d: d["date"] >= "2020-06-01"])
    found = fetched(served.service(tmp_path / "kept"), own=own)
    truth = basel()[lambda d: d["date"] >= "2019-01-01"]
    assert np.allclose(found.days["tmax_c"] - truth["tmax_c"].to_numpy(), -4.0, atol=0.06)


def test_no_height_on_record_is_said_and_nothing_is_corrected(
    served: Served, tmp_path: Path
) -> None:
    service = served.service(tmp_path / "kept")
    found = fetch_nearby(service, Place(47.54, 7.58), since=SINCE, today=TODAY, most=1)
    truth = basel()[lambda d: d["date"] >= "2019-01-01"]
    assert np.allclose(found.days["tmax_c"], truth["tmax_c"])
    assert "height is not on record" in found.notes[-1]


def listed(name: str, **given: object) -> Station:
    known: dict[str, object] = {
        "latitude": 0.0, "longitude": 0.0, "elevation_m": 300.0, "distance_km": 10.0,
        "first_day": date(1990, 1, 1), "last_day": TODAY, "completeness": 98.0,
    }  # fmt: skip
    return Station(id=name, name=name, **(known | given))  # type: ignore[arg-type]


def test_stations_are_chosen_by_distance_height_and_the_days_they_have() -> None:
    found = choose_stations(
        [
            listed("closed long ago", distance_km=1.0, last_day=date(2001, 1, 1)),
            listed("nearest"),
            listed("high above", elevation_m=1800.0),
            listed("half empty", completeness=40.0),
            listed("further", distance_km=25.0),
            listed("unknown height", elevation_m=None, distance_km=11.0),
        ],
        300.0, since=SINCE, today=TODAY, most=4,
    )  # fmt: skip
    names = [station.name for station in found]
    assert names == ["nearest", "unknown height", "half empty", "further"]


# Bad days


def test_without_a_server_there_is_a_message_at_once(tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        gone = Served(f"http://127.0.0.1:{probe.getsockname()[1]}")
    said, seconds = refused(gone, tmp_path / "kept")
    assert "Connection refused" in said
    assert seconds < MESSAGE_WITHIN_SECONDS


@pytest.mark.parametrize("path", ["/stations.db", "/daily/"])
def test_a_server_that_hangs_is_given_up(served: Served, tmp_path: Path, path: str) -> None:
    served.behaviour[path] = "hang"
    said, seconds = refused(served, tmp_path / "kept")
    assert "no answer" in said
    assert seconds < MESSAGE_WITHIN_SECONDS


@pytest.mark.parametrize(
    ("path", "how", "words"),
    [
        ("/stations.db", "404", "HTTP status 404"),
        ("/stations.db", "500", "HTTP status 500"),
        ("/stations.db", "garbage", "breaks off or is damaged"),
        ("/stations.db", "cut", "broke off half-way"),
        ("/stations.db", "reset", "closed without an answer"),
        ("/daily/2020", "500", "Internal Server Error"),
        ("/daily/2020", "cut", "broke off half-way"),
        ("/daily/2020", "reset", "closed without an answer"),
    ],
)
def test_a_server_that_breaks_off_is_said_at_once_and_the_next_try_goes_on(
    served: Served, tmp_path: Path, path: str, how: str, words: str
) -> None:
    served.behaviour[path] = how
    said, seconds = refused(served, tmp_path / "kept")
    assert words in said
    assert seconds < MESSAGE_WITHIN_SECONDS
    served.behaviour.clear()
    assert len(fetched(served.service(tmp_path / "kept")).days) > 700


def test_a_server_that_dies_half_way_leaves_the_kept_years_usable(tmp_path: Path) -> None:
    with serving(stations(), tmp_path) as served:
        served.behaviour["/daily/2020/X0002"] = "reset"
        refused(served, tmp_path / "kept")
        service = served.service(tmp_path / "kept")
    said, seconds = refused(served, tmp_path / "kept")
    assert "Connection refused" in said
    assert seconds < MESSAGE_WITHIN_SECONDS
    nearest = service.nearest(47.55, 7.6, radius_km=50)  # the list is a fresh one
    assert [station.id for station in nearest] == ["06601", "X0002"]
    assert service.year(nearest[0], 2019, today=TODAY).rows is not None


def test_a_missing_year_is_no_trouble_and_a_damaged_file_is_told(
    served: Served, tmp_path: Path
) -> None:
    served.behaviour["/daily/2020/06601"] = "404"
    served.behaviour["/daily/2019/X0002"] = "garbage"
    found = fetched(served.service(tmp_path / "kept"))
    assert len(found.notes) == 1
    assert "Hill (X0002), 2019: damaged file" in found.notes[0]
    days = found.days.set_index("date")
    assert days.loc["2020", "tmax_c"].notna().all()  # Hill has that year, levelled to Basel
    lifted = days.loc["2020", "tmax_c"] - basel().set_index("date").loc["2020", "tmax_c"]
    assert np.allclose(lifted, 0.046 * 6.5, atol=0.06)


def test_stations_without_a_single_file_are_named(served: Served, tmp_path: Path) -> None:
    served.behaviour["/daily/"] = "404"
    with pytest.raises(WeatherSourceError, match=r"Basel \(06601\), 2019-2021: no file; "):
        fetched(served.service(tmp_path / "kept"))


def test_nothing_near_by_says_where_to_look(served: Served, tmp_path: Path) -> None:
    with pytest.raises(WeatherSourceError, match=r"within 75 km is needed.*--radius"):
        fetch_nearby(
            served.service(tmp_path / "kept"), Place(-34.0, 150.8), since=SINCE, today=TODAY
        )


def test_an_old_list_of_stations_serves_when_no_newer_can_be_had(
    served: Served, tmp_path: Path
) -> None:
    service = served.service(tmp_path / "kept")
    service.nearest(47.55, 7.6, radius_km=50)
    file = next((tmp_path / "kept").rglob("stations.db"))
    month_ago = time.time() - 30 * 86400
    os.utime(file, (month_ago, month_ago))
    for how in ("cut", "404", "garbage", "reset"):
        served.behaviour["/stations.db"] = how
        later = served.service(tmp_path / "kept")
        assert len(later.nearest(47.55, 7.6, radius_km=50)) == 2
        assert "no newer one could be had" in later.notes[0]
        assert [path.name for path in file.parent.glob("stations*")] == ["stations.db"]


def test_hours_that_hang_cost_the_days_ahead_and_nothing_else(
    served: Served, tmp_path: Path
) -> None:
    served.behaviour["/hourly/"] = "reset"
    found = fetched(served.service(tmp_path / "kept"))
    assert len(found.days) > 700
    assert found.ahead.empty
    assert "No days ahead" in found.notes[0]


def test_a_request_for_forty_years_is_made_in_pieces(tmp_path: Path) -> None:
    """The client refuses more than thirty years or ten stations at once."""
    days = record("basel", "1975-01-01", "2021-03-08")
    crowd = [
        Listed(f"X{n:04}", f"S{n}", 47.55 + n / 200, 7.6, 270, days.iloc[-800:]) for n in range(12)
    ]
    long = Listed("06601", "Basel", 47.55, 7.6, 270, days)
    with serving([long, *crowd], tmp_path) as served:
        found = fetch_nearby(
            served.service(tmp_path / "kept"), HOME, since=date(1975, 1, 1), today=TODAY, most=1
        )
        assert len(found.days) == len(days)
        found = fetch_nearby(
            served.service(tmp_path / "kept"), HOME, since=date(2020, 6, 1), today=TODAY, most=12
        )
    assert len(found.stations) == 12
