"""How long forecasts take, in processor time, so that what else the machine does counts less.

    HARVEST_BENCHMARKS=full pytest tests/benchmarks/test_forecast_speed.py -n 0 -s

also measures the backtest of fifteen seasons of a hundred cultivars.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from harvest import service
from harvest.phenology.backtest import backtest
from harvest.phenology.forecast import forecast
from harvest.store.importing import import_file
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons
from tests.benchmarks.large_orchard import large_orchard
from tests.phenology.forward import cherry_frames
from tests.phenology.made_records import forecast_at, made_records

FULL = os.environ.get("HARVEST_BENCHMARKS") == "full"
# On a machine that does other things besides, a limit is only a guard against the grossly slow.
SLACK = 1.0 if FULL else 3.0
TODAY, END = date(2024, 5, 20), date(2024, 12, 31)


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """150 trees with twenty seasons each and twenty years of weather, in a database."""
    folder = tmp_path_factory.mktemp("large")
    path = str(folder / "orchard.sqlite")
    orchard = service.create_orchard(path)
    for kind, rows in large_orchard(150, 1).items():
        file = folder / f"{kind}.csv"
        rows.to_csv(file, index=False)
        assert import_file(orchard, kind, file, today=END).new == len(rows)
    orchard.engine.dispose()
    return path


@pytest.fixture
def orchard(address: str) -> Iterator[service.Orchard]:
    opened = service.open_orchard(address)
    yield opened
    opened.engine.dispose()


def test_a_running_program_forecasts_150_trees_in_07_s(orchard: service.Orchard) -> None:
    assert len(service.forecast(orchard, TODAY)) == 450
    times = []
    for _ in range(3):
        begin = time.process_time()
        service.forecast(orchard, TODAY)
        times.append(time.process_time() - begin)
    print(f"\n150 trees, warm: {min(times):.2f} s")
    assert min(times) < 0.7 * SLACK


def test_a_cold_program_forecasts_150_trees_in_3_s(address: str) -> None:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [str(Path(sys.executable).with_name("harvest")), "--orchard", address]
    subprocess.run(
        [*command, "forecast", "--as-of", str(TODAY), "--format", "json"],
        check=True,
        capture_output=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"\n150 trees, cold: {spent:.2f} s")
    assert spent < 3.0 * SLACK


def test_5000_trees_on_20_sites_in_30_s() -> None:
    records = made_records(TODAY, large_orchard(5000, 20))
    begin = time.process_time()
    assert len(forecast_at(records, TODAY)) == 15_000
    spent = time.process_time() - begin
    print(f"\n5,000 trees on 20 sites: {spent:.1f} s")
    assert spent < 30.0 * SLACK


def test_time_grows_no_faster_than_the_trees() -> None:
    """Ten times the trees take at most ten times as long (about three times, in fact)."""
    spent = []
    for trees in (200, 2000):
        records = made_records(TODAY, large_orchard(trees, 4))
        traits = tree_traits(records)
        known = with_seasons(records, traits)
        forecast(known, traits)
        begin = time.process_time()
        forecast(known, traits)
        spent.append(time.process_time() - begin)
    assert spent[1] < 15 * spent[0]


def test_a_backtest_of_a_hundred_cultivars_in_60_s() -> None:
    last = date(2016, 1, 1) if FULL else date(2005, 1, 1)
    records = made_records(last, cherry_frames(["balandran"]))
    traits = tree_traits(records)
    known = with_seasons(records, traits)
    begin = time.process_time()
    found = backtest(known, traits, "ripe")
    spent = time.process_time() - begin
    print(f"\nBacktest to {last.year}, {len(found.cases)} forecasts: {spent:.1f} s")
    assert spent < 60.0
