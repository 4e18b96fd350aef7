"""Copies of an orchard: whole, made while others write, checked before they come back."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import text

from harvest.errors import OrchardVersionError, StoreError
from harvest.store import orchard as store
from harvest.store.attached_files import attachments_folder
from harvest.store.attaching import attach, attachment_bytes
from harvest.store.backing_up import (
    ENDINGS,
    back_up,
    back_up_daily,
    backups_folder,
    run_tool,
    whole_sqlite,
)
from harvest.store.editing import show_records
from harvest.store.history import UNSIGNED
from harvest.store.history_reading import read_batches
from harvest.store.integrity import check_integrity
from harvest.store.orchard import Orchard, open_orchard, orchard_url
from harvest.store.reading import count_kinds
from harvest.store.restoring import list_backups, restore
from tests.orchards import TODAY, plant, put

ROOT = Path(__file__).resolve().parents[2]
AT = datetime(2026, 8, 12, 6, 30, tzinfo=UTC)


def address_of(orchard: Orchard) -> str:
    return str(orchard.engine.url.render_as_string(hide_password=False))


def copy_of(orchard: Orchard, folder: Path) -> Path:
    ending = "sqlite" if orchard.engine.dialect.name == "sqlite" else "dump"
    return back_up(orchard.engine, folder / "copies" / f"copy.{ending}").path


def more(orchard: Orchard, folder: Path) -> None:
    rows = [{"tree": "Zoë", "date": "2026-02-01", "weight_kg": 7}]
    assert put(orchard, "picks", rows, folder).new == 1


def test_a_backup_brings_everything_back_and_keeps_what_was_there(
    filled: Orchard, tmp_path: Path
) -> None:
    counts, batches = count_kinds(filled), read_batches(filled)
    copy = copy_of(filled, tmp_path)
    more(filled, tmp_path)
    later = count_kinds(filled)
    address = filled.engine.url.render_as_string(hide_password=False)
    done = restore(address, copy, AT)
    assert count_kinds(done.orchard) == counts
    assert read_batches(done.orchard) == batches
    assert done.before is not None
    again = restore(address, done.before, AT.replace(hour=7))
    assert count_kinds(again.orchard) == later
    more_ids = put(again.orchard, "girths", [{"tree": "Zoë", "date": "2026-07-01", "girth_cm": 15}],
                   tmp_path)  # fmt: skip
    assert more_ids.new == 1
    done.orchard.engine.dispose()
    again.orchard.engine.dispose()


def test_a_backup_is_one_file_that_holds_together(filled: Orchard, tmp_path: Path) -> None:
    copy = copy_of(filled, tmp_path)
    assert [path.name for path in copy.parent.iterdir()] == [copy.name]
    if copy.suffix == ".sqlite":
        assert whole_sqlite(copy) == ""
        assert count_kinds(open_orchard(str(copy))) == count_kinds(filled)
    else:
        assert copy.read_bytes()[:5] == b"PGDMP"


def test_a_backup_while_others_write_is_one_moment(orchard: Orchard, tmp_path: Path) -> None:
    """Every write adds a girth to two trees; a copy of two moments would have them uneven."""
    plant(orchard, tmp_path)
    stop = threading.Event()

    def write() -> None:
        day = date(2016, 1, 1).toordinal()
        while not stop.is_set():
            day += 1
            rows = [{"tree": t, "date": str(date.fromordinal(day)), "girth_cm": 9}
                    for t in ("Apple 1", "Apple 2")]  # fmt: skip
            put(orchard, "girths", rows, tmp_path)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        copies = [back_up(orchard.engine, tmp_path / f"{n}.copy").path for n in range(3)]
    finally:
        stop.set()
        writer.join()
    address = str(orchard.engine.url.render_as_string(hide_password=False))
    for at, copy in enumerate(copies):
        done = restore(address, copy, AT.replace(minute=at))
        with done.orchard.reading() as connection:
            query = "SELECT tree_id, count(*) FROM girths GROUP BY tree_id"
            numbers = [row[1] for row in connection.execute(text(query))]
        assert len(set(numbers)) <= 1
        done.orchard.engine.dispose()


def test_one_copy_a_day_and_the_newest_are_kept(orchard: Orchard) -> None:
    for day in range(1, 6):
        assert back_up_daily(orchard.engine, date(2026, 8, day), kept=3) is not None
        assert back_up_daily(orchard.engine, date(2026, 8, day), kept=3) is None
    ending = ENDINGS[orchard.engine.dialect.name]
    back_up(orchard.engine, backups_folder(orchard.engine.url) / f"by-hand{ending}")
    names = {each.path.name for each in list_backups(address_of(orchard))}
    kept = {f"daily-2026-08-0{day}{ending}" for day in (3, 4, 5)}
    assert names == kept | {f"by-hand{ending}"}


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_an_older_orchard_is_kept_as_it_was_before_its_tables_change(
    database: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    server = database == "postgresql"
    address = (
        request.getfixturevalue("postgres_address") if server else str(tmp_path / "old.sqlite")
    )
    engine = store._engine(orchard_url(address))
    config = Config()
    config.set_main_option("script_location", "harvest.store:migrations")
    config.attributes["engine"] = engine
    command.upgrade(config, "0001")
    engine.dispose()
    open_orchard(address).engine.dispose()
    (kept,) = list_backups(address)
    assert kept.path.name == f"version-0001{ENDINGS[database]}"
    if server:
        listed = run_tool(orchard_url(address), "pg_restore", "--file=-", str(kept.path))
        version = listed.partition("COPY public.harvest_schema")[2].splitlines()[1]
    else:
        assert kept.path.parent == tmp_path / "old-backups"
        with closing(sqlite3.connect(kept.path)) as connection:
            (version,) = connection.execute("SELECT version_num FROM harvest_schema").fetchone()
    assert version == "0001"


def test_an_orchard_that_cannot_be_copied_first_keeps_its_tables(
    postgres_address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine = store._engine(orchard_url(postgres_address))
    config = Config()
    config.set_main_option("script_location", "harvest.store:migrations")
    config.attributes["engine"] = engine
    command.upgrade(config, "0001")
    monkeypatch.setenv("PATH", "")
    with pytest.raises(StoreError, match="apt install postgresql-client"):
        open_orchard(postgres_address)
    with engine.connect() as connection:
        version = connection.execute(text("SELECT version_num FROM harvest_schema")).scalar_one()
    assert version == "0001"
    engine.dispose()


def test_what_is_attached_is_in_the_copy_and_comes_back(filled: Orchard, tmp_path: Path) -> None:
    tree = show_records(filled, "trees", "Zoë")[0].id
    made = attach(filled, "trees", tree, "a.txt", b"grew well", signed=UNSIGNED, today=TODAY)
    copy = copy_of(filled, tmp_path)
    with filled.writing() as connection:
        connection.exec_driver_sql("DELETE FROM attached_files")
    folder = attachments_folder(filled.engine.url)
    if folder is not None:
        assert [path.name for path in (copy.parent / "attachments").iterdir()] == [made.sha256]
        shutil.rmtree(folder)
    (wrong,) = check_integrity(filled)
    assert wrong == "the attached file a.txt of Zoë is gone, or not as it was attached"
    done = restore(address_of(filled), copy, AT)
    assert attachment_bytes(done.orchard, made.sha256) == b"grew well"
    assert check_integrity(done.orchard) == []
    done.orchard.engine.dispose()


# What is not restored


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def scribble(path: Path) -> None:
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2 : len(raw) // 2 + 8192] = b"x" * 8192
    path.write_bytes(raw)


def empty(path: Path) -> None:
    path.write_bytes(b"")


def words(path: Path) -> None:
    path.write_text("tree,date\n" * 1000)


@pytest.mark.parametrize("spoil", [cut, scribble, empty, words])
def test_a_backup_that_is_not_whole_is_refused_and_nothing_is_touched(
    filled: Orchard, tmp_path: Path, spoil: object
) -> None:
    if spoil is scribble and filled.engine.dialect.name != "sqlite":
        spoil = cut
    copy = copy_of(filled, tmp_path)
    more(filled, tmp_path)
    counts = count_kinds(filled)
    assert callable(spoil)
    spoil(copy)
    address = filled.engine.url.render_as_string(hide_password=False)
    with pytest.raises(StoreError, match=r"must (be whole|run to its end)"):
        restore(address, copy, AT)
    assert count_kinds(filled) == counts


def test_a_backup_of_a_newer_program_is_refused(sqlite_address: str, tmp_path: Path) -> None:
    orchard = open_orchard(sqlite_address)
    copy = copy_of(orchard, tmp_path)
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute("UPDATE harvest_schema SET version_num = '9999'")
        connection.commit()
    with pytest.raises(OrchardVersionError, match=r"version 9999.*not touched"):
        restore(sqlite_address, copy, AT)
    assert not (tmp_path / "orchard-backups").exists()


def test_a_file_that_is_not_there(sqlite_address: str, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="given: no such file"):
        restore(sqlite_address, tmp_path / "none.sqlite", AT)


def test_a_damaged_orchard_is_replaced_and_kept(filled_sqlite: Path, tmp_path: Path) -> None:
    place = Path(shutil.copyfile(filled_sqlite, tmp_path / "o.sqlite"))
    orchard = open_orchard(str(place))
    counts, copy = count_kinds(orchard), copy_of(orchard, tmp_path)
    cut(place)
    damaged = place.read_bytes()
    with pytest.raises(StoreError, match="must be whole"):
        back_up(orchard.engine, tmp_path / "another.sqlite")
    done = restore(str(place), copy, AT)
    assert count_kinds(done.orchard) == counts
    assert done.before is not None
    assert done.before.read_bytes() == damaged


def test_a_backup_without_room_leaves_nothing_and_says_so(
    filled_sqlite: Path, tmp_path: Path
) -> None:
    """A limit on the size of files stands for a full disk."""
    code = (
        "import resource, signal, sys; from pathlib import Path\n"
        "from harvest.store.backing_up import back_up\n"
        "from harvest.store.orchard import open_orchard\n"
        "from harvest.errors import StoreError\n"
        "engine = open_orchard(sys.argv[1]).engine\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (40000, 40000))\n"
        "try: back_up(engine, Path(sys.argv[2]))\n"
        "except StoreError as error: print(error)\n"
    )
    target = tmp_path / "copies" / "copy.sqlite"
    done = subprocess.run([sys.executable, "-c", code, str(filled_sqlite), str(target)],
                          capture_output=True, text=True, cwd=ROOT, check=True)  # fmt: skip
    assert "a backup needs a folder that can be written and has room" in done.stdout
    assert list(target.parent.iterdir()) == []


def test_the_folder_of_copies_lies_beside_the_file() -> None:
    assert backups_folder(orchard_url("/a/b/o.sqlite")) == Path("/a/b/o-backups")
    assert backups_folder(orchard_url("postgresql://x:5/y")).name == "x-5-y-backups"
