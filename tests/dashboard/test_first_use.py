"""From an empty orchard to the first forecast, by forms."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard import texts
from dashboard.entries import take
from dashboard.pages import PAGES
from dashboard.source import Source
from dashboard.texts import first_use as first_texts
from dashboard.views.entries import Entry
from dashboard.views.plain_input import coordinates, site_cells, tree_cells
from harvest.store.orchard import open_orchard
from harvest.store.reading import read_kind
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF

# One place in the notations that maps show; worked by hand: 48' 4.3" = 48.0717', / 60 = 0.801194.
PLACES = {
    "47.8012, 16.2345": (47.8012, 16.2345),
    "47.8012 16.2345": (47.8012, 16.2345),
    "47.8012,16.2345": (47.8012, 16.2345),
    "47,8012; 16,2345": (47.8012, 16.2345),
    "47,8012, 16,2345": (47.8012, 16.2345),
    "47.8012° N, 16.2345° E": (47.8012, 16.2345),
    "N 47.8012 E 16.2345": (47.8012, 16.2345),
    "-33.9, 18.4": (-33.9, 18.4),
    "33.9 S, 18.4 E": (-33.9, 18.4),
    "45.5°N 122.6°W": (45.5, -122.6),
    "47°48'04.3\"N 16°14'04.2\"E": (47.801194, 16.2345),
    "33°54′S 18°24′E": (-33.9, 18.4),
    "0, 0": (0.0, 0.0),
}


@pytest.mark.parametrize("text", PLACES)
def test_a_place_is_read_as_a_map_shows_it(text: str) -> None:
    found = coordinates(text)
    assert found == pytest.approx(PLACES[text], abs=1e-6)


@pytest.mark.parametrize(
    "text",
    ["", "nowhere", "47.8012", "47,8012", "47,16", "47,8,16", "1, 2, 3", "47 N 48 S",
     "16°14'E 47°48'N", "47.8.1, 16"],
)  # fmt: skip
def test_what_is_not_clear_is_not_guessed(text: str) -> None:
    assert coordinates(text) is None
    assert site_cells({"site": "Home", "place": text}) == {"site": "Home", "place": text}


@given(st.decimals(-90, 90, places=4), st.decimals(-180, 180, places=4))
def test_what_a_map_writes_comes_back(latitude: Any, longitude: Any) -> None:
    found = coordinates(f"{latitude}, {longitude}")
    assert found == (pytest.approx(float(latitude)), pytest.approx(float(longitude)))


def test_a_year_alone_is_the_winter_before_that_years_spring() -> None:
    north, south = tree_cells({"planted": "2015"}, False), tree_cells({"planted": "2015"}, True)
    assert (north["planted"], south["planted"]) == ("2015-01-01", "2015-07-01")
    assert north["note"] == "planted: only the year 2015 is known"
    noted = tree_cells({"planted": "2015", "note": "from seed"}, False)["note"]
    assert noted == "from seed; planted: only the year 2015 is known"
    assert tree_cells({"planted": "2015-11-14"}, False) == {"planted": "2015-11-14"}


# The three steps


@pytest.fixture
def source(sqlite_address: str) -> Iterator[Source]:
    orchard = open_orchard(sqlite_address)
    yield Source(orchard, lambda: AS_OF)
    orchard.engine.dispose()


def save(source: Source, kind: str, who: dict[str, str] | None = None, **cells: str) -> Any:
    return take(source, Entry(f"{kind}-{cells}", kind, who or {}, cells))


def forms(page: Any) -> list[Any]:
    """What the forms of a page ask for."""
    if isinstance(page, list):
        return [form for child in page for form in forms(child)]
    if not isinstance(page, dict):
        return []
    props = page.get("props", {})
    own = [json.loads(props["data-form"])] if "data-form" in props else []
    return own + forms(props.get("children"))


def asked(source: Source, path: str = "/picking", search: str = "") -> tuple[str, list[Any]]:
    page = Client(app_of(source.orchard)).page(path, search)
    return all_text(page), forms(page)


def test_a_site_a_tree_a_bloom_and_there_is_a_forecast(source: Source) -> None:
    said, (form,) = asked(source)
    assert texts.EMPTY_TITLE in said
    assert first_texts.ANSWER_SITE in said
    assert (form["kind"], [field["name"] for field in form["fields"]]) == (
        "sites",
        ["site", "place"],
    )
    reply = save(source, "sites", site="Home", place="somewhere")
    assert (reply.status, reply.field) == ("refused", "place")
    assert "such as 47.8012" in reply.reason
    reply = save(source, "sites", site="Home", place="147.8, 16")
    assert (reply.status, reply.field) == ("refused", "place")
    assert save(source, "sites", site="Home", place="47.8012, 16.2345").words == "site Home"

    said, (form,) = asked(source, search="?first=%20")
    assert first_texts.ANSWER_TREE.format(site="Home") in said
    fields = {field["name"]: field for field in form["fields"]}
    assert (form["kind"], fields["site"]["value"]) == ("trees", "Home")
    assert "apple" in fields["species"]["choices"]
    assert "Gala" in fields["cultivar"]["lists"]["apple"]
    tree = {"tree": "Gate", "site": "Home", "species": "apple", "planted": "2015"}
    assert save(source, "trees", **tree, cultivar="Aunt Ada’s").words == "tree Gate"

    said, (form,) = asked(source, search="?first=Gate")
    assert first_texts.ANSWER_BLOOM.format(tree="Gate") in said
    assert form["fixed"] == {"tree": "Gate", "bbch": "65"}
    assert save(source, "stages", {"tree": "Gate"}, bbch="65", date="2026-04-29").status == "kept"

    page = Client(app_of(source.orchard)).page("/picking")
    answer = all_text(find(page, "answer"))
    assert "Aunt Ada’s" in answer
    assert "4 chances in 5" in answer


def test_south_of_the_equator_a_year_is_the_southern_winter(source: Source) -> None:
    save(source, "sites", site="Cape", place="33.9 S, 18.4 E")
    save(source, "trees", tree="1", site="cape", species="pear", cultivar="x", planted="2015")
    with source.orchard.reading() as connection:
        (tree,) = read_kind(connection, "trees").to_dict("records")
    assert tree["planted"].date() == date(2015, 7, 1)
    assert tree["species"] == "european pear"


@pytest.mark.parametrize("page", [page for page in PAGES if page.filters])
def test_every_page_leads_to_the_first_site(source: Source, page: Any) -> None:
    said, (form,) = asked(source, page.path)
    assert form["kind"] == "sites"
    assert first_texts.STEP_BLOOM in said


def test_a_step_that_names_no_tree_asks_for_one(source: Source) -> None:
    save(source, "sites", site="Home", place="47.8, 16.2")
    _, (form,) = asked(source, search="?first=Nobody")
    assert form["kind"] == "trees"
