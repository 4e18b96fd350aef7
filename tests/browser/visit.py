"""A visit to the dashboard that keeps an ear on the console and an eye on the network."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from playwright.sync_api import Browser, Page

PHONE, DESK = (390, 844), (1280, 800)


def wait_until(page: Page, true: str, seconds: float = 60) -> None:
    """Wait until a condition, a line of JavaScript, holds on a page."""
    end = time.monotonic() + seconds
    while not page.evaluate(true):
        assert time.monotonic() < end, f"never came true: {true}"
        page.wait_for_timeout(50)


@dataclass
class Visit:
    """A page, and what went wrong while it was open."""

    page: Page
    url: str
    complaints: list[str] = field(default_factory=list)

    def open(self, path: str = "") -> None:
        """Go to a path and wait until the page is made."""
        self.page.goto(self.url + path)
        self.page.wait_for_selector("#answer")
        self.settle()

    def settle(self) -> None:
        """Wait until nothing is loading and every picture is drawn."""
        self.page.wait_for_load_state("networkidle")
        self.until(
            "[...document.querySelectorAll('.picture .dash-graph')]"
            ".filter(each => each.offsetParent !== null)"
            ".every(each => each.querySelector('.main-svg'))"
        )

    def until(self, true: str) -> None:
        """Wait until a condition of the page holds. The page may not wait for text itself: its
        policy lets nothing evaluate any."""
        wait_until(self.page, true)

    def light(self, scheme: str) -> None:
        """Show the page as on a device set to light or dark."""
        self.page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        self.until(f"document.documentElement.dataset.mantineColorScheme === '{scheme}'")

    def answer(self) -> str:
        """The page's answer."""
        return self.page.inner_text("#answer")

    def overflow(self) -> int:
        """By how much the page is wider than the window [px]."""
        width = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        return int(self.page.evaluate(width))


@contextmanager
def visit(
    browser: Browser, url: str, size: tuple[int, int] = DESK, scheme: str = "light"
) -> Iterator[Visit]:
    """A visit with a fresh browser profile; at its end nothing may have gone wrong."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=scheme,  # type: ignore[arg-type]
        has_touch=size == PHONE,
    )
    context.set_default_timeout(60_000)
    seen = Visit(context.new_page(), url)
    page, complaints = seen.page, seen.complaints
    page.on(
        "console",
        lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None,
    )
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("dialog", lambda dialog: complaints.append(f"dialog: {dialog.message}"))
    page.on(
        "request",
        lambda asked: (
            None
            if asked.url.startswith((url, "data:", "blob:"))
            else complaints.append(f"asked another host: {asked.url}")
        ),
    )
    page.on(
        "response",
        lambda answer: (
            complaints.append(f"{answer.status} {answer.url}") if answer.status >= 400 else None
        ),
    )
    try:
        yield seen
    finally:
        context.close()
    assert complaints == []
