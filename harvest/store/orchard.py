"""Opening and creating an orchard: one SQLite file, or one PostgreSQL database.

Reading runs in one consistent snapshot. Writing takes the orchard's one write lock at once (BEGIN
IMMEDIATE on SQLite, an advisory lock on PostgreSQL), so that two writers wait for each other
instead of losing updates.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event, func, inspect, select, text, update
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, OperationalError
from sqlalchemy.pool import NullPool

import harvest.store.people_tables  # noqa: F401  (its tables are the orchard's as well)
from harvest.errors import OrchardMissingError, OrchardVersionError, StoreError
from harvest.store.backing_up import VERSION_TABLE, back_up_before_change
from harvest.store.schema import VERSIONS, WRITTEN, metadata

__all__ = ["VERSION_TABLE", "Orchard", "create_orchard", "open_orchard", "orchard_url"]

BUSY_SECONDS = 30
RESTORE = "Restore the latest backup: harvest restore."
WRITE_LOCK = 6587  # any number that all writers agree on


@dataclass(frozen=True)
class Orchard:
    """A handle on one orchard's database; cheap to keep, connects when asked."""

    engine: Engine
    address: str

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection whose reads all see the same moment."""
        with self._translated(), self.engine.connect() as connection:
            if self.engine.dialect.name == "postgresql":
                connection.execution_options(isolation_level="REPEATABLE READ")
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection in a transaction: all of it is kept, or none."""
        with self._translated(), self.engine.connect() as connection:
            connection = connection.execution_options(harvest_write=True)
            with connection.begin():
                if self.engine.dialect.name == "postgresql":
                    connection.execute(text(f"SET LOCAL lock_timeout = '{BUSY_SECONDS}s'"))
                    connection.execute(select(func.pg_advisory_xact_lock(WRITE_LOCK)))
                    connection.execute(update(WRITTEN).values(times=WRITTEN.c.times + 1))
                yield connection

    def stamp(self) -> Hashable:
        """Something that differs after every change to the orchard, and only then.

        For SQLite the size and time of the file and of its log of recent writes, for PostgreSQL
        the number of times it was written to. Raises StoreError when the database does not answer.
        """
        if self.engine.dialect.name == "postgresql":
            with self.reading() as connection:
                return int(connection.execute(select(WRITTEN.c.times)).scalar_one())
        path = self.engine.url.database
        found = []
        for part in (Path(path or ""), Path(f"{path}-wal")):
            try:
                status = part.stat()
            except FileNotFoundError:
                found.append((0, 0))
            else:
                # Opening a database to read it makes an empty log, which says nothing.
                found.append((status.st_mtime_ns, status.st_size) if status.st_size else (0, 0))
        return tuple(found)

    @contextmanager
    def _translated(self) -> Iterator[None]:
        try:
            yield
        except (OperationalError, DatabaseError) as error:
            raise _store_error(error, self.address) from error


def orchard_url(address: str) -> URL:
    """The database URL of an address: a URL as it is, anything else as a SQLite file's path.

    Raises StoreError when it looks like a URL but cannot be read as one, or names another
    database than SQLite or PostgreSQL.
    """
    if "://" not in address:
        return URL.create("sqlite", database=str(Path(address).expanduser()))
    try:
        url = make_url(address)
    except ArgumentError as error:
        raise StoreError(
            "an orchard is a file path or a database URL",
            given=repr(address),
            todo="Example: postgresql://user@localhost/orchard.",
        ) from error
    backend = url.get_backend_name()
    if backend not in ("sqlite", "postgresql"):
        raise StoreError("the database must be SQLite or PostgreSQL", given=repr(backend))
    return url.set(drivername="postgresql+psycopg") if backend == "postgresql" else url


def create_orchard(address: str) -> Orchard:
    """Create an orchard's tables, or open it when it is there already.

    Raises StoreError when the place cannot be written or holds another program's tables,
    OrchardVersionError as `open_orchard`.
    """
    url = orchard_url(address)
    if url.database in (None, "", ":memory:"):
        raise StoreError("an orchard needs a file or a database name", given=repr(address))
    if url.get_backend_name() == "sqlite":
        try:
            Path(url.database).parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(
                "the orchard's folder must be writable", given=str(error), where=address
            ) from error
    with _opening(url, address) as orchard:
        version = _version(orchard)
        if version is None:
            _refuse_other_tables(orchard)
            _migrate(orchard)
        else:
            _bring_up_to_date(orchard, version)
    return orchard


def open_orchard(address: str) -> Orchard:
    """Open an orchard that exists.

    Raises
    ------
    OrchardMissingError : there is none at the address.
    OrchardVersionError : it was made by a newer version of this program; it stays untouched.
    StoreError : the file is no orchard, is damaged, or the database does not answer.
    """
    url = orchard_url(address)
    if url.get_backend_name() == "sqlite" and not Path(url.database or "").is_file():
        raise OrchardMissingError(
            "an orchard must exist at this address",
            given="no file there",
            where=address,
            todo="Make one with 'harvest init', or look at the demo with 'harvest demo'.",
        )
    with _opening(url, address) as orchard:
        version = _version(orchard)
        if version is None:
            raise OrchardMissingError(
                "the database must hold an orchard",
                given="a database without an orchard's tables",
                where=orchard.address,
                todo="Make one with 'harvest init', or check the address.",
            )
        _bring_up_to_date(orchard, version)
    return orchard


@contextmanager
def _opening(url: URL, address: str) -> Iterator[Orchard]:
    """A handle whose connections are closed again when opening fails."""
    shown = make_url(address).render_as_string() if "://" in address else address
    orchard = Orchard(_engine(url), shown)
    try:
        with orchard._translated():
            yield orchard
    except BaseException:
        orchard.engine.dispose()
        raise


def _bring_up_to_date(orchard: Orchard, version: str) -> None:
    if version not in VERSIONS:
        raise OrchardVersionError(
            f"this program reads orchards up to version {VERSIONS[-1]}",
            given=f"version {version}, made by a newer program",
            where=orchard.address,
            todo="Nothing was changed. Install the newer program to open it.",
        )
    if version != VERSIONS[-1]:
        back_up_before_change(orchard.engine, version)
        _migrate(orchard)


def _refuse_other_tables(orchard: Orchard) -> None:
    """An orchard gets a file of its own, and no table of the same name in a shared database."""
    there = set(inspect(orchard.engine).get_table_names())
    if orchard.engine.dialect.name == "postgresql":
        there &= {*metadata.tables, VERSION_TABLE}
    if there and VERSION_TABLE not in there:
        raise StoreError(
            "an orchard needs an empty file or database",
            given=f"tables of another program: {', '.join(sorted(there)[:8])}",
            where=orchard.address,
            todo="Nothing was changed. Choose another address.",
        )


def _engine(url: URL) -> Engine:
    if url.get_backend_name() != "sqlite":
        return create_engine(url, pool_pre_ping=True)
    engine = create_engine(url, poolclass=NullPool, connect_args={"timeout": BUSY_SECONDS})
    event.listen(engine, "connect", _on_sqlite_connect)
    event.listen(engine, "begin", _on_sqlite_begin)
    return engine


def _on_sqlite_connect(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None  # the driver must not begin transactions on its own
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")


def _on_sqlite_begin(connection: Connection) -> None:
    write = connection.get_execution_options().get("harvest_write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


def _version(orchard: Orchard) -> str | None:
    """Schema version on record, or None where there is no orchard yet. Changes nothing."""
    with orchard.engine.connect() as connection:
        if not inspect(connection).has_table(VERSION_TABLE):
            return None
        row = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).first()
        return None if row is None else str(row[0])


def _migrate(orchard: Orchard) -> None:
    from alembic import command
    from alembic.config import Config

    if orchard.engine.dialect.name == "sqlite":
        with orchard.engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)
            raw.execute("PRAGMA journal_mode = WAL")
    config = Config()
    config.set_main_option("script_location", "harvest.store:migrations")
    config.attributes["engine"] = orchard.engine
    with _alone(orchard):
        command.upgrade(config, "head")


@contextmanager
def _alone(orchard: Orchard) -> Iterator[None]:
    """Let one program at a time change PostgreSQL's tables; on SQLite its write lock does."""
    if orchard.engine.dialect.name != "postgresql":
        yield
        return
    with orchard.engine.connect() as connection:
        connection.execute(select(func.pg_advisory_lock(WRITE_LOCK)))
        try:
            yield
        finally:
            connection.execute(select(func.pg_advisory_unlock(WRITE_LOCK)))


def _store_error(error: Exception, address: str) -> StoreError:
    """Say in a grower's words what the database driver said in its own."""
    said = str(getattr(error, "orig", error)).splitlines()[0]
    rules = (
        ("not a database", "the file must be an orchard", "It is damaged or of another kind."),
        (
            "malformed",
            "the orchard's file must be whole",
            RESTORE,
        ),
        ("readonly", "the orchard must be writable", "Check the file's permissions."),
        ("read-only", "the orchard must be writable", "Check the file's permissions."),
        ("locked", "the orchard must be free to write", "Another program is writing; try again."),
        ("lock timeout", "the orchard must be free to write", "Another program is writing; wait."),
        ("disk is full", "the disk must have room", "Free some space; nothing was half-written."),
        ("disk I/O", "the disk must answer", "Check the disk; nothing was half-written."),
        ("unable to open", "the orchard's folder must be there and writable", ""),
        ("connect", "the database must answer", "Check the address, and that the server runs."),
    )
    for sign, required, todo in rules:
        if sign in said:
            return StoreError(required, given=said, where=address, todo=todo)
    return StoreError("the database must answer", given=said, where=address)
