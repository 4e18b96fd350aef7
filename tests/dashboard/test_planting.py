import json

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboard.address import View, view_of
from dashboard.data import Place, SeasonDays, kinds_to_plant
from dashboard.figures.planting import chill_figure, weeks_figure
from dashboard.pages.planting import gaps_found, render, sentences
from dashboard.source import Source
from dashboard.views.planting import (
    asked_of,
    best_of,
    dates_of,
    gap_span,
    joined,
    rank_rows,
    scenario_of,
    share_words,
)
from harvest.service_climate import GapWeek
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF

KINDS = {"apple": ["Gala"], "pear": ["Bartlett"]}
GROWN = [("North", "apple"), ("North", "pear"), ("North", "pear"), ("South", "apple")]


@pytest.fixture(scope="module")
def source(demo: Orchard) -> Source:
    return Source(demo, lambda: AS_OF, AS_OF)


def test_without_a_choice_it_is_the_site_of_most_trees_and_its_commonest_species() -> None:
    found = asked_of(View(), ["North", "South"], GROWN, KINDS)
    assert found is not None
    assert (found.site, found.species, found.cultivar) == ("North", "pear", None)
    assert asked_of(View(), [], [], KINDS) is None
    found = asked_of(View(), ["North", "South"], GROWN, KINDS, {"South"})
    assert found is not None
    assert (found.site, found.species) == ("South", "apple")  # the one that can be answered


def test_what_is_not_in_the_tables_is_not_asked_for() -> None:
    found = asked_of(
        view_of({"plant": "nonsense", "plant_cultivar": "Gala", "warmer": "9"}, AS_OF),
        ["North"], GROWN, KINDS,
    )  # fmt: skip
    assert found is not None
    assert (found.species, found.cultivar, found.warming) == ("pear", None, "0")


def test_coordinates_are_numbers_or_refused() -> None:
    south = view_of({"lat": "−33.5", "lon": "18", "site": "South"}, AS_OF)
    good = asked_of(south, ["North", "South"], GROWN, KINDS)
    assert good is not None
    assert good.place == Place("South", -33.5, 18.0)
    for bad in ({"lat": "north", "lon": "3"}, {"lat": "48"}):
        found = asked_of(view_of(bad, AS_OF), ["South"], GROWN, KINDS)
        assert found is not None
        assert found.refused


def test_dates_stand_in_order_across_the_years_end() -> None:
    early, middle, late = dates_of(SeasonDays("12-20", "01-05", "01-30", 189.0), southern=True)
    assert early < middle < late
    assert (middle.month, middle.day) == (1, 5)


def test_weeks_on_end_that_alike_would_fill_stand_together() -> None:
    weeks = [GapWeek(n, f"01-{1 + 7 * (n - 1):02}", ("Gala",) if n < 3 else ()) for n in (1, 2, 3)]
    gaps = joined([*weeks, GapWeek(5, "01-29", ())])
    assert [(gap.weeks, gap.names) for gap in gaps] == [(2, ("Gala",)), (1, ()), (1, ())]
    assert gap_span(gaps[0]) == "1 Jan to 14 Jan"


def test_the_answer_has_its_width_and_years(source: Source) -> None:
    site = "Quernwell"
    fits = source.climate_fit(AS_OF, Place(site), "apple", "Gala")
    view = view_of({"site": site, "plant": "apple", "plant_cultivar": "Gala"}, AS_OF)
    found = asked_of(view, [site], [(site, "apple")], kinds_to_plant())
    assert found is not None
    said = " ".join(sentences(fits, found))
    assert "Apple Gala at Quernwell: all goes well in" in said
    assert "8 in 10:" in said
    assert f"{fits[0].years} past years" in said


def test_what_cannot_be_told_is_unknown_and_not_ranked(source: Source) -> None:
    for species in kinds_to_plant():
        fits = source.climate_fit(AS_OF, Place("Quernwell"), species, None)
        ranked = {fit.cultivar for fit, _ in best_of(fits, "0")}
        for fit, row in zip(fits, rank_rows(fits, "0"), strict=True):
            at = scenario_of(fit, "0")
            if at is None or at.all_well is None:
                assert row["all_well"] == "unknown"
                assert fit.cultivar not in ranked
    assert share_words(None) == "unknown"


def test_pictures_draw_every_winter_and_every_warming(source: Source) -> None:
    winters = source.winter_chill(AS_OF, Place("Saltpan Reach"))
    assert [each.warming_c for each in winters] == [0, 1, 2, 3]
    assert len(winters[0].portions) == len(winters[0].seasons)
    figure = chill_figure(
        winters[1].seasons, winters[1].portions, winters[0].portions, (40, 80), 30.0, "portions"
    )
    assert [len(trace.x) for trace in figure.data] == [len(winters[0].seasons)] * 2
    fit = source.climate_fit(AS_OF, Place("Saltpan Reach"), "apple", "Gala")[0]
    weeks = weeks_figure(fit, southern=True)
    assert {trace.name for trace in weeks.data if trace.name} == {"full bloom", "first ripe fruit"}


def test_weeks_without_fruit_are_told_with_what_would_fill_them(source: Source) -> None:
    said = made_text(gaps_found(source, "?site=Quernwell"))
    assert "nothing in the tables that does well here" in said
    assert "fruit from store is not counted" in said
    assert "could not be worked out" in made_text(gaps_found(source, "?site=Nowhere"))


def test_the_page_tells_sources_unknowns_and_that_it_is_no_promise(demo: Orchard) -> None:
    client = Client(app_of(demo))
    page = client.page("/before-planting", "?plant=apple&plant_cultivar=Gala&site=Saltpan+Reach")
    said = all_text(page)
    assert "no promise" in said
    assert "Fewer than 30 years" in said
    assert "Fishman et al. 1987" in said
    assert "S3-02 (Granny Smith)" in said
    assert "Another place" in said
    wrong = client.page("/before-planting", "?lat=50&lon=8&site=Saltpan+Reach")
    assert "same half of the world" in all_text(find(wrong, "answer"))


def test_a_place_that_cannot_be_is_refused_in_words(source: Source) -> None:
    page = render(source, view_of({"lat": "89", "lon": "0"}, AS_OF))
    assert "a latitude from -66 to 66" in made_text(page).casefold()


def made_text(made: object) -> str:
    return all_text(json.loads(json.dumps(made, cls=PlotlyJSONEncoder)))
