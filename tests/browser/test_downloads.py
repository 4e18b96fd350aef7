from __future__ import annotations

import csv
from pathlib import Path

import pytest
from openpyxl import load_workbook
from playwright.sync_api import Browser, expect

from dashboard import texts
from dashboard.texts import downloads
from tests.browser.visit import DESK, PHONE, Visit, visit

pytestmark = pytest.mark.browser
ORCHARD = "the-half-year-orchard-invented-picking-2026-08-12"


def fetched(seen: Visit, way: str, folder: Path) -> Path:
    """The file that the first button of a way makes, pressed from the keyboard."""
    button = seen.page.locator(f"button[data-download={way}]:visible").first
    with seen.page.expect_download() as coming:
        button.press("Enter")
    path = folder / coming.value.suggested_filename
    coming.value.save_as(path)
    return path


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_tables_and_figures_become_files(
    browser: Browser, demo_url: str, tmp_path: Path, size: tuple[int, int]
) -> None:
    with visit(browser, demo_url, size) as seen:
        seen.open("picking?cultivar=Gravenstein")
        drawn = fetched(seen, downloads.SVG, tmp_path)
        assert drawn.name == f"{ORCHARD}-0.svg"
        assert drawn.read_text(encoding="utf-8").startswith("<svg")
        assert "as known on 12 August 2026" in drawn.read_text(encoding="utf-8")
        assert fetched(seen, downloads.PNG, tmp_path).read_bytes().startswith(b"\x89PNG")
        seen.page.get_by_text(texts.TABLE_TITLE).click()
        listed = fetched(seen, downloads.CSV, tmp_path)
        with listed.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
        assert rows[0][0] == texts.WINDOW_COLUMNS["name"]
        assert rows[1][0] == "Gravenstein"
        expect(seen.page.get_by_text(downloads.DONE["csv"].format(rows=1))).to_be_visible()
        sheet = load_workbook(fetched(seen, downloads.XLSX, tmp_path))[downloads.TABLE_SHEET]
        assert [cell.value for cell in sheet[1]] == rows[0]
        assert sheet["A2"].value == "Gravenstein"
        assert seen.overflow() == 0


def test_a_table_is_copied_for_a_spreadsheet(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        seen.open("picking?cultivar=Gravenstein")
        seen.page.get_by_text(texts.TABLE_TITLE).click()
        button = f"button[data-download={downloads.COPY}][data-of=table-picking]"
        seen.page.locator(button).click()
        expect(seen.page.get_by_text(downloads.DONE["copy"].format(rows=1))).to_be_visible()
        copied = seen.page.evaluate("navigator.clipboard.readText()")
        assert [line.split("\t")[0] for line in copied.splitlines()] == ["Name", "Gravenstein"]
