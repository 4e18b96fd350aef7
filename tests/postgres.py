"""A private PostgreSQL for the tests: one cluster per run, a fresh database for every test.

The process that runs pytest names a folder; the first worker that needs the cluster starts it
there behind a file lock, the others find it running, and the process that runs pytest stops it.
The server listens on a Unix socket in that folder only. Nothing it keeps need survive the run, so
it does not wait for the disk.
"""

from __future__ import annotations

import fcntl
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

FOLDER_VARIABLE = "HARVEST_TEST_POSTGRES"
REQUIRE_VARIABLE = "HARVEST_REQUIRE_POSTGRES"
SUPERUSER = "keeper"
FAST = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=60"


def programs() -> Path | None:
    """Folder with initdb and pg_ctl, or None where PostgreSQL is not installed."""
    found = shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    debian = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return debian[-1].parent if debian else None


def reserve() -> None:
    """Name the run's folder in the environment, so that every worker finds the same one."""
    os.environ.setdefault(FOLDER_VARIABLE, tempfile.mkdtemp(prefix="pg-"))


def release() -> None:
    """Stop the cluster if it was started, and remove its folder."""
    folder = Path(os.environ.pop(FOLDER_VARIABLE))
    if (folder / "data" / "postmaster.pid").exists():
        _run(folder, "pg_ctl", "stop", "-w", "-m", "immediate")
    shutil.rmtree(folder, ignore_errors=True)


def start() -> Path:
    """Start the run's cluster unless it runs already; its folder, which holds the socket."""
    folder = Path(os.environ[FOLDER_VARIABLE])
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "data" / "postmaster.pid").exists():
            user = _user()
            if user is not None:
                shutil.chown(folder, user)
            _run(folder, "initdb", "-U", SUPERUSER, "-A", "trust", "-E", "UTF8", "--no-sync",
                 "--no-instructions", "--locale=C.UTF-8")  # fmt: skip
            options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' {FAST}"
            _run(folder, "pg_ctl", "start", "-w", "-l", str(folder / "log"), "-o", options)
    return folder


def address(folder: Path, database: str) -> str:
    """The orchard address of a database in the cluster."""
    return f"postgresql://{SUPERUSER}@/{database}?host={folder}"


def database_of(address: str) -> str:
    """The database that an address of this cluster names."""
    return address.partition("@/")[2].partition("?")[0]


@contextmanager
def fresh_database(folder: Path, template: str = "template1") -> Iterator[str]:
    """The address of a new database, a copy of `template`; dropped afterwards."""
    import psycopg

    name = f"t{uuid4().hex}"
    place = f"host={folder} user={SUPERUSER} dbname=postgres"
    with psycopg.connect(place, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"'.encode())
        try:
            yield address(folder, name)
        finally:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)'.encode())


def _user() -> str | None:
    """Who may run the server: it refuses to run as root."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


def _run(folder: Path, program: str, *arguments: str) -> None:
    place = programs()
    assert place is not None
    command: Sequence[str] = [str(place / program), "-D", str(folder / "data"), *arguments]
    with (folder / "output").open("a") as output:
        done = subprocess.run(
            command, stdout=output, stderr=output, user=_user(), cwd=folder, check=False
        )
    if done.returncode:
        told = (folder / "output").read_text()
        raise RuntimeError(f"{program} failed:\n{told}")
