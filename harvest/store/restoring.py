"""Putting a backup in the orchard's place: checked first, and what was there is kept."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy.engine import URL

from harvest.errors import OrchardVersionError, StoreError
from harvest.store.attached_files import BACKED_UP, attachments_folder, copy_missing
from harvest.store.backing_up import (
    ENDINGS,
    Backup,
    back_up,
    backups_folder,
    run_tool,
    whole_sqlite,
)
from harvest.store.orchard import Orchard, open_orchard, orchard_url
from harvest.store.schema import VERSIONS


@dataclass(frozen=True)
class Restored:
    """The orchard as restored, and where the state before is kept (None: there was none)."""

    orchard: Orchard
    before: Path | None


def list_backups(address: str) -> list[Backup]:
    """The copies kept of an orchard, newest first."""
    url = orchard_url(address)
    ending = ENDINGS[url.get_backend_name()]
    found = [Backup(path, path.stat().st_size) for path in backups_folder(url).glob(f"*{ending}")]
    return sorted(found, key=lambda each: each.path.stat().st_mtime, reverse=True)


def restore(address: str, path: Path, at: datetime) -> Restored:
    """Put a backup in the place of the orchard at an address.

    Parameters
    ----------
    at : the moment, for the name under which the state before is kept.

    Raises StoreError where the backup is not whole, or of another kind of database; the orchard
    is not touched then.
    """
    url = orchard_url(address)
    kind = url.get_backend_name()
    if not path.is_file():
        raise StoreError(
            "a backup must be there to be restored",
            given="no such file",
            where=str(path),
            todo="'harvest restore' lists those that are kept.",
        )
    if kind == "sqlite":
        before = _restore_sqlite(Path(str(url.database)), path, at)
    else:
        before = _restore_postgres(address, url, path, at)
    return Restored(open_orchard(address), before)


def _restore_sqlite(place: Path, path: Path, at: datetime) -> Path | None:
    wrong = whole_sqlite(path)
    if wrong:
        raise _unfit(path, wrong)
    _refuse_newer(path)
    before = _aside(place, at)
    _bring_files(place, path)
    draft = place.with_name(f".{place.name}.part")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        if place.exists() and not whole_sqlite(place):
            _pour(path, place)  # into the file that others may have open, in one transaction
            return before
        draft.unlink(missing_ok=True)
        _pour(path, draft)
        for beside in ("-wal", "-shm", "-journal"):
            Path(f"{place}{beside}").unlink(missing_ok=True)
        draft.replace(place)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(
            "the orchard's place must be writable, have room, and be in nobody's use",
            given=str(error),
            where=str(place),
            todo="End other programs that use the orchard and try again."
            + (f" What was there is kept in {before}." if before else ""),
        ) from error
    finally:
        draft.unlink(missing_ok=True)
    return before


def _bring_files(place: Path, path: Path) -> None:
    """Bring what was attached to the backup's records; what is there already stays."""
    folder = attachments_folder(orchard_url(str(place)))
    assert folder is not None
    try:
        copy_missing(path.parent / BACKED_UP, folder)
    except OSError as error:
        raise StoreError(
            "the folder of attached files must be writable and have room",
            given=str(error),
            where=str(folder),
            todo="The orchard was not touched.",
        ) from error


def _refuse_newer(path: Path) -> None:
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
        row = connection.execute("SELECT version_num FROM harvest_schema").fetchone()
    if row is None or row[0] not in VERSIONS:
        raise OrchardVersionError(
            f"this program reads orchards up to version {VERSIONS[-1]}",
            given=f"version {row and row[0]}, made by a newer program",
            where=str(path),
            todo="The orchard was not touched. Install the newer program to restore it.",
        )


def _aside(place: Path, at: datetime) -> Path | None:
    """Keep what stands at the orchard's place, whole or not."""
    if not place.exists():
        return None
    folder = backups_folder(orchard_url(str(place)))
    stamp = f"{at:%Y-%m-%d-%H%M%S}"
    if not whole_sqlite(place):
        kept = folder / f"before-restore-{stamp}.sqlite"
        return back_up(open_orchard(str(place)).engine, kept).path
    folder.mkdir(parents=True, exist_ok=True)
    damaged = folder / f"damaged-{stamp}.sqlite-damaged"
    for beside in ("", "-wal"):
        part = Path(f"{place}{beside}")
        if part.exists():
            Path(f"{damaged}{beside}").write_bytes(part.read_bytes())
    return damaged


def _pour(path: Path, place: Path) -> None:
    with (
        closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as source,
        closing(sqlite3.connect(place, timeout=30)) as target,
    ):
        source.backup(target)
        target.execute("PRAGMA journal_mode = WAL")


def _restore_postgres(address: str, url: URL, path: Path, at: datetime) -> Path | None:
    try:
        listed = run_tool(url, "pg_restore", "--list", str(path))
    except StoreError as error:
        raise _unfit(path, error.given) from error
    if "TABLE DATA public trees" not in listed:
        raise _unfit(path, "no orchard in it")
    before = path.with_name(f"before-restore-{at:%Y-%m-%d-%H%M%S}{ENDINGS['postgresql']}")
    orchard = open_orchard(address)
    back_up(orchard.engine, before)
    orchard.engine.dispose()
    run_tool(url, "pg_restore", "--clean", "--if-exists", "--single-transaction", "--no-owner",
             "--exit-on-error", f"--dbname={url.database}", str(path))  # fmt: skip
    return before


def _unfit(path: Path, wrong: str) -> StoreError:
    return StoreError(
        "a backup must be whole, and of this orchard's kind of database",
        given=wrong,
        where=str(path),
        todo="The orchard was not touched. Take another backup: 'harvest restore' lists them.",
    )
