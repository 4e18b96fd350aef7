"""The contents of attached photos and notes, named by their SHA-256.

Beside a SQLite file they lie in a folder, one file each; on a server, whose disk others do not
see, in a table. What is there is never changed or deleted: a name stands for its content.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from pathlib import Path

from sqlalchemy import Connection, insert, select
from sqlalchemy.engine import URL

from harvest.errors import StoreError
from harvest.store.schema import ATTACHED_FILES

BACKED_UP = "attachments"


def attachments_folder(url: URL) -> Path | None:
    """Where the files of an orchard lie: beside its own. None for a database on a server."""
    if url.get_backend_name() != "sqlite" or not url.database:
        return None
    place = Path(url.database)
    return place.with_name(f"{place.stem}-attachments")


def sha256_of(data: bytes) -> str:
    """The name of a content."""
    return hashlib.sha256(data).hexdigest()


def keep_file(connection: Connection, data: bytes) -> str:
    """Keep a content; its name. Raises StoreError where it cannot be written."""
    name = sha256_of(data)
    folder = attachments_folder(connection.engine.url)
    if folder is not None:
        write_named(folder, name, data)
    elif read_file(connection, name) is None:
        connection.execute(insert(ATTACHED_FILES).values(sha256=name, data=data))
    return name


def read_file(connection: Connection, name: str) -> bytes | None:
    """A content by its name, None where it is not kept here.

    Raises StoreError where it cannot be read, or is not what its name says.
    """
    folder = attachments_folder(connection.engine.url)
    if folder is not None:
        return read_named(folder, name)
    query = select(ATTACHED_FILES.c.data).where(ATTACHED_FILES.c.sha256 == name)
    data = connection.execute(query).scalar()
    return None if data is None else _checked(bytes(data), name, "the database")


def write_named(folder: Path, name: str, data: bytes) -> None:
    """Write a content into a folder, whole or not at all; one that is there stays."""
    path = folder / name
    if path.is_file() and path.stat().st_size == len(data):
        return
    try:
        folder.mkdir(parents=True, exist_ok=True)
        number, draft = tempfile.mkstemp(dir=folder, prefix=".")
        try:
            with os.fdopen(number, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            Path(draft).replace(path)
        finally:
            Path(draft).unlink(missing_ok=True)
    except OSError as error:
        raise StoreError(
            "the folder of attached files must be writable and have room",
            given=str(error),
            where=str(folder),
            todo="Nothing was attached. Free some space or check the folder's permissions.",
        ) from error


def read_named(folder: Path, name: str) -> bytes | None:
    """A content from a folder, None where it is not there. Raises as `read_file`."""
    path = folder / name
    try:
        return _checked(path.read_bytes(), name, str(path)) if path.is_file() else None
    except OSError as error:
        raise StoreError(
            "an attached file must be readable", given=str(error), where=str(path)
        ) from error


def copy_missing(source: Path, target: Path) -> int:
    """Copy the contents that a folder has not yet from another; how many there were.

    Raises OSError.
    """
    if not source.is_dir():
        return 0
    copied = 0
    for path in source.iterdir():
        there = target / path.name
        if path.name.startswith(".") or there.exists():
            continue
        target.mkdir(parents=True, exist_ok=True)
        draft = target / f".{path.name}"
        shutil.copyfile(path, draft)
        draft.replace(there)
        copied += 1
    return copied


def _checked(data: bytes, name: str, where: str) -> bytes:
    if sha256_of(data) != name:
        raise StoreError(
            "an attached file must be as it was attached",
            given="another content: it was damaged or changed",
            where=where,
            todo="Bring it back from a backup's folder of attachments.",
        )
    return data
