"""Young trees, leaf by leaf: what their seasons were, and what this one may be."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard.figures import style
from dashboard.texts import ADVICE_NAMES, CROP_NAMES, PICTURE_LIMIT
from dashboard.texts import figures as figure_texts
from dashboard.views.young import YoungTree
from dashboard.words import plot_text

PAST = {
    "picked": ("triangle-up", style.LOGGED),
    "stripped": ("circle-open", style.QUIET),
    "none": ("x-thin", style.QUIET),
    "not recorded": ("line-ew", style.QUIET),
}


def young_figure(trees: Sequence[YoungTree]) -> go.Figure:
    """One row per tree, one sign per leaf, this season's advice as a circle that fills up."""
    figure = style.blank(len(trees))
    top = max((tree.advice.leaf for tree in trees), default=1)
    low, high = 0.4, max(top, 4) + 0.6
    figure.update_xaxes(
        range=[low, high],
        dtick=1,
        tickprefix=figure_texts.LEAF.format(leaf=""),
        showtickprefix="first",
    )
    for crop, (symbol, colour) in PAST.items():
        points = [
            (leaf, at) for at, tree in enumerate(trees) for leaf, kind in tree.past if kind == crop
        ]
        figure.add_scatter(
            x=[leaf for leaf, _ in points],
            y=[at + style.BAND_AT for _, at in points],
            mode="markers",
            marker=style.marker(symbol, colour, 10, color=colour, width=2),
            hovertext=[
                figure_texts.LEAF_CROP.format(leaf=leaf, crop=CROP_NAMES[crop])
                for leaf, _ in points
            ],
            hoverinfo="text",
            name=crop,
        )
    _advice(figure, trees)
    style.row_texts(
        figure,
        [
            f"<b>{plot_text(tree.advice.tree, 12)}</b> {plot_text(tree.cultivar, 18)}"
            for tree in trees
        ],
        [_said(tree) for tree in trees],
        low,
        high,
    )
    return figure


def _advice(figure: go.Figure, trees: Sequence[YoungTree]) -> None:
    """A ring for every tree; full for carry, a half-sized core for limit, empty for strip."""
    known = [(at, tree) for at, tree in enumerate(trees) if tree.advice.leaf >= 1]
    rings = [(at, tree) for at, tree in known if tree.advice.advice != "unknown"]
    figure.add_scatter(
        x=[tree.advice.leaf for _, tree in rings],
        y=[at + style.BAND_AT for at, _ in rings],
        mode="markers",
        marker=style.marker("circle-open", style.FORECAST, 20, color=style.FORECAST, width=2.5),
        hovertext=[_said(tree) for _, tree in rings],
        hoverinfo="text",
        name="this season",
    )
    for advice, size in (("limit", 9), ("carry", 20)):
        cores = [(at, tree) for at, tree in rings if tree.advice.advice == advice]
        figure.add_scatter(
            x=[tree.advice.leaf for _, tree in cores],
            y=[at + style.BAND_AT for at, _ in cores],
            mode="markers",
            marker=style.marker("circle", style.FORECAST, size),
            hoverinfo="skip",
            name=advice,
        )
    asked = [(at, tree) for at, tree in known if tree.advice.advice == "unknown"]
    figure.add_scatter(
        x=[tree.advice.leaf for _, tree in asked],
        y=[at + style.BAND_AT for at, _ in asked],
        mode="text",
        text=["<b>?</b>"] * len(asked),
        textfont={"size": 20},
        hoverinfo="skip",
        name="unknown",
    )


def _said(tree: YoungTree) -> str:
    name = ADVICE_NAMES[tree.advice.advice]
    if tree.advice.advice == "limit" and tree.advice.fruit_limit is not None:
        return f"{name}: {PICTURE_LIMIT.format(limit=tree.advice.fruit_limit)}"
    return name
