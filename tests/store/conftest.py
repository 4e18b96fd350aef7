"""Orchards that hold a record of every kind, copied from one that was filled once."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from harvest.store.orchard import Orchard, open_orchard
from tests import postgres
from tests.store.every_kind import fill


@pytest.fixture(scope="session")
def filled_sqlite(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("filled")
    path = folder / "orchard.sqlite"
    shutil.copyfile(sqlite_template, path)
    fill(open_orchard(str(path)), folder)
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    return path


@pytest.fixture(scope="session")
def filled_postgres(
    postgres_folder: Path, postgres_template: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    with postgres.fresh_database(postgres_folder, postgres_template) as address:
        orchard = open_orchard(address)
        fill(orchard, tmp_path_factory.mktemp("filled"))
        orchard.engine.dispose()
        yield postgres.database_of(address)


@pytest.fixture(params=["sqlite", "postgresql"])
def filled(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Orchard]:
    """An orchard with the records of `tests.store.every_kind`, on each kind of database."""
    if request.param == "sqlite":
        path = tmp_path / "filled.sqlite"
        shutil.copyfile(request.getfixturevalue("filled_sqlite"), path)
        yield open_orchard(str(path))
        return
    template = request.getfixturevalue("filled_postgres")
    with postgres.fresh_database(request.getfixturevalue("postgres_folder"), template) as address:
        orchard = open_orchard(address)
        yield orchard
        orchard.engine.dispose()


@pytest.fixture(autouse=True)
def own_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Copies of a database on a server are kept in the user's data folder: here, the test's own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
