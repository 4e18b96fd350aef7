"""Kilograms season by season beside what was to be expected, and two seasons side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import plotly.graph_objects as go

from dashboard.data import Crop, GroupSeason, SeasonsCompared
from dashboard.figures import style
from dashboard.measures import kilograms, value
from dashboard.texts import CROP_NAMES, TREE_MANY, TREE_ONE
from dashboard.texts import figures as figure_texts
from dashboard.texts import seasons as season_texts
from dashboard.views.crops import GroupRow, kind
from dashboard.words import count, plot_text, signed_percent

FEW_ROWS = 3
# Trees not recorded, as a share of those and the bearing ones, from which on a bar is dotted.
PARTLY = 0.2
SIGNS: dict[Crop, str] = {"stripped": "circle-open", "none": "x-thin", "not recorded": "line-ew"}
VERDICT_SIGNS = {"good": "▲", "poor": "▼"}


class Layout(NamedTuple):
    """Heights within a row, which is 1 high and whose middle is 0: downwards is positive."""

    row_px: int
    text_at: float
    base_at: float
    tallest: float


TALL = Layout(190, -0.41, 0.42, 0.62)
LOW = Layout(62, -0.3, 0.42, 0.44)


def crops_figure(rows: Sequence[GroupRow], labels: dict[int, str]) -> go.Figure:
    """One row per group, one bar per season over the span that was to be expected.

    Each row has its own scale. Seasons in `labels` (season to what it is called) make the axis.
    """
    seasons = sorted(labels)
    layout = TALL if len(rows) <= FEW_ROWS else LOW
    figure = style.blank(len(rows), height=len(rows) * layout.row_px + style.EDGE_HEIGHT)
    figure.update_xaxes(
        range=[seasons[0] - 0.6, seasons[-1] + 0.6],
        tickvals=seasons,
        ticktext=[f"’{labels[season][-2:]}" for season in seasons],
        showgrid=False,
        tickangle=0,
    )
    cells = [_Cell(at, row, each, layout) for at, row in enumerate(rows) for each in row.seasons]
    cells = [cell for cell in cells if cell.season.season in labels]
    _spans(figure, cells)
    _bars(figure, cells, labels)
    _signs(figure, cells, labels)
    _marks(figure, cells, numbers=layout is TALL)
    style.row_texts(
        figure,
        [f"<b>{plot_text(row.name, 26)}</b>" for row in rows],
        [_latest(row, labels) for row in rows],
        seasons[0] - 0.6,
        seasons[-1] + 0.6,
        at=layout.text_at,
    )
    return figure


class _Cell:
    """One group's season and where it stands in the picture."""

    def __init__(self, at: int, row: GroupRow, season: GroupSeason, layout: Layout) -> None:
        self.row, self.season = row, season
        self.base = at + layout.base_at
        most = max(
            (max(each.weight_kg or 0.0, each.high_kg or 0.0) for each in row.seasons), default=0.0
        )
        self._scale = layout.tallest / (most or 1.0)
        self.low = layout

    def height(self, kg: float) -> float:
        """Height of a weight."""
        return kg * self._scale

    @property
    def spanned(self) -> bool:
        """Whether the expected span is about the very trees whose weight is shown."""
        return self.season.complete and self.season.high_kg is not None

    @property
    def top(self) -> float:
        """Where the taller of bar and span ends."""
        high = self.season.high_kg if self.spanned else 0.0
        return min(self.bar_top, self.base - self.height(high or 0.0))

    @property
    def bar_top(self) -> float:
        """Where the bar ends."""
        return self.base - self.height(self.season.weight_kg or 0.0)


def _spans(figure: go.Figure, cells: Sequence[_Cell]) -> None:
    known = [
        (cell, low, high)
        for cell in cells
        if cell.spanned
        and (low := cell.season.low_kg) is not None
        and (high := cell.season.high_kg) is not None
    ]
    figure.add_bar(
        x=[cell.season.season for cell, _, _ in known],
        y=[-cell.height(high - low) for cell, low, high in known],
        base=[cell.base - cell.height(low) for cell, low, _ in known],
        width=0.9,
        marker={"color": style.FORECAST_FAINT, "line": {"color": style.FORECAST, "width": 1.2}},
        hoverinfo="skip",
        name="expected",
    )


def _bars(figure: go.Figure, cells: Sequence[_Cell], labels: dict[int, str]) -> None:
    picked = [
        (cell, weight)
        for cell in cells
        if kind(cell.season) == "picked" and (weight := cell.season.weight_kg) is not None
    ]
    figure.add_bar(
        x=[cell.season.season for cell, _ in picked],
        y=[-cell.height(weight) for cell, weight in picked],
        base=[cell.base for cell, _ in picked],
        width=0.5,
        marker={
            "color": style.LOGGED,
            "line": {"color": style.LOGGED, "width": 1},
            "pattern": {
                "shape": [_pattern(cell.season) for cell, _ in picked],
                "fgcolor": style.PAPER,
                "fillmode": "overlay",
                "solidity": 0.4,
            },
        },
        hovertext=[hover(cell.season, labels) for cell, _ in picked],
        hoverinfo="text",
        name=CROP_NAMES["picked"],
    )


def _pattern(season: GroupSeason) -> str:
    if not season.complete:
        return "/"
    missing = season.trees_not_recorded
    return "." if missing > PARTLY * (missing + season.trees_bearing) else ""


def _signs(figure: go.Figure, cells: Sequence[_Cell], labels: dict[int, str]) -> None:
    for crop, symbol in SIGNS.items():
        own = [cell for cell in cells if kind(cell.season) == crop]
        figure.add_scatter(
            x=[cell.season.season for cell in own],
            y=[cell.base - 0.2 * cell.low.tallest for cell in own],
            mode="markers",
            marker=style.marker(symbol, style.QUIET, 9, color=style.QUIET, width=2),
            hovertext=[hover(cell.season, labels) for cell in own],
            hoverinfo="text",
            name=CROP_NAMES[crop],
        )


def _marks(figure: go.Figure, cells: Sequence[_Cell], *, numbers: bool) -> None:
    """The verdict over each season that was good or poor; its weight where there is room."""
    judged = [cell for cell in cells if cell.season.verdict in VERDICT_SIGNS and cell.spanned]
    weighed = [cell for cell in cells if cell.season.trees_picked] if numbers else []
    weights = [value(cell.season.weight_kg or 0.0, "kg") for cell in weighed]
    for name, own, words in (
        ("verdict", judged, [VERDICT_SIGNS[cell.season.verdict] for cell in judged]),
        ("weight", weighed, [f"{weight:.0f}" for weight in weights]),
    ):
        figure.add_scatter(
            x=[cell.season.season for cell in own],
            y=[cell.top if name == "verdict" else cell.bar_top for cell in own],
            text=words,
            mode="text",
            textposition="top center",
            textfont={"size": 11},
            hoverinfo="skip",
            cliponaxis=False,
            name=name,
        )


def _latest(row: GroupRow, labels: dict[int, str]) -> str:
    """What the latest season came to, in a word or a weight, and its verdict."""
    found = row.latest
    if found is None or found.season not in labels:
        return ""
    said = CROP_NAMES[kind(found)]
    if found.trees_picked and found.weight_kg is not None:
        said = kilograms(found.weight_kg)
        if not found.complete:
            said += season_texts.SO_FAR
        elif found.verdict in season_texts.VERDICT_SHORT:
            said += f", {season_texts.VERDICT_SHORT[found.verdict]}"
    return f"’{labels[found.season][-2:]}: {said}"


def hover(season: GroupSeason, labels: dict[int, str]) -> str:
    """A season in words."""
    label = labels.get(season.season, str(season.season))
    parts = [figure_texts.SEASON_OF.format(name=plot_text(season.name), season=label)]
    if season.trees_picked and season.weight_kg is not None:
        parts.append(
            figure_texts.PICKED_FROM.format(
                weight=kilograms(season.weight_kg),
                trees=count(season.trees_picked, TREE_ONE, TREE_MANY),
            )
            + ("" if season.complete else season_texts.SO_FAR)
        )
    kinds: tuple[tuple[int, Crop], ...] = (
        (season.trees_none, "none"),
        (season.trees_stripped, "stripped"),
        (season.trees_not_recorded, "not recorded"),
    )
    parts += [f"{number} {CROP_NAMES[crop]}" for number, crop in kinds if number]
    if season.low_kg is not None and season.high_kg is not None:
        parts.append(
            figure_texts.EXPECTED.format(
                low=kilograms(season.low_kg),
                high=kilograms(season.high_kg),
                verdict=season.verdict,
            )
        )
    return "<br>".join(parts)


def compared_figure(rows: Sequence[SeasonsCompared], names: tuple[str, str]) -> go.Figure:
    """Two seasons of each group as two bars, the earlier open, the later full; own scale each."""
    figure = style.blank(len(rows), height=len(rows) * 66 + 24)
    figure.update_layout(margin={"l": 8, "r": 8, "t": 8, "b": 8})
    figure.update_xaxes(range=[0, 1.02], showticklabels=False, showgrid=False, ticks="")
    for later, at, name in ((False, 0.06, names[0]), (True, 0.3, names[1])):
        weights = [row.later_kg if later else row.earlier_kg for row in rows]
        tops = [max(row.later_kg or 0.0, row.earlier_kg or 0.0) or 1.0 for row in rows]
        figure.add_bar(
            orientation="h",
            x=[0.8 * (kg or 0.0) / top for kg, top in zip(weights, tops, strict=True)],
            y=[row + at for row in range(len(rows))],
            width=0.2,
            marker={
                "color": style.LOGGED if later else style.CLEAR,
                "line": {"color": style.LOGGED, "width": 1.6},
            },
            text=["" if kg is None else f"’{name[-2:]}: {kilograms(kg)}" for kg in weights],
            textposition="outside",
            textfont={"size": 12},
            cliponaxis=False,
            hoverinfo="skip",
            name=name,
        )
    style.row_texts(
        figure,
        [f"<b>{plot_text(row.name, 24)}</b>" for row in rows],
        [_change(row) for row in rows],
        0,
        1.02,
        at=-0.3,
    )
    return figure


def _change(row: SeasonsCompared) -> str:
    trees = count(row.trees_in_both, "tree", "trees")
    if row.trees_in_both == 0:
        return season_texts.NO_TREE_IN_BOTH
    return trees if row.change is None else f"{signed_percent(row.change)} · {trees}"
