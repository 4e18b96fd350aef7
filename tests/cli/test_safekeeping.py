"""`harvest backup`, `restore`, `export`, `import folder`, `check`, `who` as a user starts them."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from harvest.store.orchard import open_orchard
from harvest.store.reading import count_kinds
from tests.cli.conftest import Harvest
from tests.orchards import plant


@pytest.fixture
def planted(sqlite_address: str, tmp_path: Path) -> str:
    plant(open_orchard(sqlite_address), tmp_path)
    return sqlite_address


def number_of_picks(address: str) -> int:
    return count_kinds(open_orchard(address))["picks"]


def log(harvest: Harvest, address: str, day: str = "2026-08-01", weight: str = "3kg") -> None:
    said = harvest("--orchard", address, "log", "pick", "Apple 1", weight, "--date", day)
    assert said.code == 0, said.err


def test_a_copy_by_hand_and_back(harvest: Harvest, planted: str, tmp_path: Path) -> None:
    log(harvest, planted)
    made = harvest("--orchard", planted, "backup", tmp_path / "copy.sqlite")
    assert (made.code, made.err) == (0, "")
    assert f"harvest restore {tmp_path / 'copy.sqlite'}" in made.out
    log(harvest, planted, "2026-08-08")
    back = harvest("--orchard", planted, "restore", tmp_path / "copy.sqlite")
    assert back.code == 0
    assert "What was there before is kept in" in back.out
    assert number_of_picks(planted) == 1


def test_the_first_change_of_a_day_leaves_a_copy_behind(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    folder = tmp_path / "orchard-backups"
    harvest("--orchard", planted, "yields")
    assert not folder.exists()
    log(harvest, planted)
    log(harvest, planted, "2026-08-08")
    (copy,) = folder.iterdir()
    assert copy.name[:8] == f"daily-{datetime.now(UTC):%Y}"[:8]
    assert number_of_picks(str(copy)) == 0
    (told,) = json.loads(harvest("--orchard", planted, "restore", "--format", "json").out)
    assert told["file"] == str(copy)


def test_no_copy_to_list(harvest: Harvest, planted: str) -> None:
    said = harvest("--orchard", planted, "restore")
    assert (said.code, said.out) == (1, "")
    assert "a backup must be named; given: none is kept beside the orchard" in said.err


def test_an_export_rebuilds_the_orchard_elsewhere(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    log(harvest, planted)
    said = harvest("--orchard", planted, "export", tmp_path / "out")
    assert said.code == 0
    assert "picks.csv 1" in said.out
    other = tmp_path / "other.sqlite"
    assert harvest("--orchard", other, "init").code == 0
    taken = harvest("--orchard", other, "import", "folder", tmp_path / "out")
    assert taken.code == 0
    assert "picks.csv: 1 row read, 1 new" in taken.out
    assert number_of_picks(str(other)) == 1
    again = harvest("--orchard", planted, "export", tmp_path / "out")
    assert again.code == 1
    assert "needs a new or empty folder" in again.err


def test_check_lists_what_looks_wrong_until_it_is_let_stand(harvest: Harvest, planted: str) -> None:
    clean = harvest("--orchard", planted, "check")
    assert (clean.code, clean.err) == (0, "")
    assert clean.out == "The database is whole.\nNo record looks wrong.\n"
    log(harvest, planted, "2025-09-01", "3kg")
    log(harvest, planted, "2026-08-01", "33kg")
    (told,) = json.loads(harvest("--orchard", planted, "check", "--format", "json").out)
    (warning,) = told["warnings"]
    assert (told["whole"], warning["rule"]) == (True, "ten times the tree's best")
    said = harvest("--orchard", planted, "check", "--let-stand", warning["code"])
    assert said.code == 0
    assert "No record looks wrong." in said.out
    assert "Stands now: Apple 1, 2026-08-01" in said.err


def test_the_name_that_changes_are_kept_under(
    harvest: Harvest, planted: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("HARVEST_WHO", raising=False)
    assert "Ada Lane (set with 'harvest who')" in harvest("who", "Ada  Lane").out
    log(harvest, planted)
    monkeypatch.setenv("HARVEST_WHO", "Ben")
    assert "Ben (from HARVEST_WHO)" in harvest("who").out
    log(harvest, planted, "2026-08-08")
    rows = json.loads(harvest("--orchard", planted, "history", "--format", "json").out)
    assert [row["who"] for row in rows[:2]] == ["Ben", "Ada Lane"]
    assert harvest("who", "a\x1bb").code == 1
