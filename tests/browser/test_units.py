"""An orchard that chose US units, the month first and weeks from Sunday, in a real browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from dashboard.texts import seasons as season_texts
from dashboard.texts.log import SCRIPT
from harvest import service
from harvest.service_records import Signature, show_records
from harvest.service_settings import change_settings
from harvest.store.orchard import open_orchard
from tests.browser.conftest import serving
from tests.browser.test_pages import PATHS
from tests.browser.visit import DESK, PHONE, Visit, visit

pytestmark = pytest.mark.browser
CHOSEN = {"units": "us", "dates": "month first", "week_starts": "sunday"}
MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
METRIC = re.compile(
    r"°C|\b(?:km|mm|cm[²2]?|kg|degC)\b|[Kk]ilogram|\bgrams\b|\d g\b|\bmet(?:re|er)s?\b|\d K\b"
)
OTHER_DATES = re.compile(rf"(?<![-\w])\d{{1,2}} (?:{MONTHS})|\b20\d\d-\d\d-\d\d\b")
MORE_PATHS = {
    "frost": "weather?as_of=2026-04-20",
    "thinning": "young-trees?as_of=2026-05-20",
    "spring": "the-year?as_of=2026-04-20",
    "weights": "plan?measure=kg",
    "girths": "records?kind=girths",
    "sites": "records?kind=sites",
    "history": "records?kind=picks&tree=Q3-01",
    "log-pick": "log?tree=Q3-01&what=pick",
}
# What names both units, teaches a form of writing, or is an example of one.
ALLOWED = {
    "settings": ("Metric: kg, °C", "Day first: 12 August 2026", "2026-08-12"),
    "log": ("lb or kg", "in or cm"),
    "log-pick": ("lb or kg", "in or cm", "\nkg\n"),
    "import": ("2026-04-27",),
}
OPEN = """document.querySelectorAll('#main details').forEach(each => {
    if (!each.open) each.querySelector('summary').click();
})"""
READ = """() => {
    const said = (all, of) => [...document.querySelectorAll(all)].map(of);
    const graphs = said('#main .js-plotly-plot', each => [
        ...each.data.flatMap(trace => [trace.hovertext, trace.text, trace.hovertemplate].flat()),
        ...[each.layout.xaxis, each.layout.yaxis].map(axis => axis?.title?.text),
        ...[...each.querySelectorAll('.xtick, .ytick')].map(tick => tick.textContent),
    ]);
    return [
        document.getElementById('main').innerText,
        ...said('#main [aria-label]', each => each.getAttribute('aria-label')),
        ...said('#main [title]', each => each.title),
        ...graphs.flat(),
    ].filter(Boolean).join('\\n');
}"""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """Address of the pages, and of their orchard."""
    path = str(tmp_path_factory.mktemp("units") / "demo.sqlite")
    orchard = service.build_demo(path)
    change_settings(orchard, CHOSEN, Signature("Ines", datetime(2026, 8, 12, tzinfo=UTC)))
    orchard.engine.dispose()
    with serving(path) as url:
        yield url, path


@pytest.fixture(scope="module")
def shown(browser: Browser, served: tuple[str, str]) -> Iterator[Visit]:
    """One visit to all the pages."""
    with visit(browser, served[0]) as seen:
        yield seen


def everything(seen: Visit) -> str:
    """All that the page says, its folded parts, its figures and what is heard of it included."""
    seen.page.evaluate(OPEN)
    seen.settle()
    seen.until(f"!document.getElementById('main').innerText.includes('{season_texts.WORKING}')")
    seen.settle()
    return str(seen.page.evaluate(READ))


@pytest.mark.parametrize("name", [*PATHS, *MORE_PATHS])
def test_no_page_says_a_metric_unit_or_a_date_in_another_order(name: str, shown: Visit) -> None:
    shown.open((PATHS | MORE_PATHS)[name])
    said = everything(shown)
    for allowed in ALLOWED.get(name, ()):
        said = said.replace(allowed, " ")
    for wrong in (METRIC, OTHER_DATES):
        found = [said[max(0, at.start() - 40) : at.end() + 20] for at in wrong.finditer(said)]
        assert found == []


def test_phones_have_room_for_us_units(browser: Browser, served: tuple[str, str]) -> None:
    with visit(browser, served[0], PHONE) as seen:
        for path in ("picking", "seasons", "weather", "before-planting", "log", "records"):
            seen.open(path)
            assert seen.overflow() == 0, path


def test_weeks_begin_on_sunday(browser: Browser, served: tuple[str, str]) -> None:
    with visit(browser, served[0]) as seen:
        seen.open("picking")
        weeks = seen.page.locator(".agenda h3")
        expect(weeks.nth(0)).to_contain_text("Aug 9–15")
        expect(weeks.nth(1)).to_contain_text("Aug 16–22")
        # So does the month in which a day is chosen, by keys alone.
        seen.open("log?tree=Q3-01&what=pick")
        page = seen.page
        page.get_by_role("button", name=SCRIPT["another"]).click()
        page.locator(".date-opener").click()
        expect(page.locator(".date-weekday").first).to_have_text("Su")
        for key in ("ArrowUp", "ArrowLeft", "Enter"):
            page.keyboard.press(key)
        expect(page.locator("#log-date")).to_have_value("Aug 4, 2026")
        expect(page.locator(".log-save button")).to_contain_text("Q3-01, Aug 4, 2026")


def test_a_weight_is_seen_and_typed_in_pounds(browser: Browser, served: tuple[str, str]) -> None:
    url, path = served
    with visit(browser, url, DESK) as seen:
        seen.open("records")
        page = seen.page
        weight = page.locator(".ag-row[row-index='0'] [col-id='weight_kg']")
        tree = page.locator(".ag-row[row-index='0'] [col-id='tree']").inner_text()
        before = kept(path, tree)
        # Opened and saved unchanged, it is what it was.
        shown = weight.inner_text()
        weight.dblclick()
        page.keyboard.press("Enter")
        expect(weight).to_have_text(shown)
        assert kept(path, tree) == before
        weight.dblclick()
        page.keyboard.press("Control+A")
        page.keyboard.type("10")
        page.keyboard.press("Enter")
        expect(page.locator("#records-said")).to_contain_text(f"from “{shown}” to “10”")
        expect(weight).to_have_text("10")
        # A pound is 0.45359237 kg: NIST Special Publication 811 (2008), B.8.
        assert set(kept(path, tree)) - set(before) == {"4.5359237"}


def kept(path: str, tree: str) -> list[str]:
    orchard = open_orchard(path)
    found = show_records(orchard, "picks", tree)
    orchard.engine.dispose()
    return [each.cells["weight_kg"] for each in found]


def test_what_is_saved_of_a_table_is_in_the_units_shown(
    browser: Browser, served: tuple[str, str], tmp_path: Path
) -> None:
    with visit(browser, served[0]) as seen:
        seen.open("weather")
        page = seen.page
        table = page.locator("details.table").nth(1)
        table.locator("summary").click()
        expect(table.locator(".ag-row").first).to_be_visible()
        with page.expect_download() as waiting:
            table.get_by_role("button", name="CSV").click()
        waiting.value.save_as(tmp_path / "days.csv")
        lines = (tmp_path / "days.csv").read_text(encoding="utf-8-sig").splitlines()
        assert "Lowest [°F]" in lines[0]
        # As a spreadsheet reads a date, whatever the order on the page.
        assert "2026-08-11" in lines[1]
        assert 40 < float(lines[1].split(",")[2]) < 70
