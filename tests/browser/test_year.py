"""The year of one tree, chosen by hand and kept in the address."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

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
        seen.page.locator(".year-tree").get_by_label(words.ALL_TREES).click()
        seen.until("!document.querySelector('#answer')?.innerText.includes(', for ')")
        assert seen.page.url.endswith("?site=Quernwell")
