"""More about the seasons, each part folded away and made when it is asked for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View, view_of_search
from dashboard.components import pieces
from dashboard.data import GroupSeason, Source
from dashboard.figures import yields as pictures
from dashboard.figures.crops import compared_figure
from dashboard.texts import seasons as season_texts
from dashboard.views.crops import GroupRow, group_rows
from dashboard.views.trees import grouping, trees_kept
from dashboard.words import percent, shown, signed_percent

ASKED = "more-seasons-asked"
FIRST, SECOND = "side-first", "side-second"
SIDE = "side"
MOST_ROWS = 60
FORESEEN_SEASONS = 3


@dataclass(frozen=True)
class _Asked:
    """What a part is made from."""

    source: Source
    view: View
    as_of: date
    trees: frozenset[str] | None

    def rows(self, by: str) -> list[GroupRow]:
        """Seasons added up by something."""
        return group_rows(self.source.yields_by(self.as_of, by, self.trees))

    @property
    def southern(self) -> bool:
        """Whether all of the trees stand in the south."""
        trees = self.source.overview(self.as_of).trees
        if self.trees is not None:
            trees = trees[trees["tree"].isin(self.trees)]
        return bool((trees["latitude"] < 0).all())


Part = Callable[[_Asked], list[Component]]


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


def asked(source: Source, search: str | None) -> _Asked:
    """What an address asks about."""
    view = view_of_search(search, source.latest_date())
    as_of = view.as_of or source.home_date()
    return _Asked(source, view, as_of, trees_kept(source, view, as_of))


def part(source: Source, name: str, search: str | None) -> list[Component]:
    """One folded part; where there is nothing for it, that is said."""
    return PARTS[name][1](asked(source, search)) or [html.P(season_texts.NOTHING)]


def _fold(name: str, title: str, before: Component | None) -> Component:
    return html.Details(
        [
            html.Summary(title, id=f"open-{name}", n_clicks=0),
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


def side_by_side(ask: _Asked, first: str | None, second: str | None) -> list[Component]:
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
            compared_figure(both[:MOST_ROWS], (str(earlier), str(later)), ""),
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
                    "earlier_kg": _rounded(row.earlier_kg, 2),
                    "later_kg": _rounded(row.later_kg, 2),
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
    return None if season is None else _rounded(season.weight_kg, 2)


def _rounded(number: float | None, digits: int) -> float | None:
    return None if number is None else round(number, digits)


def _since_planting(ask: _Asked) -> list[Component]:
    points = ask.source.yield_pictures(ask.as_of, ask.trees).cumulative
    if not points:
        return []
    return [
        pieces.picture(
            pictures.since_planting_figure(points), season_texts.SINCE_CAPTION, (), "since"
        ),
        pieces.table(
            [
                {
                    "species": shown(point.species),
                    "rootstock": shown(point.rootstock),
                    "leaf": point.leaf,
                    "kg": round(point.kg_per_tree, 1),
                    "trees": point.trees,
                }
                for point in points
            ],
            season_texts.SINCE_COLUMNS,
            "since",
            texts.TABLE_TITLE,
        ),
    ]


def _by_trunk(ask: _Asked) -> list[Component]:
    points = ask.source.yield_pictures(ask.as_of, ask.trees).by_trunk
    if not points:
        return []
    signs = (
        ("ripe", season_texts.KEY_TRUNK_NOW),
        ("trunk-then", season_texts.KEY_TRUNK_THEN),
        ("trunk-line", season_texts.KEY_TRUNK_LINE),
    )
    return [
        pieces.picture(pictures.trunk_figure(points), season_texts.TRUNK_CAPTION, signs, "trunk"),
        pieces.table(
            [
                {
                    "tree": shown(point.tree),
                    "cultivar": shown(point.cultivar),
                    "season": point.season,
                    "tcsa_cm2": round(point.tcsa_cm2, 1),
                    "weight_kg": round(point.weight_kg, 2),
                    "per_cm2": round(point.weight_kg / point.tcsa_cm2, 3),
                    "girth_date": point.girth_date.isoformat(),
                }
                for point in sorted(points, key=lambda each: (-each.season, each.tree))
            ],
            season_texts.TRUNK_COLUMNS,
            "trunk",
            texts.TABLE_TITLE,
        ),
    ]


def _graded_out(ask: _Asked) -> list[Component]:
    by_season: dict[int, dict[str, float]] = {}
    for row in ask.rows("orchard"):
        by_season |= {each.season: each.causes for each in row.seasons if each.causes}
    if not by_season:
        return []
    season = max(by_season)
    before = [causes for each, causes in by_season.items() if each != season]
    sums: dict[str, float] = defaultdict(float)
    for causes in before:
        for cause, kg in causes.items():
            sums[cause] += kg / len(before)
    caption = season_texts.GRADED_CAPTION if before else season_texts.GRADED_CAPTION_ONE
    signs = (("crop-picked", texts.TABLE_TITLE), ("ring", season_texts.KEY_GRADED_MEAN))
    return [
        pieces.picture(
            pictures.graded_figure(by_season[season], sums),
            caption.format(season=season, others=len(before)),
            signs[1:] if before else (),
            "graded",
        ),
        pieces.table(
            [
                {"season": each, "cause": shown(cause), "kg": round(kg, 2)}
                for each in sorted(by_season, reverse=True)
                for cause, kg in sorted(by_season[each].items(), key=lambda item: -item[1])
            ],
            season_texts.GRADED_COLUMNS,
            "graded",
            texts.TABLE_TITLE,
        ),
    ]


def _kinds(ask: _Asked) -> str:
    """Dates and fruit of unlike kinds say nothing together."""
    return "tree" if grouping(ask.view) == "tree" else "cultivar"


def _dates(ask: _Asked) -> list[Component]:
    rows = [row for row in ask.rows(_kinds(ask)) if any(each.first_pick for each in row.seasons)]
    if not rows:
        return []
    season = max(each.season for row in rows for each in row.seasons if each.first_pick)
    one = len(rows) == 1
    caption = season_texts.DATES_CAPTION_ONE if one else season_texts.DATES_CAPTION
    signs = (("crop-picked", season_texts.KEY_DATES_NOW),
             ("band80", season_texts.KEY_DATES_USUAL))  # fmt: skip
    return [
        pieces.picture(
            pictures.dates_figure(rows[:MOST_ROWS], season, southern=ask.southern),
            caption.format(season=season),
            signs[:1] if one else signs,
            "dates",
        ),
        pieces.table(
            [
                {
                    "name": shown(each.name),
                    "season": each.season,
                    "first": each.first_pick.isoformat(),
                    "last": each.last_pick.isoformat() if each.last_pick else "",
                    "window": each.window_days,
                    "days": each.picking_days,
                }
                for row in rows
                for each in reversed(row.seasons)
                if each.first_pick
            ],
            season_texts.DATES_COLUMNS,
            "dates",
            texts.TABLE_TITLE,
        ),
    ]


def _fruit(ask: _Asked) -> list[Component]:
    rows = [row for row in ask.rows(_kinds(ask)) if any(each.mean_fruit_g for each in row.seasons)]
    if not rows:
        return []
    signs = (("ripe", season_texts.KEY_FRUIT_NOW), ("trunk-then", season_texts.KEY_FRUIT_THEN))
    return [
        pieces.picture(
            pictures.fruit_figure(rows[:MOST_ROWS]), season_texts.FRUIT_CAPTION, signs, "fruit"
        ),
        pieces.table(
            [
                {
                    "name": shown(each.name),
                    "season": each.season,
                    "fruit_g": _rounded(each.mean_fruit_g, 1),
                    "fruit": each.fruit_count,
                    "whole": texts.NO if each.fruit_count is None else texts.YES,
                }
                for row in rows
                for each in reversed(row.seasons)
                if each.mean_fruit_g
            ],
            season_texts.FRUIT_COLUMNS,
            "fruit",
            texts.TABLE_TITLE,
        ),
    ]


def _foreseen(ask: _Asked) -> list[Component]:
    whole = {
        each.season
        for row in ask.rows("orchard")
        for each in row.seasons
        if each.compared_trees and each.complete
    }
    seasons = tuple(sorted(whole)[-FORESEEN_SEASONS:])
    rows = ask.source.crops_foreseen(ask.as_of, seasons)
    rows = [row for row in rows if ask.trees is None or row.tree in ask.trees]
    if not rows:
        return []
    inside = [row.kg[0.1] <= row.picked_kg <= row.kg[0.9] for row in rows]
    signs = (("ripe", season_texts.KEY_FORESEEN_IN), ("logged-out", season_texts.KEY_FORESEEN_OUT))
    return [
        html.P(
            season_texts.FORESEEN_ANSWER.format(
                count=len(rows),
                seasons=len(seasons),
                inside=sum(inside),
                share=percent(sum(inside) / len(rows)),
            ),
            className="second-answer",
        ),
        pieces.picture(
            pictures.foreseen_figure(rows), season_texts.FORESEEN_CAPTION, signs, "foreseen"
        ),
        pieces.table(
            [
                {
                    "tree": shown(row.tree),
                    "cultivar": shown(row.cultivar),
                    "season": row.season,
                    "as_of": row.as_of.isoformat(),
                    "low": round(row.kg[0.1], 1),
                    "median": round(row.kg[0.5], 1),
                    "high": round(row.kg[0.9], 1),
                    "picked": round(row.picked_kg, 1),
                    "inside": texts.YES if within else texts.NO,
                }
                for row, within in zip(rows, inside, strict=True)
            ],
            season_texts.FORESEEN_COLUMNS,
            "foreseen",
            texts.TABLE_TITLE,
        ),
    ]


PARTS: dict[str, tuple[str, Part]] = {
    "since": (season_texts.SINCE_TITLE, _since_planting),
    "trunk": (season_texts.TRUNK_TITLE, _by_trunk),
    "graded": (season_texts.GRADED_TITLE, _graded_out),
    "dates": (season_texts.DATES_TITLE, _dates),
    "fruit": (season_texts.FRUIT_TITLE, _fruit),
    "foreseen": (season_texts.FORESEEN_TITLE, _foreseen),
}
