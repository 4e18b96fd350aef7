"""An entry sent twice by a page is logged once, also when both copies come at the same time."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest

from harvest.errors import InputError
from harvest.store.editing import show_records
from harvest.store.history import Signature
from harvest.store.history_reading import read_batches
from harvest.store.logging_records import LogReport, Subject, log_records
from harvest.store.orchard import Orchard
from harvest.store.reading import count_kinds, read_kind
from tests.orchards import TODAY, plant

ADA = Signature("Ada", datetime(2026, 8, 12, 6, 30, tzinfo=UTC))


@pytest.fixture
def planted(orchard: Orchard, tmp_path: Path) -> Orchard:
    plant(orchard, tmp_path, [{"tree": "Gate pear", "site": "Home", "species": "pear",
                               "cultivar": "Williams"}])  # fmt: skip
    return orchard


def send(
    orchard: Orchard, entry: str, weight: str = "12.4kg", day: str = "2026-08-10"
) -> LogReport:
    cells = {"date": day, "weight_kg": weight}
    return log_records(
        orchard, "picks", Subject(tree="gate"), cells, today=TODAY, signed=ADA, entry=entry
    )


def test_what_arrived_is_not_logged_again(planted: Orchard) -> None:
    first, again = send(planted, "a-1"), send(planted, "a-1")
    assert (first.new, again.new, again.rows) == (1, 0, ())
    assert again.batch == first.batch
    other = send(planted, "a-2", day="2026-08-11")
    assert other.new == 1
    assert count_kinds(planted)["picks"] == 2
    # What the records are called in the database, for a photo of them: also when it came before.
    assert first.ids == again.ids
    assert set(first.ids + other.ids) == {row.id for row in show_records(planted, "picks")}
    same = send(planted, "a-3")
    assert (same.same, same.batch, same.ids) == (1, None, first.ids)


def test_two_copies_at_the_same_time_are_one(planted: Orchard) -> None:
    with ThreadPoolExecutor(8) as pool:
        reports = list(pool.map(lambda _: send(planted, "a-1"), range(8)))
    assert sum(report.new for report in reports) == 1
    assert len({report.batch for report in reports}) == 1
    assert count_kinds(planted)["picks"] == 1


def test_a_refused_entry_can_be_mended_under_its_id(planted: Orchard) -> None:
    with pytest.raises(InputError) as refused:
        send(planted, "a-1", weight="12.4")
    assert refused.value.where == "weight_kg"
    assert send(planted, "a-1").new == 1


def test_a_site_and_a_tree_are_recorded_like_anything_else(planted: Orchard) -> None:
    site = {"site": "Hill", "latitude": "47.8", "longitude": "16.2"}
    log_records(planted, "sites", Subject(), site, today=TODAY, signed=ADA)
    tree = {"tree": "1", "site": "Hill", "species": "Apples", "cultivar": "own seedling",
            "planted": "2020-11-01"}  # fmt: skip
    report = log_records(planted, "trees", Subject(), tree, today=TODAY, signed=ADA)
    assert report.new == 1
    with planted.reading() as connection:
        rows = read_kind(connection, "trees").to_dict("records")
    assert {row["tree"]: row["species"] for row in rows}["1"] == "apple"
    assert read_batches(planted)[0].note == "trees: 1"
    with pytest.raises(InputError, match="no species of this name") as refused:
        log_records(planted, "trees", Subject(), {**tree, "tree": "2", "species": "aple"},
                    today=TODAY, signed=ADA)  # fmt: skip
    assert refused.value.where.endswith("species")
