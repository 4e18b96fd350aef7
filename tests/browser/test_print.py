"""On paper: black on white, every caution, whole pictures, no navigation."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

from dashboard.texts.planting import PROMISE, RANK_TITLE, SCENARIO_TITLE
from harvest.care.texts import FROST_WORK, LABEL_IS_LAW, LADDER, SPRAY_CAUTIONS, WHAT_TO_DO
from tests.browser.visit import Visit, visit

pytestmark = pytest.mark.browser
# US letter and A4 between margins of 10 to 20 mm, in CSS pixels; the narrowest and the widest.
PAPER = (643, 740)
CAUTIONS = {
    "may-i-pick": SPRAY_CAUTIONS,
    "the-year": (LADDER, FROST_WORK),
    "": (LABEL_IS_LAW, LADDER),
}
GROUND = "getComputedStyle(document.querySelector('.mantine-AppShell-main')).backgroundColor"
INK = "getComputedStyle(document.querySelector('#answer')).color"
CUT_OFF = (
    "[...document.querySelectorAll('.picture .main-svg')].filter(each => {"
    " const frame = each.closest('.picture').getBoundingClientRect();"
    " return each.getBoundingClientRect().right > frame.right + 1; }).length"
)


def to_paper(seen: Visit, width: int) -> None:
    """Show the page as a printer of this width is given it."""
    seen.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    seen.page.set_viewport_size({"width": width, "height": 1000})
    seen.page.emulate_media(media="print")


@pytest.mark.parametrize("path", CAUTIONS, ids=lambda path: path or "week")
def test_a_print_is_whole_and_carries_the_cautions(
    browser: Browser, demo_url: str, path: str
) -> None:
    with visit(browser, demo_url, scheme="dark") as seen:
        for width in PAPER:
            seen.open(path)
            to_paper(seen, width)
            page = seen.page
            for caution in CAUTIONS[path]:
                said = page.get_by_text(caution, exact=True).filter(visible=True)
                expect(said.first).to_be_visible()
            for hidden in ("header", "footer", ".controls", "form", "button"):
                assert page.locator(f"{hidden}:visible").count() == 0, hidden
            assert page.evaluate(GROUND) == "rgb(255, 255, 255)"
            assert page.evaluate(INK) == "rgb(0, 0, 0)"
            assert page.evaluate(CUT_OFF) == 0
            assert seen.overflow() <= 0
            seen.page.emulate_media(media="screen")
        assert page.pdf().startswith(b"%PDF")


def test_fruit_picked_too_soon_is_told_on_paper(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("may-i-pick")
        picks = seen.page.get_by_text("The picks: Q1-01 20 September 2025")
        expect(picks).to_be_hidden()
        to_paper(seen, PAPER[0])
        expect(picks).to_be_visible()
        told = f"{WHAT_TO_DO[0].lower()}{WHAT_TO_DO[1:]}"
        expect(seen.page.get_by_text(told).first).to_be_visible()


def test_what_may_be_planted_is_printed_as_a_whole_table(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("before-planting?site=Quernwell&plant=quince")
        to_paper(seen, PAPER[0])
        for text in (PROMISE, RANK_TITLE.format(species="quince"), SCENARIO_TITLE):
            said = seen.page.get_by_text(text, exact=True).filter(visible=True)
            expect(said.first).to_be_visible()
        # Nothing worked out, nothing printed: no heading stands alone.
        expect(seen.page.locator("h2", has_text="Weeks without fruit")).to_be_hidden()
        assert seen.overflow() <= 0


def test_pictures_are_as_wide_as_before_once_printed(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("may-i-pick")
        width = "document.querySelector('.picture .main-svg').getBoundingClientRect().width"
        before = seen.page.evaluate(width)
        seen.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        assert seen.page.evaluate(width) < before
        seen.page.evaluate("window.dispatchEvent(new Event('afterprint'))")
        seen.until(f"Math.abs({width} - {before}) < 2")
