"""Whole copies of an orchard's database: made while others write, checked before they count.

SQLite's own backup copies one moment of the file, and what is attached to its records is copied
into a folder beside; PostgreSQL's pg_dump copies its tables, attached files among them. A copy
takes its name only once it is complete and found whole.
"""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
import tempfile
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.engine import URL

from harvest.errors import StoreError
from harvest.store.attached_files import BACKED_UP, attachments_folder, copy_missing
from harvest.store.schema import metadata

VERSION_TABLE = "harvest_schema"
DAILY = "daily-"
DAILY_KEPT = 14
ENDINGS = {"sqlite": ".sqlite", "postgresql": ".dump"}


@dataclass(frozen=True)
class Backup:
    """A copy of an orchard that was found whole."""

    path: Path
    bytes: int


def backups_folder(url: URL) -> Path:
    """Where an orchard's copies are kept unless another place is named.

    Beside its file; those of a database on a server in the user's data folder.
    """
    if url.get_backend_name() == "sqlite":
        place = Path(str(url.database))
        return place.with_name(f"{place.stem}-backups")
    import platformdirs

    parts = (url.host or dict(url.query).get("host") or "local", url.port, url.database)
    name = "-".join(re.sub(r"\W+", "-", str(part)).strip("-") for part in parts if part)
    return Path(platformdirs.user_data_dir("harvest", appauthor=False)) / f"{name}-backups"


def back_up(engine: Engine, path: Path) -> Backup:
    """Copy an orchard's database into a file, which replaces one of that name.

    Raises StoreError where it cannot be read or written; nothing is left half-written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        number, name = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix
        )
        os.close(number)
    except OSError as error:
        raise _no_room(error, path) from error
    draft = Path(name)
    try:
        if engine.dialect.name == "sqlite":
            _copy_sqlite(Path(str(engine.url.database)), draft)
        else:
            _dump(engine.url, draft)
        _settle(draft)
        draft.replace(path)
        files = attachments_folder(engine.url)
        if files is not None:  # a file is there before its row is, so none is missing now
            copy_missing(files, path.parent / BACKED_UP)
    except (OSError, sqlite3.Error) as error:
        raise _no_room(error, path) from error
    finally:
        for left in (draft, Path(f"{draft}-journal"), Path(f"{draft}-wal"), Path(f"{draft}-shm")):
            left.unlink(missing_ok=True)
    return Backup(path, path.stat().st_size)


def back_up_daily(engine: Engine, today: date, kept: int = DAILY_KEPT) -> Backup | None:
    """Keep one copy a day of an orchard, and the newest `kept` of them; None where it is there."""
    folder = backups_folder(engine.url)
    ending = ENDINGS[engine.dialect.name]
    path = folder / f"{DAILY}{today}{ending}"
    if path.exists():
        return None
    made = back_up(engine, path)
    for old in sorted(folder.glob(f"{DAILY}*{ending}"))[:-kept]:
        old.unlink(missing_ok=True)
    return made


def back_up_before_change(engine: Engine, version: str) -> None:
    """Keep an orchard as an older program left it, before its tables are brought up to date.

    Raises StoreError where that cannot be done; the orchard must stay as it is then.
    """
    folder = backups_folder(engine.url)
    back_up(engine, folder / f"version-{version}{ENDINGS[engine.dialect.name]}")


def whole_sqlite(path: Path) -> str:
    """What is wrong with a SQLite file; blank where it is whole and holds an orchard."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            told = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
            if told != "ok":
                return str(told)
            orphan = connection.execute("PRAGMA foreign_key_check").fetchone()
            if orphan is not None:
                return f"a row of {orphan[0]} hangs on nothing"
            row = connection.execute(
                "SELECT count(*) FROM sqlite_master WHERE name = ?", (VERSION_TABLE,)
            ).fetchone()
    except sqlite3.Error as error:
        return str(error)
    return "" if row[0] else "no orchard in it"


def tool(name: str) -> str:
    """A program of PostgreSQL's own. Raises StoreError where it is not installed."""
    found = shutil.which(name)
    if found is None:
        raise StoreError(
            f"PostgreSQL's own program {name} is needed",
            given="not found",
            todo="Install PostgreSQL's client programs (Debian: apt install postgresql-client).",
        )
    return found


def run_tool(url: URL, *command: str) -> str:
    """Run a program of PostgreSQL on a database; what it said. Raises StoreError when it fails.

    The password goes by the environment, where other users do not see it.
    """
    place = dict(url.query)
    told = {
        "PGHOST": url.host or place.get("host", ""),
        "PGPORT": str(url.port or place.get("port", "")),
        "PGUSER": url.username or "",
        "PGPASSWORD": str(url.password or ""),
        "PGDATABASE": url.database or "",
    }
    known = {name: str(value) for name, value in told.items() if value}
    done = subprocess.run(
        [tool(command[0]), *command[1:]], env=os.environ | known, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    if done.returncode:
        said = (done.stderr.strip().splitlines() or ["it failed"])[0]
        raise StoreError(f"{command[0]} must run to its end", given=said)
    return done.stdout


def _copy_sqlite(source: Path, draft: Path) -> None:
    try:
        with (
            closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)) as there,
            closing(sqlite3.connect(draft)) as copy,
        ):
            there.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        wrong = whole_sqlite(draft)
    except sqlite3.OperationalError:
        raise  # the disk's fault, not the file's
    except sqlite3.DatabaseError as error:
        wrong = str(error)
    if wrong:
        raise StoreError(
            "the orchard's file must be whole to be copied",
            given=wrong,
            where=str(source),
            todo="Restore the latest backup: harvest restore.",
        )


def _dump(url: URL, draft: Path) -> None:
    tables = [f"--table={name}" for name in (*metadata.tables, VERSION_TABLE)]
    run_tool(url, "pg_dump", "--format=custom", "--no-owner", "--no-privileges",
             f"--file={draft}", *tables)  # fmt: skip
    run_tool(url, "pg_restore", "--list", str(draft))


def _settle(path: Path) -> None:
    """Wait until the copy is on the disk."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _no_room(error: Exception, path: Path) -> StoreError:
    return StoreError(
        "a backup needs a folder that can be written and has room",
        given=str(error),
        where=str(path),
        todo="Free some space or name another file; the orchard itself was not touched.",
    )
