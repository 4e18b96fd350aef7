"""Twenty people at once, against the server as it is started for them."""

from __future__ import annotations

import gzip
import json
import time
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from dashboard.pages import PAGES
from harvest import service
from tests.browser.conftest import started
from tests.browser.visit import visit

USERS, SECONDS, MOST_MB = 20, 20, 400
HOME = date(2026, 8, 12)


def ask(url: str, body: Any = None) -> Any:
    """A document, or the answer to a callback; both come compressed."""
    data = None if body is None else json.dumps(body).encode()
    headers = {"Accept-Encoding": "gzip", "Content-Type": "application/json"}
    request = urllib.request.Request(url, data, headers)
    with urllib.request.urlopen(request, timeout=60) as answer:
        assert answer.status == 200
        raw = answer.read()
        if answer.headers.get("Content-Encoding") == "gzip":
            raw = gzip.decompress(raw)
    return raw if body is None else json.loads(raw)


def page_of(url: str, path: str, search: str) -> Any:
    """The content of a page, as a browser asks for it."""
    outputs = [
        {"id": "_pages_content", "property": "children"},
        {"id": "_pages_store", "property": "data"},
    ]
    inputs = [
        {"id": "_pages_location", "property": "pathname", "value": path},
        {"id": "_pages_location", "property": "search", "value": search},
    ]
    body = {
        "output": ".._pages_content.children..._pages_store.data..",
        "outputs": outputs,
        "inputs": inputs,
        "changedPropIds": ["_pages_location.pathname"],
        "state": [],
    }
    return ask(f"{url}_dash-update-component", body)


def visitor(url: str, number: int, until: float) -> list[float]:
    """Goes from page to page and from week to week; how long each answer took [s]."""
    took = []
    turn = number
    while time.monotonic() < until:
        page = PAGES[turn % len(PAGES)]
        day = HOME - timedelta(weeks=turn % 3)
        begin = time.monotonic()
        if page.name != "how_sure":
            found = page_of(url, page.path, "" if day == HOME else f"?as_of={day}")
            assert "answer" in json.dumps(found), page.name
        ask(url + page.path.lstrip("/"))
        took.append(time.monotonic() - begin)
        turn += 1
    return took


def peak_mb(pid: int) -> float:
    """Most memory that a process has had [MB]."""
    status = Path(f"/proc/{pid}/status").read_text()
    line = next(line for line in status.splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
def test_twenty_people_at_once_meet_no_error_and_little_memory(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    path = tmp_path_factory.mktemp("load") / "demo.sqlite"
    service.build_demo(str(path)).engine.dispose()
    with started(str(path)) as (url, process):
        until = time.monotonic() + SECONDS
        with ThreadPoolExecutor(USERS) as people:
            going = [people.submit(visitor, url, number, until) for number in range(USERS)]
            times = [each.result() for each in going]
        took = sorted(second for each in times for second in each)
        middle, peak = took[len(took) // 2], peak_mb(process.pid)
        print(f"\n{len(took)} pages, median {middle:.2f} s, {peak:.0f} MB")
        assert all(times), "everyone was answered"
        assert process.poll() is None
        assert peak < MOST_MB


@pytest.mark.browser
def test_pages_travel_compressed_and_plotly_once(browser: Browser, demo_url: str) -> None:
    large: dict[str, str | None] = {}
    plotly: list[str] = []
    with visit(browser, demo_url) as seen:
        seen.page.on("request", lambda asked: "plotly" in asked.url and plotly.append(asked.url))
        seen.page.on(
            "response",
            lambda answer: large.update({answer.url: answer.headers.get("content-encoding")}),
        )
        seen.open("picking")
        seen.page.locator("#nav-top").get_by_text("Seasons").click()
        seen.page.wait_for_url("**/seasons")
        seen.settle()
    scripts = [url for url in large if url.endswith(".js") or "_dash-update" in url]
    assert scripts
    heavy = [url for url in scripts if ".min.js" in url or "async" in url]
    assert heavy
    assert all(large[url] in ("gzip", "br", "zstd", "deflate") for url in heavy)
    assert len([url for url in plotly if "plotly.min" in url or "plotly.js" in url]) <= 1
    assert len(plotly) == len(set(plotly))
