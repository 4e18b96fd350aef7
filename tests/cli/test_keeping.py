"""`harvest import`: what it says of a file, and how it ends."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from harvest.store.orchard import open_orchard
from harvest.store.reading import count_kinds
from tests.cli.conftest import Harvest
from tests.orchards import plant, write_csv


@pytest.fixture
def planted(sqlite_address: str, tmp_path: Path) -> str:
    plant(open_orchard(sqlite_address), tmp_path)
    return sqlite_address


PICKS = [
    {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": "12.5"},
    {"tree": "Aple 1", "date": "2025-09-02", "weight_kg": "12.5"},
    {"tree": "Apple 1", "date": "2025-09-03", "weight_kg": "-2"},
]


def test_a_file_whose_every_row_goes_in_ends_with_0(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    path = write_csv(tmp_path / "picks.csv", PICKS[:1])
    said = harvest("--orchard", planted, "import", "picks", path)
    assert (said.code, said.err) == (0, "")
    assert said.out == (
        "picks.csv: 1 row read, 1 new, 0 same, 0 changed, 0 refused.\n"
        "To take it back: harvest undo --import 3.\n"
    )
    again = harvest("--orchard", planted, "import", "picks", path)
    assert again.code == 0
    assert "0 new, 1 same, 0 changed, 0 refused" in again.out


def test_refused_rows_are_told_one_a_line_and_end_with_1(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    path = write_csv(tmp_path / "picks.csv", PICKS)
    said = harvest("--orchard", planted, "import", "picks", path)
    assert said.code == 1
    assert "3 rows read, 1 new, 0 same, 0 changed, 2 refused." in said.out
    first, second = said.err.splitlines()
    assert first == (
        "picks.csv, line 3, column tree: refused 'Aple 1': no tree of this name is on record. "
        "Did you mean 'Apple 1' or 'Apple 2'?"
    )
    assert second.startswith("picks.csv, line 4, column weight_kg: refused '-2': weight picked")
    assert count_kinds(open_orchard(planted))["picks"] == 1


def test_the_report_as_json_and_as_csv(harvest: Harvest, planted: str, tmp_path: Path) -> None:
    path = write_csv(tmp_path / "picks.csv", PICKS)
    command = ("--orchard", planted, "import", "picks", path, "--dry-run", "--format")
    said = harvest(*command, "json")
    assert (said.code, said.err) == (1, "")
    (report,) = json.loads(said.out)
    counts = {name: report[name] for name in ("read", "new", "same", "changed")}
    assert counts == {"read": 3, "new": 1, "same": 0, "changed": 0}
    assert report["dry_run"] is True
    assert [refusal["line"] for refusal in report["refused"]] == [3, 4]
    assert set(report["refused"][0]) == {"line", "column", "value", "reason", "todo", "rule"}
    said = harvest(*command, "csv")
    assert said.code == 1
    rows = list(csv.DictReader(io.StringIO(said.out)))
    assert [(row["line"], row["column"], row["value"]) for row in rows] == [
        ("3", "tree", "Aple 1"),
        ("4", "weight_kg", "-2"),
    ]
    assert count_kinds(open_orchard(planted))["picks"] == 0


def test_a_dry_run_tells_what_looks_wrong_too(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    path = write_csv(tmp_path / "picks.csv", [PICKS[0], {**PICKS[0], "date": "2025-08-20",
                                                        "weight_kg": 130}])  # fmt: skip
    command = ("--orchard", planted, "import", "picks", path)
    (row,) = csv.DictReader(io.StringIO(harvest(*command, "--dry-run", "--format", "csv").out))
    assert (row["rule"], row["outcome"]) == ("ten times the tree's best", "kept")
    for words in (("--dry-run",), ()):
        said = harvest(*command, *words)
        assert said.code == 0
        assert said.err.startswith("picks.csv, line 3: kept, but look 'Apple 1': 130 kg, the tree")


def test_a_dry_run_says_would(harvest: Harvest, planted: str, tmp_path: Path) -> None:
    path = write_csv(tmp_path / "picks.csv", PICKS[:1])
    said = harvest("--orchard", planted, "import", "picks", path, "--dry-run")
    assert "would be 1 new" in said.out
    assert count_kinds(open_orchard(planted))["picks"] == 0


def test_many_refused_rows_are_cut_and_the_way_to_all_is_told(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    rows = [PICKS[1] | {"date": f"2025-09-{n:02d}"} for n in range(1, 31)]
    path = write_csv(tmp_path / "picks.csv", rows)
    said = harvest("--orchard", planted, "import", "picks", path)
    lines = said.err.splitlines()
    assert len(lines) == 21
    assert lines[-1] == "… and 10 more (refused); --format csv lists all."


def test_what_was_left_out_and_how_the_text_was_read_are_told(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    path = tmp_path / "picks.csv"
    path.write_bytes("Tree;Date;kg;Wetter\nApple 1;2025-09-01;1,5;schön\n".encode("cp1252"))
    said = harvest("--orchard", planted, "import", "picks", path)
    assert said.code == 0
    assert "Read as cp1252; if accents look wrong, save the file as UTF-8." in said.out
    assert "left out: Wetter." in said.out


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("none.csv", None, "none.csv: a file must be there to read; given: no such file."),
        ("empty.csv", "", "a table must hold a header row and records; given: an empty file."),
        ("other.csv", "a,b\n1,2\n", "other.csv, header row: a picks file needs the columns tree,"),
        ("open.csv", 'tree,date,weight_kg\n"A,1,2\n', "line 2: every row must be readable as CSV"),
    ],
)
def test_a_file_that_is_no_table_ends_with_1_and_one_line(
    harvest: Harvest, planted: str, tmp_path: Path, name: str, text: str | None, message: str
) -> None:
    if text is not None:
        (tmp_path / name).write_text(text)
    said = harvest("--orchard", planted, "import", "picks", tmp_path / name)
    assert (said.code, said.out) == (1, "")
    assert message in said.err
    assert said.err.count("\n") == 1


def test_a_record_may_be_dated_today_and_not_in_two_days(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    today = datetime.now(UTC).date()
    for day, code in ((today, 0), (today + timedelta(days=2), 1)):
        row = {"tree": "Apple 1", "date": str(day), "bbch": 0}
        path = write_csv(tmp_path / "stages.csv", [row])
        assert harvest("--orchard", planted, "import", "stages", path).code == code


def test_records_that_hold_commands_for_a_terminal_are_shown_without_them(
    harvest: Harvest, planted: str, tmp_path: Path
) -> None:
    path = tmp_path / "picks.csv"
    path.write_text("tree,date,weight_kg,\x1b[31mred\n\x1b[2JA,2025-09-01,1,x\n")
    said = harvest("--orchard", planted, "import", "picks", path)
    assert said.code == 1
    assert "\x1b" not in said.out + said.err
    assert "�[31mred" in said.out
