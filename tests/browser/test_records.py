"""The table of records in two real browsers, and the first minutes of an empty orchard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from dashboard.texts import first_use as first_texts
from dashboard.texts import records as record_texts
from harvest import service
from harvest.service_records import show_records
from harvest.store.orchard import open_orchard
from tests.browser.conftest import serving
from tests.browser.visit import DESK, PHONE, Visit, visit
from tests.dashboard.made_up import HOSTILE
from tests.dashboard.orchards import take_in

pytestmark = pytest.mark.browser
HOSTILE_TREE = next(name for name in HOSTILE if "script" in name)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """Address of a page, and of its orchard."""
    folder = tmp_path_factory.mktemp("records")
    path = str(folder / "orchard.sqlite")
    orchard = service.create_orchard(path)
    take_in(orchard, folder, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    header = ("tree", "site", "species", "cultivar", "planted")
    names = [*(f"Row {n}" for n in range(1, 6)), HOSTILE_TREE]
    take_in(
        orchard,
        folder,
        "trees",
        [header, *((n, "Hill", "apple", "Gala", "2015-03-14") for n in names)],
    )
    days = [f"20{year}-09-{day:02}" for year in range(16, 26) for day in range(1, 31)]
    picks = [(f"Row {n}", day, n) for n in range(1, 6) for day in days]
    take_in(orchard, folder, "picks", [("tree", "date", "weight_kg"), *picks])
    orchard.engine.dispose()
    with serving(path) as url:
        yield url, path


def table(seen: Visit, search: str = "") -> Page:
    seen.open(f"records{search}")
    expect(cell(seen.page, 0, "weight_kg")).not_to_be_empty()
    return seen.page


def cell(page: Page, row: int, column: str) -> Locator:
    return page.locator(f".ag-row[row-index='{row}'] [col-id='{column}']")


def type_into(page: Page, row: int, column: str, text: str) -> None:
    cell(page, row, column).dblclick()
    page.keyboard.press("Control+A")
    page.keyboard.type(text)
    page.keyboard.press("Enter")


def weights(path: str, tree: str, day: str) -> list[str]:
    orchard = open_orchard(path)
    found = show_records(orchard, "picks", tree)
    orchard.engine.dispose()
    return [each.cells["weight_kg"] for each in found if each.cells["date"] == day]


def test_two_browsers_at_one_record(browser: Browser, served: tuple[str, str]) -> None:
    url, path = served
    with visit(browser, url) as one, visit(browser, url) as other:
        mine, theirs = table(one, "?tree=Row+1"), table(other, "?tree=Row+1")
        day = "2025-09-30"
        for each in (mine, theirs):
            expect(cell(each, 0, "date")).to_have_text("30 Sep 2025")
        type_into(theirs, 0, "weight_kg", "7")
        expect(theirs.locator("#records-said")).to_contain_text("from “1” to “7”")
        type_into(mine, 0, "weight_kg", "8")
        both = mine.locator(".records-conflict")
        expect(both).to_contain_text(record_texts.CONFLICT_TITLE)
        expect(both.locator("tbody tr")).to_have_count(1)
        expect(both.locator("tbody tr td")).to_have_text(["1", "8", "7"])
        assert weights(path, "Row 1", day) == ["7"]
        assert one.overflow() == 0
        mine.locator("#records-mine").click()
        expect(mine.locator("#records-said")).to_contain_text("from “7” to “8”")
        expect(both).to_be_hidden()
        assert weights(path, "Row 1", day) == ["8"]
        mine.locator("#records-said [data-undo]").click()
        expect(mine.locator("#records-said")).to_contain_text("✓")
        expect(cell(mine, 0, "weight_kg")).to_have_text("7")
        assert weights(path, "Row 1", day) == ["7"]


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_records_are_fetched_filtered_added_removed_and_copied(
    browser: Browser, served: tuple[str, str], size: tuple[int, int]
) -> None:
    url, path = served
    with visit(browser, url, size) as seen:
        page = table(seen, "?tree=Row+2")
        assert seen.overflow() == 0
        # 300 records are there, and no more than a page or two of them is here.
        held = page.locator(".ag-center-cols-container .ag-row").count()
        assert 5 < held < 60
        page.get_by_label("Date Filter Input").fill("2020-09-0")
        expect(cell(page, 0, "date")).to_have_text("9 Sep 2020")
        page.locator("#records-copy").click()
        expect(page.locator("#records-said")).to_contain_text("9 records copied")
        cell(page, 0, "weight_kg").click()
        page.locator("#records-history").click()
        expect(page.locator("#records-below")).to_contain_text("History of Row 2")
        page.locator("#records-remove").click()
        said = page.locator("#records-said")
        expect(said).to_contain_text("Removed: pick of Row 2, 9 September 2020")
        expect(cell(page, 0, "date")).to_have_text("8 Sep 2020")
        assert weights(path, "Row 2", "2020-09-09") == []
        page.get_by_text(record_texts.ADD_TITLE.format(kind="Picks")).click()
        form = page.locator("#form-picks")
        form.locator("[name=date]").fill("2020-09-09")
        form.locator("[name=weight_kg]").fill("much")
        form.get_by_role("button", name=record_texts.ADD_SAVE).click()
        expect(form.locator("#form-picks-weight_kg-wrong")).to_contain_text("weight with its unit")
        form.locator("[name=weight_kg]").fill("2")
        form.get_by_role("button", name=record_texts.ADD_SAVE).click()
        # The day before has the same weight: that asks, and is answered.
        expect(form).to_contain_text("typed twice perhaps")
        form.get_by_role("button", name=record_texts.ADD_KEEP).click()
        expect(form).to_contain_text("Saved: Row 2: picked 2")
        expect(cell(page, 0, "date")).to_have_text("9 Sep 2020")
        assert weights(path, "Row 2", "2020-09-09") == ["2"]
        assert seen.overflow() == 0


def test_a_hostile_name_is_a_name_in_the_table(browser: Browser, served: tuple[str, str]) -> None:
    url, _ = served
    with visit(browser, url) as seen:
        seen.open("records?kind=trees")
        expect(seen.page.locator(".ag-row").first).to_be_visible()
        seen.page.get_by_label("Tree Filter Input").fill("script")
        expect(seen.page.locator(".ag-row [col-id=tree]").first).to_contain_text("script")
        seen.page.locator(".ag-row [col-id=cultivar]").first.click()
        seen.page.locator("#records-history").click()
        expect(seen.page.locator("#records-below")).to_contain_text("History of")
        assert seen.page.locator("script", has_text="owned").count() == 0
        assert seen.overflow() == 0


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_an_empty_orchard_is_led_to_its_first_forecast(
    browser: Browser, tmp_path: Path, size: tuple[int, int]
) -> None:
    path = str(tmp_path / "orchard.sqlite")
    service.create_orchard(path).engine.dispose()
    with serving(path) as url, visit(browser, url, size) as seen:
        seen.open("")
        page = seen.page
        page.locator("[name=site]").fill("Home garden")
        page.locator("[name=place]").fill("somewhere near")
        page.get_by_role("button", name=first_texts.SAVE_SITE).click()
        expect(page.locator("#form-sites-place-wrong")).to_contain_text("such as 47.8012")
        page.locator("[name=place]").fill("47.8012, 16.2345")
        assert seen.overflow() == 0
        page.get_by_role("button", name=first_texts.SAVE_SITE).click()
        page.locator("[name=tree]").fill("Gate apple")
        page.locator("[name=species]").select_option("apple")
        page.locator("[name=cultivar]").fill("Aunt Ada’s")
        page.locator("[name=planted]").fill("2015")
        assert seen.overflow() == 0
        page.get_by_role("button", name=first_texts.SAVE_TREE).click()
        page.locator("[name=date]").fill("2026-04-29")
        page.get_by_role("button", name=first_texts.SAVE_BLOOM).click()
        page.wait_for_url("**/picking")
        expect(page.locator("#answer")).to_contain_text("Aunt Ada’s")
        expect(page.locator("#answer")).to_contain_text("4 chances in 5")
        seen.settle()
        assert seen.overflow() == 0
