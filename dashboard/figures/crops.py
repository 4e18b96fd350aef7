"""Kilograms per season, by cultivar and for the whole site."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard.data import Crop
from dashboard.figures import style
from dashboard.texts import CROP_NAMES
from dashboard.views.crops import CropCell, SeasonTotal
from dashboard.words import count, kilograms, plot_text

BASE_AT = 0.42
TALLEST = 0.46
SIGNS: dict[Crop, str] = {"stripped": "circle-open", "none": "x-thin", "not recorded": "line-ew"}


def crops_figure(
    rows: Sequence[tuple[str, Sequence[CropCell]]], labels: dict[int, str], running: int | None
) -> go.Figure:
    """One row per cultivar, one bar per season, each row to its own scale.

    Seasons in `labels` (season to what it is called) make the axis; `running` is the one not over.
    """
    seasons = sorted(labels)
    now = [] if running is None else [style.shade(running - 0.5, running + 0.5)]
    figure = style.blank(len(rows), shapes=now)
    figure.update_xaxes(
        range=[seasons[0] - 0.6, seasons[-1] + 0.6],
        tickvals=seasons,
        ticktext=[f"’{labels[season][-2:]}" for season in seasons],
        showgrid=False,
        tickangle=0,
    )
    _bars(figure, rows)
    for crop, symbol in SIGNS.items():
        points = [(at, cell) for at, (_, cells) in enumerate(rows) for cell in cells]
        points = [(at, cell) for at, cell in points if cell.crop == crop]
        figure.add_scatter(
            x=[cell.season for _, cell in points],
            y=[at + BASE_AT - 0.12 for at, _ in points],
            mode="markers",
            marker=_sign(symbol),
            hovertext=[_hover(cell, labels) for _, cell in points],
            hoverinfo="text",
            name=CROP_NAMES[crop],
        )
    style.row_texts(
        figure,
        [f"<b>{plot_text(name, 24)}</b>" for name, _ in rows],
        [_latest(cells, seasons[-1], labels) for _, cells in rows],
        seasons[0] - 0.6,
        seasons[-1] + 0.6,
    )
    return figure


def totals_figure(
    totals: Sequence[SeasonTotal], labels: dict[int, str], running: int | None
) -> go.Figure:
    """One bar per season of a site, with its weight above and its number of trees below.

    A season without a pick has the sign of what it was in place of a bar.
    """
    figure = style.blank(1, height=230)
    figure.update_layout(margin={"l": 8, "r": 8, "t": 20, "b": 40})
    figure.update_xaxes(
        side="bottom",
        tickvals=[total.season for total in totals],
        ticktext=[f"’{labels[total.season][-2:]}<br>{total.picked}" for total in totals],
        showgrid=False,
        tickangle=0,
    )
    picked = [(total, total.weight_kg) for total in totals if total.weight_kg is not None]
    most = max((weight for _, weight in picked), default=0.0) or 1.0
    figure.update_yaxes(range=[0, most * 1.15])
    _total_bars(figure, picked, labels, running)
    for crop, symbol in SIGNS.items():
        seasons = [total.season for total in totals if total.crop == crop]
        figure.add_scatter(
            x=seasons,
            y=[most * 0.05] * len(seasons),
            mode="markers",
            marker=_sign(symbol),
            hovertext=[f"season {labels[season]}: {CROP_NAMES[crop]}" for season in seasons],
            hoverinfo="text",
            name=CROP_NAMES[crop],
        )
    return figure


def _total_bars(
    figure: go.Figure,
    picked: Sequence[tuple[SeasonTotal, float]],
    labels: dict[int, str],
    running: int | None,
) -> None:
    figure.add_bar(
        x=[total.season for total, _ in picked],
        y=[weight for _, weight in picked],
        width=0.7,
        marker={
            "color": style.LOGGED,
            "pattern": {
                "shape": ["/" if total.season == running else "" for total, _ in picked],
                "fgcolor": style.PAPER,
                "fillmode": "overlay",
                "solidity": 0.35,
            },
        },
        text=[f"{weight:.0f}" for _, weight in picked],
        textfont={"size": 11},
        constraintext="none",
        textposition="outside",
        textangle=0,
        cliponaxis=False,
        hovertext=[
            f"season {labels[total.season]}: {kilograms(weight)} from "
            f"{count(total.picked, 'tree', 'trees')}; {total.missing} not recorded"
            for total, weight in picked
        ],
        hoverinfo="text",
        name="kg",
    )


def _sign(symbol: str) -> dict[str, object]:
    return style.marker(symbol, style.QUIET, 9, color=style.QUIET, width=2)


def _bars(figure: go.Figure, rows: Sequence[tuple[str, Sequence[CropCell]]]) -> None:
    cells = [
        (at, cell, (cell.weight_kg or 0.0) / (_most(found) or 1.0) * TALLEST)
        for at, (_, found) in enumerate(rows)
        for cell in found
        if cell.weight_kg is not None
    ]
    figure.add_bar(
        x=[cell.season for _, cell, _ in cells],
        y=[-share for _, _, share in cells],
        base=[at + BASE_AT for at, _, _ in cells],
        width=0.72,
        marker={
            "color": style.LOGGED,
            "line": {"color": style.LOGGED, "width": 1},
            "pattern": {
                "shape": ["." if cell.missing else "" for _, cell, _ in cells],
                "fgcolor": style.PAPER,
                "fillmode": "overlay",
                "solidity": 0.45,
            },
        },
        hovertext=[_hover(cell, {}) for _, cell, _ in cells],
        hoverinfo="text",
        name=CROP_NAMES["picked"],
    )


def _most(cells: Sequence[CropCell]) -> float:
    return max((cell.weight_kg or 0.0 for cell in cells), default=0.0)


def _latest(cells: Sequence[CropCell], season: int, labels: dict[int, str]) -> str:
    """What the latest season came to, in a word or a weight; blank where no tree stood."""
    cell = next((cell for cell in cells if cell.season == season), None)
    if cell is None:
        return ""
    said = CROP_NAMES[cell.crop] if cell.weight_kg is None else kilograms(cell.weight_kg)
    return f"’{labels[season][-2:]}: {said}"


def _hover(cell: CropCell, labels: dict[int, str]) -> str:
    what = CROP_NAMES[cell.crop]
    if cell.weight_kg is not None:
        what = f"{kilograms(cell.weight_kg)} from {count(cell.picked, 'tree', 'trees')}"
    left = f"; {cell.missing} not recorded" if cell.missing and cell.crop == "picked" else ""
    season = labels.get(cell.season, str(cell.season))
    return f"{plot_text(cell.cultivar)}, season {season}: {what}{left}"
