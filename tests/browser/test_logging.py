"""Each way of logging, on a phone: from the tap to the database and back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard.texts.log import ACTIONS, PHOTO_KEPT, SCRIPT
from harvest import service
from harvest.service_records import attachments
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import read_kind
from tests.browser.conftest import serving
from tests.browser.visit import DESK, PHONE, Visit, visit
from tests.dashboard.made_up import HOSTILE
from tests.dashboard.orchards import take_in

pytestmark = pytest.mark.browser
HOSTILE_TREE = next(name for name in HOSTILE if "script" in name)
NAMES = {key: names[0] for key, _, _, names, _ in ACTIONS}


@dataclass
class Logged:
    """An orchard that is served, and its database."""

    url: str
    orchard: Orchard

    def rows(self, kind: str, tree: str) -> list[dict[str, Any]]:
        """Records of a tree."""
        with self.orchard.reading() as connection:
            found = read_kind(connection, kind)
        return found[found["tree"] == tree].to_dict("records")


@pytest.fixture(scope="module")
def logged(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logged]:
    folder = tmp_path_factory.mktemp("logging")
    path = folder / "orchard.sqlite"
    orchard = service.create_orchard(str(path))
    take_in(orchard, folder, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    names = [(f"Row {n}", "Gala" if n > 2 else "Discovery") for n in range(1, 21)]
    rows = {"Row 19": "70", "Row 20": "70"}
    trees = [
        (name, "Hill", "apple", cultivar, "2015-03-14", rows.get(name, ""))
        for name, cultivar in names
    ]
    trees.append((HOSTILE_TREE, "Hill", "apple", "\u202eGala", "2015-03-14", ""))
    header = ("tree", "site", "species", "cultivar", "planted", "row")
    take_in(orchard, folder, "trees", [header, *trees])
    orchard.engine.dispose()
    with serving(str(path)) as url:
        reading = open_orchard(str(path))
        yield Logged(url, reading)
        reading.engine.dispose()


class Thumb:
    """One free thumb: it counts what it taps."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, place: str) -> None:
        """Tap something that is big enough for a thumb."""
        target = self.page.locator(place).first
        box = target.bounding_box()
        assert box is not None, place
        assert box["height"] >= 44, (place, box)
        assert box["width"] >= 44, (place, box)
        target.tap()
        self.taps += 1

    def choose(self, tree: str) -> None:
        """Find a tree by a part of its name."""
        self.page.fill("#log-who", tree)
        self.tap(f".log-hit:has(bdi:text-is('{tree}'))")

    def save(self) -> None:
        """Save, and wait for what is said."""
        self.tap(".log-save button")


def start(seen: Visit) -> Thumb:
    seen.open("log")
    seen.page.wait_for_selector(".log-tile")
    return Thumb(seen.page)


def kept(seen: Visit) -> Any:
    """The newest line under what was just logged."""
    return seen.page.locator(".log-saved li").first


FLOWS = {
    "pick": ("picks", "Row 5", {"weight_kg": "12.4"}, {"weight_kg": 12.4}),
    "bloom65": ("stages", "Row 6", {}, {"bbch": 65}),
    "ripe87": ("stages", "Row 7", {}, {"bbch": 87}),
    "strip": ("thinnings", "Row 8", {}, {"action": "strip"}),
    "thin": ("thinnings", "Row 9", {"fruit_left": "80"}, {"action": "thin", "fruit_left": 80}),
    "girth": ("girths", "Row 10", {"girth_cm": "31,5"}, {"girth_cm": 31.5}),
    "spray": ("sprays", "Row 11", {"product": "Sulphur", "withholding_days": "14"},
              {"product": "Sulphur", "withholding_days": 14}),
    "nocrop": ("events", "Row 12", {}, {"event": "no crop"}),
    "graft": ("grafts", "Row 18", {"cultivar": "Elstar"}, {"cultivar": "Elstar"}),
}  # fmt: skip


@pytest.mark.parametrize("key", FLOWS)
def test_from_the_tap_to_the_database_and_back(browser: Browser, logged: Logged, key: str) -> None:
    kind, tree, typed, expected = FLOWS[key]
    with visit(browser, logged.url, PHONE) as seen:
        thumb = start(seen)
        thumb.choose(tree)
        thumb.tap(f"[data-action={key}]")
        for name, value in typed.items():
            seen.page.fill(f"#log-{name}", value)
        thumb.save()
        if key == "bloom65":  # in August, north of the equator
            expect(seen.page.locator(".log-asks")).to_contain_text("half")
            seen.page.get_by_text(SCRIPT["asks_keep"]).tap()
        expect(kept(seen)).to_contain_text(tree)
        assert thumb.taps <= 3
        assert seen.overflow() == 0
        (row,) = logged.rows(kind, tree)
        assert {name: row[name] for name in expected} == expected
        assert f"{row['date']:%Y-%m-%d}" == "2026-08-20"
        kept(seen).get_by_text(SCRIPT["undo"]).tap()
        expect(kept(seen)).to_contain_text("Taken back")
        assert logged.rows(kind, tree) == []


def test_a_graft_is_judged_beside_its_field_and_offers_what_is_known(
    browser: Browser, logged: Logged
) -> None:
    with visit(browser, logged.url, PHONE) as seen:
        thumb = start(seen)
        thumb.choose("Row 19")
        thumb.tap("[data-action=graft]")
        thumb.save()
        expect(seen.page.locator("#wrong-cultivar")).to_contain_text(SCRIPT["value_needed"])
        offered = seen.page.locator("#log-offered-cultivar option")
        names = offered.evaluate_all("all => all.map(each => each.value)")
        assert {"Elstar", "Discovery"} <= set(names)
        assert "Conference" not in names
        seen.page.fill("#log-cultivar", "Elstar")
        with seen.page.expect_response("**/entries/choices"):  # the new cultivar is known now
            thumb.save()
        expect(kept(seen)).to_contain_text("grafted over to Elstar")
        seen.settle()
        seen.page.fill("#log-who", "elstar")
        expect(seen.page.locator(".log-hit").first).to_contain_text("Row 19")
        kept(seen).get_by_text(SCRIPT["undo"]).tap()
        expect(kept(seen)).to_contain_text("Taken back")
        assert logged.rows("grafts", "Row 19") == []


def test_the_second_entry_takes_one_number_and_one_tap(browser: Browser, logged: Logged) -> None:
    with visit(browser, logged.url, PHONE) as seen:
        thumb = start(seen)
        thumb.choose("Row 13")
        thumb.tap("[data-action=pick]")
        seen.page.get_by_role("button", name="lb", exact=True).tap()
        seen.page.fill("#log-weight_kg", "10")
        thumb.save()
        expect(kept(seen)).to_contain_text("picked 4.54")
        seen.page.reload()
        seen.page.wait_for_selector(".log-tile")
        expect(seen.page.locator("#log-who")).to_have_value("Row 13")
        expect(seen.page.locator("[data-action=pick]")).to_have_attribute("aria-pressed", "true")
        # The next tree of the row is one tap away, and pounds are remembered.
        seen.page.get_by_role("button", name="Row 14", exact=True).tap()
        seen.page.fill("#log-weight_kg", "20")
        seen.page.get_by_role("button", name=SCRIPT["yesterday"]).tap()
        seen.page.locator(".log-save button").tap()
        expect(kept(seen)).to_contain_text("Row 14")
        (row,) = logged.rows("picks", "Row 14")
        assert row["weight_kg"] == pytest.approx(9.0718474)
        assert f"{row['date']:%Y-%m-%d}" == "2026-08-19"


def test_all_trees_of_a_cultivar_or_a_row_in_three_taps(browser: Browser, logged: Logged) -> None:
    with visit(browser, logged.url, PHONE) as seen:
        thumb = start(seen)
        seen.page.fill("#log-who", "disc")
        thumb.tap(".log-hit:has-text('All Discovery')")
        thumb.tap("[data-action=ripe87]")
        thumb.save()
        expect(kept(seen)).to_contain_text("Row 1 and 1 more")
        assert thumb.taps == 3
        assert len(logged.rows("stages", "Row 1") + logged.rows("stages", "Row 2")) == 2
        # A weight is never given to all trees at once.
        seen.page.locator("[data-action=pick]").tap()
        expect(seen.page.locator("#log-who")).to_have_value("")
        thumb.tap("[data-action=spray]")
        seen.page.fill("#log-who", "row 70")
        thumb.tap(".log-hit:has-text('All that stand in it: 2 trees')")
        seen.page.fill("#log-product", "Row soap")
        seen.page.fill("#log-withholding_days", "3")
        thumb.save()
        expect(kept(seen)).to_contain_text("Row 19 and 1 more: sprayed with Row soap")
        assert thumb.taps == 6
        for tree in ("Row 19", "Row 20"):
            (spray,) = logged.rows("sprays", tree)
            assert (spray["product"], spray["withholding_days"]) == ("Row soap", 3)


def test_what_is_wrong_is_said_beside_its_field(browser: Browser, logged: Logged) -> None:
    with visit(browser, logged.url, PHONE) as seen:
        thumb = start(seen)
        thumb.save()
        expect(seen.page.locator("#wrong-who")).to_contain_text(SCRIPT["who_needed"])
        seen.page.fill("#log-who", "row")
        thumb.tap("[data-action=pick]")
        thumb.save()
        expect(seen.page.locator("#wrong-weight_kg")).to_be_visible()
        seen.page.fill("#log-weight_kg", "1,234")
        thumb.save()
        expect(seen.page.locator("#wrong-weight_kg")).to_contain_text("decimals or thousands")
        expect(seen.page.locator("#log-weight_kg")).to_have_attribute("aria-invalid", "true")
        seen.page.fill("#log-weight_kg", "12")
        thumb.save()
        expect(seen.page.locator("#wrong-who")).to_contain_text("It fits: Row 1, Row 10")
        thumb.choose("Row 15")
        expect(seen.page.locator("#log-weight_kg")).to_have_value("12")
        thumb.save()
        expect(kept(seen)).to_contain_text("Row 15")
        seen.page.fill("#log-weight_kg", "13")
        thumb.save()
        expect(seen.page.locator("#wrong-pass")).to_contain_text("12")
        thumb.tap("#wrong-pass button")
        expect(kept(seen)).to_contain_text("picked 13")
        assert [row["weight_kg"] for row in logged.rows("picks", "Row 15")] == [13]
        assert seen.overflow() == 0


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_hostile_name_is_a_name(browser: Browser, logged: Logged, size: tuple[int, int]) -> None:
    with visit(browser, logged.url, size) as seen:
        seen.open("log")
        seen.page.wait_for_selector(".log-tile")
        seen.page.fill("#log-who", "script")
        seen.page.locator(".log-hit").last.click()
        seen.page.locator("[data-action=strip]").click()
        assert seen.overflow() == 0
        seen.page.locator(".log-save button").click()
        expect(kept(seen)).to_be_visible()
        assert seen.page.locator("script", has_text="owned").count() == 0
        assert len(logged.rows("thinnings", HOSTILE_TREE)) == 1
        kept(seen).get_by_text(SCRIPT["undo"]).click()
        expect(kept(seen)).to_contain_text("Taken back")


def test_a_photo_goes_with_its_entry(browser: Browser, logged: Logged, tmp_path: Path) -> None:
    picture = tmp_path / "tree.png"
    with visit(browser, logged.url, PHONE) as seen:
        thumb = start(seen)
        seen.page.screenshot(path=picture)
        thumb.choose("Row 17")
        thumb.tap("[data-action=nocrop]")
        seen.page.get_by_text(SCRIPT["more"]).tap()
        chosen = seen.page.locator("#log-photo")
        assert chosen.get_attribute("capture") == "environment"
        chosen.set_input_files(picture)
        expect(seen.page.locator("[data-field=photo]")).to_contain_text("kB")
        thumb.save()
        expect(kept(seen)).to_contain_text(PHOTO_KEPT)
        (hung,) = attachments(logged.orchard, "Row 17")
        assert (hung.kind, hung.media_type) == ("events", "image/jpeg")
        seen.open("records?kind=events&tree=Row+17")
        shown = seen.page.locator(".photos img")
        expect(shown).to_be_visible()
        # The picture has really come, and its file name is what is said of it.
        expect(shown).to_have_js_property("naturalWidth", PHONE[0])
        expect(shown).to_have_attribute("alt", "tree.jpg")


def test_the_keyboard_alone_logs_too(browser: Browser, logged: Logged) -> None:
    with visit(browser, logged.url, DESK) as seen:
        seen.open("log")
        seen.page.locator("#log-who").focus()
        seen.page.keyboard.type("Row 16")
        seen.page.locator("[data-action=pick]").focus()
        seen.page.keyboard.press("Enter")
        expect(seen.page.locator("#log-weight_kg")).to_be_focused()
        seen.page.keyboard.type("7.5")
        seen.page.keyboard.press("Enter")
        expect(kept(seen)).to_contain_text("picked 7.5")
        assert len(logged.rows("picks", "Row 16")) == 1
