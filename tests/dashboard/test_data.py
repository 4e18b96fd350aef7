import dataclasses
from collections.abc import Callable
from datetime import date
from pathlib import Path
from threading import Thread
from typing import Any

import pandas as pd
import pytest

from dashboard.source import Source
from harvest import service, service_known
from harvest.service_known import Known, known_on
from harvest.store.orchard import Orchard
from harvest.store.reading import read_tables
from tests.dashboard.orchards import take_in

DAY = date(2026, 8, 12)
SITES = [("site", "latitude", "longitude"), ("Hill", 47, 16)]
TREES = [
    ("tree", "site", "species", "cultivar", "planted"),
    ("1", "Hill", "apple", "Gala", "2020-03-14"),
]


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """Counts how often the forecast is really computed."""
    calls = {"forecast": 0}
    real: Callable[..., Any] = service.forecast

    def forecast(orchard: Orchard, as_of: date, *given: Any, known: Known | None = None) -> Any:
        calls["forecast"] += 1
        return real(orchard, as_of, *given, known=known)

    monkeypatch.setattr(service, "forecast", forecast)
    return calls


def test_a_forecast_is_computed_once_per_date(demo: Orchard, counted: dict[str, int]) -> None:
    source = Source(demo, lambda: DAY)
    first = source.forecast(DAY)
    assert source.forecast(DAY) is first
    assert counted["forecast"] == 1
    source.forecast(date(2026, 8, 5))
    assert counted["forecast"] == 2


def test_two_at_once_share_one_computation(demo: Orchard, counted: dict[str, int]) -> None:
    source = Source(demo, lambda: DAY)
    found: list[Any] = []
    threads = [Thread(target=lambda: found.append(source.forecast(DAY))) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counted["forecast"] == 1
    assert all(each is found[0] for each in found)


def test_a_change_in_the_database_is_seen_at_once(orchard: Orchard, tmp_path: Path) -> None:
    source = Source(orchard, lambda: DAY)
    assert source.overview(DAY).trees.empty
    take_in(orchard, tmp_path, "sites", SITES)
    assert list(source.overview(DAY).sites["site"]) == ["Hill"]
    take_in(orchard, tmp_path, "trees", TREES)
    assert list(source.overview(DAY).trees["tree"]) == ["1"]


def test_reading_alone_changes_no_stamp(orchard: Orchard, tmp_path: Path) -> None:
    take_in(orchard, tmp_path, "sites", SITES)
    before = orchard.stamp()
    service.overview(orchard, DAY)
    assert orchard.stamp() == before
    take_in(orchard, tmp_path, "trees", TREES)
    assert orchard.stamp() != before


def test_only_so_many_results_are_kept(demo: Orchard, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dashboard.source.KEPT", 2)
    source = Source(demo, lambda: DAY)
    first = source.overview(DAY)
    source.overview(date(2026, 8, 11))
    source.overview(date(2026, 8, 10))
    assert source.overview(DAY) is not first


def test_the_home_date_is_the_one_given_else_the_demos_else_today(
    demo: Orchard, sqlite_address: str
) -> None:
    day, today = date(2026, 1, 2), date(2026, 9, 1)
    assert Source(demo, lambda: today, day).home_date() == day
    assert Source(demo, lambda: today).home_date() == date(2026, 8, 12)
    assert Source(demo, lambda: today).latest_date() == today
    empty = service.open_orchard(sqlite_address)
    assert Source(empty, lambda: today).home_date() == today


def test_the_pages_of_a_date_share_one_forecast(
    demo: Orchard, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []
    real = service_known.outlook

    def outlook(*args: Any) -> Any:
        made.append(args[0].as_of)
        return real(*args)

    monkeypatch.setattr(service_known, "outlook", outlook)
    source = Source(demo, lambda: DAY)
    source.week(DAY)
    source.withholding(DAY)
    source.forecast(DAY)
    assert made == [DAY]


def test_records_are_read_once_for_all_dates(
    demo: Orchard, monkeypatch: pytest.MonkeyPatch
) -> None:
    reads = []
    monkeypatch.setattr(
        "harvest.store.latest.read_tables",
        lambda orchard, **known: reads.append(1) or read_tables(orchard, **known),
    )
    source = Source(demo, lambda: DAY)
    for months in range(1, 8):
        source.overview(date(2026, months, 1))
    assert len(reads) == 1


@pytest.mark.parametrize("day", [date(2018, 5, 3), date(2024, 2, 29), DAY])
def test_what_is_known_of_tables_read_before_is_what_would_be_read_then(
    demo: Orchard, day: date
) -> None:
    anew, kept = known_on(demo, day).records, known_on(demo, day, read_tables(demo)).records
    for field in dataclasses.fields(anew):
        one, other = getattr(anew, field.name), getattr(kept, field.name)
        if isinstance(one, pd.DataFrame):
            pd.testing.assert_frame_equal(one, other)
        elif not callable(one):
            assert one == other, field.name


def test_prepared_the_first_visitor_finds_the_work_done(
    demo: Orchard, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = Source(demo, lambda: DAY)
    source.prepare()
    monkeypatch.setattr("dashboard.source.known_on", lambda *_: pytest.fail("worked out once more"))
    assert source.week(DAY)
    assert source.withholding(DAY)
    assert source.forecast(DAY)
    assert source.overview(DAY).demo_as_of == DAY
