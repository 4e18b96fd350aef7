"""Weather through the orchard: stored by source, merged on reading, decided by people.

Each test runs on SQLite and on PostgreSQL.
"""

from __future__ import annotations

import sqlite3
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import select

from harvest.errors import InputError, StoreError, UnknownNameError, WeatherSourceError
from harvest.service_weather import (
    LoggerLayout,
    confirm_weather,
    fetch_weather,
    import_ghcn,
    import_logger,
    trust_weather,
    weather_status,
)
from harvest.store.history import UNSIGNED, batch
from harvest.store.importing import import_file
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import read_records
from harvest.store.schema import TABLES
from harvest.store.weather import read_days
from harvest.store.weather_writing import save_ahead, save_days
from harvest.weather import rules
from harvest.weather.daily import COLUMNS
from tests.orchards import put
from tests.weather.open_records import record
from tests.weather.station_server import Listed, Served, serving

TODAY = date(2021, 3, 10)
NOW = datetime(2021, 3, 10, 8, 30)
HOME = {
    "site": "Home", "latitude": 47.55, "longitude": 7.6, "elevation_m": 270,
    "timezone": "Europe/Zurich",
}  # fmt: skip
LAYOUT = LoggerLayout(time="t", temperature="temp", unit="C", clock="Europe/Zurich")


def settled(orchard: Orchard, folder: Path) -> None:
    put(orchard, "sites", [HOME, {"site": "Other", "latitude": 46, "longitude": 7}], folder)


def import_days(
    orchard: Orchard, folder: Path, days: pd.DataFrame, name: str = "weather.csv"
) -> tuple[int, int, int, tuple[object, ...]]:
    path = folder / name
    days.assign(site="home").to_csv(path, index=False)
    report = import_file(orchard, "weather", path, today=date(2026, 3, 1))
    assert report.refused == ()
    return report.new, report.same, report.changed, report.warnings


def basel(first: str = "2011-01-01", last: str = "2021-03-08") -> pd.DataFrame:
    return record("basel", first, last)[["date", "tmin_c", "tmax_c"]]


def with_hot_january(days: pd.DataFrame, day: str = "2020-01-15") -> pd.DataFrame:
    return days.assign(tmax_c=days["tmax_c"].where(days["date"] != day, 31.0))


def weather_of(orchard: Orchard, as_of: date = TODAY) -> pd.DataFrame:
    return read_records(orchard, as_of).weather.set_index("date")


@pytest.fixture
def served(tmp_path: Path) -> Served:
    days = record("basel", "2018-01-01", "2021-03-08").assign(precip_mm=1.0, wind_kmh=11.0)
    with serving([Listed("06601", "Basel", 47.54, 7.58, 316, days)], tmp_path) as running:
        yield running  # type: ignore[misc]


def fetch(  # type: ignore[no-untyped-def]
    orchard: Orchard, served: Served, folder: Path, today: date = TODAY,
    since: date = date(2018, 1, 1),
):  # fmt: skip
    return fetch_weather(
        orchard, served.service(folder / "kept"), site="Home", now=NOW, today=today, since=since,
    )  # fmt: skip


def test_a_suspect_day_is_kept_told_left_out_and_counts_once_confirmed(
    orchard: Orchard, tmp_path: Path
) -> None:
    settled(orchard, tmp_path)
    _, _, _, warnings = import_days(orchard, tmp_path, with_hot_january(basel()))
    assert len(warnings) == 1
    told = warnings[0]
    assert (told.column, told.value) == ("tmax_c", "31")  # type: ignore[attr-defined]
    assert rules.CLIMATE in told.reason  # type: ignore[attr-defined]
    with orchard.reading() as connection:
        stored = read_days(connection).set_index("date")
    assert stored.loc["2020-01-15", "tmax_c"] == 31.0
    assert pd.Timestamp("2020-01-15") not in weather_of(orchard).index
    (status,) = weather_status(orchard, TODAY, "home")
    assert [(s.date, s.column, s.value, s.rule) for s in status.suspect] == [
        (date(2020, 1, 15), "tmax_c", 31.0, rules.CLIMATE)
    ]
    assert status.missing == 1
    confirm_weather(orchard, "HOME", [date(2020, 1, 15)])
    assert weather_of(orchard).loc["2020-01-15", "tmax_c"] == 31.0
    (status,) = weather_status(orchard, TODAY, "home")
    assert (status.suspect, status.missing, status.confirmed) == ((), 0, 1)


def test_another_value_for_a_confirmed_day_has_to_be_confirmed_again(
    orchard: Orchard, tmp_path: Path
) -> None:
    settled(orchard, tmp_path)
    import_days(orchard, tmp_path, with_hot_january(basel()))
    confirm_weather(orchard, "Home", [date(2020, 1, 15)])
    import_days(orchard, tmp_path, with_hot_january(basel()))
    assert weather_of(orchard).loc["2020-01-15", "tmax_c"] == 31.0
    windy = with_hot_january(basel()).assign(wind_kmh=9.0)
    with orchard.writing() as connection, batch(connection, "fetch", UNSIGNED) as made:
        save_days(made, 1, "file", windy)  # wind for a day without any changes nothing seen before
    days = weather_of(orchard)
    assert days.loc["2020-01-15", ["tmax_c", "wind_kmh"]].tolist() == [31.0, 9.0]
    worse = with_hot_january(basel())
    worse["tmax_c"] = worse["tmax_c"].where(worse["date"] != "2020-01-15", 35.0)
    import_days(orchard, tmp_path, worse)
    assert np.isnan(weather_of(orchard).loc["2020-01-15", "tmax_c"])


def test_only_what_is_suspect_and_could_be_true_can_be_confirmed(
    orchard: Orchard, tmp_path: Path
) -> None:
    settled(orchard, tmp_path)
    import_days(orchard, tmp_path, basel())
    with pytest.raises(InputError, match="only a suspect day can be confirmed"):
        confirm_weather(orchard, "Home", [date(2020, 1, 15)])
    days = TABLES["weather"]
    with orchard.writing() as connection:
        connection.execute(days.update().where(days.c.date == date(2020, 5, 5)).values(tmin_c=40.0))
    assert pd.Timestamp("2020-05-05") not in weather_of(orchard).index
    with pytest.raises(InputError, match="cannot be true is corrected, not confirmed"):
        confirm_weather(orchard, "Home", [date(2020, 5, 5)])


def test_order_of_trust_decides_and_changing_it_recomputes(
    orchard: Orchard, tmp_path: Path, served: Served
) -> None:
    settled(orchard, tmp_path)
    mine = basel("2019-01-01").assign(tmax_c=lambda d: d["tmax_c"] + 2)
    import_days(orchard, tmp_path, mine)
    fetch(orchard, served, tmp_path)
    assert weather_of(orchard).loc["2020-06-01", "source"] == "file"
    assert weather_of(orchard).loc["2018-06-01", "source"] == "meteostat"
    before = weather_of(orchard)
    assert trust_weather(orchard, "Home", ["Meteostat"]) == ["meteostat", "file"]
    assert weather_of(orchard).loc["2020-06-01", "source"] == "meteostat"
    assert trust_weather(orchard, "Home", ["file", "meteostat"]) == ["file", "meteostat"]
    pd.testing.assert_frame_equal(weather_of(orchard), before)
    with pytest.raises(UnknownNameError, match="weather source of Home"):
        trust_weather(orchard, "Home", ["the neighbour's cat"])


def test_records_keep_one_row_per_site_and_day_in_their_columns(
    orchard: Orchard, tmp_path: Path, served: Served
) -> None:
    settled(orchard, tmp_path)
    import_days(orchard, tmp_path, basel("2019-01-01", "2020-06-30"))
    fetch(orchard, served, tmp_path)
    weather = read_records(orchard, TODAY).weather
    assert list(weather.columns) == ["site", "date", *COLUMNS, "source"]
    assert not weather.duplicated(["site", "date"]).any()
    assert weather["date"].max() < pd.Timestamp(TODAY)
    row = weather.set_index("date").loc["2020-01-01"]
    assert (row["source"], row["precip_mm"], row["wind_kmh"]) == ("file", 1.0, 11.0)


def test_fetching_again_changes_nothing_and_says_so(
    orchard: Orchard, tmp_path: Path, served: Served
) -> None:
    settled(orchard, tmp_path)
    first = fetch(orchard, served, tmp_path)
    before = weather_of(orchard)
    again = fetch(orchard, served, tmp_path)
    assert (first.saved.new, first.saved.changed) == (len(before), 0)
    assert (again.saved.new, again.saved.changed, again.saved.same) == (0, 0, len(before))
    pd.testing.assert_frame_equal(weather_of(orchard), before)
    (status,) = weather_status(orchard, TODAY, "Home")
    (source,) = status.sources
    assert (source.name, source.kind, source.fetched_at) == ("meteostat", "stations", NOW)
    assert "Meteostat" in source.attribution
    assert "creativecommons.org" in source.licence
    assert source.stations == again.stations
    assert (status.first, status.last, status.days) == (
        date(2018, 1, 1), date(2021, 3, 8), len(before),
    )  # fmt: skip


@pytest.mark.parametrize("how", ["reset", "500", "cut"])
def test_a_fetch_that_fails_leaves_everything_stored_as_it_was(
    orchard: Orchard, tmp_path: Path, served: Served, how: str
) -> None:
    settled(orchard, tmp_path)
    import_days(orchard, tmp_path, basel("2015-01-01", "2016-12-31"))
    fetch(orchard, served, tmp_path)
    before, status = weather_of(orchard), weather_status(orchard, TODAY)
    with pytest.raises(InputError, match="lies before today; given: 2021-03-10"):
        fetch(orchard, served, tmp_path, since=TODAY)
    served.behaviour["/daily/2021"] = how
    with pytest.raises(WeatherSourceError, match="already stored stays as it is"):
        fetch(orchard, served, tmp_path)
    pd.testing.assert_frame_equal(weather_of(orchard), before)
    assert weather_status(orchard, TODAY) == status


# Days ahead


def ahead(first: str, days: int, low: float) -> pd.DataFrame:
    dates = pd.date_range(first, periods=days).astype("datetime64[s]")
    return pd.DataFrame({"date": dates, "tmin_c": low, "tmax_c": low + 10, "precip_mm": np.nan})


def keep_ahead(orchard: Orchard, site: int, days: pd.DataFrame) -> None:
    with orchard.writing() as connection, batch(connection, "fetch", UNSIGNED) as made:
        save_ahead(made, site, "file", TODAY, days)


def test_days_ahead_are_known_from_the_day_of_their_issue_and_never_before(
    orchard: Orchard, tmp_path: Path, served: Served
) -> None:
    settled(orchard, tmp_path)
    fetch(orchard, served, tmp_path)
    with orchard.writing() as connection:
        site = connection.execute(select(TABLES["sites"].c.id)).scalars().first()
        assert site is not None
        for issued, low in ((date(2021, 3, 1), 1.0), (date(2021, 3, 5), 5.0)):
            with batch(connection, "fetch", UNSIGNED) as made:
                save_ahead(made, site, "meteostat", issued, ahead(str(issued), 8, low))
    for as_of, issues in ((date(2021, 2, 28), 0), (date(2021, 3, 4), 1), (date(2021, 3, 5), 2)):
        known = read_records(orchard, as_of)
        assert known.weather_ahead["issued"].nunique() == issues
        assert (known.weather_ahead["issued"] <= pd.Timestamp(as_of)).all()
        assert known.weather["date"].max() < pd.Timestamp(as_of)
    later = read_records(orchard, TODAY)
    pd.testing.assert_frame_equal(
        later.until(date(2021, 3, 4)).weather_ahead,
        read_records(orchard, date(2021, 3, 4)).weather_ahead,
    )
    (status, _) = weather_status(orchard, date(2021, 3, 6))
    assert (status.ahead_issued, status.ahead_days) == (date(2021, 3, 5), 7)


def test_a_second_forecast_of_the_same_day_replaces_the_first(
    orchard: Orchard, tmp_path: Path, served: Served
) -> None:
    settled(orchard, tmp_path)
    fetch(orchard, served, tmp_path)
    with orchard.writing() as connection:
        site = connection.execute(select(TABLES["sites"].c.id)).scalars().first()
        assert site is not None
        for days, low in ((9, 1.0), (4, 2.0)):
            with batch(connection, "fetch", UNSIGNED) as made:
                save_ahead(made, site, "meteostat", TODAY, ahead(str(TODAY), days, low))
    found = read_records(orchard, TODAY).weather_ahead
    assert found["tmin_c"].tolist() == [2.0] * 4


def test_a_forecast_of_days_gone_by_cannot_be_stored(orchard: Orchard, tmp_path: Path) -> None:
    settled(orchard, tmp_path)
    import_days(orchard, tmp_path, basel("2020-01-01"))
    with orchard.reading() as connection:
        site = connection.execute(select(TABLES["sites"].c.id)).scalars().first()
    assert site is not None
    gone = ahead("2021-03-09", 2, 1.0)
    with pytest.raises(StoreError, match="not_before_issued"):
        keep_ahead(orchard, site, gone)


def test_nothing_that_comes_later_changes_what_was_known(orchard: Orchard, tmp_path: Path) -> None:
    """Suspect days are judged from the days before the as-of date only."""
    settled(orchard, tmp_path)
    cut = date(2019, 6, 1)
    import_days(orchard, tmp_path, with_hot_january(basel(), "2018-01-15"))
    before = weather_of(orchard, cut)
    later = basel("2019-06-01").assign(
        tmin_c=lambda d: d["tmin_c"] + 20, tmax_c=lambda d: d["tmax_c"] + 20
    )
    import_days(orchard, tmp_path, later)
    pd.testing.assert_frame_equal(weather_of(orchard, cut), before)


def test_a_day_suspect_by_later_ones_was_not_so_then(orchard: Orchard, tmp_path: Path) -> None:
    """A record begun in March: its first hot day stands apart once a year is known, not before."""
    settled(orchard, tmp_path)
    days = basel("2016-03-01", "2020-12-31")
    odd = days["date"] == "2016-03-20"
    days = days.assign(tmax_c=days["tmax_c"].where(~odd, 30.5))
    import_days(orchard, tmp_path, days)
    hot, then = pd.Timestamp("2016-03-20"), date(2016, 4, 10)
    now = read_records(orchard, date(2021, 1, 1))
    assert hot not in set(now.weather.dropna()["date"]) or np.isnan(
        now.weather.set_index("date").loc[hot, "tmax_c"]
    )
    earlier = now.until(then).weather.set_index("date")
    assert earlier.loc[hot, "tmax_c"] == 30.5
    pd.testing.assert_frame_equal(now.until(then).weather, read_records(orchard, then).weather)


# Files


def test_a_loggers_layout_is_said_once_and_its_days_count_first(
    orchard: Orchard, tmp_path: Path
) -> None:
    settled(orchard, tmp_path)
    import_days(orchard, tmp_path, basel("2019-01-01"))
    clock = pd.date_range("2020-05-01", "2020-05-05", freq="15min", tz="Europe/Zurich")
    rows = pd.DataFrame(
        {"t": clock.tz_localize(None), "temp": 12 + 6 * np.sin(np.arange(len(clock)) / 15)}
    )
    file = tmp_path / "logger.csv"
    rows.to_csv(file, index=False)
    with pytest.raises(InputError, match="told which column holds what"):
        import_logger(orchard, "Home", file)
    first = import_logger(orchard, "Home", file, layout=LAYOUT)
    again = import_logger(orchard, "home", file)
    assert (first.saved.new, first.site) == (4, "Home")
    assert (again.saved.new, again.saved.same) == (0, 4)
    weather = weather_of(orchard)
    assert weather.loc["2020-05-02", "source"] == "logger"
    assert weather.loc["2020-05-09", "source"] == "file"


def test_a_value_that_its_archive_has_flagged_since_is_taken_out(
    orchard: Orchard, tmp_path: Path
) -> None:
    settled(orchard, tmp_path)
    file = tmp_path / "years.csv"
    rows = [f"SZ000001940,2021010{day},{what},{day}0,,,S,\n" for day in (1, 2, 3) for what in
            ("TMIN", "TMAX", "PRCP")]  # fmt: skip
    file.write_text("".join(rows))
    import_ghcn(orchard, "Home", file)
    confirm_weather(orchard, "Home", [date(2021, 1, 3)])
    flagged = [row.replace(",,,S", ",,I,S") for row in rows]
    file.write_text("".join([*rows[:3], rows[3], *flagged[4:]]))
    report = import_ghcn(orchard, "Home", file)
    assert report.notes[1] == "Of these on record until now, and taken out: 2."
    with orchard.reading() as connection:
        days = read_days(connection).set_index("date").sort_index()
    assert days["tmax_c"].fillna(-99).tolist() == [1.0, -99, 3.0]
    assert days["precip_mm"].fillna(-99).tolist() == [1.0, -99, 3.0]
    assert days["tmin_c"].tolist() == [1.0, 2.0, 3.0]


def test_a_ghcn_file_is_a_source_with_its_terms(orchard: Orchard, tmp_path: Path) -> None:
    settled(orchard, tmp_path)
    file = tmp_path / "2019.csv"
    file.write_text(
        "SZ000001940,20190101,TMIN,-12,,,S,\nSZ000001940,20190101,TMAX,55,,,S,\n"
        "SZ000001940,20190102,TMAX,402,,I,S,\nSZ000001940,20190102,TMIN,10,,,S,\n"
    )
    report = import_ghcn(orchard, "Home", file)
    assert report.saved.new == 2
    assert "the archive's own checks flagged: 1." in report.notes[0]
    assert import_ghcn(orchard, "Home", file).saved.same == 2
    (status,) = weather_status(orchard, TODAY, "Home")
    assert status.sources[0].name == "GHCN-Daily SZ000001940"
    assert "NOAA" in status.sources[0].attribution
    assert "public domain" in status.sources[0].licence
    assert (status.days, status.first) == (1, date(2019, 1, 1))


def test_status_of_a_site_without_weather_is_there_and_empty(
    orchard: Orchard, tmp_path: Path
) -> None:
    settled(orchard, tmp_path)
    home, other = weather_status(orchard, TODAY)
    assert (home.site, other.site) == ("Home", "Other")
    assert (home.first, home.days, home.missing, home.sources) == (None, 0, 0, ())
    with pytest.raises(UnknownNameError, match="Did you mean 'Home'"):
        weather_status(orchard, TODAY, "Hone")


def test_gaps_are_listed_longest_first(orchard: Orchard, tmp_path: Path) -> None:
    settled(orchard, tmp_path)
    days = basel("2020-01-01", "2020-12-31")
    month = days["date"].dt.strftime("%Y-%m-%d")
    gone = month.between("2020-03-01", "2020-03-05") | (month == "2020-07-07")
    import_days(orchard, tmp_path, days[~gone])
    (status,) = weather_status(orchard, TODAY, "Home")
    assert [(gap.first, gap.last, gap.days) for gap in status.gaps] == [
        (date(2020, 3, 1), date(2020, 3, 5), 5),
        (date(2020, 7, 7), date(2020, 7, 7), 1),
    ]
    assert (status.days, status.missing) == (360, 6)


def test_weather_of_an_orchard_of_the_first_version_is_all_there(tmp_path: Path) -> None:
    from alembic import command
    from alembic.config import Config

    from harvest.store.orchard import _engine, orchard_url

    path = tmp_path / "old.sqlite"
    engine = _engine(orchard_url(str(path)))
    config = Config()
    config.set_main_option("script_location", "harvest.store:migrations")
    config.attributes["engine"] = engine
    command.upgrade(config, "0001")
    engine.dispose()
    with sqlite3.connect(path) as old:
        old.execute("INSERT INTO sites (id, site, latitude, longitude, site_key) "
                    "VALUES (1, 'Home', 47, 7, 'home')")  # fmt: skip
        old.executemany(
            "INSERT INTO weather (site_id, date, source, tmin_c, tmax_c) "
            "VALUES (1, ?, 'file', ?, ?)",
            [(str(row.date.date()), row.tmin_c, row.tmax_c) for row in basel().itertuples()],
        )
    old.close()
    orchard = open_orchard(str(path))
    weather = weather_of(orchard)
    assert weather["tmax_c"].tolist() == basel()["tmax_c"].tolist()
    assert set(weather["source"]) == {"file"}
    orchard.engine.dispose()
