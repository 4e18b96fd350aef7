from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard import texts
from dashboard.pages import import_page
from dashboard.texts import import_page as import_texts
from dashboard.texts import people as people_texts
from dashboard.texts import settings as settings_texts
from harvest import service
from harvest.service_people import add_person
from tests.browser.conftest import ROOT, free_port, wait_for
from tests.browser.visit import DESK, PHONE, visit

pytestmark = pytest.mark.browser
PASSWORD = "seven green pears"
PATIENT = 60_000
PICKS = "Tree,When picked,Weight (lb),colour\nQ2-07,2026-08-11,10,red\nQ2-07,2026-08-40,3,red\n"


@pytest.fixture(scope="module")
def guarded_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The demo behind accounts, served by the command line as on a network."""
    path = tmp_path_factory.mktemp("guarded") / "demo.sqlite"
    orchard = service.build_demo(str(path))
    add_person(orchard, "Ines", "change", PASSWORD, datetime.now(UTC))
    add_person(orchard, "Cy", "look", PASSWORD, datetime.now(UTC))
    orchard.engine.dispose()
    port = free_port()
    command = [sys.executable, "-m", "harvest.cli.main", "--orchard", str(path), "dashboard",
               "--host", "0.0.0.0", "--port", str(port)]  # fmt: skip
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as process:
        try:
            wait_for(f"http://127.0.0.1:{port}/sign-in", process)
            yield f"http://127.0.0.1:{port}/"
        finally:
            process.terminate()


def sign_in(page: Page, name: str) -> None:
    page.fill("#name", name)
    page.fill("#password", PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_selector("#answer")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_signing_in_leads_to_the_page_asked_for_and_out_again(
    browser: Browser, guarded_url: str, size: tuple[int, int]
) -> None:
    with visit(browser, guarded_url, size) as seen:
        page = seen.page
        page.goto(guarded_url + "young-trees?site=Quernwell")
        assert "/sign-in" in page.url
        assert seen.overflow() == 0
        sign_in(page, "Ines")
        assert page.url == guarded_url + "young-trees?site=Quernwell"
        seen.open("log")
        page.wait_for_selector(".log-tile")
        # What the log remembers for when there is no server goes with the sign-in.
        remembered = "localStorage.getItem('orchard-log-known/') !== null"
        assert page.evaluate(remembered)
        seen.open("settings")
        expect(page.locator("#answer")).to_contain_text("Ines", timeout=PATIENT)
        page.get_by_role("button", name=people_texts.SIGN_OUT).click()
        page.wait_for_selector("#password")
        assert not page.evaluate(remembered)
        page.goto(guarded_url)
        assert "/sign-in" in page.url


def test_who_may_only_look_is_offered_no_import(browser: Browser, guarded_url: str) -> None:
    with visit(browser, guarded_url) as seen:
        seen.page.goto(guarded_url + "import")
        sign_in(seen.page, "Cy")
        seen.settle()
        expect(seen.page.get_by_text(import_texts.MAY_NOT)).to_be_visible()
        seen.open("settings")
        expect(seen.page.get_by_role("button", name=settings_texts.SAVE)).to_be_disabled()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_file_is_brought_in_and_taken_back(
    browser: Browser, guarded_url: str, tmp_path: Path, size: tuple[int, int]
) -> None:
    file = tmp_path / "picks.csv"
    file.write_text(PICKS)
    with visit(browser, guarded_url, size) as seen:
        page = seen.page
        page.goto(guarded_url + "import")
        sign_in(page, "Ines")
        seen.settle()
        page.set_input_files(f"#{import_page.DROP} input[type=file]", file)
        expect(page.locator(f"#{import_page.READ}")).to_contain_text(
            "It looks like picks", timeout=PATIENT
        )
        page.get_by_label("When picked").first.click()
        page.get_by_role("option", name="date", exact=True).click()
        page.locator(f"#{import_page.LOOK}").click()
        told = page.locator(f"#{import_page.SHOWN}")
        expect(told).to_contain_text("no such day in the calendar", timeout=PATIENT)
        assert seen.overflow() == 0
        page.locator(f"#{import_page.CONFIRM}").click()
        done = page.locator(f"#{import_page.DONE}")
        expect(done).to_contain_text("picks.csv: 1 new, 0 changed, 1 refused.", timeout=PATIENT)
        done.get_by_role("button", name=import_texts.UNDO).click()
        expect(done).to_contain_text(import_texts.UNDONE, timeout=PATIENT)


def test_a_setting_shows_at_once(browser: Browser, guarded_url: str) -> None:
    with visit(browser, guarded_url) as seen:
        page = seen.page
        page.goto(guarded_url + "settings")
        sign_in(page, "Ines")
        seen.settle()
        page.get_by_label(settings_texts.UNITS).first.click()
        page.get_by_role("option", name=settings_texts.CHOICES["units"]["us"]).click()
        page.get_by_role("button", name=settings_texts.SAVE).click()
        expect(page.locator("#answer")).to_contain_text("pounds", timeout=PATIENT)
        seen.open("seasons")
        expect(page.locator("#answer")).to_contain_text("lb", timeout=PATIENT)
        assert texts.PAGE_TITLES["seasons"] in page.inner_text("h1")
