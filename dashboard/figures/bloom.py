"""Who blooms when: a band for each cultivar or tree, by date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import plotly.graph_objects as go

from dashboard.figures import style
from dashboard.texts import bloom as words
from dashboard.views.bloom import BloomRow
from dashboard.words import plot_text, short_day

NAME_LENGTH = 26
MARGIN = timedelta(days=3)
LOOKS: dict[str, dict[str, object]] = {
    "logged": {"color": style.LOGGED, "line": {"color": style.LOGGED, "width": 1.5}},
    "around the logged full bloom": {
        "color": style.PAPER,
        "line": {"color": style.LOGGED, "width": 2},
        "pattern": {"shape": "/", "fgcolor": style.LOGGED, "bgcolor": style.PAPER, "size": 7},
    },
    "forecast": {
        "color": style.FORECAST_FAINT,
        "line": {"color": style.FORECAST, "width": 1.5},
    },
}


def bloom_figure(rows: Sequence[BloomRow], as_of: date) -> go.Figure:
    """Bands from first open flowers to fading, with how far a forecast may be off."""
    low = min(row.first - timedelta(days=row.give_or_take_days) for row in rows) - MARGIN
    high = max(row.last + timedelta(days=row.give_or_take_days) for row in rows) + MARGIN
    shapes = [style.upright(as_of, style.LOGGED, 1.5, "dot")] if low <= as_of <= high else []
    figure = style.blank(len(rows), shapes=shapes)
    for basis, look in LOOKS.items():
        drawn = [(at, row) for at, row in enumerate(rows) if row.basis == basis]
        figure.add_bar(
            base=[row.first for _, row in drawn],
            x=[style.days_between(row.first, row.last) for _, row in drawn],
            y=[at + style.BAND_AT for at, _ in drawn],
            width=style.BAND_WIDTH,
            orientation="h",
            marker=look,
            hovertext=[_told(row) for _, row in drawn],
            hoverinfo="text",
            name=basis,
        )
    _ends(figure, rows)
    names = [plot_text(_name(row), NAME_LENGTH) for row in rows]
    style.row_texts(figure, names, [words.SHORT[row.verdict] for row in rows], low, high)
    style.date_axis(figure, range=[low, high])
    return figure


def _ends(figure: go.Figure, rows: Sequence[BloomRow]) -> None:
    """A thin line over the days by which a forecast may be off."""
    days: list[date | None] = []
    heights: list[float | None] = []
    for at, row in enumerate(rows):
        if row.give_or_take_days:
            give = timedelta(days=row.give_or_take_days)
            days += [row.first - give, row.last + give, None]
            heights += [at + style.BAND_AT, at + style.BAND_AT, None]
    figure.add_scatter(
        x=days,
        y=heights,
        mode="lines",
        line={"color": style.FORECAST, "width": 2},
        hoverinfo="skip",
        name="give or take",
    )


def _name(row: BloomRow) -> str:
    return f"{row.name} ({len(row.trees)})" if len(row.trees) > 1 else row.name


def _told(row: BloomRow) -> str:
    give = words.TOGETHER_GIVE.format(days=row.give_or_take_days) if row.give_or_take_days else ""
    return words.HOVER.format(
        name=plot_text(row.name),
        first=short_day(row.first),
        last=short_day(row.last),
        basis=words.BASIS[row.basis],
        give=give,
    )
