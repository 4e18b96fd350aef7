"""The season's weather: warmth and chill adding up beside past years, and the days one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import plotly.graph_objects as go

from dashboard.data import Course, Day
from dashboard.figures import style
from dashboard.measures import number, retold, unit, value
from dashboard.texts import figures as figure_texts
from dashboard.texts.weather import KIND_NAMES
from dashboard.views.weather import Band
from dashboard.words import day_pattern, plot_text, short_date

HEIGHT = 340
DAYS_HEIGHT = 300
PAST = "rgba(122, 127, 134, 0.28)"
BAR_DAYS = 0.62
FORECAST_EDGE = {"color": style.FORECAST, "width": 1}
# Room above and below the days' temperatures [degC].
ROOM_C = 3.0
DEGREE = "°C"


def course_figure(
    course: Course, band: Band | None, as_of: date, unit: str, measure: str = ""
) -> go.Figure:
    """A running total beside the range and the middle of past years, and what is needed.

    `unit` names the total; a total of a `measure` is drawn in the units chosen.
    """
    if measure:
        course, band = _in_units(course, band, measure)
    figure = style.blank(0, height=HEIGHT, shapes=_uprights(course, band, as_of))
    days = [course.first + timedelta(days=n) for n in range(len(course.now))]
    _past(figure, course, days)
    if band is not None:
        _needed(figure, band, days[-1])
    for values, dash, name in ((course.ahead, "dot", "ahead"), (course.now, "solid", "now")):
        figure.add_scatter(
            x=days,
            y=values,
            mode="lines",
            line={"color": style.LOGGED, "width": 3.5, "dash": dash},
            hovertemplate=f"%{{x|{day_pattern()}}}: %{{y:,.0f}} {unit}<extra></extra>",
            name=name,
        )
    top = max(
        [float(course.most[-1]), course.total or 0.0, band.high if band else 0.0, 1.0],
        key=lambda value: value if value == value else 0.0,
    )
    _axes(figure, [days[0], days[-1]], [0, 1.05 * top], unit)
    return figure


def _in_units(course: Course, band: Band | None, measure: str) -> tuple[Course, Band | None]:
    """A running total and its need in the units chosen."""
    names = ("now", "ahead", "least", "median", "most")
    totals: dict[str, Any] = {name: value(getattr(course, name), measure) for name in names}
    if band is not None:
        band = replace(band, low=value(band.low, measure), high=value(band.high, measure))
    return replace(course, **totals), band


def _past(figure: go.Figure, course: Course, days: Sequence[date]) -> None:
    if not course.years:
        return
    for values, fill in ((course.least, None), (course.most, "tonexty")):
        figure.add_scatter(
            x=days,
            y=values,
            mode="lines",
            line={"color": style.QUIET, "width": 0.6},
            fill=fill,
            fillcolor=PAST,
            hoverinfo="skip",
            name="range",
        )
    figure.add_scatter(
        x=days,
        y=course.median,
        mode="lines",
        line={"color": style.QUIET, "width": 2, "dash": "dash"},
        hovertemplate=figure_texts.USUAL_HEAT.replace("{day}", day_pattern()),
        name="middle",
    )


def _needed(figure: go.Figure, band: Band, last: date) -> None:
    figure.add_scatter(
        x=[band.since, last, last, band.since],
        y=[band.low, band.low, band.high, band.high],
        mode="lines",
        fill="toself",
        fillcolor=style.FORECAST_FAINT,
        line={"color": style.FORECAST, "width": 1.2},
        hoverinfo="skip",
        name="needed",
    )
    figure.add_scatter(
        x=[band.since],
        y=[band.high],
        text=[plot_text(band.name, 28)],
        mode="text",
        textposition="top right",
        textfont={"size": style.LABEL_SIZE},
        hoverinfo="skip",
        name="need",
    )


def _uprights(course: Course, band: Band | None, as_of: date) -> list[dict[str, object]]:
    last = course.first + timedelta(days=len(course.now))
    lines = []
    if course.first <= as_of < last:
        lines.append(style.upright(as_of, style.LOGGED, 1.5, "dot"))
    if band is not None and band.bloom is not None:
        lines.append(style.upright(band.bloom, style.FORECAST, 1.5, "dash"))
    return lines


def days_figure(days: Sequence[Day], as_of: date) -> go.Figure:
    """A bar from the lowest to the highest temperature of each day, doubtful ones marked."""
    figure = style.blank(
        0, height=DAYS_HEIGHT, shapes=[style.upright(as_of, style.LOGGED, 1.5, "dot")]
    )
    for kind, look in (
        ("measured", {"color": style.FORECAST, "line": {"width": 0}}),
        (
            "forecast",
            {"color": style.FORECAST_FAINT, "line": {"color": style.FORECAST, "width": 1}},
        ),
    ):
        own = [day for day in days if day.kind == kind]
        lows = [_shown(day.tmin_c) for day in own]
        figure.add_bar(
            x=[day.date for day in own],
            base=lows,
            y=[_shown(day.tmax_c) - least for day, least in zip(own, lows, strict=True)],
            width=BAR_DAYS * style.DAY_MS,
            marker=look,
            hovertext=[_told(day) for day in own],
            hoverinfo="text",
            name=kind,
        )
    values = [v for day in days for v in (day.tmin_c, day.tmax_c) if v is not None]
    low, high = min([*values, 0.0]) - ROOM_C, max([*values, 10.0]) + ROOM_C
    figure.add_hline(y=value(0.0, DEGREE), line={"color": style.QUIET, "width": 1})
    _marked(figure, days, low)
    first, last = (days[0].date, days[-1].date) if days else (as_of, as_of)
    side = timedelta(days=1)
    ends = [value(low, DEGREE), value(high, DEGREE)]
    _axes(figure, [first - side, max(last, as_of) + side], ends, unit(DEGREE))
    return figure


def _marked(figure: go.Figure, days: Sequence[Day], low: float) -> None:
    """Frost, readings that are not trusted, and days without any."""
    frosts = [
        day for day in days if day.kind != "suspect" and day.tmin_c is not None and day.tmin_c <= 0
    ]
    doubtful = [(day, v) for day in days if day.kind == "suspect" for v in (day.tmin_c, day.tmax_c)]
    missing = [day for day in days if day.kind == "missing"]
    doubted = [low + 1 if v is None else v for _, v in doubtful]
    marks = (
        ("frost", "triangle-down", frosts, [(day.tmin_c or 0.0) - 1 for day in frosts]),
        ("suspect", "x-thin", [day for day, _ in doubtful], doubted),
        ("missing", "circle-open", missing, [low + 1.2] * len(missing)),
    )
    for name, symbol, own, heights in marks:
        figure.add_scatter(
            x=[day.date for day in own],
            y=[value(height, DEGREE) for height in heights],
            mode="markers",
            marker=style.marker(symbol, style.LOGGED, 9, color=style.LOGGED, width=2),
            hovertext=[_told(day) for day in own],
            hoverinfo="text",
            name=name,
        )


def _shown(temperature_c: float | None) -> float:
    return value(temperature_c or 0.0, DEGREE)


def _told(day: Day) -> str:
    ends = ["?" if at is None else number(at, DEGREE, 1) for at in (day.tmin_c, day.tmax_c)]
    note = f"<br>{plot_text(retold(day.note), 80)}" if day.note else ""
    span = figure_texts.DAY_RANGE.format(low=ends[0], high=ends[1])
    return f"{short_date(day.date)}: {span}\u00a0{unit(DEGREE)} ({KIND_NAMES[day.kind]}){note}"


def _axes(figure: go.Figure, across: Sequence[date], upwards: Sequence[float], unit: str) -> None:
    style.date_axis(figure, year=True, range=across, side="bottom")
    figure.update_yaxes(
        range=upwards,
        showgrid=True,
        showticklabels=True,
        nticks=6,
        tickformat=",.0f",
        title={"text": unit, "standoff": 6},
        automargin=True,
    )
    figure.update_layout(margin={"l": 60, "r": 12, "t": 14, "b": 44}, separators=".,")
