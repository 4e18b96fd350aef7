import json
import re
from datetime import date

import pytest

from dashboard import ids
from dashboard.figures.crops import TALL, crops_figure
from dashboard.figures.yields import foreseen_figure
from dashboard.measures import kilograms
from dashboard.pages import crop_ahead, more_seasons, season_parts, seasons
from dashboard.source import Source
from dashboard.texts import seasons as season_texts
from dashboard.views.crops import (
    answers,
    foreseen,
    group_rows,
    kind,
    labels,
    seasons_shown,
    whys,
)
from harvest.store.orchard import Orchard
from harvest.yields.result import ForecastPicked
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_seasons import reasoned, season, unpicked
from tests.dashboard.made_up import AS_OF, HOSTILE
from tests.dashboard.test_figures import texts_in, trace


@pytest.fixture(scope="module")
def client(demo: Orchard) -> Client:
    return Client(app_of(demo))


@pytest.fixture(scope="module")
def source(demo: Orchard) -> Source:
    return Source(demo, lambda: AS_OF)


@pytest.mark.parametrize("what", ["stripped", "none", "not recorded"])
def test_four_kinds_of_season_are_four(what: str) -> None:
    assert kind(unpicked(2025, what)) == what
    assert kind(season()) == "picked"


def test_seasons_shown_begin_with_the_first_record() -> None:
    rows = group_rows([unpicked(2010, "not recorded"), unpicked(2015, "stripped"), season(2018)])
    assert seasons_shown(rows, 12) == [2015, 2016, 2017, 2018]
    assert seasons_shown(rows, 2) == [2017, 2018]
    assert group_rows([unpicked(2010, "not recorded")]) == []


def test_seasons_are_called_by_where_the_trees_stand() -> None:
    assert labels([2025], [47.0]) == {2025: "2025"}
    assert labels([2025], [-38.0, -20.0]) == {2025: "2024/25"}
    assert labels([2025], [47.0, -38.0]) == {2025: "2025"}


def test_reasons_of_a_group_stand_by_their_evidence_over_its_trees() -> None:
    poor = season(2021, verdict="poor", compared_kg=10.0)
    reasons = [
        reasoned("A", ("frost", 0.9), ("heavy crop before", 0.5)),
        reasoned("B", ("heavy crop before", 0.7), ("frost", 0.8)),
        reasoned("C", ("hail", 0.95)),
        reasoned("elsewhere", ("drought", 1.0)),
    ]
    group_of = dict.fromkeys("ABC", "Northfield")
    (why,) = whys([poor, season(2022)], reasons, group_of)
    assert [(cause.cause, cause.trees) for cause in why.causes] == [
        ("frost", 2),
        ("heavy crop before", 2),
        ("hail", 1),
    ]
    assert why.trees == 3
    assert (why.causes[0].example, why.causes[0].tree) == ("frost of A", "A")


def test_a_poor_season_without_a_reason_says_so() -> None:
    (why,) = whys([season(2021, verdict="poor")], [reasoned("A")], {"A": "Northfield"})
    assert why.causes == ()
    assert season_texts.WHY_NO_REASON in _json_text(seasons._card(why, {2021: "2021"}))


def _json_text(node: object) -> str:
    import plotly.utils

    return json.dumps(node, cls=plotly.utils.PlotlyJSONEncoder, ensure_ascii=False)


def test_a_whole_season_is_answered_with_its_span() -> None:
    (said,) = answers(group_rows([season(2024), season(2025)]), {})
    text = seasons._sentence(said, 47.0)
    assert text.startswith("Northfield, season 2025: a usual season. 100\u00a0kg from 5 trees; ")
    assert "80\u00a0kg to 140\u00a0kg was to be expected of these trees at their age" in text


def test_a_running_season_speaks_only_of_the_trees_that_are_done() -> None:
    running = season(2026, complete=False, compared_trees=2, compared_kg=30.0, weight_kg=70.0)
    (said,) = answers(group_rows([season(2025), running]), {})
    text = seasons._sentence(said, 47.0)
    assert "season 2026 so far: a usual season. The 2 trees whose season is over gave" in text
    assert "With the others so far it is 70\u00a0kg from 5 trees." in text
    assert "The whole season before, 2025: a usual season, 100\u00a0kg." in text


def test_two_seasons_alone_are_never_good_or_poor() -> None:
    early = season(verdict="too early to tell", others=1)
    (said,) = answers(group_rows([early]), {})
    text = seasons._sentence(said, 47.0)
    assert "too early to tell" in text
    assert "three other seasons on record, and there is one" in text
    assert "a good season" not in text
    assert "a poor season" not in text


def test_a_poor_season_is_told_with_possible_reasons() -> None:
    poor = season(2021, verdict="poor")
    known = {
        ("Northfield", 2021): whys([poor], [reasoned("A", ("frost", 0.9))], {"A": "Northfield"})[0]
    }
    (said,) = answers(group_rows([poor]), known)
    text = seasons._sentence(said, 47.0)
    assert "Possible reasons, strongest evidence first: frost (1 of 1 poor trees)." in text


def test_a_bar_stands_over_the_span_that_was_to_be_expected() -> None:
    rows = group_rows(
        [
            season(2021, verdict="good", weight_kg=200.0),
            unpicked(2022, "stripped"),
            unpicked(2023, "none"),
            unpicked(2024, "not recorded"),
            season(2025, verdict="poor", weight_kg=50.0),
            season(2026, complete=False),
        ]
    )
    figure = crops_figure(rows, {year: str(year) for year in range(2021, 2027)})
    bars, spans = trace(figure, "picked"), trace(figure, "expected")
    assert list(bars.x) == [2021, 2025, 2026]
    assert list(bars.base) == [TALL.base_at] * 3
    assert list(bars.y)[:2] == [pytest.approx(-TALL.tallest), pytest.approx(-TALL.tallest / 4)]
    # The span is about trees whose season is over: none is drawn for the running one.
    assert list(spans.x) == [2021, 2025]
    assert spans.base[0] == pytest.approx(TALL.base_at - TALL.tallest * 80 / 200)
    assert list(bars.marker.pattern.shape) == ["", "", "/"]
    verdict = trace(figure, "verdict")
    assert dict(zip(verdict.x, verdict.text, strict=True)) == {2021: "▲", 2025: "▼"}
    signs = [trace(figure, name) for name in ("stripped on purpose", "no crop", "not recorded")]
    assert [list(sign.x) for sign in signs] == [[2022], [2023], [2024]]
    assert len({sign.marker.symbol for sign in signs}) == 3
    assert "’26: 100\u00a0kg so far" in texts_in(figure)


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_is_obeyed_in_the_picture(name: str) -> None:
    figure = crops_figure(group_rows([season(name=name)]), {2025: "2025"})
    drawn = json.dumps(figure.to_plotly_json(), default=str, ensure_ascii=False)
    assert "<script" not in drawn
    assert "x" * 60 not in drawn


def test_the_frost_of_the_demo_is_found_and_seen(client: Client) -> None:
    """Three nights to -5.1 degC in bloom at the northern site in April 2021 (data/demo)."""
    page = client.page("/seasons", "?as_of=2022-01-15&site=Quernwell")
    said = all_text(find(page, ids.ANSWER))
    assert "season 2021" in said
    assert "a poor season" in said
    assert re.search(r"Possible reasons, strongest evidence first: frost \(\d+ of \d+ poor", said)
    cards = all_text(find(page, "why"))
    assert "None is a proof" in cards
    assert "-5.1 °C on 20 April 2021" in cards


@pytest.mark.parametrize("by", list(season_texts.BY_NAMES))
def test_every_grouping_has_its_picture_and_stays_in_the_address(client: Client, by: str) -> None:
    page = client.page("/seasons", f"?by={by}&site=Quernwell")
    assert find(page, "picture-crops") is not None
    chosen = re.search(r'"href": "([^"]*)"[^{}]*"choice chosen"', json.dumps(page))
    assert chosen is not None
    assert (f"by={by}" in chosen[1]) is (by != "site")
    assert "site=Quernwell" in chosen[1]


def test_weights_of_the_table_add_up_by_any_grouping(client: Client) -> None:
    totals = []
    for by in season_texts.BY_NAMES:
        rows = find(client.page("/seasons", f"?by={by}"), "table-crops")["props"]["rowData"]
        totals.append(sum(row["weight_kg"] or 0.0 for row in rows))
    assert totals == [pytest.approx(totals[0], abs=0.5)] * len(totals)


@pytest.mark.parametrize("name", list(more_seasons.PARTS))
def test_every_fold_has_a_picture_and_a_table(client: Client, name: str) -> None:
    posted = client.callback(
        f"more-{name}.children", f"open-{name}.n_clicks",
        **{f"open-{name}.n_clicks": 1},
    )  # fmt: skip
    content = posted[f"more-{name}"]["children"]
    assert find(content, f"picture-{name}") is not None
    assert find(content, f"table-{name}") is not None


def crop(kg: float, usual: float | None = 20.0, middle: float = 10.0) -> ForecastPicked:
    levels = {0.1: middle / 2, 0.5: middle, 0.9: 2 * middle}
    return ForecastPicked("T", "apple", "Gala", 2025, AS_OF, levels, kg, 5, usual)


@pytest.mark.parametrize(
    ("kg", "said"),
    [
        ([8.0] * 3, "so few cannot show"),
        ([8.0, 12.0] * 10, "20 (100 %) came out inside the 80 % range: more than the 8 in 10"),
        ([3.0, 12.0] * 10, "10 (50 %) came out inside the 80 % range: fewer than the 8 in 10"),
        ([8.0, 12.0, 8.0, 12.0, 50.0] * 4, "16 (80 %) came out inside the 80 % range; 8 in 10"),
        ([12.0] * 20, "too low: 20 of 20 crops were larger"),
        ([8.0] * 20, "too high: only 0 of 20 crops were larger"),
        (
            [8.0] * 20,
            "by 25 % or less (the mean of the tree’s crops until then, taken as a guess: 150",
        ),
    ],
)
def test_what_past_estimates_were_worth_is_told(kg: list[float], said: str) -> None:
    text = season_parts.foreseen_sentence(foreseen([crop(each) for each in kg]))
    text = text.replace("\u00a0", " ")
    assert said in text


def test_crops_without_a_weight_or_a_past_are_not_held_against_a_guess() -> None:
    found = foreseen([crop(0.0), crop(5.0, None), *[crop(8.0)] * 9])
    assert (found.crops, found.inside, found.guess_missed) == (11, 10, None)
    assert found.missed == pytest.approx(0.25)


@pytest.mark.parametrize("kg", [[30.0, 12.0, 0.0], [0.03], [4000.0], [0.0]])
def test_what_was_foreseen_and_picked_share_one_scale_that_holds_them_all(kg: list[float]) -> None:
    figure = foreseen_figure([crop(each) for each in kg])
    low, high = (10**end for end in figure.layout.xaxis.range)
    assert figure.layout.yaxis.range == figure.layout.xaxis.range
    drawn = [each for each in kg if each > 0]
    assert all(low < each < high for each in [*drawn, 10.0 if drawn else 2.0])
    assert sum(len(part.x) for part in figure.data if part.mode == "markers") == len(drawn)


def test_two_seasons_side_by_side_are_those_chosen(source: Source) -> None:
    asked = more_seasons.asked(source, "?by=site")
    text = _json_text(more_seasons.side_by_side(asked, "2020", "2021"))
    assert "the earlier season, 2020" in text
    assert '"earlier": 798' in text
    assert season_texts.NOTHING in _json_text(more_seasons.side_by_side(asked, None, "2021"))


def test_a_fold_of_which_nothing_is_known_says_so(source: Source) -> None:
    (said,) = more_seasons.part(source, "trunk", "?as_of=2008-01-01")
    assert said.children == season_texts.NOTHING


def test_the_crop_to_come_tells_its_range_gluts_and_empty_weeks(source: Source) -> None:
    crops = source.crops_ahead(AS_OF)
    weeks = [week for week in crops.weeks if week.site == "Saltpan Reach"]
    whole = [each for each in crops.sites if each.site == "Saltpan Reach"]
    said = crop_ahead.sentence(weeks, whole, -38.0, AS_OF)
    most = max(weeks, key=lambda week: week.mean_kg)
    assert f"about {kilograms(most.kg[0.5])}" in said
    assert "8 chances in 10 between" in said
    assert "Nothing to pick: " in said
    gaps = crop_ahead.empty_spans(weeks)
    assert gaps
    assert all(last > first for first, last in gaps)
    assert all(
        week.mean_kg < 0.01 * most.mean_kg
        for week in weeks
        for first, last in gaps
        if first <= week.start <= last
    )


def test_the_range_of_a_sites_crop_is_narrower_than_its_trees_ranges_added_up(
    source: Source,
) -> None:
    crops = source.crops_ahead(AS_OF)
    for site in crops.sites:
        own = [each for each in crops.trees if (each.site, each.season) == (site.site, site.season)]
        own = [each for each in own if each.kg[0.9] > each.picked_so_far_kg]
        if len(own) < 5:
            continue
        assert site.trees == len(own)
        low, high = (
            sum(each.kg[level] - each.picked_so_far_kg for each in own) for level in (0.1, 0.9)
        )
        assert low < site.kg[0.1] < site.kg[0.5] < site.kg[0.9] < high


def test_the_page_of_the_crop_to_come_follows_the_filters(client: Client) -> None:
    posted = client.callback(
        f"{crop_ahead.AHEAD}.children",
        f"{crop_ahead.AHEAD_ASKED}.data",
        **{f"{crop_ahead.AHEAD_ASKED}.data": "?as_of=2026-08-12&cultivar=Gala"},
    )
    content = posted[crop_ahead.AHEAD]["children"]
    rows = find(content, "table-crop-trees")["props"]["rowData"]
    assert {row["cultivar"] for row in rows} == {"Gala"}
    assert all(row["low"] <= row["middle"] <= row["high"] for row in rows)
    assert date.fromisoformat(find(content, "table-weeks")["props"]["rowData"][0]["week"])
