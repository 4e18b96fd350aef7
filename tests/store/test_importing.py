"""Taking records in, on SQLite and PostgreSQL: new, same, changed, refused; nothing by halves."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import time
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import event, select

from harvest.errors import FileFormatError
from harvest.records import KINDS, fields
from harvest.store.history import UNSIGNED
from harvest.store.importing import BLOCK, ImportReport, import_file
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import count_kinds, read_kind, read_records
from harvest.store.schema import TABLES
from harvest.store.undoing import undo
from tests.orchards import SITES, TODAY, Row, plant, put, write_csv
from tests.store.every_kind import RECORDS, fill, wide


def counts(report: ImportReport) -> tuple[int, int, int, int, int]:
    return report.read, report.new, report.same, report.changed, len(report.refused)


def stored(orchard: Orchard) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, as the database holds it."""
    with orchard.reading() as connection:
        return {
            name: [tuple(row) for row in connection.execute(select(table).order_by(table.c.id))]
            for name, table in TABLES.items()
        }


def kind_of(orchard: Orchard, kind: str) -> pd.DataFrame:
    with orchard.reading() as connection:
        return read_kind(connection, kind)


# Everything goes in, and comes out as it was


def test_every_column_of_every_kind_goes_in_and_comes_out(orchard: Orchard, tmp_path: Path) -> None:
    assert set(RECORDS) == set(KINDS)
    for kind, rows in RECORDS.items():
        full = {field.header for field in fields(kind)} - {"time_of_day"}
        assert set(wide(rows)[0]) == full, kind
        report = put(orchard, kind, wide(rows), tmp_path)
        assert counts(report) == (len(rows), len(rows), 0, 0, 0), (kind, report.refused)
    assert count_kinds(orchard) == {kind: len(rows) for kind, rows in RECORDS.items()}
    for kind, rows in RECORDS.items():
        out = kind_of(orchard, kind).rename(columns={"pass_number": "pass"})
        for row in wide(rows):
            assert sum(_agrees(row, got) for got in out.to_dict("records")) == 1, row


def _agrees(row: Row, got: Mapping[object, object]) -> bool:
    """Whether a record read back says what was written, cell by cell."""
    for name, text in row.items():
        value = got[name]
        if text == "":
            same = value is None or pd.isna(value)  # type: ignore[call-overload]
        elif isinstance(value, pd.Timestamp):
            moment = f"{value:%Y-%m-%d}"
            clock = got.get("time_of_day")
            same = text == (f"{moment}T{clock:%H:%M}" if clock else moment)
        elif isinstance(value, bool):
            same = text == ("yes" if value else "no")
        else:
            same = value == text
        if not same:
            return False
    return True


def test_importing_the_same_files_again_changes_nothing(filled: Orchard, tmp_path: Path) -> None:
    before = stored(filled)
    for kind, rows in RECORDS.items():
        report = put(filled, kind, wide(rows), tmp_path)
        assert counts(report) == (len(rows), 0, len(rows), 0, 0), kind
    assert stored(filled) == before


def test_new_same_and_changed_are_told_apart(filled: Orchard, tmp_path: Path) -> None:
    rows: list[Row] = [
        {"tree": "Zoë", "date": "2025-06-01", "girth_cm": 12.7},
        {"tree": "zoË", "date": "2026-06-01", "girth_cm": 15.5},
        {"tree": "Zoë", "date": "2024-06-01", "girth_cm": 9},
        {"tree": "Zoe", "date": "2023-06-01", "girth_cm": 8},
    ]
    report = put(filled, "girths", rows, tmp_path)
    assert counts(report) == (4, 1, 1, 1, 1)
    assert report.refused[0].todo == "Did you mean 'Zoë'?"
    assert kind_of(filled, "girths")["girth_cm"].tolist() == [9.0, 12.7, 15.5]


@pytest.mark.parametrize("kind", RECORDS)
def test_a_blank_cell_or_a_missing_column_never_erases(
    filled: Orchard, tmp_path: Path, kind: str
) -> None:
    before = stored(filled)
    needed = [field.header for field in fields(kind) if field.column_needed]
    owners = [name for name in KINDS[kind].owner if name not in needed]
    key = [{"pass_number": "pass"}.get(name, name) for name in KINDS[kind].key]
    full = wide(RECORDS[kind])
    keep = {*needed, *owners, *key}
    blank = [{n: v if n in keep else "" for n, v in row.items()} for row in full]
    bare = [{n: v for n, v in row.items() if n in keep} for row in full]
    for rows in (blank, bare):
        report = put(filled, kind, rows, tmp_path)
        assert counts(report) == (len(rows), 0, len(rows), 0, 0)
        assert stored(filled) == before


def test_a_filled_cell_joins_what_is_on_record(filled: Orchard, tmp_path: Path) -> None:
    more = [{"tree": "Old Pearmain 3", "date": "2024-05-02", "bbch": 67, "observer": "Bea"}]
    assert put(filled, "stages", more, tmp_path).changed == 1
    row = [{"site": "home", "latitude": 51.5, "longitude": -1.25, "note": "chalk"}]
    assert put(filled, "sites", row, tmp_path).changed == 1
    stages = kind_of(filled, "stages").set_index("bbch")
    assert stages.loc[67, "observer"] == "Bea"
    assert stages.loc[65, "observer"] == "Ada"
    site = kind_of(filled, "sites").set_index("site").loc["home"]
    assert site["note"] == "chalk"
    assert site["elevation_m"] == 61.5
    assert site["timezone"] == "Europe/London"


def test_a_blank_cell_beside_a_changed_one_never_erases(filled: Orchard, tmp_path: Path) -> None:
    row = {"tree": "Zoë", "date": "2026-01-12", "weight_kg": 13.5, "pass": 1, "fruit_count": "",
           "cause": "", "last": "", "brix": "", "note": "weighed again"}  # fmt: skip
    assert put(filled, "picks", [row], tmp_path).changed == 1
    kept = kind_of(filled, "picks").set_index("pass_number").loc[1]
    assert (kept["weight_kg"], kept["note"]) == (13.5, "weighed again")
    assert (kept["fruit_count"], kept["cause"], kept["last"]) == (80, "birds", False)
    assert (kept["brix"], kept["starch"]) == (12.5, 4)


def test_a_tree_that_moves_site_keeps_its_records(filled: Orchard, tmp_path: Path) -> None:
    moved = [{"tree": "Zoë", "site": "Home", "species": "peach", "cultivar": "seedling",
              "planted": "2020-02-29"}]  # fmt: skip
    report = put(filled, "trees", moved, tmp_path)
    assert report.changed == 1
    assert [note.reason for note in report.warnings] == ["it stood at Plains until now"]
    assert kind_of(filled, "trees").set_index("tree").loc["Zoë", "site"] == "Home"
    assert len(kind_of(filled, "picks")) == 3


def test_a_site_that_comes_to_lie_far_away_is_kept_with_a_warning(
    filled: Orchard, tmp_path: Path
) -> None:
    near = {"site": "home", "latitude": 51.6, "longitude": -1.25}
    assert put(filled, "sites", [near], tmp_path).warnings == ()
    rows = [{"site": "Home", "latitude": -38, "longitude": 144},
            {"site": "New", "latitude": 1, "longitude": 2}]  # fmt: skip
    report = put(filled, "sites", rows, tmp_path)
    assert (report.new, report.changed) == (1, 1)
    (note,) = report.warnings
    assert (note.line, note.value) == (2, "Home")
    assert note.reason == "it lay at 51.6, -1.25 until now, with its trees and weather"


def test_another_tree_of_the_same_name_never_overwrites_one_of_another_site(
    filled: Orchard, tmp_path: Path
) -> None:
    before = stored(filled)
    rows = [
        {"tree": "zoë", "site": "Home", "species": "apple", "cultivar": "Gala",
         "planted": "2021-01-10"},
        {"tree": "New", "site": "Home", "species": "apple", "cultivar": "Gala",
         "planted": "2021-01-10"},
    ]  # fmt: skip
    report = put(filled, "trees", rows[:1], tmp_path)
    assert [(note.line, note.reason) for note in report.refused] == [
        (2, "another tree of this name stands at Plains")
    ]
    assert stored(filled) == before
    replanted = [{**rows[0], "site": "plains"}, rows[1]]
    report = put(filled, "trees", replanted, tmp_path)
    assert (report.new, report.changed, report.refused) == (1, 1, ())
    (note,) = report.warnings
    assert note.reason.startswith("it was peach until now")


def test_a_dry_run_says_the_same_and_writes_nothing(filled: Orchard, tmp_path: Path) -> None:
    before = stored(filled)
    rows: list[Row] = [
        {"tree": "Zoë", "date": "2026-01-20", "weight_kg": 2, "pass": ""},
        {"tree": "Zoë", "date": "2026-01-12", "weight_kg": 3.25, "pass": 2},
        {"tree": "Zoë", "date": "2026-01-12", "weight_kg": 1.5, "pass": 1},
        {"tree": "Zoë", "date": "2026-01-12", "weight_kg": -1, "pass": 3},
    ]
    path = write_csv(tmp_path / "dry.csv", rows)
    dry = import_file(filled, "picks", path, today=TODAY, dry_run=True)
    assert counts(dry) == (4, 1, 1, 1, 1)
    assert dry.dry_run
    assert stored(filled) == before
    real = import_file(filled, "picks", path, today=TODAY)
    assert counts(real) == counts(dry)
    assert real.refused == dry.refused


# Refused rows do not hold up the others


def test_good_rows_go_in_beside_bad_ones_and_the_report_counts_them(
    filled: Orchard, tmp_path: Path
) -> None:
    rows: list[Row] = [
        {"tree": "Zoë", "date": "2025-12-20", "weight_kg": 2.5},
        {"tree": "Zoé", "date": "2025-12-21", "weight_kg": 2.5},
        {"tree": "Zoë", "date": "2027-01-12", "weight_kg": 2.5},
        {"tree": "Zoë", "date": "2019-12-31", "weight_kg": 2.5},
        {"tree": "Zoë", "date": "2025-12-22", "weight_kg": "1,500"},
        {"tree": "Zoë", "date": "2025-12-23", "weight_kg": -2},
        {"tree": "Zoë", "date": "2025-12-24", "weight_kg": 1.5},
    ]
    report = put(filled, "picks", rows, tmp_path)
    assert counts(report) == (7, 2, 0, 0, 5)
    assert report.file == "picks.csv"
    told = [(r.line, r.column, r.value) for r in report.refused]
    assert told == [
        (3, "tree", "Zoé"),
        (4, "date", "2027-01-12"),
        (5, "date", "2019-12-31"),
        (6, "weight_kg", "1,500"),
        (7, "weight_kg", "-2"),
    ]
    assert all(refusal.reason and refusal.todo for refusal in report.refused)
    days = kind_of(filled, "picks")["date"].dt.strftime("%Y-%m-%d").tolist()
    assert days[:2] == ["2025-12-20", "2025-12-24"]
    assert len(days) == 5


def test_a_file_that_is_no_table_of_its_kind_leaves_the_orchard_alone(
    filled: Orchard, tmp_path: Path
) -> None:
    before = stored(filled)
    path = write_csv(tmp_path / "girths.csv", RECORDS["girths"])
    with pytest.raises(FileFormatError, match=r"girths\.csv, header row: a picks file needs the "):
        import_file(filled, "picks", path, today=TODAY)
    path.write_text('tree,date,girth_cm\nZoë,2024-06-01,11\n"Zoë,2025-06-01,12\n', "utf-8")
    with pytest.raises(FileFormatError, match="line 3: every row must be readable"):
        import_file(filled, "girths", path, today=TODAY)
    assert stored(filled) == before


def test_a_header_alone_is_no_rows(orchard: Orchard, tmp_path: Path) -> None:
    for kind, rows in RECORDS.items():
        path = tmp_path / "header.csv"
        path.write_text(",".join(wide(rows)[0]) + "\n", encoding="utf-8")
        assert counts(import_file(orchard, kind, path, today=TODAY)) == (0, 0, 0, 0, 0), kind


def test_a_failure_halfway_leaves_nothing_of_the_file(filled: Orchard, tmp_path: Path) -> None:
    """New rows are written before changed ones; the second statement fails."""
    before = stored(filled)

    def fail(*given: object) -> None:
        if str(given[2]).startswith("UPDATE"):
            raise KeyboardInterrupt

    event.listen(filled.engine, "before_cursor_execute", fail)
    rows: list[Row] = [
        {"tree": "Zoë", "date": "2024-06-01", "girth_cm": 9},
        {"tree": "Zoë", "date": "2026-06-01", "girth_cm": 15},
    ]
    with pytest.raises(KeyboardInterrupt):
        put(filled, "girths", rows, tmp_path)
    event.remove(filled.engine, "before_cursor_execute", fail)
    assert stored(filled) == before
    assert counts(put(filled, "girths", rows, tmp_path)) == (2, 1, 0, 1, 0)


# Names


HOSTILE = [
    "Robert'); DROP TABLE trees;--",
    '" OR 1=1 --',
    "<script>alert('x')</script>",
    "🍎 Bäumchen",
    "תפוח 3",
    "\u202egnp.exe",
    "=HYPERLINK(\"x\")",
    "%(tree)s :tree ? $1 {0}",
    "NULL",
    "nan",
    "-1",
    "İstanbul",
    "straße",
]  # fmt: skip


def test_names_are_text_whatever_they_hold(orchard: Orchard, tmp_path: Path) -> None:
    put(orchard, "sites", SITES, tmp_path)
    trees: list[Row] = [
        {"tree": name, "site": "Home", "species": "apple", "cultivar": name,
         "planted": "2020-01-01", "note": name}
        for name in HOSTILE
    ]  # fmt: skip
    assert counts(put(orchard, "trees", trees, tmp_path)) == (len(trees), len(trees), 0, 0, 0)
    picks: list[Row] = [{"tree": name, "date": "2025-09-01", "weight_kg": 1} for name in HOSTILE]
    assert put(orchard, "picks", picks, tmp_path).new == len(HOSTILE)
    assert put(orchard, "picks", picks, tmp_path).same == len(HOSTILE)
    known = kind_of(orchard, "trees")
    assert sorted(known["tree"]) == sorted(HOSTILE)
    assert sorted(known["note"]) == sorted(HOSTILE)
    assert sorted(kind_of(orchard, "picks")["tree"]) == sorted(HOSTILE)


def test_names_are_the_same_in_any_case_and_composition(filled: Orchard, tmp_path: Path) -> None:
    rows: list[Row] = [
        {"tree": "ZOË", "date": "2025-12-01", "weight_kg": 1},
        {"tree": "zoe\u0308", "date": "2025-12-02", "weight_kg": 1},
    ]
    assert put(filled, "picks", rows, tmp_path).new == 2
    again = [{"tree": "OLD PEARMAIN 3", "site": "HOME", "species": "Apples",
              "cultivar": "Pearmain", "planted": "1987-11-20"}]  # fmt: skip
    report = put(filled, "trees", again, tmp_path)
    assert (report.new, report.changed + report.same) == (0, 1)
    assert len(kind_of(filled, "trees")) == 2


# What is read back


def test_records_are_read_as_they_were_known_on_a_day(filled: Orchard, tmp_path: Path) -> None:
    known = read_records(filled, date(2024, 5, 2))
    assert len(known.stages) == 2
    assert known.weather["date"].max() == pd.Timestamp("2024-03-01")
    standing = known.trees[known.trees["tree"] == known.trees["own_name"]]
    assert standing["removed"].isna().all()
    assert standing.set_index("tree")["latitude"].to_dict() == {
        "Old Pearmain 3": 51.5, "Zoë": -34.0,
    }  # fmt: skip
    assert len(read_records(filled, date(2024, 3, 1)).weather) == 1
    assert len(read_records(filled, date(2024, 5, 1)).stages) == 0
    earlier = read_records(filled, date(2019, 1, 1)).trees
    assert set(earlier["own_name"]) == {"Old Pearmain 3"}


@pytest.mark.parametrize("kind", KINDS)
def test_types_do_not_depend_on_how_many_records_there_are(
    orchard: Orchard, tmp_path: Path, kind: str
) -> None:
    empty = kind_of(orchard, kind).dtypes
    fill(orchard, tmp_path)
    filled = kind_of(orchard, kind)
    pd.testing.assert_series_equal(filled.dtypes, empty)
    for field in fields(kind):
        expected = {date: "datetime64[s]", float: "float64", int: "float64"}.get(
            field.type, "object"
        )
        assert str(empty[field.name]) == expected
    assert list(filled.index) == list(range(len(filled)))


def test_dates_far_back_are_kept(orchard: Orchard, tmp_path: Path) -> None:
    put(orchard, "sites", SITES, tmp_path)
    rows: list[Row] = [
        {"site": "Home", "date": "1763-01-01", "tmin_c": -4, "tmax_c": 1},
        {"site": "Home", "date": "1699-12-31", "tmin_c": -4, "tmax_c": 1},
    ]
    report = put(orchard, "weather", rows, tmp_path)
    assert counts(report) == (2, 1, 0, 0, 1)
    assert report.refused[0].reason == "the date lies before 1700"
    assert kind_of(orchard, "weather")["date"].tolist() == [pd.Timestamp("1763-01-01")]


# Size


def test_a_hundred_thousand_picks_go_in_at_once(address: str, tmp_path: Path) -> None:
    """The stated time is 6 s on SQLite and 10 s on PostgreSQL; here a loose bound that a loaded
    machine keeps, the real times are the benchmarks'."""
    orchard = open_orchard(address)
    plant(orchard, tmp_path)
    names = [f"Tree {number:03d}" for number in range(500)]
    trees = [{"tree": name, "site": "Home", "species": "apple", "cultivar": "Gala",
              "planted": "2000-01-15"} for name in names]  # fmt: skip
    put(orchard, "trees", trees, tmp_path)
    days = np.datetime64("2005-06-01") + np.arange(200) * 38
    frame = pd.DataFrame(
        {
            "tree": np.repeat(names, 200),
            "date": np.tile(np.datetime_as_string(days), 500),
            "weight_kg": np.round(np.linspace(0.5, 60, 100_000), 2),
        }
    )
    frame["weight_kg"] = frame["weight_kg"].astype(str)
    frame.loc[99_998, "weight_kg"] = "heavy"
    path = tmp_path / "many.csv"
    frame.to_csv(path, index=False)
    started = time.perf_counter()
    report = import_file(orchard, "picks", path, today=TODAY)
    took = time.perf_counter() - started
    assert counts(report) == (100_000, 99_999, 0, 0, 1)
    assert report.refused[0].line == 100_000
    assert count_kinds(orchard)["picks"] == 99_999
    orchard.engine.dispose()
    assert took < 60, f"{took:.1f} s"


def test_a_file_of_names_nobody_knows_is_refused_in_good_time(
    sqlite_address: str, tmp_path: Path
) -> None:
    """Looking up what every one of them resembles would take minutes."""
    orchard = open_orchard(sqlite_address)
    trees = [{"tree": f"Old Pearmain {n:03d}", "site": "Home", "species": "apple",
              "cultivar": "Pearmain"} for n in range(400)]  # fmt: skip
    plant(orchard, tmp_path, trees)
    rows = [
        {"tree": f"Odl Paermain {n}", "date": "2025-09-01", "weight_kg": 1} for n in range(20_000)
    ]
    started = time.perf_counter()
    report = put(orchard, "picks", rows, tmp_path)
    assert len(report.refused) == 20_000
    assert "Did you mean 'Old Pearmain" in report.refused[0].todo
    assert all(refusal.reason for refusal in report.refused)
    assert time.perf_counter() - started < 45


def test_it_is_told_how_far_a_big_import_is(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    number = BLOCK + 500
    days = np.datetime_as_string(np.datetime64("2016-02-01") + np.arange(number) % 3000)
    frame = pd.DataFrame({"tree": "Apple 1", "date": days, "weight_kg": 1.5})
    frame["pass"] = np.arange(number) // 3000 + 1
    frame.to_csv(tmp_path / "many.csv", index=False)
    told: list[tuple[int, int]] = []
    report = import_file(
        orchard, "picks", tmp_path / "many.csv", today=TODAY, signed=UNSIGNED,
        progress=lambda done, of: told.append((done, of)),
    )  # fmt: skip
    assert told == [(BLOCK, number), (number, number)]
    assert report.new == count_kinds(orchard)["picks"] == number
    assert report.batch is not None
    undo(orchard, report.batch, UNSIGNED)  # written in blocks, taken back as one
    assert count_kinds(orchard)["picks"] == 0


@pytest.mark.parametrize("terminal", [True, False])
def test_a_bar_is_shown_on_a_terminal_and_nowhere_else(
    sqlite_address: str, tmp_path: Path, terminal: bool
) -> None:
    plant(open_orchard(sqlite_address), tmp_path)
    path = write_csv(tmp_path / "p.csv", [{"tree": "Peach", "date": "2025-01-12", "weight_kg": 3}])
    code = "from harvest.cli.main import run; run()"
    shown, end = pty.openpty() if terminal else os.pipe()
    done = subprocess.run(
        [sys.executable, "-c", code, "--orchard", sqlite_address, "import", "picks", str(path)],
        stdout=subprocess.PIPE, stderr=end, text=True, cwd=Path(__file__).resolve().parents[2],
        env={**os.environ, "TERM": "xterm", "HOME": str(tmp_path)}, check=True,
    )  # fmt: skip
    os.close(end)
    try:
        told = os.read(shown, 65536).decode()
    finally:
        os.close(shown)
    assert "1 row read, 1 new" in done.stdout
    assert "Importing" not in done.stdout
    assert ("Importing picks" in told) == terminal
    assert terminal or told == ""
