"""Fixtures for every test: the private PostgreSQL, and a fresh orchard on each kind of database."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from harvest.store.demo import create_demo
from harvest.store.orchard import Orchard, create_orchard, open_orchard
from tests import postgres

# A loaded machine is no failure of a law.
# CI draws the same examples every time; a developer's machine looks for new ones.
settings.register_profile("patient", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("patient")


def pytest_configure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        postgres.reserve()


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        postgres.release()


@pytest.fixture(scope="session")
def postgres_folder() -> Path:
    """Folder of the running cluster; skips where PostgreSQL is not installed and not required."""
    if postgres.programs() is None:
        if os.environ.get(postgres.REQUIRE_VARIABLE) == "1":
            pytest.fail("PostgreSQL is not installed, and HARVEST_REQUIRE_POSTGRES=1 asks for it")
        pytest.skip("PostgreSQL is not installed")
    return postgres.start()


@pytest.fixture
def postgres_address(postgres_folder: Path) -> Iterator[str]:
    """An empty PostgreSQL database."""
    with postgres.fresh_database(postgres_folder) as address:
        yield address


@pytest.fixture(scope="session")
def postgres_template(postgres_folder: Path) -> Iterator[str]:
    """Name of a database with an orchard's tables, to be copied."""
    with postgres.fresh_database(postgres_folder) as address:
        create_orchard(address).engine.dispose()
        yield postgres.database_of(address)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with an orchard's tables, to be copied."""
    path = tmp_path_factory.mktemp("template") / "orchard.sqlite"
    create_orchard(str(path)).engine.dispose()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    return path


@pytest.fixture(scope="session")
def demo_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo orchard as a SQLite file; to be read only, or copied."""
    path = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    create_demo(str(path))
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    return path


@pytest.fixture
def sqlite_address(tmp_path: Path, sqlite_template: Path) -> str:
    """Address of an orchard without records, on SQLite."""
    path = tmp_path / "orchard.sqlite"
    shutil.copyfile(sqlite_template, path)
    return str(path)


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest) -> Iterator[str]:
    """Address of an orchard without records, on each kind of database."""
    if request.param == "sqlite":
        yield request.getfixturevalue("sqlite_address")
        return
    template = request.getfixturevalue("postgres_template")
    folder = request.getfixturevalue("postgres_folder")
    with postgres.fresh_database(folder, template) as address:
        yield address


@pytest.fixture
def orchard(address: str) -> Iterator[Orchard]:
    """An orchard without records, on each kind of database."""
    opened = open_orchard(address)
    yield opened
    opened.engine.dispose()
