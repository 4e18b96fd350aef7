"""Past forecasts beside what was logged."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import plotly.graph_objects as go

from dashboard import texts
from dashboard.data import day_of_season
from dashboard.figures import style
from dashboard.texts import figures as figure_texts
from dashboard.views.hindsight import Miss
from dashboard.words import plot_text, short_day

# The axis reaches at least and at most so many days either way; what lies beyond is drawn as an
# arrow at its edge, so that one far outlier does not flatten the rest.
LEAST_REACH, MOST_REACH = 10, 30


def misses_figure(groups: Sequence[tuple[str, Sequence[Miss]]]) -> go.Figure:
    """One row per group of past forecasts: logged minus median [d], over the usual 80 % range."""
    figure = style.blank(len(groups), shapes=[style.upright(0, style.FORECAST, 2)])
    every = [miss for _, found in groups for miss in found]
    low = [_mean([miss.low for miss in found]) for _, found in groups]
    high = [_mean([miss.high for miss in found]) for _, found in groups]
    furthest = max([LEAST_REACH, *map(abs, [*low, *high, *(miss.logged for miss in every)])])
    reach = min(furthest, MOST_REACH) * 1.08
    figure.update_xaxes(range=[-reach, reach], ticksuffix=" d", nticks=7)
    figure.add_bar(
        orientation="h",
        base=low,
        x=[last - first for first, last in zip(low, high, strict=True)],
        y=[at + style.BAND_AT for at in range(len(groups))],
        width=style.BAND_WIDTH,
        marker={
            "color": style.FORECAST_FAINT,
            "line": {"color": style.FORECAST, "width": 1.2},
        },
        hoverinfo="skip",
        name="80 %",
    )
    for inside in (True, False):
        points = [
            (at, miss)
            for at, (_, found) in enumerate(groups)
            for miss in found
            if miss.inside is inside and abs(miss.logged) <= reach
        ]
        _dots(figure, points, [miss.logged for _, miss in points], inside)
    _beyond(figure, groups, reach)
    style.row_texts(
        figure,
        [f"<b>{plot_text(name, 40)}</b>" for name, _ in groups],
        [_summary(found) for _, found in groups],
        -reach,
        reach,
    )
    return figure


def seasons_figure(found: Sequence[Miss], labels: Sequence[str], latitude: float) -> go.Figure:
    """One row per past forecast: its 80 % range, its median and the logged date, by day of season.

    `labels` name the rows; all are of one site, at `latitude` [deg].
    """
    figure = style.blank(len(found))
    shift = [_to_common_season(miss, latitude) for miss in found]
    first = [miss.first + by for miss, by in zip(found, shift, strict=True)]
    last = [miss.last + by for miss, by in zip(found, shift, strict=True)]
    middle = [miss.median + by for miss, by in zip(found, shift, strict=True)]
    seen = [miss.observed + by for miss, by in zip(found, shift, strict=True)]
    edges = [*first, *last, *seen]
    start, end = min(edges) - timedelta(days=4), max(edges) + timedelta(days=4)
    style.date_axis(figure, range=[start, end])
    rows = [at + style.BAND_AT for at in range(len(found))]
    figure.add_bar(
        orientation="h",
        base=first,
        x=[style.days_between(low, high) for low, high in zip(first, last, strict=True)],
        y=rows,
        width=style.BAND_WIDTH,
        marker={
            "color": style.FORECAST_FAINT,
            "line": {"color": style.FORECAST, "width": 1.2},
        },
        hoverinfo="skip",
        name="80 %",
    )
    half = timedelta(hours=12)
    figure.add_scatter(
        x=[day + half for day in middle],
        y=rows,
        mode="markers",
        marker=style.marker("diamond", style.PAPER, 11, color=style.INK, width=1.5),
        hoverinfo="skip",
        name="median",
    )
    for inside in (True, False):
        points = [(at, miss) for at, miss in enumerate(found) if miss.inside is inside]
        _dots(figure, points, [seen[at] + half for at, _ in points], inside)
    style.row_texts(
        figure,
        [f"<b>{label}</b>" for label in labels],
        [_said(miss) for miss in found],
        start,
        end,
    )
    return figure


def _dots(
    figure: go.Figure, points: Sequence[tuple[int, Miss]], x: Sequence[object], inside: bool
) -> None:
    figure.add_scatter(
        x=list(x),
        y=[at + style.BAND_AT for at, _ in points],
        mode="markers",
        marker=style.marker("circle", style.LOGGED, 11, color=style.PAPER, width=1)
        if inside
        else style.marker("circle-open-dot", style.LOGGED, 12, color=style.LOGGED, width=2.5),
        hovertext=[
            figure_texts.MISS.format(
                cultivar=plot_text(miss.cultivar),
                tree=plot_text(miss.tree),
                season=miss.season,
                ripe=short_day(miss.observed),
                middle=short_day(miss.median),
            )
            for _, miss in points
        ],
        hoverinfo="text",
        name=texts.KEY_LOGGED_IN if inside else texts.KEY_LOGGED_OUT,
    )


def _beyond(figure: go.Figure, groups: Sequence[tuple[str, Sequence[Miss]]], reach: float) -> None:
    points = [
        (at, miss)
        for at, (_, found) in enumerate(groups)
        for miss in found
        if abs(miss.logged) > reach
    ]
    figure.add_scatter(
        x=[reach * 0.98 if miss.logged > 0 else -reach * 0.98 for _, miss in points],
        y=[at + style.BAND_AT for at, _ in points],
        mode="markers",
        marker={
            "symbol": ["triangle-right" if m.logged > 0 else "triangle-left" for _, m in points],
            "color": style.LOGGED,
            "size": 13,
            "line": {"color": style.PAPER, "width": 1},
        },
        hovertext=[
            figure_texts.SEASON.format(season=miss.season, said=_said(miss)) for _, miss in points
        ],
        hoverinfo="text",
        name=texts.KEY_BEYOND,
    )


def _to_common_season(miss: Miss, latitude: float) -> timedelta:
    """What moves a date into one season for all, so that days of season stand above each other."""
    common = 2003 if latitude < 0 else 2002  # neither the season nor the next has a leap day
    here = day_of_season(miss.median, miss.season, latitude)
    return timedelta(days=here - day_of_season(miss.median, common, latitude))


def _mean(numbers: Sequence[float]) -> float:
    return sum(numbers) / len(numbers) if numbers else 0.0


def _summary(found: Sequence[Miss]) -> str:
    error = _mean([abs(miss.logged) for miss in found])
    inside = sum(miss.inside for miss in found)
    return figure_texts.INSIDE_OF.format(error=error, inside=inside, count=len(found))


def _said(miss: Miss) -> str:
    if miss.logged == 0:
        return figure_texts.ON_THE_DAY
    return f"{abs(miss.logged)} d {texts.LATER if miss.logged > 0 else texts.EARLIER}"
