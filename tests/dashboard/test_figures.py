import json
from datetime import date, datetime, timedelta
from typing import Any

import plotly.graph_objects as go
import pytest

from dashboard.figures.hindsight import MOST_REACH, misses_figure, seasons_figure
from dashboard.figures.style import BAND_AT, DAY_MS
from dashboard.figures.windows import MOST_ROWS, windows_figure
from dashboard.figures.young import young_figure
from dashboard.views.hindsight import misses
from dashboard.views.windows import windows
from dashboard.views.young import young_trees
from tests.dashboard.made_up import AS_OF, HOSTILE, LATITUDES, advice, crop, event, past

NOON = timedelta(hours=12)


def trace(figure: go.Figure, name: str) -> Any:
    """The one trace of a name."""
    found = [each for each in figure.data if each.name == name]
    assert len(found) == 1, [each.name for each in figure.data]
    return found[0]


def texts_in(figure: go.Figure) -> list[str]:
    """Texts written into a figure, row by row."""
    return [text for each in figure.data if each.text is not None for text in each.text]


def as_date(value: Any) -> date:
    return value.date() if isinstance(value, datetime) else value


def test_a_window_is_drawn_from_its_quantiles() -> None:
    rows = windows([event(), event(event="last pick", day=date(2026, 9, 9))], (), LATITUDES, AS_OF)
    figure = windows_figure(rows, AS_OF)
    wide, narrow = trace(figure, "80 %"), trace(figure, "50 %")
    assert list(wide.base) == [date(2026, 8, 19)]
    assert list(wide.x) == [15 * DAY_MS]  # 19 August to 2 September, both included
    assert list(narrow.base) == [date(2026, 8, 23)]
    assert list(narrow.x) == [7 * DAY_MS]
    assert [as_date(x) for x in trace(figure, "median").x] == [date(2026, 8, 26)]
    assert [as_date(x) for x in trace(figure, "period").x[:2]] == [
        date(2026, 9, 3),
        date(2026, 9, 9),
    ]
    assert texts_in(figure) == ["<b>Testapple</b>", "19 Aug – 2 Sep"]
    lines = [shape for shape in figure.layout.shapes if shape.type == "line" and shape.x0 == AS_OF]
    assert len(lines) == 1
    week = next(shape for shape in figure.layout.shapes if shape.type == "rect")
    assert (week.x0, week.x1) == (date(2026, 8, 10), date(2026, 8, 17))


def test_logged_ripe_dates_and_picks_have_their_own_marks() -> None:
    rows = windows(
        [event(status="observed", day=date(2026, 8, 2))],
        [("A1", 2026, date(2026, 8, 2)), ("A1", 2026, date(2026, 8, 9))],
        LATITUDES,
        AS_OF,
    )
    figure = windows_figure(rows, AS_OF)
    ripe, pick = trace(figure, "ripe"), trace(figure, "pick")
    assert list(ripe.y) == [BAND_AT]
    assert [as_date(x) for x in ripe.x] == [date(2026, 8, 2)]
    assert [as_date(x) for x in pick.x] == [date(2026, 8, 2), date(2026, 8, 9)]
    assert ripe.marker.symbol != pick.marker.symbol
    assert list(trace(figure, "80 %").x) == []
    assert "since 2 Aug" in texts_in(figure)


def test_a_range_too_wide_to_be_of_use_is_cut_off_with_an_arrow() -> None:
    wide = event("B1", cultivar="Wide", day=date(2026, 12, 1))
    quantiles = {**wide.quantiles, 0.1: date(2026, 10, 1), 0.9: date(2027, 4, 1)}
    object.__setattr__(wide, "quantiles", quantiles)
    figure = windows_figure(windows([event(), wide], (), LATITUDES, AS_OF), AS_OF)
    end = figure.layout.xaxis.range[1]
    assert end < "2027-01-01" if isinstance(end, str) else end < date(2027, 1, 1)
    assert len(trace(figure, "goes on").x) == 1
    assert "1 Oct – 1 Apr" in texts_in(figure)


def test_two_seasons_of_a_cultivar_are_told_apart() -> None:
    events = [
        event(site="Southfield", season=2026, day=date(2026, 8, 20)),
        event(site="Southfield", season=2027, day=date(2027, 7, 10)),
    ]
    figure = windows_figure(windows(events, (), LATITUDES, AS_OF), AS_OF)
    assert texts_in(figure)[:2] == ["<b>Testapple</b> 2025/26", "<b>Testapple</b> 2026/27"]


def test_a_long_list_is_cut_and_stays_readable() -> None:
    events = [event(f"T{n}", cultivar=f"Cultivar {n:04}") for n in range(MOST_ROWS + 30)]
    figure = windows_figure(windows(events, (), LATITUDES, AS_OF), AS_OF)
    assert len(trace(figure, "80 %").x) == MOST_ROWS
    assert figure.layout.height > MOST_ROWS * 40


def test_misses_are_drawn_in_days_from_the_middle() -> None:
    found = misses([past(2), past(-9, 2023), past(90, 2022)])
    figure = misses_figure([("Testapple", found)])
    assert list(trace(figure, "logged, inside the range").x) == [2]
    assert list(trace(figure, "logged, outside the range").x) == [-9]
    beyond = trace(figure, "further off than the axis goes")
    assert list(beyond.marker.symbol) == ["triangle-right"]
    assert figure.layout.xaxis.range[1] <= MOST_REACH * 1.1
    band = trace(figure, "80 %")
    assert (list(band.base), list(band.x)) == ([-7], [14])
    assert "±34 d · 1 of 3 in" in texts_in(figure)
    inside = trace(figure, "logged, inside the range").marker.symbol
    assert inside != trace(figure, "logged, outside the range").marker.symbol


@pytest.mark.parametrize(("latitude", "season"), [(47.0, 2024), (-38.0, 2024), (47.0, 2023)])
def test_seasons_stand_above_each_other_by_day_of_season(latitude: float, season: int) -> None:
    found = misses([past(0, season), past(5, season + 1), past(-3, season + 2)])
    figure = seasons_figure(found, [str(miss.season) for miss in found], latitude)
    middles = [as_date(x) for x in trace(figure, "median").x]
    # 20 August is one day later in the season of a leap year, north of the equator.
    assert max(middles) - min(middles) <= timedelta(days=1)
    years = {day.year for day in middles}
    assert years == ({2002} if latitude > 0 else {2003})
    assert texts_in(figure)[3:] == ["on the day", "5 d later", "3 d earlier"]


def test_the_circle_of_a_young_tree_fills_with_what_may_stay() -> None:
    trees = young_trees(
        [
            advice("S1", "strip", 1),
            advice("L1", "limit", 3, fruit_limit=12),
            advice("C1", "carry", 3),
            advice("U1", "unknown", 2),
        ],
        [crop(2025, "stripped", tree="L1"), crop(2024, "not recorded", tree="L1")],
        {},
        LATITUDES,
        AS_OF,
    )
    figure = young_figure(trees)
    assert sorted(trace(figure, "this season").x) == [1, 3, 3]
    assert list(trace(figure, "limit").x) == [3]
    assert list(trace(figure, "carry").x) == [3]
    assert trace(figure, "limit").marker.size < trace(figure, "carry").marker.size
    assert list(trace(figure, "unknown").x) == [2]
    assert list(trace(figure, "stripped").x) == [2]
    assert list(trace(figure, "not recorded").x) == [1]
    assert "Limit: at most 12" in texts_in(figure)


@pytest.mark.parametrize("name", HOSTILE)
def test_no_figure_takes_markup_from_a_name(name: str) -> None:
    figures = [
        windows_figure(windows([event(name, cultivar=name)], (), LATITUDES, AS_OF), AS_OF),
        windows_figure(
            windows([event(name, cultivar=name)], (), LATITUDES, AS_OF, by_tree=True), AS_OF
        ),
        misses_figure([(name, misses([past(1, tree=name, cultivar=name)]))]),
        young_figure(young_trees([advice(name, cultivar=name)], [], {}, LATITUDES, AS_OF)),
    ]
    for figure in figures:
        drawn = json.dumps(figure.to_plotly_json(), default=str, ensure_ascii=False)
        assert "<script" not in drawn
        assert "<b onmouseover" not in drawn
        assert "\u202e" not in drawn
        assert "x" * 60 not in drawn


def test_figures_know_nothing_of_dash() -> None:
    import subprocess
    import sys

    code = (
        "import sys, dashboard.figures.windows, dashboard.figures.hindsight, "
        "dashboard.figures.crops, dashboard.figures.young; print('dash' in sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"
