"""Programs killed in mid-import and programs importing at once, as real processes."""

from __future__ import annotations

import json
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvest.store.importing import import_file
from harvest.store.integrity import check_integrity
from harvest.store.orchard import open_orchard
from harvest.store.reading import count_kinds
from tests.orchards import TODAY, plant, write_csv
from tests.store.killing import KILLS, ROOT, killing, said, send

MANY = 60_000
FEW, FILES = 50, 80
# Imports a file; stops for good once its rows are written but not yet kept (where asked), says so
# when they are kept, and waits.
PROGRAM = """
import sys, time
from datetime import date
from pathlib import Path
from sqlalchemy import event
from harvest.store.importing import import_file
from harvest.store.orchard import open_orchard
address, path, stop = sys.argv[1:]
orchard = open_orchard(address)
def written(connection):
    if stop == "written":
        print("written", flush=True)
        time.sleep(600)
event.listen(orchard.engine, "commit", written)
print("open", flush=True)
sys.stdin.readline()
report = import_file(orchard, "picks", Path(path), today=date(2026, 8, 12))
print("kept", report.new, report.same, flush=True)
if stop == "kept":
    time.sleep(600)
"""
# Has imported nothing yet, but loaded all that it takes.
KILLED = """
import sys
from datetime import date
from pathlib import Path
from harvest.store.importing import import_file
from harvest.store.orchard import open_orchard
def do(path, dry_run=False):
    orchard = open_orchard(sys.argv[1])
    report = import_file(orchard, "picks", Path(path), today=date(2026, 8, 12), dry_run=dry_run)
    orchard.engine.dispose()
    if not dry_run:
        print("kept", report.new, flush=True)
do(sys.argv[2], dry_run=True)
"""


@contextmanager
def importing(address: str, path: Path, stop: str = "") -> Iterator[subprocess.Popen[str]]:
    """A program that has opened the orchard and imports the file when a line is sent."""
    program = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, address, str(path), stop],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    try:
        assert said(program) == "open"
        yield program
    finally:
        program.kill()
        program.communicate()


def kill(program: subprocess.Popen[str]) -> None:
    program.send_signal(signal.SIGKILL)
    assert program.wait() == -signal.SIGKILL


def picks(folder: Path, tree: str, number: int) -> Path:
    """A file with so many picks of one tree."""
    days = np.datetime64("2015-02-01") + np.arange(number) % 4000
    frame = pd.DataFrame({"tree": tree, "date": np.datetime_as_string(days), "weight_kg": 1.5})
    frame["pass"] = np.arange(number) // 4000 + 1
    path = folder / f"{tree}.csv"
    frame.to_csv(path, index=False)
    return path


def count(address: str) -> int:
    """Picks on record, once the database has said that it is whole."""
    if "://" not in address:
        with closing(sqlite3.connect(address)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    orchard = open_orchard(address)
    found = count_kinds(orchard)["picks"]
    orchard.engine.dispose()
    return found


@pytest.fixture
def planted(address: str, tmp_path: Path) -> str:
    orchard = open_orchard(address)
    plant(orchard, tmp_path)
    orchard.engine.dispose()
    return address


@pytest.mark.parametrize(("stop", "kept"), [("written", 0), ("kept", 500)])
def test_a_program_killed_in_mid_import_leaves_all_or_nothing(
    planted: str, tmp_path: Path, stop: str, kept: int
) -> None:
    path = picks(tmp_path, "Apple 1", 500)
    with importing(planted, path, stop) as program:
        send(program, "")
        assert said(program).split()[0] == stop
        kill(program)
    assert count(planted) == kept
    orchard = open_orchard(planted)
    report = import_file(orchard, "picks", path, today=TODAY)
    orchard.engine.dispose()
    assert (report.new, report.same) == (500 - kept, kept)


def test_a_program_killed_while_rows_go_to_the_disk_leaves_all_or_nothing(
    sqlite_address: str, tmp_path: Path
) -> None:
    """Enough rows that SQLite must write some before they are kept; killed as soon as it does."""
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    path = picks(tmp_path, "Apple 1", MANY)
    beside = Path(f"{sqlite_address}-wal")
    with importing(sqlite_address, path, "kept") as program:
        send(program, "")
        deadline = time.monotonic() + 60
        while not (beside.exists() and beside.stat().st_size > 500_000):
            assert time.monotonic() < deadline
            time.sleep(0.001)
        kill(program)
        assert program.stdout is not None
        acknowledged = program.stdout.read() != ""
    kept = count(sqlite_address)
    assert kept in ((MANY,) if acknowledged else (0, MANY))
    report = import_file(orchard, "picks", path, today=TODAY)
    assert (report.new, report.same) == (MANY - kept, kept)
    assert count(sqlite_address) == MANY


def test_killed_twenty_times_in_mid_import_nothing_acknowledged_is_lost(
    planted: str, tmp_path: Path
) -> None:
    """Each at another moment, by how long the last import took that came to its end."""
    frame = pd.read_csv(picks(tmp_path, "Apple 1", FEW * FILES))
    files = [tmp_path / f"{n}.csv" for n in range(FILES)]
    for n, path in enumerate(files):
        frame.iloc[FEW * n : FEW * (n + 1)].to_csv(path, index=False)
    chance = random.Random(20260812)
    kept, killed, used, longest = 0, 0, 0, 0.3
    orchard = open_orchard(planted)
    with killing(KILLED, planted, files[0]) as program:
        while killed < KILLS and used < FILES:
            told, in_mid_import = program(str(files[used]), chance.uniform(0, longest))
            used += 1
            acknowledged = told == [f"kept {FEW}"]
            killed += in_mid_import
            longest *= 0.7 if acknowledged else 1.1
            found = count_kinds(orchard)["picks"]
            assert found in ((kept + FEW,) if acknowledged else (kept, kept + FEW))
            kept = found
    assert killed == KILLS
    assert check_integrity(orchard) == []
    reports = [import_file(orchard, "picks", path, today=TODAY) for path in files[:used]]
    assert sum(report.same for report in reports) == kept
    assert count_kinds(orchard)["picks"] == FEW * used
    orchard.engine.dispose()


def test_two_programs_importing_at_once_lose_nothing(planted: str, tmp_path: Path) -> None:
    one, two = picks(tmp_path, "Apple 1", 3000), picks(tmp_path, "Apple 2", 3000)
    both = tmp_path / "both.csv"
    pd.concat([pd.read_csv(one), pd.read_csv(two)]).to_csv(both, index=False)
    with importing(planted, one) as first, importing(planted, both) as second:
        send(first, "")
        send(second, "")
        told = [said(program).split() for program in (first, second)]
        assert [program.wait() for program in (first, second)] == [0, 0]
    new, same = (sum(int(words[n]) for words in told) for n in (1, 2))
    assert (new, same) == (6000, 3000)
    assert count(planted) == 6000


def test_two_programs_logging_the_same_spray_keep_it_once(planted: str, tmp_path: Path) -> None:
    """The second finds what the first has kept, not an error of the database."""
    rows = [{"tree": "Apple 1", "date": f"2025-05-{n:02d}", "product": "Soap",
             "withholding_days": 1} for n in range(1, 29)]  # fmt: skip
    path = write_csv(tmp_path / "sprays.csv", rows)
    code = (
        "import sys; from datetime import date; from pathlib import Path\n"
        "from harvest.store.importing import import_file\n"
        "from harvest.store.orchard import open_orchard\n"
        "orchard = open_orchard(sys.argv[1]); sys.stdin.readline()\n"
        "report = import_file(orchard, 'sprays', Path(sys.argv[2]), today=date(2026, 8, 12))\n"
        "import json; print(json.dumps([report.new, report.same]))\n"
    )
    programs = [
        subprocess.Popen(
            [sys.executable, "-c", code, planted, str(path)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
        )
        for _ in range(2)
    ]  # fmt: skip
    for program in programs:
        send(program, "")
    told = [json.loads(program.communicate()[0]) for program in programs]
    assert sorted(told) == [[0, 28], [28, 0]]
