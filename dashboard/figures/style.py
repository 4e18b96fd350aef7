"""One look for every picture: colours that read on light and dark alike, rows with their own line
of text, and marks that differ in shape as well as in colour.

Text and grid colours are left to the style sheet, so that a picture follows the page into the
dark and onto paper. The hues are from the colour-blind safe set of Okabe & Ito (2008), shaded so
that each keeps a contrast of 3:1 on both backgrounds.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import plotly.graph_objects as go

from dashboard.words import day_pattern

FORECAST = "#2f7fc1"
FORECAST_FAINT = "rgba(47, 127, 193, 0.28)"
LOGGED = "#c2571a"
QUIET = "#7a7f86"
HARM = "#d5443b"
PAPER = "#ffffff"
INK = "#1d2a22"

LABEL_SIZE = 14
ROW_HEIGHT = 46
"""Height of one row: a line of text and a band below it [px]."""
EDGE_HEIGHT = 72
"""Height of axis and margins together [px]."""
TEXT_AT = -0.24
BAND_AT = 0.2
BAND_WIDTH = 0.4
CLEAR = "rgba(0,0,0,0)"
DAY_MS = 86_400_000

CONFIG: dict[str, Any] = {
    "displaylogo": False,
    "showSendToCloud": False,
    "displayModeBar": False,
    "scrollZoom": False,
    "doubleClick": False,
    "responsive": True,
}


def blank(rows: int, height: int | None = None, shapes: Sequence[dict[str, Any]] = ()) -> go.Figure:
    """A figure with room for so many rows, row 0 on top, a fine line between them.

    It has no legend: the page has its own. `shapes` go behind the rows.
    """
    font = {"family": "system-ui, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif", "size": 13}
    layout = {
        "template": "none",
        "height": height or rows * ROW_HEIGHT + EDGE_HEIGHT,
        "margin": {"l": 8, "r": 8, "t": 42, "b": 22},
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "showlegend": False,
        "barmode": "overlay",
        "bargap": 0,
        "dragmode": False,
        "hovermode": "closest",
        "font": font,
        "hoverlabel": {"bgcolor": INK, "bordercolor": INK, "font": {"color": PAPER, "size": 14}},
        "shapes": [*rules(rows), *shapes],
        "separators": ". ",
        "xaxis": {
            "fixedrange": True, "showgrid": True, "zeroline": False, "side": "top",
            "automargin": False, "ticklen": 4,
        },
        "yaxis": {
            "fixedrange": True, "range": [rows - 0.45, -0.55], "showgrid": False,
            "zeroline": False, "showticklabels": False,
        },
    }  # fmt: skip
    # Given at once: set one by one, each figure would cost some 10 ms more.
    return go.Figure(layout=layout)


def row_texts(
    figure: go.Figure,
    left: list[str],
    right: list[str],
    low: object,
    high: object,
    *,
    at: float = TEXT_AT,
) -> None:
    """Write a line over each row's band: its name on the left, what it comes to on the right."""
    heights = [row + at for row in range(len(left))]
    for texts, edge, where in ((left, low, "middle right"), (right, high, "middle left")):
        figure.add_scatter(
            x=[edge] * len(texts),
            y=heights,
            text=texts,
            mode="text",
            textposition=where,
            textfont={"size": LABEL_SIZE},
            hoverinfo="skip",
            cliponaxis=False,
        )


def rules(rows: int) -> list[dict[str, Any]]:
    """A fine line between rows."""
    return [
        {
            "type": "line",
            "xref": "paper",
            "x0": 0,
            "x1": 1,
            "y0": row - 0.48,
            "y1": row - 0.48,
            "line": {"color": QUIET, "width": 0.5},
            "opacity": 0.35,
            "layer": "below",
        }
        for row in range(1, rows)
    ]


def shade(first: Any, last: Any) -> dict[str, Any]:
    """A faint column behind the rows."""
    return {
        "type": "rect",
        "yref": "paper",
        "x0": first,
        "x1": last,
        "y0": 0,
        "y1": 1,
        "fillcolor": QUIET,
        "opacity": 0.16,
        "line": {"width": 0},
        "layer": "below",
    }


def upright(at: Any, colour: str, width: float, dash: str = "solid") -> dict[str, Any]:
    """A line from top to bottom, behind the rows."""
    return {
        "type": "line",
        "yref": "paper",
        "x0": at,
        "x1": at,
        "y0": 0,
        "y1": 1,
        "line": {"color": colour, "width": width, "dash": dash},
        "layer": "below",
    }


def days_between(first: date, last: date) -> int:
    """Length of a bar on a date axis, both days included [ms]."""
    return ((last - first).days + 1) * DAY_MS


def date_axis(figure: go.Figure, *, year: bool = False, **more: Any) -> None:
    """Make the x axis one of dates, in the order chosen; with `year`, years on a second line."""
    ticks = day_pattern() + ("\n%Y" if year else "")
    figure.update_xaxes(type="date", tickformat=ticks, **({"nticks": 6} | more))


def marker(symbol: str, colour: str, size: int, **line: object) -> dict[str, object]:
    """A mark with an outline."""
    return {"symbol": symbol, "color": colour, "size": size, "line": line or {"width": 0}}


def hatched() -> dict[str, object]:
    """The look of what may not be picked."""
    lines = {"shape": "/", "fgcolor": HARM, "bgcolor": PAPER, "size": 7, "solidity": 0.45}
    return {"color": PAPER, "line": {"color": HARM, "width": 2}, "pattern": lines}
