"""Every page against axe-core, the accessibility checker published on the npm registry."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from dashboard.pages import PAGES
from tests.browser.visit import DESK, PHONE, Visit, visit

pytestmark = pytest.mark.browser
AXE = (Path(__file__).parent / "axe" / "axe.min.js").read_text(encoding="utf-8")
GRAVE = ("serious", "critical")
RUN = "axe.run(document, {resultTypes: ['violations']}).then(found => found.violations)"
UNFOLD = "document.querySelectorAll('#main details').forEach(each => each.open = true)"


def problems(seen: Visit) -> list[str]:
    """Serious and critical problems of the page as it stands, one a line."""
    seen.page.evaluate(AXE)
    found: list[dict[str, Any]] = seen.page.evaluate(RUN)
    return [
        f"{each['id']} ({each['impact']}): {node['html'][:200]} {node['failureSummary'][:200]}"
        for each in found
        if each["impact"] in GRAVE
        for node in each["nodes"]
    ]


@pytest.mark.parametrize(
    ("size", "scheme"), [(PHONE, "light"), (DESK, "dark")], ids=["phone-light", "desk-dark"]
)
def test_no_page_has_a_serious_problem(
    browser: Browser, demo_url: str, size: tuple[int, int], scheme: str
) -> None:
    with visit(browser, demo_url, size, scheme) as seen:
        for page in PAGES:
            seen.open(page.path.lstrip("/"))
            assert problems(seen) == [], page.name
            seen.page.evaluate(UNFOLD)
            seen.settle()
            assert problems(seen) == [], f"{page.name}, unfolded"


def test_the_checker_would_find_a_problem(browser: Browser, demo_url: str) -> None:
    with visit(browser, demo_url) as seen:
        seen.open("help")
        seen.page.evaluate("document.querySelector('#main').append(new Image())")
        assert any("image-alt" in each for each in problems(seen))
