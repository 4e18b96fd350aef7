"""The crop still to come, week by week."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard.data import WeekCrop
from dashboard.figures import style
from dashboard.measures import kilograms, unit, value
from dashboard.texts import figures as figure_texts
from dashboard.texts import seasons as season_texts
from dashboard.words import short_day

HEIGHT = 260


def weeks_figure(weeks: Sequence[WeekCrop]) -> go.Figure:
    """Kilograms of each week of one site: 8 chances in 10, the middle, gluts and empty weeks."""
    figure = style.blank(1, height=HEIGHT)
    figure.update_layout(margin={"l": 44, "r": 8, "t": 16, "b": 40}, shapes=[])
    ends = [{at: value(kg, "kg") for at, kg in week.kg.items()} for week in weeks]
    most = max((each[0.9] for each in ends), default=1.0) or 1.0
    style.date_axis(figure, side="bottom", nticks=8, showgrid=False)
    figure.update_yaxes(
        range=[0, most * 1.18],
        showticklabels=True,
        ticksuffix=f" {unit('kg')}",
        nticks=5,
        showgrid=True,
    )
    starts = [week.start for week in weeks]
    figure.add_bar(
        x=starts,
        y=[each[0.9] - each[0.1] for each in ends],
        base=[each[0.1] for each in ends],
        width=5.6 * style.DAY_MS,
        marker={"color": style.FORECAST_FAINT, "line": {"color": style.FORECAST, "width": 1.2}},
        hovertext=[_told(week) for week in weeks],
        hoverinfo="text",
        name="80 %",
    )
    figure.add_scatter(
        x=starts,
        y=[each[0.5] for each in ends],
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
    _loads(figure, weeks)
    return figure


def _loads(figure: go.Figure, weeks: Sequence[WeekCrop]) -> None:
    """A sign above each glut, and where a week between others is empty."""
    for load, sign in (("glut", "●"), ("nothing", "○")):
        own = [week for week in weeks if week.load == load]
        figure.add_scatter(
            x=[week.start for week in own],
            y=[value(week.kg[0.9], "kg") for week in own],
            text=[sign] * len(own),
            mode="text",
            textposition="top center",
            textfont={"size": 12},
            hoverinfo="skip",
            cliponaxis=False,
            name=season_texts.KEY_GLUT if load == "glut" else season_texts.KEY_EMPTY,
        )


def _told(week: WeekCrop) -> str:
    return figure_texts.WEEK_KG.format(
        week=short_day(week.start),
        low=kilograms(week.kg[0.1]),
        high=kilograms(week.kg[0.9]),
        middle=kilograms(week.kg[0.5]),
    )
