"""What comes in and is decided about the weather, settings and warnings is in the history too.

Each test runs on SQLite and on PostgreSQL.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import insert, select

from harvest.errors import ConflictError
from harvest.service_weather import (
    LoggerLayout,
    choose_gap_rules,
    confirm_weather,
    import_ghcn,
    import_logger,
    trust_weather,
)
from harvest.store.about import About, read_about, write_about
from harvest.store.bulk import plain
from harvest.store.exporting import export_folder
from harvest.store.history import Signature, batch
from harvest.store.history_packing import changes_of
from harvest.store.history_reading import BatchEntry, Counts, read_batches, read_change
from harvest.store.importing_folder import import_folder
from harvest.store.orchard import Orchard
from harvest.store.schema import PACKED_CHANGES, SETTINGS, TABLES, TRACKED
from harvest.store.settings import Settings, change_settings, read_settings, setting_changes
from harvest.store.undoing import undo
from harvest.store.weather_hours import save_hours
from harvest.store.weather_writing import save_ahead, save_days, save_source, save_stations
from harvest.weather.daily import DayHours
from tests.orchards import TODAY, put
from tests.store.test_history import BEN

ADA = Signature("Ada", datetime(2026, 8, 12, 6, 30, tzinfo=UTC))
LAYOUT = LoggerLayout(time="t", temperature="temp", unit="C", clock="UTC")


@pytest.fixture
def home(orchard: Orchard, tmp_path: Path) -> Orchard:
    put(orchard, "sites", [{"site": "Home", "latitude": 47.55, "longitude": 7.6}], tmp_path)
    return orchard


def state(orchard: Orchard) -> dict[str, dict[int, dict[str, Any]]]:
    """Every row that keeps a history, by table and id."""
    with orchard.reading() as connection:
        return {
            kind: {
                row["id"]: {name: plain(value) for name, value in row.items()}
                for row in connection.execute(select(table)).mappings()
            }
            for kind, table in TRACKED.items()
        }


def days(first: str, number: int, low: float) -> pd.DataFrame:
    dates = pd.date_range(first, periods=number).astype("datetime64[s]")
    tmin_c = low + np.arange(number) % 7
    return pd.DataFrame({"date": dates, "tmin_c": tmin_c, "tmax_c": tmin_c + 9.5, "precip_mm": 0.5})


def fetched(orchard: Orchard, low: float, number: int = 30, signed: Signature = ADA) -> int:
    """Weather of a source kept as a fetch keeps it: days, hours, stations, days ahead."""
    assert signed.at is not None
    moment = signed.at.replace(tzinfo=None)
    with orchard.writing() as connection, batch(connection, "fetch", signed, "Home, near") as made:
        save_source(made, 1, "near", "stations", attribution="Office", fetched_at=moment)
        save_days(made, 1, "near", days("2026-06-01", number, low))
        save_stations(made, 1, "near", [{"station": "0123", "distance_km": low}])
        save_ahead(made, 1, "near", moment.date(), days("2026-08-20", 5, low))
        save_hours(made, 1, "near", DayHours(np.datetime64("2026-07-01"), np.full((3, 24), low)))
    assert made.number is not None
    return made.number


def newest(orchard: Orchard) -> BatchEntry:
    return read_batches(orchard, 1)[0]


def test_a_fetch_is_one_change_with_its_counts_and_can_be_taken_back(home: Orchard) -> None:
    bare = state(home)
    first = fetched(home, 5.0)
    entry = newest(home)
    assert (entry.number, entry.action, entry.who) == (first, "fetch", "Ada")
    assert entry.note == "Home, near"
    assert set(entry.counts) == {
        Counts("weather_sources", 1, 0, 0), Counts("weather", 30, 0, 0),
        Counts("weather_stations", 1, 0, 0), Counts("weather_ahead", 5, 0, 0),
        Counts("weather_hours", 3, 0, 0),
    }  # fmt: skip
    full = state(home)
    second = fetched(home, 7.0, number=40, signed=BEN)
    assert Counts("weather", 10, 30, 0) in newest(home).counts
    with home.reading() as connection:
        changed = [c for c in changes_of(connection, second) if c.kind == "weather" and c.before]
    assert changed[0].before == {"tmin_c": 5.0, "tmax_c": 14.5}
    assert changed[0].after == {"tmin_c": 7.0, "tmax_c": 16.5}
    later = state(home)
    with pytest.raises(ConflictError, match=f"changed since, by change {second}"):
        undo(home, first, ADA)
    assert state(home) == later
    back = undo(home, second, ADA).by
    assert state(home) == full
    undo(home, back.number, ADA)
    assert state(home) == later
    undo(home, newest(home).number, ADA)
    undo(home, first, ADA)
    assert state(home) == bare
    undo(home, newest(home).number, ADA)
    assert state(home) == full


def test_a_source_stays_as_long_as_days_of_others_hang_on_it(home: Orchard) -> None:
    bare = state(home)
    made = []
    for first, number in (("2026-06-01", 5), ("2026-07-01", 7)):
        with home.writing() as connection, batch(connection, "fetch", ADA, first) as each:
            save_source(each, 1, "near", "stations", fetched_at=datetime(2026, 8, number, 12))
            save_days(each, 1, "near", days(first, number, 5.0))
        made.append(each.number)
    undo(home, made[0], ADA)
    assert (len(state(home)["weather"]), len(state(home)["weather_sources"])) == (7, 1)
    undo(home, made[1], ADA)
    assert state(home) == bare
    undo(home, newest(home).number, ADA)
    assert len(state(home)["weather"]) == 7


def test_a_plain_undo_leaves_the_last_fetch_alone(home: Orchard) -> None:
    change_settings(home, {"units": "us"}, ADA)
    fetched(home, 5.0)
    assert undo(home, None, ADA).batch.action == "setting"
    assert read_settings(home) == Settings()
    assert len(state(home)["weather"]) == 30


def test_files_of_loggers_and_archives_are_in_the_history(home: Orchard, tmp_path: Path) -> None:
    bare = state(home)
    moments = pd.date_range("2026-06-01", "2026-06-05", freq="30min", inclusive="left")
    log = tmp_path / "shed.csv"
    pd.DataFrame({"t": moments, "temp": 10 + moments.hour / 4}).to_csv(log, index=False)
    import_logger(home, "Home", log, layout=LAYOUT, signed=ADA)
    entry = newest(home)
    assert (entry.action, entry.who) == ("import", "Ada")
    assert entry.note == "shed.csv: Home, logger 2026-06-01 to 2026-06-04"
    assert Counts("weather", 4, 0, 0) in entry.counts
    import_logger(home, "Home", log, signed=BEN)
    assert newest(home) == entry
    values = "".join(f"{200 + day:5d}   " for day in range(31))
    dly = tmp_path / "XX000000001.dly"
    dly.write_text(
        f"XX000000001202605TMAX{values}\nXX000000001202605TMIN{values.replace('2', '1')}\n"
    )
    import_ghcn(home, "Home", dly, signed=BEN)
    assert newest(home).note == (
        "XX000000001.dly: Home, GHCN-Daily XX000000001 2026-05-01 to 2026-05-31"
    )
    undo(home, None, ADA)
    undo(home, None, ADA)
    assert state(home) == bare


def test_what_people_decide_about_the_weather_is_kept_and_taken_back(home: Orchard) -> None:
    hot = days("2026-01-01", 120, 1.0)
    hot.loc[60, "tmax_c"] = 48.0
    with home.writing() as connection, batch(connection, "fetch", ADA) as made:
        save_source(made, 1, "near", "stations")
        save_days(made, 1, "near", hot)
        save_source(made, 1, "far", "model")
    before = state(home)
    trust_weather(home, "home", ["far"], ADA)
    assert newest(home).note == "Home: far before near (was: near before far)"
    assert newest(home).counts == (Counts("weather_sources", 0, 1, 0),)
    confirm_weather(home, "Home", [date(2026, 3, 2)], signed=ADA)
    assert newest(home).note.startswith("Home: near 2026-03-02 maximum 48 °C (")
    assert newest(home).counts == (Counts("weather", 0, 1, 0),)
    choose_gap_rules(home, ["none"], signed=BEN)
    choose_gap_rules(home, ["interpolate", "climate"], "Home", signed=BEN)
    entry = newest(home)
    assert (entry.who, entry.note) == ("Ben", "interpolate, then climate (was: Home: none)")
    choose_gap_rules(home, [], signed=BEN)
    assert newest(home).counts == (Counts("weather_gaps", 0, 0, 1),)
    last = newest(home)
    choose_gap_rules(home, [], signed=BEN)
    assert newest(home) == last
    for _ in range(5):
        undo(home, None, ADA)
    assert state(home) == before


def test_settings_are_changes_like_others(home: Orchard) -> None:
    change_settings(home, {"units": "us", "kept_as": "The Smiths"}, ADA)
    change_settings(home, {"units": "metric"}, BEN)
    entry = newest(home)
    assert (entry.action, entry.who, entry.note) == ("setting", "Ben", "units: us → metric")
    change_settings(home, {"units": "metric"}, BEN)
    assert newest(home) == entry
    undo(home, None, ADA)
    assert read_settings(home) == Settings(units="us", kept_as="The Smiths")
    undo(home, None, ADA)
    assert read_settings(home) == Settings()
    told = [(c.name, c.before, c.after, c.who) for c in setting_changes(home)]
    assert told == [
        ("kept_as", "The Smiths", "", "Ada"), ("units", "us", "metric", "Ada"),
        ("units", "metric", "us", "Ada"), ("units", "us", "metric", "Ben"),
        ("kept_as", "", "The Smiths", "Ada"), ("units", "metric", "us", "Ada"),
    ]  # fmt: skip
    assert read_about(home) == About()


def test_what_an_orchard_says_of_itself_is_a_change_like_others(home: Orchard) -> None:
    before = newest(home)
    write_about(home, About(name="Ours", note="north slope"), ADA)
    write_about(home, About(name="Ours", note="north slope"), BEN)
    entry = newest(home)
    assert (entry.number, entry.who) == (before.number + 1, "Ada")
    assert (entry.action, entry.note) == ("setting", "name: none → Ours; note: none → north slope")
    write_about(home, About(name="Theirs", demo_as_of=TODAY), BEN)
    entry = newest(home)
    assert (
        entry.note == f"name: Ours → Theirs; note: north slope → none; demo_as_of: none → {TODAY}"
    )
    assert entry.counts == (Counts("settings", 1, 1, 1),)
    assert entry.counts[0].told == (0, 3, 0), "a setting is never new or gone, only another"
    name = next(each for each in read_change(home, entry.number, 9) if each.record == "name")
    assert (name.before, name.after) == ({"value": "Ours"}, {"value": "Theirs"})
    undo(home, None, ADA)
    assert read_about(home) == About(name="Ours", note="north slope")
    undo(home, None, ADA)
    assert read_about(home) == About()
    assert setting_changes(home) == []
    assert read_settings(home) == Settings()


def test_settings_chosen_before_they_had_a_history_are_told(home: Orchard) -> None:
    """Versions before 0012 kept who chose what in a list of the settings' own."""
    chosen = {"name": "units", "before": "metric", "after": "us", "who": "Zoe", "at": None}
    with home.writing() as connection:
        rows = [
            {"name": "units", "value": "us"},
            {"name": "changes_of_settings", "value": json.dumps([chosen])},
        ]
        connection.execute(insert(SETTINGS), rows)
    change_settings(home, {"units": "metric"}, ADA)
    assert [(c.before, c.after, c.who) for c in setting_changes(home)] == [
        ("us", "metric", "Ada"),
        ("metric", "us", "Zoe"),
    ]


def test_a_folder_with_weather_is_taken_back_whole(home: Orchard, tmp_path: Path) -> None:
    """Into the database that the folder came from; its sites go with all that hung on them."""
    fetched(home, 5.0)
    change_settings(home, {"units": "us"}, ADA)
    choose_gap_rules(home, ["none"], signed=ADA)
    export_folder(home, tmp_path / "out")
    for number in range(newest(home).number, 0, -1):
        undo(home, number, ADA)
    empty = state(home)
    assert not any(empty.values())
    report = import_folder(home, tmp_path / "out", today=TODAY, signed=BEN)
    full = state(home)
    assert {kind: len(full[kind]) for kind in ("sites", "weather", "weather_hours")} == {
        "sites": 1, "weather": 30, "weather_hours": 3,
    }  # fmt: skip
    back = undo(home, report.batch, ADA).by
    assert state(home) == empty
    undo(home, back.number, ADA)
    assert state(home) == full


def test_forty_years_of_days_take_little_room_in_the_history(home: Orchard) -> None:
    """What was before and after of every day, and yet less than the days themselves."""
    with home.writing() as connection, batch(connection, "fetch", ADA) as made:
        save_source(made, 1, "near", "stations")
        rng = np.random.default_rng(1)
        many = days("1986-01-01", 14_610, 5.0)
        many["tmin_c"] = rng.normal(5, 8, len(many)).round(1)
        many["tmax_c"] = many["tmin_c"] + rng.gamma(4, 2, len(many)).round(1)
        save_days(made, 1, "near", many)
    with home.reading() as connection:
        (packed,) = connection.execute(select(PACKED_CHANGES.c.packed)).scalars()
        stored = len(connection.execute(select(TABLES["weather"].c.id)).all())
    assert stored == 14_610
    assert len(packed) < 40 * stored
