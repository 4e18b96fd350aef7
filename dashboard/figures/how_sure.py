"""How often forecasts came true, how far off they were, and whether they beat plain rules."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard.data import LeadScores, ReliabilityPoint
from dashboard.figures import style
from dashboard.texts import figures as figure_texts
from dashboard.texts import how_sure as words
from dashboard.views.how_sure import Share
from dashboard.words import percent, redated, signed_percent

CHANCE = "rgba(122, 127, 134, 0.38)"
SQUARE = 360


def ranges_figure(found: Sequence[Share]) -> go.Figure:
    """One row per range: the share of dates inside it, beside what chance allows."""
    figure = style.blank(len(found))
    heights = [at + style.BAND_AT for at in range(len(found))]
    _chance(figure, [(each.low, each.high) for each in found], heights)
    _right(figure, [each.nominal for each in found])
    _dots(figure, [each.share for each in found], heights, style.LOGGED, "circle")
    figure.update_xaxes(range=[-0.02, 1.02], tickformat=".0%", nticks=6)
    style.row_texts(
        figure,
        [f"<b>{words.RANGE_ROW.format(nominal=percent(each.nominal))}</b>" for each in found],
        [words.RANGE_SAID.format(hits=each.hits, n=each.n) for each in found],
        -0.02,
        1.02,
    )
    return figure


def reliability_figure(points: Sequence[ReliabilityPoint]) -> go.Figure:
    """Chance forecast across, share that came upwards, what chance allows as bars."""
    figure = style.blank(0, height=SQUARE)
    figure.add_scatter(
        x=[0, 1],
        y=[0, 1],
        mode="lines",
        line={"color": style.FORECAST, "width": 2},
        hoverinfo="skip",
        name="right",
    )
    figure.add_bar(
        x=[point.level for point in points],
        base=[point.low for point in points],
        y=[point.high - point.low for point in points],
        width=0.03,
        marker={"color": CHANCE},
        hoverinfo="skip",
        name="chance",
    )
    figure.add_scatter(
        x=[point.level for point in points],
        y=[point.share for point in points],
        mode="markers",
        marker=style.marker("circle", style.LOGGED, 12, color=style.PAPER, width=1),
        hovertext=[
            figure_texts.SHARE_OF.format(
                level=f"{point.level:.0%}", share=f"{point.share:.0%}", count=point.n
            )
            for point in points
        ],
        hoverinfo="text",
        name="share",
    )
    figure.update_xaxes(range=[0, 1], tickformat=".0%", nticks=6, side="bottom")
    figure.update_yaxes(
        range=[-0.03, 1.05], tickformat=".0%", nticks=6, showticklabels=True, showgrid=True
    )
    figure.update_layout(margin={"l": 56, "r": 24, "t": 14, "b": 34})
    return figure


def error_figure(leads: Sequence[LeadScores]) -> go.Figure:
    """One row per lead: mean error and half of the 80 % range [d]."""
    figure = style.blank(len(leads))
    heights = [at + style.BAND_AT for at in range(len(leads))]
    half = [each.interval_80.mean_width_days / 2 for each in leads]
    figure.add_bar(
        orientation="h",
        x=half,
        y=heights,
        width=style.BAND_WIDTH,
        marker={"color": style.FORECAST_FAINT, "line": {"color": style.FORECAST, "width": 1.2}},
        hoverinfo="skip",
        name="half range",
    )
    errors = [each.mean_absolute_error_days for each in leads]
    _dots(figure, errors, heights, style.LOGGED, "circle")
    reach = 1.1 * max([*half, *errors, 1.0])
    figure.update_xaxes(range=[0, reach], ticksuffix=" d", nticks=6)
    style.row_texts(
        figure,
        [f"<b>{redated(each.lead)}</b>" for each in leads],
        [
            words.ERROR_SAID.format(days=f"{each.mean_absolute_error_days:.1f}", n=each.n)
            for each in leads
        ],
        0,
        reach,
    )
    return figure


def skill_figure(scores: LeadScores) -> go.Figure:
    """One row per plain rule: by what share the forecasts' error is smaller than its."""
    rules = sorted(scores.skill.items(), key=lambda item: item[1])
    figure = style.blank(len(rules), shapes=[style.upright(0, style.QUIET, 2)])
    values = [value for _, value in rules]
    reach = max([0.5, *map(abs, values)]) * 1.15
    figure.add_bar(
        orientation="h",
        x=values,
        y=[at + style.BAND_AT for at in range(len(rules))],
        width=style.BAND_WIDTH,
        marker={"color": style.FORECAST},
        hoverinfo="skip",
        name="skill",
    )
    figure.update_xaxes(range=[-reach, reach], tickformat=".0%", nticks=6)
    said = [
        words.SKILL_SAID.format(share=signed_percent(value), n=scores.skill_n[name])
        for name, value in rules
    ]
    names = [f"<b>{words.BASELINES.get(name, name)}</b>" for name, _ in rules]
    style.row_texts(figure, names, said, -reach, reach)
    return figure


def _chance(
    figure: go.Figure, ends: Sequence[tuple[float, float]], heights: Sequence[float]
) -> None:
    figure.add_bar(
        orientation="h",
        base=[low for low, _ in ends],
        x=[high - low for low, high in ends],
        y=list(heights),
        width=style.BAND_WIDTH,
        marker={"color": CHANCE},
        hoverinfo="skip",
        name="chance",
    )


def _right(figure: go.Figure, values: Sequence[float]) -> None:
    """Where each row's dot should lie."""
    for at, value in enumerate(values):
        figure.add_shape(
            type="line",
            x0=value,
            x1=value,
            y0=at + style.BAND_AT - style.BAND_WIDTH / 2 - 0.06,
            y1=at + style.BAND_AT + style.BAND_WIDTH / 2 + 0.06,
            line={"color": style.FORECAST, "width": 3},
        )


def _dots(
    figure: go.Figure, across: Sequence[float], heights: Sequence[float], colour: str, symbol: str
) -> None:
    figure.add_scatter(
        x=list(across),
        y=list(heights),
        mode="markers",
        marker=style.marker(symbol, colour, 14, color=style.PAPER, width=1.5),
        hoverinfo="x",
        name="dots",
    )
