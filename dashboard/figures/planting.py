"""Before planting: each winter's chill beside the need; bloom and picking weeks by warming."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import plotly.graph_objects as go

from dashboard.data import ClimateFit
from dashboard.figures import style
from dashboard.measures import filled
from dashboard.texts import figures as figure_texts
from dashboard.texts import planting as words
from dashboard.views.planting import dates_of
from dashboard.words import short_day

HEIGHT = 260
Values = Sequence[float]


def chill_figure(
    seasons: Sequence[int],
    chill: Values,
    plain: Values | None,
    need: tuple[float, float] | None,
    safe: float,
    unit: str,
) -> go.Figure:
    """A mark for each winter's chill, the band of what is needed, the amount 9 in 10 exceed.

    `plain` are the winters as they were, where `chill` are warmer ones.
    """
    figure = style.blank(0, height=HEIGHT)
    if need is not None and need[1] > 0:
        figure.add_hrect(
            y0=need[0],
            y1=need[1] if need[1] > need[0] else need[1] * 1.01,
            fillcolor=style.FORECAST_FAINT,
            line={"color": style.FORECAST, "width": 1},
            layer="below",
        )
    figure.add_hline(y=safe, line={"color": style.QUIET, "width": 2, "dash": "dash"})
    if plain is not None:
        _winters(figure, seasons, plain, style.marker("circle-open", style.QUIET, 11, width=2), "")
    _winters(figure, seasons, chill, style.marker("circle", style.LOGGED, 11), unit)
    top = max([*chill, *(plain or ()), need[1] if need else 0.0, 1.0])
    figure.update_xaxes(range=[seasons[0] - 0.6, seasons[-1] + 0.6], side="bottom", tickformat="d",
                        nticks=8)  # fmt: skip
    figure.update_yaxes(range=[0, 1.08 * top], showgrid=True, showticklabels=True, nticks=6,
                        tickformat=",.0f", title={"text": unit, "standoff": 6},
                        automargin=True)  # fmt: skip
    figure.update_layout(margin={"l": 60, "r": 12, "t": 14, "b": 34}, separators=".,")
    return figure


def _winters(
    figure: go.Figure, seasons: Sequence[int], chill: Values, mark: dict[str, object], unit: str
) -> None:
    figure.add_scatter(
        x=list(seasons),
        y=list(chill),
        mode="markers",
        marker=mark,
        hovertemplate=f"%{{x}}: %{{y:,.0f}} {unit}<extra></extra>",
        name=unit or "as it was",
    )


def weeks_figure(fit: ClimateFit, southern: bool) -> go.Figure:
    """Full bloom and first ripe fruit, a row for the years as they were and each warming."""
    rows = [each for each in fit.scenarios if each.bloom is not None]
    figure = style.blank(len(rows))
    ends: list[date] = []
    for row, each in enumerate(rows):
        for days, colour, what in (
            (each.bloom, style.FORECAST_FAINT, words.HOVER_BLOOM),
            (each.ripe, style.FORECAST, words.HOVER_RIPE),
        ):
            if days is not None:
                early, middle, late = dates_of(days, southern)
                ends += [early, late]
                _band(figure, row, (early, middle, late), colour, what)
    if not ends:
        return figure
    low, high = min(ends) - timedelta(days=12), max(ends) + timedelta(days=12)
    names = [filled(words.WEEK_ROWS[each.warming_c]) for each in rows]
    style.row_texts(figure, names, [""] * len(rows), low, high)
    figure.update_xaxes(type="date", range=[low, high], tickformat="%b", dtick="M1")
    return figure


def _band(
    figure: go.Figure, row: int, days: tuple[date, date, date], colour: str, what: str
) -> None:
    early, middle, late = days
    told = figure_texts.ABOUT.format(
        what=what, early=short_day(early), late=short_day(late), middle=short_day(middle)
    )
    figure.add_bar(
        base=[early],
        x=[style.days_between(early, late)],
        y=[row + style.BAND_AT],
        width=style.BAND_WIDTH,
        orientation="h",
        marker={"color": colour, "line": {"color": style.FORECAST, "width": 1.5}},
        hovertext=told,
        hoverinfo="text",
        name=what,
    )
    figure.add_scatter(
        x=[middle],
        y=[row + style.BAND_AT],
        mode="markers",
        marker=style.marker("diamond", style.PAPER, 10, color=style.INK, width=1.5),
        hovertext=[told],
        hoverinfo="text",
        name=what,
    )
