"""The year of one tree, chosen by hand and kept in the address; its items marked and unmarked."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

from dashboard.texts import year as words
from tests.browser.visit import visit

pytestmark = pytest.mark.browser


def test_a_tree_is_chosen_and_let_go(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("the-year?site=Quernwell")
        field = seen.page.get_by_role("textbox", name=words.TREE, exact=True)
        field.fill("Q2-01")
        seen.page.get_by_role("option", name="Q2-01").click()
        seen.until("document.querySelector('#answer')?.innerText.includes(', for Q2-01: ')")
        assert seen.page.url.endswith("?site=Quernwell&tree=Q2-01")
        open_items = seen.page.locator(f".mark-buttons button:text-is('{words.DONE}')")
        before = open_items.count()
        open_items.first.click()
        expect(seen.page.locator("#year-said")).to_contain_text(words.UNDO)
        expect(open_items).to_have_count(before - 1)
        seen.page.locator("#year-said").get_by_role("button").click()
        expect(open_items).to_have_count(before)
        seen.page.locator(".year-tree").get_by_label(words.ALL_TREES).click()
        seen.until("!document.querySelector('#answer')?.innerText.includes(', for ')")
        assert seen.page.url.endswith("?site=Quernwell")
