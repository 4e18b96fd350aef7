"""The whole season of each cultivar or tree as bands: bloom, fruit growth, picking."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import plotly.graph_objects as go

from dashboard.figures import style
from dashboard.views.windows import HIGH, LOW, LOWER, UPPER, Window
from dashboard.words import plot_text, short_day

ROW_HEIGHT = 30
BAND = 0.5
MOST_ROWS = 120
BLOOM_DAYS = timedelta(days=3)
"""Drawn either side of a logged full bloom, so that a single day can be seen [d]."""


def season_figure(rows: Sequence[Window], as_of: date) -> go.Figure:
    """A row for each window: bloom, then fruit growing, then picking, and what was logged.

    Rows are drawn in the order given, at most `MOST_ROWS` of them; names stand left of the axis.
    """
    rows = rows[:MOST_ROWS]
    figure = style.blank(
        len(rows),
        height=len(rows) * ROW_HEIGHT + style.EDGE_HEIGHT,
        shapes=[style.upright(as_of, style.LOGGED, 1.5, "dot")],
    )
    bloom = [(at, span) for at, row in enumerate(rows) if (span := bloom_span(row)) is not None]
    _bar(figure, bloom, style.PAPER, style.QUIET, "bloom", "x")
    growth = [(at, span) for at, row in enumerate(rows) if (span := growth_span(row)) is not None]
    _line(figure, growth)
    for first, last, colour, name in (
        (LOW, HIGH, style.FORECAST_FAINT, "80 %"),
        (LOWER, UPPER, style.FORECAST, "50 %"),
    ):
        spans = [
            (at, (row.quantiles[first], row.quantiles[last]))
            for at, row in enumerate(rows)
            if row.quantiles
        ]
        _bar(figure, spans, colour, style.FORECAST, name)
    _logged(figure, rows)
    style.date_axis(figure, year=True)
    figure.update_yaxes(
        showticklabels=True,
        tickvals=list(range(len(rows))),
        ticktext=[plot_text(row.name, 16) for row in rows],
        automargin=True,
        ticklen=0,
    )
    return figure


def bloom_span(row: Window) -> tuple[date, date] | None:
    """From the first to the last bloom, logged or forecast."""
    if row.blooms:
        return row.blooms[0] - BLOOM_DAYS, row.blooms[-1] + BLOOM_DAYS
    return row.bloom_range


def growth_span(row: Window) -> tuple[date, date] | None:
    """From bloom to the first day on which fruit is, or may be, ripe."""
    bloom = bloom_span(row)
    first = row.ripe[0] if row.ripe else row.quantiles.get(LOW)
    if bloom is None or first is None or first <= bloom[1]:
        return None
    return bloom[1], first


def _bar(
    figure: go.Figure,
    spans: Sequence[tuple[int, tuple[date, date]]],
    colour: str,
    edge: str,
    name: str,
    pattern: str = "",
) -> None:
    figure.add_bar(
        orientation="h",
        base=[first for _, (first, _) in spans],
        x=[style.days_between(first, last) for _, (first, last) in spans],
        y=[at for at, _ in spans],
        width=BAND,
        marker={
            "color": colour,
            "line": {"color": edge, "width": 1.2},
            "pattern": {"shape": pattern, "fgcolor": edge, "size": 5, "solidity": 0.35},
        },
        hovertext=[f"{name}: {short_day(first)} – {short_day(last)}" for _, (first, last) in spans],
        hoverinfo="text",
        name=name,
    )


def _line(figure: go.Figure, spans: Sequence[tuple[int, tuple[date, date]]]) -> None:
    x: list[date | None] = []
    y: list[float | None] = []
    for at, (first, last) in spans:
        x += [first, last, None]
        y += [at, at, None]
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"color": style.QUIET, "width": 3},
        hoverinfo="skip",
        name="growth",
    )


def _logged(figure: go.Figure, rows: Sequence[Window]) -> None:
    """Picks on top of the bands, and the first ripe date."""
    for name, symbol, size in (("pick", "triangle-up", 8), ("ripe", "circle", 10)):
        points = [
            (day, at)
            for at, row in enumerate(rows)
            for day in (row.picks if name == "pick" else row.ripe)
        ]
        figure.add_scatter(
            x=[day + timedelta(hours=12) for day, _ in points],
            y=[at for _, at in points],
            mode="markers",
            marker=style.marker(symbol, style.LOGGED, size, color=style.PAPER, width=1),
            hovertext=[f"{name}: {short_day(day)}" for day, _ in points],
            hoverinfo="text",
            name=name,
        )
