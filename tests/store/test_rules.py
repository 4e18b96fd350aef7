"""Records that look wrong though they can be right: every rule, and what does not break it."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd
import pytest

from harvest.errors import InputError
from harvest.records import Records
from harvest.service_records import judge, open_doubts_of
from harvest.store.doubting import dismiss
from harvest.store.history import Signature
from harvest.store.importing import ImportReport, import_file
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import read_tree_records
from harvest.store.rules import DOUBTS, RULES
from harvest.store.undoing import undo
from tests.orchards import TODAY, Row, plant, put, write_csv

ADA = Signature("Ada", datetime(2026, 8, 12, 6, 30, tzinfo=UTC))

# What breaks each rule: records by kind, the tree and date in doubt, and what is said.
# From memory: at 51 degrees north apples bloom about the end of April and ripen in 90 to 190 days,
# at 34 degrees south peaches bloom in August and September.
Case = tuple[str, dict[str, list[Row]], str, str, str]
BLOOM = {"tree": "Apple 1", "date": "2025-04-25", "bbch": 65}
BROKEN: list[Case] = [
    ("ripe before bloom", {"stages": [BLOOM, {**BLOOM, "date": "2025-03-20", "bbch": 87}]},
     "Apple 1", "2025-03-20", "ripening before the full bloom of 2025-04-25"),
    ("pick before bloom", {"stages": [BLOOM],
     "picks": [{"tree": "Apple 1", "date": "2025-04-01", "weight_kg": 3}]},
     "Apple 1", "2025-04-01", "picked before the full bloom of 2025-04-25"),
    # Where no bloom is logged, the usual one of its kind counts: here that of mid-Europe.
    ("pick before bloom", {"picks": [{"tree": "Apple 1", "date": "2025-03-01", "weight_kg": 3}]},
     "Apple 1", "2025-03-01", "picked before the usual full bloom of 2025-0"),
    ("pick too soon after bloom", {"stages": [BLOOM],
     "picks": [{"tree": "Apple 1", "date": "2025-05-05", "weight_kg": 3}]},
     "Apple 1", "2025-05-05", "picked 10 days after full bloom"),
    ("pick on a stripped tree", {
     "thinnings": [{"tree": "Apple 1", "date": "2025-06-01", "action": "strip"}],
     "picks": [{"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 3}]},
     "Apple 1", "2025-09-01", "all fruit was stripped on 2025-06-01"),
    ("bloom in the wrong half-year", {"stages": [{**BLOOM, "date": "2024-10-20"}]},
     "Apple 1", "2024-10-20", "wrong half of the year for a tree north"),
    ("bloom in the wrong half-year", {"stages": [{**BLOOM, "tree": "Peach"}]},
     "Peach", "2025-04-25", "wrong half of the year for a tree south"),
    ("ten times the tree's best", {"picks": [
        {"tree": "Apple 1", "date": "2024-09-01", "weight_kg": 12},
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 124}]},
     "Apple 1", "2025-09-01", "124 kg, the tree's best other pick is 12 kg"),
    ("the same pick twice", {"picks": [
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 12.4, "pass": ""},
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 12.4, "pass": 2}]},
     "Apple 1", "2025-09-01", "the same as the pick of 2025-09-01"),
    ("the same pick twice", {"picks": [
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 12.4},
        {"tree": "Apple 1", "date": "2025-09-02", "weight_kg": 12.4}]},
     "Apple 1", "2025-09-02", "the same as the pick of 2025-09-01"),
    ("a girth that shrank", {"girths": [
        {"tree": "Apple 1", "date": "2024-11-01", "girth_cm": 14.5},
        {"tree": "Apple 1", "date": "2025-11-01", "girth_cm": 14}]},
     "Apple 1", "2025-11-01", "14 cm, on 2024-11-01 it was 14.5 cm"),
    ("picked after removal", {
     "picks": [{"tree": "Apple 2", "date": "2025-09-01", "weight_kg": 3}],
     "trees": [{"tree": "Apple 2", "site": "Home", "species": "apple", "cultivar": "Gala",
                "planted": "2015-01-15", "removed": "2025-03-01"}]},
     "Apple 2", "2025-09-01", "removed on 2025-03-01"),
]  # fmt: skip

# What is right, rule by rule.
SOUND: list[dict[str, list[Row]]] = [
    {"stages": [BLOOM, {**BLOOM, "date": "2025-08-30", "bbch": 87}],
     "picks": [{"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 3}]},
    # A mandarin hangs over New Year beside the buds of the next bloom.
    {"stages": [{"tree": "Mandarin", "date": "2024-04-20", "bbch": 65},
                {"tree": "Mandarin", "date": "2025-04-20", "bbch": 65}],
     "picks": [{"tree": "Mandarin", "date": "2025-01-20", "weight_kg": 3}]},
    {"stages": [{"tree": "Loquat", "date": "2024-11-20", "bbch": 65}]},
    {"stages": [{"tree": "Peach", "date": "2024-09-01", "bbch": 65}]},
    # Between the tropics flowers have no half of the year of their own.
    {"sites": [{"site": "Highland", "latitude": 0.5, "longitude": 37.2}],
     "trees": [{"tree": "High apple", "site": "Highland", "species": "apple", "cultivar": "Anna",
                "planted": "2015-01-15"}],
     "stages": [{"tree": "High apple", "date": "2024-09-12", "bbch": 65}]},
    {"thinnings": [{"tree": "Apple 1", "date": "2024-06-01", "action": "strip"},
                   {"tree": "Apple 2", "date": "2025-06-01", "action": "strip"}],
     "picks": [{"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 3},
               {"tree": "Apple 2", "date": "2025-09-01", "weight_kg": 0}]},
    {"picks": [{"tree": "Apple 1", "date": "2024-09-01", "weight_kg": 12},
               {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 119},
               {"tree": "Apple 2", "date": "2025-09-01", "weight_kg": 0.1}]},
    {"picks": [{"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 12.4, "fruit_count": 80},
               {"tree": "Apple 1", "date": "2025-09-02", "weight_kg": 12.4, "fruit_count": 81},
               {"tree": "Apple 1", "date": "2025-09-09", "weight_kg": 12.4, "fruit_count": 80},
               {"tree": "Apple 2", "date": "2025-09-01", "weight_kg": 12.4, "fruit_count": 80}]},
    {"girths": [{"tree": "Apple 1", "date": "2024-11-01", "girth_cm": 14.5},
                {"tree": "Apple 2", "date": "2025-11-01", "girth_cm": 12}]},
    {"picks": [{"tree": "Apple 2", "date": "2025-09-01", "weight_kg": 3}],
     "trees": [{"tree": "Apple 2", "site": "Home", "species": "apple", "cultivar": "Gala",
                "planted": "2015-01-15", "removed": "2025-09-01"}]},
    # November apples, and a mandarin over New Year, where no bloom is logged.
    {"picks": [{"tree": "Apple 1", "date": "2024-11-20", "weight_kg": 3},
               {"tree": "Mandarin", "date": "2025-01-20", "weight_kg": 3},
               {"tree": "Peach", "date": "2025-02-10", "weight_kg": 3}]},
]  # fmt: skip


@pytest.fixture
def planted(orchard: Orchard, tmp_path: Path) -> Orchard:
    plant(orchard, tmp_path)
    return orchard


@pytest.fixture
def on_sqlite(sqlite_address: str, tmp_path: Path) -> Orchard:
    opened = open_orchard(sqlite_address)
    plant(opened, tmp_path)
    return opened


def fill(orchard: Orchard, records: dict[str, list[Row]], folder: Path) -> None:
    for kind, rows in records.items():
        assert put(orchard, kind, rows, folder).refused == ()


def take(
    orchard: Orchard, kind: str, rows: list[Row], folder: Path, dry_run: bool = False
) -> ImportReport:
    path = write_csv(folder / f"{kind}.csv", rows)
    return import_file(orchard, kind, path, today=TODAY, signed=ADA, judge=judge, dry_run=dry_run)


def test_every_rule_has_a_case() -> None:
    assert {case[0] for case in BROKEN} == set(RULES)


@pytest.mark.parametrize(("rule", "records", "tree", "day", "said"), BROKEN)
def test_a_rule_that_is_broken(
    on_sqlite: Orchard,
    tmp_path: Path,
    rule: str,
    records: dict[str, list[Row]],
    tree: str,
    day: str,
    said: str,
) -> None:
    fill(on_sqlite, records, tmp_path)
    (doubt,) = open_doubts_of(on_sqlite, TODAY)
    assert (doubt.rule, doubt.tree, str(doubt.date)) == (rule, tree, day)
    assert said in doubt.said


@pytest.mark.parametrize("records", SOUND, ids=range(len(SOUND)))
def test_what_is_right_is_not_doubted(
    on_sqlite: Orchard, tmp_path: Path, records: dict[str, list[Row]]
) -> None:
    fill(on_sqlite, records, tmp_path)
    assert open_doubts_of(on_sqlite, TODAY) == []


def test_the_demo_orchard_is_hardly_doubted(demo_template: Path) -> None:
    orchard = open_orchard(str(demo_template))
    found = open_doubts_of(orchard, date(2026, 8, 12))
    with orchard.reading() as connection:
        records = read_tree_records(connection, date(2026, 8, 12))
    assert len(found) <= 0.01 * (len(records.picks) + len(records.stages))


def test_an_empty_orchard_is_not_doubted(planted: Orchard) -> None:
    with planted.reading() as connection:
        none: Records = read_tree_records(connection, TODAY)
    found = judge(none)
    assert isinstance(found, pd.DataFrame)
    assert (list(found.columns), len(found)) == (list(DOUBTS), 0)


def test_an_orchard_without_trees_is_not_doubted(sqlite_address: str) -> None:
    assert open_doubts_of(open_orchard(sqlite_address), TODAY) == []


def test_an_import_warns_of_the_line_and_keeps_the_row(planted: Orchard, tmp_path: Path) -> None:
    rows = [{"tree": "apple 1", "date": "2024-09-01", "weight_kg": 12},
            {"tree": "Apple 2", "date": "2024-09-01", "weight_kg": 9},
            {"tree": "APPLE 1", "date": "2025-09-01", "weight_kg": 124}]  # fmt: skip
    trial = take(planted, "picks", rows, tmp_path, dry_run=True)
    assert (trial.new, trial.batch) == (3, None)
    report = take(planted, "picks", rows, tmp_path)
    assert (report.new, report.refused) == (3, ())
    assert report.warnings == trial.warnings
    (warning,) = report.warnings
    assert (warning.line, warning.value) == (4, "APPLE 1")
    assert (warning.column, warning.rule) == ("", "ten times the tree's best")
    assert "best other pick is 12 kg" in warning.reason
    assert take(planted, "picks", rows, tmp_path).warnings == ()
    changed = take(planted, "picks", [{**rows[0], "weight_kg": 12.1}], tmp_path)
    assert (changed.changed, changed.warnings) == (1, ())


def test_what_was_let_stand_is_remembered_until_the_record_changes(
    planted: Orchard, tmp_path: Path
) -> None:
    rows: list[Row] = [{"tree": "Apple 1", "date": "2024-09-01", "weight_kg": 12},
                       {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 124}]  # fmt: skip
    take(planted, "picks", rows, tmp_path)
    (doubt,) = open_doubts_of(planted, TODAY)
    dismissed = dismiss(planted, judge, [doubt.code[:5]], as_of=TODAY, signed=ADA)
    assert dismissed == [doubt]
    assert open_doubts_of(planted, TODAY) == []
    done = undo(planted, None, ADA)
    assert (done.batch.action, done.batch.who) == ("let stand", "Ada")
    assert done.batch.note == f"Apple 1, 2025-09-01: {doubt.rule}"
    assert open_doubts_of(planted, TODAY) == [doubt]
    undo(planted, done.by.number, ADA)
    assert open_doubts_of(planted, TODAY) == []
    take(planted, "picks", [{**rows[1], "weight_kg": 125}], tmp_path)
    (again,) = open_doubts_of(planted, TODAY)
    assert again.code != doubt.code
    with pytest.raises(InputError, match=r"must name one open warning; given: 'x', which names 0"):
        dismiss(planted, judge, ["x"], as_of=TODAY, signed=ADA)
