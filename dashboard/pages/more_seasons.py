"""More about the seasons, each part folded away and made when it is asked for."""

from __future__ import annotations

from collections.abc import Sequence

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import GroupSeason
from dashboard.figures.crops import compared_figure
from dashboard.measures import cell, filled
from dashboard.pages.season_parts import MOST_ROWS, PARTS, Asked, asked
from dashboard.source import Source
from dashboard.texts import seasons as season_texts
from dashboard.views.trees import grouping
from dashboard.words import shown, signed_percent

ASKED = "more-seasons-asked"
FIRST, SECOND = "side-first", "side-second"
SIDE = "side"


def place(view: View, seasons: Sequence[int]) -> Component | None:
    """The folded parts; `seasons` are those that can be set side by side."""
    if not seasons:
        return None
    folds = [_fold(name, title, None) for name, (title, _) in PARTS.items()]
    return pieces.section(
        season_texts.MORE_TITLE,
        dcc.Store(id=ASKED, data=view.search()),
        _fold(SIDE, season_texts.SIDE_TITLE, _selects(view, seasons)),
        *folds,
    )


def connect(app: Dash, source: Source) -> None:
    """Make each part when its fold is opened."""
    for name in PARTS:
        _connect_part(app, source, name)

    @app.callback(
        Output(f"more-{SIDE}", "children"),
        Input(f"open-{SIDE}", "n_clicks"),
        Input(FIRST, "value"),
        Input(SECOND, "value"),
        State(ASKED, "data"),
        prevent_initial_call=True,
    )
    def set_side_by_side(
        _clicks: int, first: str | None, second: str | None, search: str
    ) -> list[Component]:
        return side_by_side(asked(source, search), first, second)


def _connect_part(app: Dash, source: Source, name: str) -> None:
    @app.callback(
        Output(f"more-{name}", "children"),
        Input(f"open-{name}", "n_clicks"),
        State(ASKED, "data"),
        prevent_initial_call=True,
    )
    def unfold(_clicks: int, search: str) -> list[Component]:
        return part(source, name, search)


def part(source: Source, name: str, search: str | None) -> list[Component]:
    """One folded part; where there is nothing for it, that is said."""
    return PARTS[name][1](asked(source, search)) or [html.P(season_texts.NOTHING)]


def _fold(name: str, title: str, before: Component | None) -> Component:
    return html.Details(
        [
            html.Summary(filled(title), id=f"open-{name}", n_clicks=0),
            before,
            html.Div(html.P(season_texts.WORKING), id=f"more-{name}"),
        ],
        className="fold",
    )


def _selects(view: View, seasons: Sequence[int]) -> Component:
    names = [str(season) for season in sorted(seasons, reverse=True)]
    first, second = names[min(1, len(names) - 1)], names[0]
    chosen = [view.choice("first"), view.choice("second")]
    values = [
        name if name in names else usual
        for name, usual in zip(chosen, (first, second), strict=True)
    ]
    labels = (season_texts.SIDE_FIRST, season_texts.SIDE_SECOND)
    selects = [
        dmc.Select(
            id=name,
            label=label,
            data=names,
            value=value,
            allowDeselect=False,
            size="md",
            className="season-choice",
        )
        for name, label, value in zip((FIRST, SECOND), labels, values, strict=True)
    ]
    return html.Div(selects, className="season-choices")


def side_by_side(ask: Asked, first: str | None, second: str | None) -> list[Component]:
    """Two seasons of every group."""
    if not (first and second and first.isdecimal() and second.isdecimal()):
        return [html.P(season_texts.NOTHING)]
    earlier, later = sorted((int(first), int(second)))
    by = grouping(ask.view)
    rows = ask.source.compare_seasons(ask.as_of, (earlier, later), by, ask.trees)
    both = [row for row in rows if row.trees_in_both]
    if not both:
        return [html.P(season_texts.NO_TREE_IN_BOTH.capitalize() + ".")]
    return [
        pieces.picture(
            compared_figure(both[:MOST_ROWS], (str(earlier), str(later))),
            season_texts.SIDE_CAPTION,
            (("crop-open", f"{season_texts.KEY_EARLIER}, {earlier}"),
             ("crop-picked", f"{season_texts.KEY_LATER}, {later}")),
            SIDE,
        ),
        pieces.table(
            [
                {
                    "name": shown(row.name),
                    "earlier": _kg(row.earlier),
                    "later": _kg(row.later),
                    "earlier_verdict": row.earlier.verdict if row.earlier else "",
                    "later_verdict": row.later.verdict if row.later else "",
                    "trees": row.trees_in_both,
                    "earlier_kg": cell(row.earlier_kg, "kg", 2),
                    "later_kg": cell(row.later_kg, "kg", 2),
                    "change": "" if row.change is None else signed_percent(row.change),
                }
                for row in rows
            ],
            season_texts.SIDE_COLUMNS,
            SIDE,
            texts.TABLE_TITLE,
        ),
    ]  # fmt: skip


def _kg(season: GroupSeason | None) -> float | None:
    return None if season is None else cell(season.weight_kg, "kg", 2)
