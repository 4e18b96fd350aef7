"""What forecast, yields and crop-load print: the JSON that programs rely on, CSV, tables."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from contextlib import closing
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Harvest, Said, start

LEVELS = ["0.05", "0.1", "0.25", "0.5", "0.75", "0.9", "0.95"]
EVENTS = {"full bloom", "ripe", "last pick"}
DEMO_DAY = date(2026, 8, 12)
EARLIER = "2025-05-10"
NUMBER = (int, float)
NoneType = type(None)


def rows_of(said: Said) -> list[dict[str, Any]]:
    assert (said.code, said.err) == (0, "")
    rows: list[dict[str, Any]] = json.loads(said.out)
    assert isinstance(rows, list)
    return rows


def csv_of(said: Said) -> list[dict[str, str]]:
    assert (said.code, said.err) == (0, "")
    return list(csv.DictReader(io.StringIO(said.out)))


def day(text: str) -> date:
    assert len(text) == 10
    return date.fromisoformat(text)


def check_types(row: dict[str, Any], contract: dict[str, tuple[type, ...]]) -> None:
    """Every promised key is there with a value of a promised type; more keys may come."""
    assert set(contract) <= set(row)
    for name, types in contract.items():
        assert isinstance(row[name], types), (name, row[name])
        if isinstance(row[name], bool):
            assert bool in types, name


# The forecast

FORECAST = {
    "tree": (str,), "site": (str,), "species": (str,), "cultivar": (str,), "season": (int,),
    "event": (str,), "status": (str,), "observed": (str, NoneType), "quantiles": (dict,),
    "picking_week": (dict, NoneType), "weeks": (list,), "basis": (dict,), "warnings": (list,),
}  # fmt: skip
BASIS = {
    "model": (str,), "seasons": (int,), "trees": (int,), "prior": (str,),
    "weather_to": (str, NoneType), "filled_days": (int,),
}  # fmt: skip


@pytest.fixture(scope="module")
def told(demo_template: Path) -> list[dict[str, Any]]:
    """The forecast on the demo's own day."""
    return rows_of(start("--orchard", demo_template, "forecast", "--format", "json"))


def test_the_forecasts_json_keeps_its_contract(told: list[dict[str, Any]]) -> None:
    assert len(told) > 100
    for row in told:
        check_types(row, FORECAST)
        check_types(row["basis"], BASIS)
        assert row["event"] in EVENTS
        assert row["basis"]["prior"] in {"own record", "cultivar", "species", "none"}
        assert all(isinstance(warning, str) and warning for warning in row["warnings"])
        match row["status"]:
            case "forecast":
                assert_forecast(row)
            case "observed":
                assert day(row["observed"]) <= DEMO_DAY
                assert (row["quantiles"], row["weeks"], row["picking_week"]) == ({}, [], None)
            case "unknown":
                assert row["observed"] is None
                assert (row["quantiles"], row["weeks"], row["picking_week"]) == ({}, [], None)
                assert row["warnings"], "an unknown says why"
            case other:
                raise AssertionError(other)
        if row["basis"]["weather_to"]:
            assert day(row["basis"]["weather_to"]) < DEMO_DAY


def assert_forecast(row: dict[str, Any]) -> None:
    assert row["observed"] is None
    assert list(row["quantiles"]) == LEVELS
    days = [day(text) for text in row["quantiles"].values()]
    assert days == sorted(days)
    starts = [day(week["start"]) for week in row["weeks"]]
    shares = [week["probability"] for week in row["weeks"]]
    assert all(start.weekday() == 0 for start in starts)
    assert all(b - a == timedelta(days=7) for a, b in pairwise(starts))
    assert all(0 <= share <= 1 for share in shares)
    assert 0.95 <= sum(shares) <= 1.001, "weeks hardly worth naming may be left out"
    assert row["picking_week"] == max(row["weeks"], key=lambda week: week["probability"])
    assert set(row["picking_week"]) == {"start", "probability"}
    dated = list(zip(starts, shares, strict=True))
    assert sum(share for monday, share in dated if monday <= days[3]) >= 0.45
    assert sum(share for monday, share in dated if monday > days[3]) <= 0.5


def test_every_standing_tree_has_each_event_once_a_season(
    told: list[dict[str, Any]], demo: Path
) -> None:
    keys = [(row["tree"], row["season"], row["event"]) for row in told]
    assert len(keys) == len(set(keys))
    with closing(sqlite3.connect(demo)) as connection:
        query = "SELECT tree FROM trees WHERE removed IS NULL OR removed > ?"
        standing = {tree for (tree,) in connection.execute(query, [str(DEMO_DAY)])}
    assert {row["tree"] for row in told} == standing
    by_season: dict[tuple[str, int], set[str]] = {}
    for tree, season, event in keys:
        by_season.setdefault((tree, season), set()).add(event)
    assert all(events == EVENTS for events in by_season.values())


def test_each_kind_of_status_is_in_the_demo(told: list[dict[str, Any]]) -> None:
    assert {row["status"] for row in told} == {"forecast", "observed", "unknown"}


def test_the_forecast_as_csv_says_the_same(
    harvest: Harvest, demo: Path, told: list[dict[str, Any]]
) -> None:
    rows = csv_of(harvest("--orchard", demo, "forecast", "--format", "csv"))
    assert len(rows) == len(told)
    for flat, row in zip(rows, told, strict=True):
        for name in ("tree", "site", "species", "cultivar", "event", "status"):
            assert flat[name] == row[name]
        assert flat["season"] == str(row["season"])
        assert flat["observed"] == (row["observed"] or "")
        for level in LEVELS:
            assert flat[f"q{level}"] == row["quantiles"].get(level, "")
        week = row["picking_week"] or {"start": ""}
        assert flat["picking_week"] == week["start"]


def test_the_forecast_as_a_table_names_the_day_and_the_caution(
    harvest: Harvest, demo: Path, told: list[dict[str, Any]]
) -> None:
    said = harvest("--orchard", demo, "forecast")
    assert said.code == 0
    assert "as of Wed 12 Aug 2026" in said.out
    assert "withholding period" in said.out
    for row in told:
        if (row["event"], row["status"]) == ("ripe", "forecast"):
            assert f"{row['tree']} " in said.out
            # What ripens in another year than this one says which.
            middle = date.fromisoformat(row["quantiles"]["0.5"])
            year = "" if middle.year == 2026 else f" {middle.year}"
            assert f" {middle:%a %d %b}{year} " in said.out


@pytest.mark.parametrize(("option", "value"), [("--tree", "q1-02"), ("--site", "saltpan reach")])
def test_one_site_or_one_tree(
    harvest: Harvest, demo: Path, told: list[dict[str, Any]], option: str, value: str
) -> None:
    rows = rows_of(harvest("--orchard", demo, "forecast", "--format", "json", option, value))
    of = option.removeprefix("--")
    assert rows == [row for row in told if row[of].casefold() == value]
    assert 0 < len(rows) < len(told)


def later_removed(demo: Path, as_of: str) -> Path:
    """The same orchard as it was kept on a day: nothing dated later is in it."""
    path = demo.with_name("then.sqlite")
    path.write_bytes(demo.read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        for table in ("stages", "picks", "thinnings", "girths", "sprays", "events"):
            connection.execute(f"DELETE FROM {table} WHERE date > ?", [as_of])
        connection.execute("DELETE FROM weather WHERE date >= ?", [as_of])
        connection.execute("DELETE FROM trees WHERE planted > ?", [as_of])
        connection.execute("UPDATE trees SET removed = NULL WHERE removed > ?", [as_of])
        connection.commit()
    return path


@pytest.mark.parametrize("command", ["forecast", "yields", "crop-load"])
def test_nothing_dated_after_the_as_of_date_changes_a_result(
    harvest: Harvest, demo: Path, command: str
) -> None:
    rest = (command, "--as-of", EARLIER, "--format", "json")
    then = rows_of(harvest("--orchard", later_removed(demo, EARLIER), *rest))
    now = rows_of(harvest("--orchard", demo, *rest))
    assert len(now) > 20
    assert now == then


# Yields and crop load

YIELDS = {
    "tree": (str,), "season": (int,), "weight_kg": (*NUMBER, NoneType),
    "fruit_count": (int, NoneType), "graded_out_kg": (*NUMBER, NoneType), "passes": (int,),
    "first_pick": (str, NoneType), "last_pick": (str, NoneType),
    "kg_per_cm2": (*NUMBER, NoneType), "against_own_mean": (*NUMBER, NoneType), "crop": (str,),
}  # fmt: skip
CROP_LOAD = {
    "tree": (str,), "season": (int,), "leaf": (int,), "tcsa_cm2": (*NUMBER, NoneType),
    "advice": (str,), "fruit_limit": (int, NoneType), "act_by": (str, NoneType),
    "reasons": (list,), "sources": (list,),
}  # fmt: skip


def test_the_yields_json_keeps_its_contract(harvest: Harvest, demo: Path) -> None:
    rows = rows_of(harvest("--orchard", demo, "yields", "--format", "json"))
    assert {row["crop"] for row in rows} == {"picked", "stripped", "none", "not recorded"}
    for row in rows:
        check_types(row, YIELDS)
        assert (row["passes"] > 0) == (row["first_pick"] is not None)
        if row["crop"] == "picked":
            assert row["weight_kg"] > 0
            assert day(row["first_pick"]) <= day(row["last_pick"]) <= DEMO_DAY
        if row["crop"] == "not recorded":
            assert row["weight_kg"] is None, "unknown is not nought"
    flat = csv_of(harvest("--orchard", demo, "yields", "--format", "csv"))
    assert [(r["tree"], r["season"]) for r in flat] == [(r["tree"], str(r["season"])) for r in rows]
    assert [r["weight_kg"] for r in flat] == [
        "" if r["weight_kg"] is None else str(r["weight_kg"]) for r in rows
    ]


def test_yields_add_up_to_the_picks_on_record(harvest: Harvest, demo: Path) -> None:
    rows = rows_of(harvest("--orchard", demo, "yields", "--format", "json"))
    with closing(sqlite3.connect(demo)) as connection:
        (total,) = connection.execute("SELECT sum(weight_kg) FROM picks").fetchone()
    assert sum(row["weight_kg"] or 0 for row in rows) == pytest.approx(total)


def test_yields_of_one_season_and_one_tree(harvest: Harvest, demo: Path) -> None:
    command = ("--orchard", demo, "yields", "--format", "json", "--season", "2024")
    rows = rows_of(harvest(*command))
    assert {row["season"] for row in rows} == {2024}
    (row,) = rows_of(harvest(*command, "--tree", "q1-02"))
    assert row["tree"] == "Q1-02"


def test_the_crop_load_json_keeps_its_contract(harvest: Harvest, demo: Path) -> None:
    command = ("--orchard", demo, "crop-load", "--season", "2026", "--format")
    rows = rows_of(harvest(*command, "json"))
    assert len(rows) > 30
    for row in rows:
        check_types(row, CROP_LOAD)
        assert row["season"] == 2026
        assert row["advice"] in {"strip", "limit", "carry", "unknown"}
        assert row["reasons"]
        assert all(isinstance(text, str) and text for text in row["reasons"] + row["sources"])
        if row["act_by"] is not None:
            day(row["act_by"])
    flat = csv_of(harvest(*command, "csv"))
    assert [(r["tree"], r["advice"]) for r in flat] == [(r["tree"], r["advice"]) for r in rows]
    assert not any(r["reasons"].startswith("[") for r in flat)


@pytest.mark.parametrize("command", ["yields", "crop-load"])
def test_tables_hold_every_row(harvest: Harvest, demo: Path, command: str) -> None:
    rest = (command, "--season", "2026")
    said = harvest("--orchard", demo, *rest)
    rows = rows_of(harvest("--orchard", demo, *rest, "--format", "json"))
    assert said.code == 0
    for row in rows:
        assert row["tree"] in said.out
