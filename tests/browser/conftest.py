from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from harvest import service
from tests.dashboard.orchards import hostile_orchard

ROOT = Path(__file__).parents[2]
# What Chromium needs to run as root in a container, and to keep to itself.
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
# A date nobody has asked for yet takes a busy machine its time.
expect.set_options(timeout=30_000)
START_SECONDS = 60


def chromium_path() -> str | None:
    """The browser named by HARVEST_CHROMIUM, else the one on the path."""
    return os.environ.get("HARVEST_CHROMIUM") or shutil.which("chromium")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A real Chromium. Without one: a skip, or a failure where HARVEST_REQUIRE_BROWSER=1."""
    path = chromium_path()
    if path is None:
        if os.environ.get("HARVEST_REQUIRE_BROWSER") == "1":
            pytest.fail("No Chromium found, and HARVEST_REQUIRE_BROWSER=1 asks for one.")
        pytest.skip("no Chromium found; set HARVEST_CHROMIUM or install one")
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield launched
        launched.close()


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def serving(address: str, port: int | None = None, code: Path = ROOT) -> Iterator[str]:
    """The address of a dashboard served by a process of its own, on a port or any free one.

    `code`: the folder that the program is taken from.
    """
    with started(address, port, code) as (url, _):
        yield url


@contextmanager
def started(
    address: str, port: int | None = None, code: Path = ROOT
) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """As `serving`, with the process."""
    port = free_port() if port is None else port
    script = Path(__file__).with_name("serve_orchard.py")
    environment = os.environ | {"PYTHONPATH": str(code)}
    command = [sys.executable, str(script), address, str(port)]
    url = f"http://127.0.0.1:{port}/"
    with subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL) as process:
        try:
            wait_for(url, process)
            yield url, process
        finally:
            process.terminate()


def wait_for(url: str, process: subprocess.Popen[bytes]) -> None:
    """Wait until a server answers."""
    until = time.monotonic() + START_SECONDS
    while time.monotonic() < until:
        assert process.poll() is None, "the server ended before it answered"
        try:
            with urllib.request.urlopen(url, timeout=5) as answer:
                assert answer.status == 200
                return
        except OSError:
            time.sleep(0.2)
    raise AssertionError(f"no answer from {url} within {START_SECONDS} s")


@pytest.fixture(scope="session")
def demo_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The demo orchard's dashboard."""
    path = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    service.build_demo(str(path)).engine.dispose()
    with serving(str(path)) as url:
        yield url


@pytest.fixture(scope="session")
def hostile_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The dashboard of an orchard of hostile names."""
    folder = tmp_path_factory.mktemp("hostile")
    path = folder / "hostile.sqlite"
    hostile_orchard(str(path), folder).engine.dispose()
    with serving(str(path)) as url:
        yield url
