from __future__ import annotations

from datetime import date
from io import BytesIO
from typing import Any

import pytest
from flask.testing import FlaskClient
from openpyxl import load_workbook

from dashboard import downloads
from dashboard.texts import downloads as texts
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, app_of, find, ids_of


@pytest.fixture
def browser(demo: Orchard) -> FlaskClient:
    return app_of(demo).server.test_client()


def test_a_table_comes_back_as_a_spreadsheet_with_numbers_dates_and_plain_text(
    browser: FlaskClient,
) -> None:
    rows: list[list[Any]] = [
        ["=1+1", 4.25, "2026-08-12", None],
        ["Q\x00\u202e1", 3, "soon", True],
    ]
    sent = {"header": ["Tree", "kg", "When", "x"], "rows": rows, "said": "=of what"}
    answer = browser.post("/" + downloads.PATH, json=sent)
    assert answer.status_code == 200
    book = load_workbook(BytesIO(answer.data))
    sheet = book[texts.TABLE_SHEET]
    assert [cell.value for cell in sheet[1]] == ["Tree", "kg", "When", "x"]
    formula = sheet["A2"]
    assert (formula.value, formula.data_type) == ("=1+1", "s")
    assert sheet["B2"].value == 4.25
    assert sheet["C2"].value.date() == date(2026, 8, 12)
    assert sheet["A3"].value == "Q\u202e1"
    assert book[texts.SOURCE_SHEET]["A1"].data_type == "s"


@pytest.mark.parametrize(
    "body",
    [
        None,
        [],
        {"header": ["a"], "rows": [["1", "2"]], "said": ""},
        {"header": [], "rows": [], "said": ""},
        {"header": ["a"], "rows": [["1"]] * (downloads.MOST_ROWS + 1), "said": ""},
        {"header": ["a"], "rows": "rows", "said": ""},
    ],
)
def test_what_is_no_table_is_refused(body: Any) -> None:
    assert downloads.table_of(body) is None


def test_every_table_and_picture_can_be_taken_away_under_a_name_that_says_what_it_is(
    demo: Orchard,
) -> None:
    client = Client(app_of(demo))
    page = client.page("/picking", "?as_of=2026-08-05")
    frame = page if isinstance(page, dict) else page[0]
    props = frame["props"]
    assert props["data-file"] == "the-half-year-orchard-invented-picking-2026-08-05"
    assert "5 August 2026" in props["data-said"]
    buttons = _buttons(page)
    for name in (part for part in ids_of(page) if part.startswith("table-")):
        ways = {b["data-download"] for b in buttons if b["data-of"] == name}
        assert ways == {texts.COPY, texts.CSV, texts.XLSX}
    pictures = sum(part.startswith("picture-") for part in ids_of(page))
    assert pictures
    assert sum(b["data-download"] == texts.SVG for b in buttons) == pictures
    assert find(page, "picture-0") is not None


def _buttons(node: Any) -> list[dict[str, Any]]:
    if isinstance(node, list):
        return [found for child in node for found in _buttons(child)]
    if not isinstance(node, dict):
        return []
    props = node.get("props", {})
    own = [props] if "data-download" in props else []
    return own + _buttons(props.get("children"))


def test_names_of_files_hold_letters_digits_and_hyphens() -> None:
    assert downloads.file_name("Ørchard / 2..", "../x") == "ørchard-2-x"
    assert downloads.file_name("<>", "") == "orchard"
