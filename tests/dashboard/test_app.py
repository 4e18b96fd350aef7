import dataclasses
import json
from datetime import date
from typing import Any

import dash
import pytest

from dashboard import ids, texts
from dashboard.app import page_layout, steering
from dashboard.pages import PAGES, import_page
from dashboard.source import Source
from harvest import service
from harvest.errors import StoreError
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find, ids_of
from tests.dashboard.orchards import take_in

PATHS = [page.path for page in PAGES]
LINKS = [(page.name, page.path) for page in PAGES]


@pytest.fixture
def client(demo: Orchard) -> Client:
    return Client(app_of(demo))


def as_json(component: Any) -> Any:
    """A component as the browser gets it."""
    return json.loads(json.dumps(component, cls=_encoder()))


def _encoder() -> Any:
    from plotly.utils import PlotlyJSONEncoder

    return PlotlyJSONEncoder


@pytest.mark.parametrize("path", PATHS)
def test_every_page_answers_its_question_in_a_sentence(client: Client, path: str) -> None:
    document = client.get(path.lstrip("/"))
    assert '<html lang="en">' in document
    assert "https://" not in document.replace("https://www.w3.org", "")
    page = client.page(path)
    said = all_text(find(page, ids.ANSWER))
    assert len(said) > 40
    name = next(page.name for page in PAGES if page.path == path)
    assert texts.PAGE_TITLES[name] in all_text(page)


def test_an_unknown_path_is_said_to_be_unknown(client: Client) -> None:
    page = client.page("/nowhere")
    assert texts.NOT_FOUND in all_text(page)
    assert [link["href"] for link in links_of(page)] == [each.path for each in PAGES]


def test_the_frame_names_the_orchard_and_says_that_the_demo_is_invented(client: Client) -> None:
    frame = client.json("_dash-layout")
    assert "The Half-Year Orchard (invented)" in all_text(find(frame, ids.BRAND))
    note = all_text(find(frame, ids.DEMO_NOTE))
    assert "invented" in note
    assert "12 August 2026" in note


def test_an_earlier_date_gives_another_forecast(client: Client) -> None:
    now = all_text(find(client.page("/picking"), ids.ANSWER))
    then = all_text(find(client.page("/picking", "?as_of=2026-06-20"), ids.ANSWER))
    assert "12 August 2026" in now
    assert "20 June 2026" in then
    assert now != then


def test_filters_in_the_address_leave_only_what_passes(client: Client) -> None:
    page = all_text(client.page("/picking", "?site=Quernwell&cultivar=Gravenstein"))
    assert "Gravenstein" in page
    assert "Discovery" not in page
    nothing = all_text(client.page("/picking", "?cultivar=Unheard+Of"))
    assert texts.NO_MATCH in nothing


def test_one_row_per_tree_names_the_trees(client: Client) -> None:
    figure = find(client.page("/picking", "?rows=trees&cultivar=Gala"), "picture-0")
    assert figure is not None
    assert "Q3-01" in json.dumps(figure["props"]["figure"])


def test_past_forecasts_follow_their_page(client: Client) -> None:
    page = client.page("/seasons", "?cultivar=Gravenstein&as_of=2018-12-01")
    search = find(page, ids.HINDSIGHT_ASKED)["props"]["data"]
    assert search == "?as_of=2018-12-01&cultivar=Gravenstein"
    posted = client.callback(
        ids.HINDSIGHT + ".children",
        f"{ids.HINDSIGHT_ASKED}.data",
        **{f"{ids.HINDSIGHT_ASKED}.data": search},
    )
    said = all_text(posted[ids.HINDSIGHT]["children"])
    assert "past forecasts, each made 30 days after full bloom" in said
    assert "too few to judge the range by" in said
    assert find(posted[ids.HINDSIGHT]["children"], "picture-hindsight") is not None


def test_every_id_that_a_callback_names_is_on_a_page(client: Client) -> None:
    there = ids_of(client.json("_dash-layout"))
    for path in PATHS:
        there |= ids_of(client.page(path))
    named = {
        each["id"]
        for callback in client.dependencies
        for each in [*callback["inputs"], *callback["state"]]
        if not each["id"].startswith(("_pages", "{")) and each["id"] not in import_page.BROUGHT
    }
    assert named
    assert named <= there


def test_pictures_hide_what_would_reach_outside(client: Client) -> None:
    graph = find(client.page("/picking"), "picture-0")
    config = graph["props"]["config"]
    assert config["displaylogo"] is False
    assert config["showSendToCloud"] is False


def test_a_date_that_makes_no_sense_is_answered_in_words(demo: Orchard) -> None:
    client = Client(app_of(demo))
    posted = client.callback(
        f"{ids.AS_OF}.value",
        f"{ids.ADDRESS}.search",
        **{f"{ids.ADDRESS}.pathname": "/", f"{ids.ADDRESS}.search": "?as_of=tomorrow"},
    )
    note = posted[ids.ADDRESS_NOTE]["children"]
    assert "“tomorrow”, which is not a date" in note
    assert "Shown instead: 12 August 2026." in note
    assert posted[ids.AS_OF]["value"] == "2026-08-12"


@dataclasses.dataclass
class Steered:
    """The frame's answer, by name."""

    search: Any
    as_of: str
    latest: str
    site: str | None
    species: str | None
    cultivar: str | None
    block: str | None
    sites: list[dict[str, str]]
    all_species: list[dict[str, str]]
    cultivars: list[dict[str, str]]
    blocks: list[dict[str, str]]
    week_back: str
    week_on: str
    home: str
    home_class: str
    note: str
    top: list[Any]
    foot: list[Any]
    filters: str
    trees_shown: str


def steered(orchard: Orchard, search: str, chosen: Any = None, path: str = "/") -> Steered:
    source = Source(orchard, lambda: date(2026, 8, 20))
    return Steered(*steering(source, LINKS, path, search, chosen))


def links_of(node: Any) -> list[dict[str, Any]]:
    """Properties of every link of a component tree, folded away or not."""
    if isinstance(node, list):
        return [link for child in node for link in links_of(child)]
    if not isinstance(node, dict):
        return []
    if node.get("type") == "Link":
        return [node["props"]]
    return links_of(node.get("props", {}).get("children"))


def test_the_frame_reads_the_address(demo: Orchard) -> None:
    seen = steered(demo, "?as_of=2026-08-05&species=apple")
    assert seen.search is dash.no_update
    assert seen.as_of == "2026-08-05"
    assert seen.latest == "2026-08-20"
    assert seen.species == "apple"
    assert {"value": "Gala", "label": "Gala"} in seen.cultivars
    assert {"value": "Redhaven", "label": "Redhaven"} not in seen.cultivars
    assert seen.week_back == "?as_of=2026-07-29&species=apple"
    assert seen.week_on == "?as_of=2026-08-12&species=apple"
    assert seen.home == "?species=apple"
    assert "away" not in seen.home_class
    links = links_of(as_json(seen.top))
    assert [link["href"] for link in links] == [
        f"{path}?as_of=2026-08-05&species=apple" for path in PATHS
    ]
    assert [link["className"] for link in links] == ["here"] + [""] * (len(PATHS) - 1)


def test_the_way_back_is_hidden_on_the_orchards_own_date(demo: Orchard) -> None:
    assert "away" in steered(demo, "").home_class


def test_a_control_changes_the_address(demo: Orchard) -> None:
    seen = steered(demo, "?rows=trees", ("2026-08-10", "Quernwell", "apple", None, None))
    assert seen.search == "?as_of=2026-08-10&site=Quernwell&species=apple&rows=trees"
    back = steered(demo, seen.search, ("2026-08-12", None, None, None, None))
    assert back.search == "?rows=trees"


def test_a_cultivar_that_does_not_grow_at_the_chosen_site_is_let_go(demo: Orchard) -> None:
    seen = steered(demo, "", ("2026-08-12", "Saltpan Reach", None, "Gravenstein", None))
    assert seen.search == "?site=Saltpan+Reach"
    assert seen.cultivar is None


def test_a_row_of_trees_can_be_chosen_and_goes_into_the_address(demo: Orchard) -> None:
    seen = steered(demo, "", ("2026-08-12", "Quernwell", None, None, "3"))
    assert seen.search == "?site=Quernwell&block=3"
    assert [each["value"] for each in seen.blocks] == ["1", "2", "3", "4"]
    away = steered(demo, "", ("2026-08-12", "Saltpan Reach", None, None, "4"))
    assert away.search == "?site=Saltpan+Reach"
    assert away.block is None


def test_which_trees_are_shown_is_said_where_the_filters_are_folded(demo: Orchard) -> None:
    assert steered(demo, "").trees_shown == "Trees shown: all"
    few = steered(demo, "?site=Quernwell&species=apple&block=3").trees_shown
    assert few == "Trees shown: Quernwell, apple, Row 3"


@pytest.mark.parametrize("path", ["/picking", "/may-i-pick"])
def test_of_a_row_only_its_trees_are_shown(client: Client, path: str) -> None:
    page = all_text(client.page(path, "?rows=trees&site=Quernwell&block=3"))
    assert "Q3-0" in page
    for other in ("Q1-0", "Q2-0", "Q4-0", "S1-0"):
        assert other not in page
    assert texts.NO_MATCH in all_text(client.page(path, "?block=99"))


def test_a_week_on_never_passes_the_latest_day(demo: Orchard) -> None:
    assert steered(demo, "?as_of=2026-08-19").week_on == "?as_of=2026-08-20"


def test_help_has_no_filters(demo: Orchard) -> None:
    assert "away" in steered(demo, "", path="/help").filters
    assert "away" not in steered(demo, "", path="/seasons").filters


def test_a_second_app_in_the_process_shows_its_own_orchard(
    demo: Orchard, sqlite_address: str
) -> None:
    first = Client(app_of(demo))
    empty = service.open_orchard(sqlite_address)
    client = Client(app_of(empty))
    assert texts.EMPTY_TITLE in all_text(client.page("/picking"))
    assert find(client.json("_dash-layout"), ids.DEMO_NOTE) is None
    assert "12 August 2026" in all_text(first.page("/picking"))
    assert "The Half-Year Orchard" in all_text(find(first.json("_dash-layout"), ids.BRAND))
    assert len(dash.page_registry) == len(PAGES) + 1  # and the one for wrong addresses


@pytest.mark.parametrize("page", [page for page in PAGES if page.filters])
def test_an_empty_orchard_says_what_to_do_first(sqlite_address: str, page: Any) -> None:
    client = Client(app_of(service.open_orchard(sqlite_address)))
    said = all_text(client.page(page.path))
    assert texts.EMPTY_TITLE in said
    for command in texts.EMPTY_COMMANDS:
        assert command in said


def test_trees_without_any_record_have_every_page(sqlite_address: str, tmp_path: Any) -> None:
    orchard = service.open_orchard(sqlite_address)
    take_in(orchard, tmp_path, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    take_in(
        orchard,
        tmp_path,
        "trees",
        [
            ("tree", "site", "species", "cultivar", "planted"),
            ("1", "Hill", "apple", "Gala", "2020-03-14"),
        ],
    )
    client = Client(app_of(orchard))
    assert "Gala" in all_text(client.page("/picking"))
    assert "no season can be compared yet" in all_text(client.page("/seasons"))
    assert texts.PAGE_TITLES["young"] in all_text(client.page("/young-trees"))
    before = all_text(client.page("/picking", "?as_of=2019-01-01"))
    assert texts.EMPTY_TITLE in before
    assert "Nothing had been planted by 1 January 2019" in before


def test_under_a_prefix_every_link_keeps_it(demo: Orchard) -> None:
    client = Client(app_of(demo, url_prefix="/trees/"), prefix="/trees/")
    links = links_of(find(client.json("_dash-layout"), ids.NAV_TOP))
    hrefs = [link["href"] for link in links]
    assert hrefs == [f"/trees{path}" for path in PATHS]
    assert len(all_text(find(client.page("/trees/seasons"), ids.ANSWER))) > 40


def test_an_error_of_the_store_is_told_on_the_page(demo: Orchard) -> None:
    def fail(*_: Any) -> Any:
        raise StoreError("the database must answer", given="nothing", where="orchard")

    broken = dataclasses.replace(PAGES[0], render=fail)
    source = Source(demo, lambda: date(2026, 8, 12))
    said = all_text(as_json(page_layout(lambda: source, broken)()))
    assert texts.FAILED in said
    assert "the database must answer; given: nothing." in said


@pytest.mark.parametrize("path", PATHS)
def test_hostile_names_reach_no_page_as_markup(hostile: Orchard, path: str) -> None:
    client = Client(app_of(hostile))
    document = client.get(path.lstrip("/"))
    assert "<script>document" not in document
    assert document.count("</title>") == 1
    page = client.page(path)
    for graph in _figures(page):
        drawn = json.dumps(graph, ensure_ascii=False)
        assert "<script" not in drawn
        assert "onmouseover=alert(1)>" not in drawn
        assert "\u202e" not in drawn
    whole = json.dumps(page, ensure_ascii=False)
    assert "dangerously" not in whole
    shown = all_text(page)
    assert "x" * 60 not in shown
    assert "\u202e" not in shown


def _figures(node: Any) -> list[Any]:
    if isinstance(node, list):
        return [figure for child in node for figure in _figures(child)]
    if not isinstance(node, dict):
        return []
    if node.get("type") == "Graph":
        return [node["props"]["figure"]]
    return _figures(node.get("props", {}).get("children"))
