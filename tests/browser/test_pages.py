from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from dashboard import ids, texts
from dashboard.pages import PAGES
from tests.browser.accessible import UNFOLD, problems
from tests.browser.visit import DESK, PHONE, Visit, visit

pytestmark = pytest.mark.browser
ARTEFACTS = Path(__file__).parents[2] / ".artifacts"
PATHS = {
    "week": "",
    "picking": "picking",
    "picking-by-tree": "picking?rows=trees&site=Quernwell",
    "may-i-pick": "may-i-pick",
    "seasons": "seasons",
    "seasons-one-cultivar": "seasons?cultivar=Gravenstein",
    "seasons-by-tree": "seasons?by=tree&site=Quernwell",
    "young-trees": "young-trees",
    "plan": "plan?measure=against",
    "log": "log",
    "the-year": "the-year",
    "bloom": "bloom",
    "before-planting": "before-planting",
    "before-planting-one": "before-planting?plant=apple&plant_cultivar=Gala&warmer=2",
    "last-day": "may-i-pick?product=Invented+soap&label_days=7",
    "weather": "weather",
    "how-sure": "how-sure",
    "import": "import",
    "settings": "settings",
    "records": "records",
    "help": "help",
}


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_every_page_fits_runs_clean_and_can_be_heard(
    browser: Browser, demo_url: str, size: tuple[int, int]
) -> None:
    """Each page in light and dark; heard in one of them, with all its folds open."""
    ARTEFACTS.mkdir(exist_ok=True)
    schemes = ("dark", "light") if size == PHONE else ("light", "dark")
    with visit(browser, demo_url, size) as seen:
        for name, path in PATHS.items():
            seen.open(path)
            if name.startswith("seasons"):
                seen.page.wait_for_selector("#picture-hindsight .main-svg")
            assert len(seen.answer()) > 40
            expect(seen.page.locator(f"#{ids.DEMO_NOTE}")).to_be_visible()
            for scheme in schemes:
                seen.light(scheme)
                assert seen.overflow() == 0, name
                picture = ARTEFACTS / f"{name}-{size[0]}-{scheme}.png"
                seen.page.screenshot(path=picture, full_page=True)
            seen.page.evaluate(UNFOLD)
            seen.settle()
            assert problems(seen.page) == [], f"{name}, {schemes[-1]}"


def test_moving_the_date_changes_the_forecast(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("picking")
        now = seen.answer()
        assert "12 August 2026" in now
        field = seen.page.get_by_label(texts.AS_OF_LABEL)
        field.fill("20 June 2026")
        field.press("Enter")
        seen.page.wait_for_url("**/picking?as_of=2026-06-20")
        expect(seen.page.locator("#answer")).to_contain_text("20 June 2026")
        then = seen.answer()
        assert then != now
        seen.page.locator(f"#{ids.WEEK_ON}").click()
        seen.page.wait_for_url("**/picking?as_of=2026-06-27")
        expect(seen.page.locator("#answer")).to_contain_text("27 June 2026")
        expect(field).to_have_value("27 June 2026")
        seen.page.go_back()
        expect(seen.page.locator("#answer")).to_have_text(then.replace("\n\n", ""))
        seen.page.locator(f"#{ids.HOME_DATE}").click()
        expect(seen.page.locator("#answer")).to_contain_text("12 August 2026")
        expect(seen.page.locator(f"#{ids.HOME_DATE}")).to_be_hidden()
        seen.settle()


def test_filters_go_into_the_address_and_come_out_of_it(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("picking")
        seen.page.locator(f"#{ids.CULTIVAR}").click()
        seen.page.get_by_role("option", name="Gravenstein").click()
        seen.page.wait_for_url("**/picking?cultivar=Gravenstein")
        expect(seen.page.locator("#answer")).to_contain_text("Gravenstein")
        said = seen.answer()
        seen.page.locator(f"#{ids.NAV_TOP}").get_by_text(texts.PAGE_NAMES["young"]).click()
        seen.page.wait_for_url("**/young-trees?cultivar=Gravenstein")
        expect(seen.page.locator("h1")).to_have_text(texts.PAGE_TITLES["young"])
        seen.open("picking?cultivar=Gravenstein")
        assert seen.answer() == said
        expect(seen.page.locator(f"#{ids.CULTIVAR}")).to_have_value("Gravenstein")


def test_the_table_says_the_same_as_the_picture(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url, PHONE) as seen:
        seen.open("picking?cultivar=Gravenstein")
        shown = seen.page.get_by_text(texts.TREES_SHOWN.format(which="Gravenstein"))
        expect(seen.page.locator(f"#{ids.CULTIVAR}")).to_be_hidden()
        shown.click()
        expect(seen.page.locator(f"#{ids.CULTIVAR}")).to_have_value("Gravenstein")
        expect(seen.page.locator(f"#{ids.CULTIVAR}")).to_be_visible()
        seen.page.get_by_text(texts.TABLE_TITLE).click()
        rows = seen.page.locator(f"#{ids.TABLE}-picking .ag-body")
        expect(rows).to_contain_text("Gravenstein")
        expect(rows).to_contain_text("Aug 2026")
        assert seen.overflow() == 0


def test_the_keyboard_alone_is_enough(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("picking")
        seen.page.keyboard.press("Tab")
        skip = seen.page.get_by_text(texts.SKIP)
        expect(skip).to_be_focused()
        expect(skip).to_be_in_viewport()
        seen.page.keyboard.press("Tab")
        for _ in range(1 + [page.name for page in PAGES].index("seasons")):
            seen.page.keyboard.press("Tab")
        here = seen.page.locator(":focus")
        expect(here).to_have_text(texts.PAGE_NAMES["seasons"])
        assert _outline(seen) != "none"
        seen.page.keyboard.press("Enter")
        expect(seen.page.locator("h1")).to_have_text(texts.PAGE_TITLES["seasons"])


def _outline(seen: Visit) -> str:
    return str(seen.page.evaluate("getComputedStyle(document.activeElement).outlineStyle"))


def test_dark_and_light_are_remembered(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("help")
        seen.page.get_by_label(texts.THEME_LABEL).click()
        dark = seen.page.locator("html[data-mantine-color-scheme=dark][data-ag-theme-mode=dark]")
        expect(dark).to_be_attached()
        seen.open("help")
        expect(dark).to_be_attached()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_hostile_names_do_no_harm(
    browser: Browser, hostile_url: str, size: tuple[int, int]
) -> None:
    with visit(browser, hostile_url, size) as seen:
        for page in PAGES:
            for rows in ("", "?rows=trees"):
                seen.open(page.path.lstrip("/") + rows)
                if page.name == "seasons":
                    seen.page.wait_for_selector("#hindsight section")
                assert seen.overflow() == 0, page.name
                assert "owned" not in seen.page.title()
                assert seen.page.locator("script", has_text="owned").count() == 0
        seen.open("picking")
        expect(seen.page.locator("#answer")).to_contain_text("<")


def test_a_date_nobody_can_read_is_answered(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url, PHONE) as seen:
        seen.open("picking?as_of=soon")
        expect(seen.page.locator(f"#{ids.ADDRESS_NOTE}")).to_contain_text("not a date")
        assert "12 August 2026" in seen.answer()


def test_the_checker_would_find_a_problem(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("help")
        seen.page.evaluate("document.querySelector('#main').append(new Image())")
        assert any("image-alt" in each for each in problems(seen.page))
