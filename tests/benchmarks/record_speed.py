"""How long keeping records takes: a large import, and questions about one tree among many.

Too slow for every run, so asked for by name: `pytest tests/benchmarks/record_speed.py`.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvest.service_records import judge
from harvest.store.browsing import Asked, Condition, browse_records
from harvest.store.editing import show_records
from harvest.store.finding import find_record
from harvest.store.history import UNSIGNED, batch
from harvest.store.history_reading import read_tree_history
from harvest.store.importing import import_file
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import read_tree_records
from tests import postgres
from tests.orchards import TODAY, put

Benchmark = Callable[..., object]
TREES = 500


def stand(orchard: Orchard, folder: Path, trees: int = TREES) -> None:
    put(orchard, "sites", [{"site": "Home", "latitude": 51, "longitude": -1}], folder)
    rows = [{"tree": f"T{n}", "site": "Home", "species": "apple", "cultivar": "Gala",
             "planted": "1990-01-01"} for n in range(trees)]  # fmt: skip
    put(orchard, "trees", rows, folder)


def days(number: int) -> list[str]:
    """Ten picking days in each season from 1995 on."""
    n = np.arange(number)
    days = np.datetime64("1995-08-01") + n // 10 * 365 + n % 10 * 3
    return [str(day) for day in np.datetime_as_string(days)]


@pytest.mark.benchmark(max_time=0, min_rounds=1)
def test_a_hundred_thousand_picks(orchard: Orchard, tmp_path: Path, benchmark: Benchmark) -> None:
    """Wanted: 6 s on SQLite, 10 s on PostgreSQL, with checks, rules and history."""
    stand(orchard, tmp_path)
    each = 100_000 // TREES
    frame = pd.DataFrame({"tree": np.repeat([f"T{n}" for n in range(TREES)], each),
                          "date": days(each) * TREES, "weight_kg": 1.5})  # fmt: skip
    frame.to_csv(tmp_path / "picks.csv", index=False)

    def take() -> int:
        path = tmp_path / "picks.csv"
        return import_file(orchard, "picks", path, today=TODAY, judge=judge).new

    assert benchmark.pedantic(take, rounds=1) == 100_000  # type: ignore[attr-defined]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def address_of_many(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    if request.param == "sqlite":
        path = tmp_path_factory.mktemp("million") / "o.sqlite"
        yield str(shutil.copyfile(request.getfixturevalue("sqlite_template"), path))
        return
    folder = request.getfixturevalue("postgres_folder")
    template = request.getfixturevalue("postgres_template")
    with postgres.fresh_database(folder, template) as address:
        yield address


@pytest.fixture(scope="module")
def million(address_of_many: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Orchard]:
    """An orchard of 2000 trees with 500 picks each."""
    orchard = open_orchard(address_of_many)
    stand(orchard, tmp_path_factory.mktemp("stand"), 2000)
    with orchard.writing() as connection, batch(connection, "import", UNSIGNED) as made:
        for first in range(1, 2001, 200):
            ids = np.repeat(np.arange(first, first + 200), 500).tolist()
            columns = {"tree_id": ids, "date": days(500) * 200, "weight_kg": [1.5] * len(ids)}
            made.insert("picks", columns)
    yield orchard
    orchard.engine.dispose()


def test_opening_a_large_orchard(
    million: Orchard, address_of_many: str, benchmark: Benchmark
) -> None:
    """Wanted: 50 ms."""

    def opened() -> bool:
        open_orchard(address_of_many).engine.dispose()
        return True

    assert benchmark(opened)


def test_the_history_of_one_tree_among_many(million: Orchard, benchmark: Benchmark) -> None:
    """Wanted: 100 ms, as all below."""
    assert len(benchmark(read_tree_history, million, "T77")) == 501  # type: ignore[arg-type]


def test_one_pick_of_one_tree_by_a_part_of_its_name(million: Orchard, benchmark: Benchmark) -> None:
    def find() -> int:
        return find_record(million, "pick", tree="t77", day=date(1995, 8, 1)).id

    assert benchmark(find)


@pytest.mark.parametrize("sort", ["equals", "contains"])
def test_a_page_of_one_trees_picks(million: Orchard, benchmark: Benchmark, sort: str) -> None:
    asked = Asked("picks", conditions={"tree": Condition(sort, "T1999")})

    def leaf() -> int:
        return browse_records(million, asked, 0, 100).total

    assert benchmark(leaf) == 500


def test_the_picks_of_one_tree_among_many(million: Orchard, benchmark: Benchmark) -> None:
    assert len(benchmark(show_records, million, "picks", "T77")) == 500  # type: ignore[arg-type]


def test_all_records_of_one_tree_among_many(million: Orchard, benchmark: Benchmark) -> None:
    def read() -> int:
        with million.reading() as connection:
            return len(read_tree_records(connection, date(2050, 1, 1), [78]).picks)

    assert benchmark(read) == 500
