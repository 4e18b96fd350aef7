"""The year's work by date: a row for each kind, its days and how far they may move."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import plotly.graph_objects as go

from dashboard.figures import style
from dashboard.views.year import AHEAD_DAYS, OLD_DAYS, Row
from dashboard.words import plot_text, short_span

NAME_LENGTH = 40
HOLLOW = {"color": style.PAPER, "line": {"color": style.LOGGED, "width": 2}}


def year_figure(rows: Sequence[Row], as_of: date) -> go.Figure:
    """Bands of the coming year, today marked."""
    low, high = as_of - timedelta(days=OLD_DAYS), as_of + timedelta(days=AHEAD_DAYS)
    figure = style.blank(len(rows), shapes=[style.upright(as_of, style.LOGGED, 1.5, "dot")])
    items = [(at, item) for at, row in enumerate(rows) for item in row.items]
    looks = (
        ("8 in 10", {"color": style.FORECAST_FAINT, "line": {"width": 0}}, items, True),
        (
            "days",
            {"color": style.FORECAST, "line": {"width": 0}},
            [(at, item) for at, item in items if item.status == "open"],
            False,
        ),
        ("done", HOLLOW, [(at, item) for at, item in items if item.status == "done"], False),
    )
    for name, look, own, wide in looks:
        spans = [
            (item.earliest, item.latest) if wide else (item.first_day, item.last_day)
            for _, item in own
        ]
        clipped = [(max(first, low), min(last, high)) for first, last in spans]
        figure.add_bar(
            base=[first for first, _ in clipped],
            x=[style.days_between(first, max(first, last)) for first, last in clipped],
            y=[at + style.BAND_AT for at, _ in own],
            width=style.BAND_WIDTH if wide else style.BAND_WIDTH * 0.6,
            orientation="h",
            marker=look,
            hovertext=[
                f"{plot_text(item.title, 60)}: {plot_text(item.what)}<br>"
                f"{short_span(first, last)}{' (8 in 10)' if wide else ''}"
                for (_, item), (first, last) in zip(own, spans, strict=True)
            ],
            hoverinfo="text",
            name=name,
        )
    style.row_texts(
        figure,
        [plot_text(row.title, NAME_LENGTH) for row in rows],
        [""] * len(rows),
        low,
        high,
    )
    figure.update_xaxes(type="date", range=[low, high], tickformat="%b", dtick="M2")
    return figure
