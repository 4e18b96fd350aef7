"""Every page against axe-core, the accessibility checker published on the npm registry."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playwright.sync_api import Page

AXE = (Path(__file__).parent / "axe" / "axe.min.js").read_text(encoding="utf-8")
GRAVE = ("serious", "critical")
RUN = "axe.run(document, {resultTypes: ['violations']}).then(found => found.violations)"
UNFOLD = "document.querySelectorAll('#main details').forEach(each => each.open = true)"


def problems(page: Page) -> list[str]:
    """Serious and critical problems of the page as it stands, one a line."""
    page.evaluate(AXE)
    found: list[dict[str, Any]] = page.evaluate(RUN)
    return [
        f"{each['id']} ({each['impact']}): {node['html'][:200]} {node['failureSummary'][:200]}"
        for each in found
        if each["impact"] in GRAVE
        for node in each["nodes"]
    ]
