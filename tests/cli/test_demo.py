"""`harvest demo`: a first look that needs nothing; and a port that is taken."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from harvest.cli import dashboard as command
from harvest.store.orchard import open_orchard
from harvest.store.reading import count_kinds
from tests.cli.conftest import Harvest
from tests.orchards import plant

PROGRAM = Path(sys.executable).with_name("harvest")


def test_demo_builds_its_orchard_and_prints_the_forecast(tmp_path: Path) -> None:
    """As a user does it: the installed command, a home of its own, no network needed."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("HARVEST_")}
    environment = kept | {"HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data")}
    done = subprocess.run(
        [PROGRAM, "demo", "--no-serve"],
        capture_output=True, text=True, env=environment, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert "invented" in done.stdout
    assert "Its clock stands at 12 Aug 2026." in done.stdout
    assert "Picking forecast as of Wed 12 Aug 2026" in done.stdout
    assert "Quernwell" in done.stdout
    assert "the withholding period on the label decides" in done.stdout
    assert [path.name for path in (tmp_path / "data" / "harvest").glob("*.sqlite")] == [
        "demo.sqlite"
    ]


def test_demo_again_keeps_the_orchard_and_says_the_same(
    harvest: Harvest, demo: Path, tmp_path: Path
) -> None:
    before = count_kinds(open_orchard(str(demo)))
    said = harvest("--orchard", demo, "demo", "--no-serve")
    assert said.code == 0
    assert f"Kept at {demo}." in said.out
    assert count_kinds(open_orchard(str(demo))) == before


def test_demo_never_touches_an_orchard_that_is_in_use(
    harvest: Harvest, sqlite_address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant(open_orchard(sqlite_address), tmp_path)
    before = count_kinds(open_orchard(sqlite_address))
    monkeypatch.setenv("HARVEST_ORCHARD", sqlite_address)
    said = harvest("demo", "--no-serve")
    assert said.code == 1
    assert "the demo needs an orchard of its own" in said.err
    assert count_kinds(open_orchard(sqlite_address)) == before


# Ports


@pytest.fixture
def taken() -> Iterator[int]:
    """A port that another program listens on."""
    with socket.create_server((command.HOST, 0)) as server:
        yield server.getsockname()[1]


def test_a_taken_port_gives_the_next_free_one(taken: int) -> None:
    free = command._free_port(command.HOST, taken)
    assert taken < free < taken + command.PORTS_TRIED
    with socket.create_server((command.HOST, free)):
        pass


def test_a_free_port_is_taken_as_asked(taken: int) -> None:
    free = command._free_port(command.HOST, taken)
    assert command._free_port(command.HOST, free) == free


def test_demo_on_a_taken_port_says_where_it_went_and_serves_there(demo: Path, taken: int) -> None:
    program = subprocess.Popen(
        [PROGRAM, "--orchard", demo, "demo", "--port", str(taken)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    try:
        assert program.stdout is not None
        assert program.stderr is not None
        said = re.fullmatch(
            rf"harvest: port {taken} is in use; taking (\d+) instead\.\n",
            program.stderr.readline(),
        )
        assert said is not None
        address = f"http://127.0.0.1:{said[1]}/"
        lines = iter(program.stdout.readline, "")
        assert any(f"Dashboard: {address} " in line for line in lines)
        assert b"<title>" in fetched(address)
    finally:
        program.terminate()
        program.communicate()


def fetched(address: str) -> bytes:
    """The page at an address, as soon as somebody answers there."""
    deadline = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(address, timeout=30) as answer:
                assert answer.status == 200
                return bytes(answer.read())
        except urllib.error.URLError:
            assert time.monotonic() < deadline
            time.sleep(0.05)


def test_no_free_port_at_all_is_told(
    taken: int, monkeypatch: pytest.MonkeyPatch, harvest: Harvest, demo: Path
) -> None:
    monkeypatch.setattr(command, "PORTS_TRIED", 1)
    said = harvest("--orchard", demo, "dashboard", "--port", taken)
    assert said.code == 1
    assert f"no free port from {taken} on; name another with --port." in said.err
