"""Pictures of yields besides the seasons: since planting, by trunk, graded out, dates, fruit."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from statistics import median

import plotly.graph_objects as go

from dashboard.data import CumulativePoint, ForecastPicked, GroupSeason, TrunkPoint, day_of_season
from dashboard.figures import style
from dashboard.measures import filled, in_us, kilograms, said, unit, value
from dashboard.texts import TREE_MANY, TREE_ONE
from dashboard.texts import figures as figure_texts
from dashboard.texts import seasons as season_texts
from dashboard.views.crops import GroupRow, came_inside
from dashboard.words import count, plot_text, short_span

# Lines of equal weight by trunk: metric [kg/cm2], US [lb/in2].
LINES = {False: (0.1, 0.3, 1.0), True: (1.0, 3.0, 10.0)}
FINE = [0.1, 0.2, 0.5]
TENFOLD = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000]
# A season in which neither it nor the next has a leap day, north and south.
COMMON = {False: 2002, True: 2003}
MOST_CAUSES = 12


def since_planting_figure(points: Sequence[CumulativePoint]) -> go.Figure:
    """One row per species and rootstock: kilograms per tree added up, leaf by leaf."""
    rows: dict[tuple[str, str], list[CumulativePoint]] = defaultdict(list)
    for point in points:
        rows[point.species, point.rootstock].append(point)
    order = sorted(rows, key=lambda key: (key[0], -rows[key][-1].kg_per_tree))
    figure = style.blank(len(order), height=len(order) * 58 + style.EDGE_HEIGHT)
    last = max((point.leaf for point in points), default=1)
    low, high = 0.4, max(last, 4) + 0.6
    figure.update_xaxes(
        range=[low, high],
        nticks=8,
        tickprefix=figure_texts.LEAF.format(leaf=""),
        showtickprefix="first",
    )
    most: dict[str, float] = defaultdict(float)
    for point in points:
        most[point.species] = max(most[point.species], point.kg_per_tree)
    for at, key in enumerate(order):
        own = rows[key]
        figure.add_scatter(
            x=[point.leaf for point in own],
            y=[at + 0.42 - 0.5 * point.kg_per_tree / (most[key[0]] or 1.0) for point in own],
            mode="lines+markers",
            line={"color": style.LOGGED, "width": 2.5},
            marker={"color": style.LOGGED, "size": 5},
            hovertext=[_at_leaf(key, point) for point in own],
            hoverinfo="text",
            name=f"{key[0]} {key[1]}",
        )
    style.row_texts(
        figure,
        [
            f"<b>{plot_text(species, 16)}</b> {plot_text(_roots(root), 18)}"
            for species, root in order
        ],
        [
            figure_texts.WEIGHT_AT_LEAF.format(
                weight=kilograms(rows[key][-1].kg_per_tree), leaf=rows[key][-1].leaf
            )
            for key in order
        ],
        low,
        high,
        at=-0.32,
    )
    return figure


def _at_leaf(key: tuple[str, str], point: CumulativePoint) -> str:
    return figure_texts.LEAF_KG.format(
        species=plot_text(key[0]),
        roots=plot_text(key[1]),
        leaf=point.leaf,
        weight=kilograms(point.kg_per_tree),
        trees=count(point.trees, TREE_ONE, TREE_MANY),
    )


def _roots(name: str) -> str:
    return season_texts.SINCE_ROOTS_UNKNOWN if name == "not on record" else name


def trunk_figure(points: Sequence[TrunkPoint]) -> go.Figure:
    """Kilograms of a season by trunk cross-section, with lines of equal kilograms per cm2."""
    figure = style.blank(1, height=430)
    figure.update_layout(margin={"l": 46, "r": 12, "t": 16, "b": 46}, shapes=[])
    low = 0.8 * min(_area(point) for point in points)
    high = 1.3 * max(_area(point) for point in points)
    figure.update_xaxes(type="log", side="bottom", tickvals=[*FINE, *TENFOLD],
                        title=filled(figure_texts.AXIS_TRUNK))  # fmt: skip
    figure.update_yaxes(
        type="log", autorange=True, range=None, showgrid=True, showticklabels=True,
        tickvals=[*FINE, *TENFOLD], title=unit("kg"),
    )  # fmt: skip
    for share in trunk_lines():
        figure.add_scatter(
            x=[low, high],
            y=[low * share, high * share],
            mode="lines+text",
            text=["", f"{share:g}"],
            textposition="bottom left",
            line={"color": style.QUIET, "width": 1, "dash": "dot"},
            hoverinfo="skip",
            name=unit("kg/cm²"),
        )
    latest = max(point.season for point in points)
    for now in (False, True):
        own = [point for point in points if (point.season == latest) is now]
        figure.add_scatter(
            x=[_area(point) for point in own],
            y=[value(point.weight_kg, "kg") for point in own],
            mode="markers",
            marker=style.marker("circle", style.LOGGED, 10, color=style.PAPER, width=1)
            if now
            else style.marker("circle-open", style.QUIET, 7, color=style.QUIET, width=1),
            hovertext=[
                figure_texts.TRUNK.format(
                    tree=plot_text(point.tree),
                    cultivar=plot_text(point.cultivar),
                    season=point.season,
                    weight=kilograms(point.weight_kg),
                    area=said(point.tcsa_cm2, "cm²", 0),
                    ratio=said(point.weight_kg / point.tcsa_cm2, "kg/cm²", 2),
                )
                for point in own
            ],
            hoverinfo="text",
            name=season_texts.KEY_TRUNK_NOW if now else season_texts.KEY_TRUNK_THEN,
        )
    return figure


def trunk_lines() -> tuple[float, ...]:
    """Weights by trunk that lines are drawn for, in the units chosen."""
    return LINES[in_us()]


def _area(point: TrunkPoint) -> float:
    return value(point.tcsa_cm2, "cm²")


def graded_figure(now: Mapping[str, float], others: Mapping[str, float]) -> go.Figure:
    """Weight graded out by cause [kg]: a bar for the season, a ring for the others' mean."""
    causes = sorted({*now, *others}, key=lambda name: -max(now.get(name, 0), others.get(name, 0)))
    causes = causes[:MOST_CAUSES]
    figure = style.blank(len(causes))
    most = value(max([*now.values(), *others.values()], default=1.0), "kg")
    figure.update_xaxes(range=[0, most * 1.08], ticksuffix=f" {unit('kg')}", nticks=6)
    rows = [at + style.BAND_AT for at in range(len(causes))]
    figure.add_bar(
        orientation="h",
        x=[value(now.get(name, 0.0), "kg") for name in causes],
        y=rows,
        width=style.BAND_WIDTH,
        marker={"color": style.LOGGED},
        hoverinfo="skip",
        name="graded out",
    )
    known = [(at, others[name]) for at, name in zip(rows, causes, strict=True) if name in others]
    figure.add_scatter(
        x=[value(kg, "kg") for _, kg in known],
        y=[at for at, _ in known],
        mode="markers",
        marker=style.marker("circle", style.PAPER, 12, color=style.FORECAST, width=3),
        hoverinfo="skip",
        name=season_texts.KEY_GRADED_MEAN,
    )
    style.row_texts(
        figure,
        [f"<b>{plot_text(name, 30)}</b>" for name in causes],
        [kilograms(now.get(name, 0.0)) for name in causes],
        0,
        most * 1.08,
    )
    return figure


def dates_figure(rows: Sequence[GroupRow], *, southern: bool) -> go.Figure:
    """From first to last pick: the latest season of each group over its usual; all of a single.

    Dates are moved into one season for all, so that days of season stand above each other. Every
    group has a pick, and all stand in the same hemisphere.
    """
    one = len(rows) == 1
    picked = [[each for each in row.seasons if each.first_pick] for row in rows]
    seen = picked[0][::-1] if one else [seasons[-1] for seasons in picked]
    usual = [
        None if one else _usual(row, each.season, southern=southern)
        for row, each in zip([*rows] * len(seen) if one else rows, seen, strict=True)
    ]
    spans = [_moved(each.first_pick, each.last_pick, each.season, southern) for each in seen]
    figure = style.blank(len(seen))
    for name, parts, width, colour in (
        ("usual", usual, 0.5, style.FORECAST_FAINT),
        ("picks", spans, 0.28, style.LOGGED),
    ):
        drawn = [(at, part) for at, part in enumerate(parts) if part is not None]
        figure.add_bar(
            orientation="h",
            base=[first for _, (first, _) in drawn],
            x=[style.days_between(first, last) for _, (first, last) in drawn],
            y=[at + style.BAND_AT for at, _ in drawn],
            width=width,
            marker={
                "color": colour,
                "line": {"color": style.FORECAST if name == "usual" else colour, "width": 1},
            },
            hoverinfo="skip",
            name=name,
        )
    edges = [day for part in [*spans, *usual] if part is not None for day in part]
    start, end = min(edges) - timedelta(days=5), max(edges) + timedelta(days=5)
    style.date_axis(figure, range=[start, end])
    style.row_texts(
        figure,
        [f"<b>{each.season if one else plot_text(each.name, 26)}</b>" for each in seen],
        [
            ("" if one else f"’{str(each.season)[-2:]}: ")
            + short_span(each.first_pick, each.last_pick or each.first_pick)
            for each in seen
            if each.first_pick
        ],
        start,
        end,
    )
    return figure


def _usual(row: GroupRow, season: int, *, southern: bool) -> tuple[date, date] | None:
    """Middle first and last pick of the seasons before one."""
    spans = [
        _moved(each.first_pick, each.last_pick, each.season, southern)
        for each in row.seasons
        if each.season < season and each.first_pick and each.complete
    ]
    known = [span for span in spans if span is not None]
    if not known:
        return None
    first, last = (
        date.fromordinal(round(median(span[end].toordinal() for span in known))) for end in (0, 1)
    )
    return first, last


def _moved(
    first: date | None, last: date | None, season: int, southern: bool
) -> tuple[date, date] | None:
    if first is None or last is None:
        return None
    latitude = -1.0 if southern else 1.0
    common = COMMON[southern]
    shift = day_of_season(first, season, latitude) - day_of_season(first, common, latitude)
    return first + timedelta(days=shift), last + timedelta(days=shift)


def fruit_figure(rows: Sequence[GroupRow]) -> go.Figure:
    """Mean weight of one fruit of each group [g]: the latest season full, earlier ones open."""
    figure = style.blank(len(rows))
    every = [_mean(each) for row in rows for each in row.seasons if each.mean_fruit_g]
    low, high = min(every) / 1.3, max(every) * 1.3
    edges = [math.log10(low), math.log10(high)]
    figure.update_xaxes(
        type="log", range=edges, tickvals=[*FINE, *TENFOLD], ticksuffix=f" {unit('g')}"
    )
    points = [
        (at, each, each.season == max(s.season for s in row.seasons if s.mean_fruit_g))
        for at, row in enumerate(rows)
        for each in row.seasons
        if each.mean_fruit_g
    ]
    for now in (False, True):
        own = [(at, each) for at, each, latest in points if latest is now]
        figure.add_scatter(
            x=[_mean(each) for _, each in own],
            y=[at + style.BAND_AT for at, _ in own],
            mode="markers",
            marker=style.marker("circle", style.LOGGED, 12, color=style.PAPER, width=1)
            if now
            else style.marker("circle-open", style.QUIET, 9, color=style.QUIET, width=1.5),
            hovertext=[
                figure_texts.FRUIT_SIZE.format(
                    name=plot_text(each.name),
                    season=each.season,
                    weight=said(each.mean_fruit_g or 0.0, "g", 0),
                )
                for _, each in own
            ],
            hoverinfo="text",
            name=season_texts.KEY_FRUIT_NOW if now else season_texts.KEY_FRUIT_THEN,
        )
    style.row_texts(
        figure,
        [f"<b>{plot_text(row.name, 26)}</b>" for row in rows],
        [
            f"’{str(each.season)[-2:]}: {said(each.mean_fruit_g or 0.0, 'g', 0)}"
            for _, each, latest in points
            if latest
        ],
        low,
        high,
    )
    return figure


def _mean(season: GroupSeason) -> float:
    return value(season.mean_fruit_g or 0.0, "g")


def _ends(weights: Sequence[float]) -> tuple[float, float]:
    """The marks of a tenfold scale that weights lie between."""
    marks = [*FINE, *TENFOLD]
    low, high = min(weights, default=1), max(weights, default=10)
    return (
        max((mark for mark in marks if mark <= low), default=low),
        min((mark for mark in marks if mark >= high), default=high),
    )


def drawn(row: ForecastPicked) -> bool:
    """Whether a crop has its place on scales that know no zero."""
    return row.kg[0.5] > 0 and row.picked_kg > 0


def foreseen_figure(rows: Sequence[ForecastPicked]) -> go.Figure:
    """Picked by foreseen [kg], one tenfold scale; a ring outside the tree's own 80 % range."""
    placed = [row for row in rows if drawn(row)]
    low, high = _ends([value(kg, "kg") for row in placed for kg in (row.kg[0.5], row.picked_kg)])
    axis = {
        "type": "log",
        "range": [math.log10(low) - 0.03, math.log10(high) + 0.03],
        "tickvals": [*FINE, *TENFOLD],
    }
    figure = style.blank(1, height=430)
    figure.update_layout(margin={"l": 46, "r": 12, "t": 16, "b": 46}, shapes=[])
    figure.update_xaxes(**axis, side="bottom", title=filled(figure_texts.AXIS_FORESEEN))
    figure.update_yaxes(
        **axis, showgrid=True, showticklabels=True, title=filled(figure_texts.AXIS_PICKED)
    )
    figure.add_scatter(
        x=[low, high],
        y=[low, high],
        mode="lines",
        line={"color": style.FORECAST, "width": 2},
        hoverinfo="skip",
        name="as foreseen",
    )
    for inside in (True, False):
        own = [row for row in placed if came_inside(row) is inside]
        figure.add_scatter(
            x=[value(row.kg[0.5], "kg") for row in own],
            y=[value(row.picked_kg, "kg") for row in own],
            mode="markers",
            marker=style.marker("circle", style.LOGGED, 10, color=style.PAPER, width=1)
            if inside
            else style.marker("circle-open-dot", style.LOGGED, 12, color=style.LOGGED, width=2.5),
            hovertext=[
                figure_texts.FORESEEN.format(
                    tree=plot_text(row.tree),
                    cultivar=plot_text(row.cultivar),
                    season=row.season,
                    picked=kilograms(row.picked_kg),
                    low=kilograms(row.kg[0.1]),
                    high=kilograms(row.kg[0.9]),
                )
                for row in own
            ],
            hoverinfo="text",
            name=season_texts.KEY_FORESEEN_IN if inside else season_texts.KEY_FORESEEN_OUT,
        )
    return figure
