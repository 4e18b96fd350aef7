"""Entries made while the server is really stopped: they wait, are seen, and arrive exactly once."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from dashboard.texts import offline as offline_texts
from dashboard.texts.log import SCRIPT
from harvest import service
from harvest.service_records import Signature, undo_batch
from harvest.store.orchard import open_orchard
from harvest.store.reading import read_kind
from tests.browser.accessible import problems
from tests.browser.conftest import ROOT, free_port, serving
from tests.browser.visit import PHONE, wait_until
from tests.dashboard.orchards import take_in

pytestmark = pytest.mark.browser


@pytest.fixture
def orchard(tmp_path: Path) -> str:
    path = str(tmp_path / "orchard.sqlite")
    made = service.create_orchard(path)
    take_in(made, tmp_path, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    header = ("tree", "site", "species", "cultivar", "planted")
    trees = [(f"Row {n}", "Hill", "apple", "Gala", "2015-03-14") for n in range(1, 6)]
    take_in(made, tmp_path, "trees", [header, *trees])
    made.engine.dispose()
    return path


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}, has_touch=True)
    context.set_default_timeout(60_000)
    yield context
    context.close()


def opened(phone: BrowserContext, url: str) -> Page:
    page = phone.new_page()
    page.goto(url + "log")
    page.wait_for_selector(".log-tile")
    return page


def pick(page: Page, tree: str, weight: str) -> None:
    page.fill("#log-who", tree)
    page.locator(f".log-hit:has(bdi:text-is('{tree}'))").tap()
    page.locator("[data-action=pick]").tap()
    page.fill("#log-weight_kg", weight)
    page.locator(".log-save button").tap()


def picks(path: str) -> list[tuple[str, float]]:
    orchard = open_orchard(path)
    with orchard.reading() as connection:
        found = read_kind(connection, "picks")
    orchard.engine.dispose()
    return list(zip(found["tree"], found["weight_kg"], strict=True))


def test_the_server_is_stopped_and_started_again(phone: BrowserContext, orchard: str) -> None:
    port = free_port()
    with serving(orchard, port) as url:
        page = opened(phone, url)
        pick(page, "Row 1", "11")
        expect(page.locator(".log-saved li")).to_have_count(1)
    pick(page, "Row 2", "12")
    expect(page.locator(".log-queue li")).to_have_count(1)
    expect(page.locator(".log-saved")).to_contain_text("Kept on this device: Picked 12kg, Row 2")
    pick(page, "Row 3", "13 lots")
    expect(page.locator(".log-queue h2")).to_have_text(f"{SCRIPT['queue']} (2)")
    pick(page, "Row 4", "14")
    expect(page.locator(".log-queue li")).to_have_count(3)
    assert picks(orchard) == [("Row 1", 11)]
    with serving(orchard, port):
        page.get_by_text(SCRIPT["queue_send"]).tap()
        # What cannot be accepted stays, with its reason; the others have arrived.
        expect(page.locator(".log-queue li")).to_have_count(1)
        refused = page.locator(".log-queue li")
        expect(refused).to_contain_text("A weight with its unit is needed")
        assert picks(orchard) == [("Row 1", 11), ("Row 2", 12), ("Row 4", 14)]
        refused.get_by_text(SCRIPT["queue_mend"]).tap()
        expect(page.locator("#log-who")).to_have_value("Row 3")
        expect(page.locator("#wrong-weight_kg")).to_be_visible()
        page.fill("#log-weight_kg", "13")
        page.locator(".log-save button").tap()
        expect(page.locator(".log-saved li").first).to_contain_text("Row 3: picked 13")
        expect(page.locator(".log-queue")).to_have_count(0)
        assert len(picks(orchard)) == 4


def test_the_queue_outlives_the_page_and_is_sent_by_itself(
    phone: BrowserContext, orchard: str
) -> None:
    port = free_port()
    with serving(orchard, port) as url:
        page = opened(phone, url)
        wait_until(page, "navigator.serviceWorker.controller !== null")
    pick(page, "Row 1", "11")
    expect(page.locator(".log-queue li")).to_have_count(1)
    page.close()
    # Opened anew without a server, it is the log all the same; every other page says what it needs.
    page = opened(phone, url)
    expect(page.locator("#answer")).to_have_text(offline_texts.LOG)
    expect(page.locator(".log-old")).to_contain_text("Trees as this device knew them on")
    expect(page.locator(".log-queue li")).to_have_count(1)
    assert problems(page) == []
    pick(page, "Row 2", "12")
    expect(page.locator(".log-queue li")).to_have_count(2)
    page.goto(url + "picking?site=Hill")
    expect(page.locator("#answer")).to_have_text(offline_texts.OTHER)
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]
    assert problems(page) == []
    page.close()
    assert picks(orchard) == []
    with serving(orchard, port) as url:
        other = phone.new_page()
        other.goto(url + "help")  # any page sends what waits
        wait_until(
            other,
            "getComputedStyle(document.documentElement).getPropertyValue('--waiting') == '\"\"'",
        )
        assert picks(orchard) == [("Row 1", 11), ("Row 2", 12)]


def test_a_new_version_of_the_program_replaces_what_the_browser_keeps(
    phone: BrowserContext, orchard: str, tmp_path: Path
) -> None:
    port, newer = free_port(), tmp_path / "newer"
    shutil.copytree(ROOT / "dashboard", newer / "dashboard")
    words = newer / "dashboard" / "texts" / "offline.py"
    words.write_text(
        f"{words.read_text(encoding='utf-8')}\nLOG = 'Newer words.'\n", encoding="utf-8"
    )
    with serving(orchard, port) as url:
        page = opened(phone, url)
        wait_until(page, "navigator.serviceWorker.controller !== null")
        (old,) = page.evaluate("caches.keys()")
    with serving(orchard, port, newer):
        page.goto(url + "log")
        wait_until(page, f"caches.keys().then(all => all.length === 1 && all[0] !== '{old}')")
        pick(page, "Row 1", "11")
        expect(page.locator(".log-saved li")).to_have_count(1)
    page.goto(url + "log")
    expect(page.locator("#answer")).to_have_text("Newer words.")
    pick(page, "Row 2", "12")
    expect(page.locator(".log-queue li")).to_have_count(1)
    assert picks(orchard) == [("Row 1", 11)]


def test_an_answer_lost_on_the_way_makes_no_second_record(
    phone: BrowserContext, orchard: str
) -> None:
    with serving(orchard) as url:
        page = opened(phone, url)

        def lose(route: Route) -> None:
            route.fetch()  # the server has it, the phone hears nothing
            route.abort()

        page.route("**/entries", lose)
        pick(page, "Row 1", "11")
        expect(page.locator(".log-queue li")).to_have_count(1)
        assert picks(orchard) == [("Row 1", 11)]
        # Somebody takes it back meanwhile: were it logged a second time, it would come again.
        at_home = open_orchard(orchard)
        undo_batch(at_home, None, Signature("Ada", None))
        at_home.engine.dispose()
        page.unroute("**/entries")
        page.get_by_text(SCRIPT["queue_send"]).tap()
        expect(page.locator(".log-queue")).to_have_count(0)
        assert picks(orchard) == []


def test_what_waits_can_be_thrown_away(phone: BrowserContext, orchard: str) -> None:
    port = free_port()
    with serving(orchard, port) as url:
        page = opened(phone, url)
    pick(page, "Row 1", "11")
    drop = page.locator(".log-queue li").get_by_text(SCRIPT["queue_drop"])
    drop.tap()
    page.get_by_text(SCRIPT["queue_really"]).tap()
    expect(page.locator(".log-queue")).to_have_count(0)
    with serving(orchard, port):
        page.wait_for_timeout(1000)
        assert picks(orchard) == []
