"""Programs killed while they log, eight writers at once, a full disk, a half-written log of writes.

Whatever was acknowledged is there afterwards, and the database is whole.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from harvest.store.history import UNSIGNED
from harvest.store.importing import import_file
from harvest.store.integrity import check_integrity
from harvest.store.logging_records import Subject, log_records
from harvest.store.orchard import open_orchard
from harvest.store.reading import count_kinds, read_kind
from tests.orchards import TODAY, plant, write_csv
from tests.store.killing import KILLS, ROOT, killing, said, send

MOST_LOGGED = 150
# Logs one pick after the other, a day each, and says of each when it is kept.
LOGGER = """
import sys
from datetime import date, timedelta
from harvest.store.history import UNSIGNED
from harvest.store.logging_records import Subject, log_records
from harvest.store.orchard import open_orchard
address, tree, number = sys.argv[1:]
def do(first, number=number, trial=False):
    orchard = open_orchard(address)
    for n in range(int(number)):
        day = date.fromisoformat(first) + timedelta(days=n)
        log_records(orchard, "picks", Subject(tree=tree), {"weight_kg": "1.5kg", "date": str(day)},
                    today=date(2026, 8, 12), signed=UNSIGNED, trial=trial)
        if not trial:
            print(day, flush=True)
    orchard.engine.dispose()
"""
ONCE = """
print("open", flush=True)
do(sys.stdin.readline().strip())
"""
# Loads all that it takes, on trial; then it is forked for each day that is named.
WARM = """
do("2015-06-01", 1, True)
"""


def logger(address: str, tree: str, number: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", LOGGER + ONCE, address, tree, str(number)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip


@pytest.fixture
def planted(address: str, tmp_path: Path) -> str:
    orchard = open_orchard(address)
    plant(orchard, tmp_path)
    orchard.engine.dispose()
    return address


def days_of(address: str, tree: str) -> set[str]:
    """Days on which a tree's picks are on record, in a database that is whole."""
    orchard = open_orchard(address)
    assert check_integrity(orchard) == []
    orchard.engine.dispose()
    return kept_days(address, tree)


def kept_days(address: str, tree: str) -> set[str]:
    orchard = open_orchard(address)
    with orchard.reading() as connection:
        picks = read_kind(connection, "picks")
    orchard.engine.dispose()
    return set(picks.loc[picks["tree"] == tree, "date"].dt.strftime("%Y-%m-%d"))


def test_killed_twenty_times_while_logging_nothing_acknowledged_is_lost(planted: str) -> None:
    """Each process at another moment, most of them in the midst of an entry."""
    chance = random.Random(20260812)
    told: set[str] = set()
    lengths = []
    with killing(LOGGER + WARM, planted, "Apple 1", MOST_LOGGED) as program:
        for n in range(KILLS):
            first = f"{2016 + n // 2}-{1 + 6 * (n % 2):02d}-01"
            days, killed = program(first, chance.uniform(0.02, 0.4))
            assert killed
            told |= set(days)
            lengths.append(len(days))
            assert told <= kept_days(planted, "Apple 1")
    kept = days_of(planted, "Apple 1")
    assert told <= kept
    assert len(kept - told) <= KILLS  # kept, but killed before it could say so
    assert max(lengths) > 0


def test_eight_programs_logging_at_once_lose_nothing(planted: str) -> None:
    trees = ("Apple 1", "Apple 2", "Mandarin", "Peach")
    programs = [logger(planted, trees[n % 4], 8) for n in range(8)]
    for program in programs:
        assert said(program) == "open"
    for n, program in enumerate(programs):
        send(program, f"{2016 + n // 4}-01-01")
    ends = [program.communicate()[0].split() for program in programs]
    assert [program.returncode for program in programs] == [0] * 8
    for at, tree in enumerate(trees):
        told = {*ends[at], *ends[at + 4]}
        assert len(told) == 16
        assert days_of(planted, tree) == told


FULL = """
import resource, signal, sys
from datetime import date
from pathlib import Path
from harvest.errors import StoreError
from harvest.store.importing import import_file
from harvest.store.orchard import open_orchard
orchard = open_orchard(sys.argv[1])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
limit = int(sys.argv[3])
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
try:
    print(import_file(orchard, "picks", Path(sys.argv[2]), today=date(2026, 8, 12)).new)
except StoreError as error:
    print(error)
"""


def test_a_full_disk_keeps_what_was_there_and_says_what_to_do(
    sqlite_address: str, tmp_path: Path
) -> None:
    """A limit on the size of files stands for a full disk."""
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    before = count_kinds(orchard)
    rows = [{"tree": "Apple 1", "date": str(date.fromordinal(735_700 + n)), "weight_kg": 1,
             "note": "x" * 200} for n in range(3000)]  # fmt: skip
    path = write_csv(tmp_path / "picks.csv", rows)
    limit = Path(sqlite_address).stat().st_size + 60_000
    done = subprocess.run([sys.executable, "-c", FULL, sqlite_address, str(path), str(limit)],
                          capture_output=True, text=True, cwd=ROOT, check=True)  # fmt: skip
    assert "nothing was half-written" in done.stdout
    assert count_kinds(orchard) == before
    assert check_integrity(orchard) == []
    assert import_file(orchard, "picks", path, today=TODAY).new == 3000


@pytest.mark.parametrize("kept", [0.0, 0.2, 0.5, 0.9, 0.999])
def test_a_log_of_writes_cut_short_by_a_power_cut(
    sqlite_address: str, tmp_path: Path, kept: float
) -> None:
    """What SQLite keeps beside the file, cut within the last write: all before it is there."""
    place = Path(sqlite_address)
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    with closing(sqlite3.connect(place)) as hold:  # an open reader keeps the log of writes
        hold.execute("SELECT count(*) FROM picks").fetchone()

        def log(day: int) -> None:
            cells = {"weight_kg": "1.5kg", "date": f"2025-09-{day:02d}"}
            log_records(orchard, "picks", Subject(tree="Apple 1"), cells, today=TODAY,
                        signed=UNSIGNED)  # fmt: skip

        for day in (1, 2, 3):
            log(day)
        beside = Path(f"{place}-wal")
        acknowledged = beside.stat().st_size
        log(4)
        cut = tmp_path / "cut" / "orchard.sqlite"
        cut.parent.mkdir()
        shutil.copyfile(place, cut)
        raw = beside.read_bytes()
        hurt = acknowledged + int((len(raw) - acknowledged) * kept)
        Path(f"{cut}-wal").write_bytes(raw[:hurt])
    assert days_of(str(cut), "Apple 1") == {f"2025-09-0{day}" for day in (1, 2, 3)}


def test_what_is_acknowledged_is_on_the_disk(sqlite_address: str) -> None:
    """2 is FULL (sqlite.org, PRAGMA synchronous): with WAL every commit waits for the disk."""
    with open_orchard(sqlite_address).writing() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
