"""The crop still to come, week by week."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard.data import WeekCrop
from dashboard.figures import style
from dashboard.texts import figures as figure_texts
from dashboard.texts import seasons as season_texts
from dashboard.words import kilograms, short_day

HEIGHT = 260


def weeks_figure(weeks: Sequence[WeekCrop]) -> go.Figure:
    """Kilograms of each week of one site: 8 chances in 10, the middle, gluts and empty weeks."""
    figure = style.blank(1, height=HEIGHT)
    figure.update_layout(margin={"l": 44, "r": 8, "t": 16, "b": 40}, shapes=[])
    most = max((week.kg[0.9] for week in weeks), default=1.0) or 1.0
    figure.update_xaxes(type="date", side="bottom", tickformat="%-d %b", nticks=8, showgrid=False)
    figure.update_yaxes(
        range=[0, most * 1.18], showticklabels=True, ticksuffix=" kg", nticks=5, showgrid=True
    )
    starts = [week.start for week in weeks]
    figure.add_bar(
        x=starts,
        y=[week.kg[0.9] - week.kg[0.1] for week in weeks],
        base=[week.kg[0.1] for week in weeks],
        width=5.6 * style.DAY_MS,
        marker={"color": style.FORECAST_FAINT, "line": {"color": style.FORECAST, "width": 1.2}},
        hovertext=[_told(week) for week in weeks],
        hoverinfo="text",
        name="80 %",
    )
    figure.add_scatter(
        x=starts,
        y=[week.kg[0.5] for week in weeks],
        mode="markers",
        marker={
            "symbol": "line-ew",
            "size": 11,
            "color": style.FORECAST,
            "line": {"color": style.FORECAST, "width": 3},
        },
        hoverinfo="skip",
        name="middle",
    )
    for load, sign in (("glut", "●"), ("nothing", "○")):
        own = [week for week in weeks if week.load == load]
        figure.add_scatter(
            x=[week.start for week in own],
            y=[week.kg[0.9] for week in own],
            text=[sign] * len(own),
            mode="text",
            textposition="top center",
            textfont={"size": 12},
            hoverinfo="skip",
            cliponaxis=False,
            name=season_texts.KEY_GLUT if load == "glut" else season_texts.KEY_EMPTY,
        )
    return figure


def _told(week: WeekCrop) -> str:
    return figure_texts.WEEK_KG.format(
        week=short_day(week.start),
        low=kilograms(week.kg[0.1]),
        high=kilograms(week.kg[0.9]),
        middle=kilograms(week.kg[0.5]),
    )
