"""Was this season better: kilograms season by season beside what was to be expected, and why."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dash import Dash, dcc, html
from dash.development.base_component import Component

from dashboard import paths, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.data import GroupSeason, group_names
from dashboard.figures.crops import crops_figure
from dashboard.measures import cell, kilograms, retold
from dashboard.pages import crop_ahead, hindsight, more_seasons
from dashboard.paths import link
from dashboard.source import Source
from dashboard.texts import seasons as season_texts
from dashboard.views.crops import (
    GroupRow,
    SiteAnswer,
    Why,
    answers,
    group_rows,
    kind,
    labels,
    seasons_shown,
    whys,
)
from dashboard.views.trees import BY_USUALLY, grouping, trees_kept
from dashboard.words import count, day, listing, shown

CROPS, WHY = "kilograms", "why"
MOST_SEASONS, MOST_ROWS = 12, 60
CARDS_SHOWN, CARDS_FOLDED = 4, 60
CAUSES_IN_SENTENCE, CAUSES_ON_CARD = 3, 4
ORDER = ("site", "species", "cultivar", "row", "tree", "orchard")
CROP_SIGNS = (
    ("crop-picked", season_texts.KEY_PICKED),
    ("band80", season_texts.KEY_EXPECTED),
    ("up", season_texts.KEY_GOOD),
    ("down", season_texts.KEY_POOR),
    ("crop-running", season_texts.KEY_RUNNING),
    ("crop-partly", season_texts.KEY_PARTLY),
    ("crop-stripped", texts.CROP_NAMES["stripped"]),
    ("crop-none", texts.CROP_NAMES["none"]),
    ("crop-unrecorded", texts.CROP_NAMES["not recorded"]),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    trees = trees_kept(source, view, as_of)
    if trees is not None and not trees:
        return pieces.page(texts.PAGE_TITLES["seasons"], pieces.no_match())
    sites = group_rows(source.yields_by(as_of, "site", trees))
    by = grouping(view)
    rows = group_rows(source.yields_by(as_of, by, trees))
    site_whys = _whys(source, "site", sites, as_of)
    known = {(why.season.name, why.season.season): why for why in site_whys}
    latitudes = latitudes_of(source, as_of)
    told = [_sentence(each, latitudes[each.site]) for each in answers(sites, known)]
    seen = view.but(as_of=as_of)
    return pieces.page(
        texts.PAGE_TITLES["seasons"],
        pieces.answer(*(told or [season_texts.NO_YIELDS.format(date=day(as_of))])),
        _switch(view, by),
        _picture(rows, by, _labels(source, rows, by, as_of)),
        _why_section(
            site_whys if by == "site" else _whys(source, by, rows, as_of),
            _labels(source, rows, by, as_of),
        )
        if rows
        else None,
        pieces.table(
            _table_rows(rows, _labels(source, rows, by, as_of, every=True)),
            season_texts.CROP_COLUMNS,
            "crops",
            season_texts.TABLE_CROPS,
        ),
        crop_ahead.place(seen),
        more_seasons.place(seen, _every_season(rows)),
        hindsight.place(seen),
    )


def connect(app: Dash, source: Source) -> None:
    """Parts that take their time come after the rest of the page, or when they are asked for."""
    crop_ahead.connect(app, source)
    more_seasons.connect(app, source)
    hindsight.connect(app, source)


def latitudes_of(source: Source, as_of: date) -> dict[str, float]:
    """Latitude of each site [deg]."""
    sites = source.overview(as_of).sites
    return dict(zip(sites["site"], sites["latitude"], strict=True))


def _labels(
    source: Source, rows: Sequence[GroupRow], by: str, as_of: date, *, every: bool = False
) -> dict[int, str]:
    """What the seasons shown are called."""
    trees = source.overview(as_of).trees
    names = {row.name for row in rows}
    of_tree = group_names(trees, by)
    inside = trees["tree"].map(of_tree).isin(names)
    seasons = _every_season(rows) if every else seasons_shown(rows, MOST_SEASONS)
    return labels(seasons, trees.loc[inside, "latitude"])


def _every_season(rows: Sequence[GroupRow]) -> list[int]:
    return sorted({each.season for row in rows for each in row.seasons})


def _whys(source: Source, by: str, rows: Sequence[GroupRow], as_of: date) -> list[Why]:
    of_tree = group_names(source.overview(as_of).trees, by)
    groups = [each for row in rows for each in row.seasons]
    return whys(groups, source.season_reasons(as_of), of_tree)


def _sentence(said: SiteAnswer, latitude: float) -> str:
    """A site's latest season: its weight, its verdict, what was to be expected, and why."""
    season = said.latest
    words = {
        "name": shown(said.site),
        "season": labels([season.season], [latitude])[season.season],
        "weight": kilograms(season.weight_kg or 0.0),
        "trees": count(season.trees_picked, texts.TREE_ONE, texts.TREE_MANY),
        "verdict": season_texts.VERDICT_WORDS.get(season.verdict, ""),
        "low": kilograms(season.low_kg or 0.0),
        "high": kilograms(season.high_kg or 0.0),
    }
    if not season.complete:
        text = _so_far(season, words)
    elif season.verdict == "too early to tell":
        are = season_texts.OTHERS.get(season.others, str(season.others))
        text = season_texts.ANSWER_EARLY.format(are=are, **words)
    elif season.verdict == "not compared":
        text = season_texts.ANSWER_BARE.format(**words)
    else:
        text = season_texts.ANSWER.format(**words)
    if season.verdict in season_texts.WHY_CARD:
        text += _why_short(said.why)
    if said.before is not None and said.before.verdict in season_texts.VERDICT_WORDS:
        text += season_texts.BEFORE.format(
            season=labels([said.before.season], [latitude])[said.before.season],
            weight=kilograms(said.before.weight_kg or 0.0),
            verdict=season_texts.VERDICT_WORDS[said.before.verdict],
        )
    return text


def _so_far(season: GroupSeason, words: dict[str, str]) -> str:
    """A season that is not over, judged by the trees of which it is."""
    if season.verdict == "not compared":
        return season_texts.ANSWER_SO_FAR.format(**words) + season_texts.NOTHING_DONE
    if season.verdict == "too early to tell":
        return season_texts.ANSWER_SO_FAR.format(**words) + season_texts.EARLY_DONE
    done = count(season.compared_trees, texts.TREE_ONE, texts.TREE_MANY)
    kg = kilograms(season.compared_kg or 0.0)
    more = season.trees_picked > season.compared_trees
    others = season_texts.ANSWER_OTHERS.format(**words) if more else ""
    return season_texts.ANSWER_DONE.format(done=done, kg=kg, others=others, **words)


def _why_short(why: Why | None) -> str:
    if why is None or not why.causes:
        return season_texts.WHY_NONE_SHORT
    told = [
        season_texts.CAUSE_SHORT.format(
            cause=_cause(cause.cause).lower(),
            trees=cause.trees,
            of=why.trees,
            verdict=why.season.verdict,
        )
        for cause in why.causes[:CAUSES_IN_SENTENCE]
    ]
    return season_texts.WHY_SHORT.format(causes=listing(told))


def _cause(name: str) -> str:
    return season_texts.CAUSES.get(name, name.capitalize())


def _switch(view: View, by: str) -> Component:
    choices = [
        dcc.Link(
            season_texts.BY_NAMES[name],
            href=link(paths.SEASONS, view.choosing(by=None if name == BY_USUALLY else name)),
            className="choice chosen" if name == by else "choice",
        )
        for name in ORDER
    ]
    return html.Nav(
        [html.Span(season_texts.BY_LABEL), *choices],
        className="switch wraps",
        **aria(label=season_texts.BY_LABEL),
    )


def _picture(rows: Sequence[GroupRow], by: str, shown_as: dict[int, str]) -> Component | None:
    if not rows or not shown_as:
        return None
    drawn = rows[:MOST_ROWS]
    caption = season_texts.CROPS_CAPTION.format(group=season_texts.GROUP_NAMES[by])
    if min(_every_season(rows)) < min(shown_as):
        caption += season_texts.CROPS_OLDER.format(season=shown_as[min(shown_as)])
    if len(rows) > MOST_ROWS:
        caption += " " + texts.MORE_ROWS.format(shown=MOST_ROWS, total=len(rows))
    return html.Div(
        pieces.section(
            season_texts.CROPS_TITLE,
            pieces.picture(crops_figure(drawn, shown_as), caption, CROP_SIGNS, "crops"),
        ),
        id=CROPS,
    )


def _why_section(found: Sequence[Why], shown_as: dict[int, str]) -> Component:
    """Cards of good and poor seasons, latest first; most of them folded away."""
    inside = [why for why in found if why.season.season in shown_as]
    if not inside:
        return pieces.section(season_texts.WHY_TITLE, html.P(season_texts.WHY_NOTHING))
    cards = [_card(why, shown_as) for why in inside[: CARDS_SHOWN + CARDS_FOLDED]]
    rest = cards[CARDS_SHOWN:]
    return html.Div(
        pieces.section(
            season_texts.WHY_TITLE,
            html.P(season_texts.WHY_NOTE),
            html.Ul(cards[:CARDS_SHOWN], className="cards"),
            html.Details(
                [
                    html.Summary(season_texts.WHY_MORE.format(count=len(rest))),
                    html.Ul(rest, className="cards"),
                ],
                className="fold",
            )
            if rest
            else None,
        ),
        id=WHY,
    )


def _supported(why: Why) -> list[Component]:
    """The candidate reasons, best supported first; where there are none, that is said."""
    of = count(why.trees, texts.TREE_ONE, texts.TREE_MANY)
    parts: list[Component] = [
        html.Li(
            [
                html.Strong(
                    season_texts.WHY_CAUSE.format(
                        cause=_cause(cause.cause), trees=cause.trees, of=of
                    )
                ),
                season_texts.WHY_EXAMPLE.format(tree=shown(cause.tree), text=retold(cause.example)),
            ]
        )
        for cause in why.causes[:CAUSES_ON_CARD]
    ]
    if parts:
        return parts
    return [html.Li(season_texts.WHY_NO_REASON if why.trees else season_texts.WHY_NO_TREE)]


def _card(why: Why, shown_as: dict[int, str]) -> Component:
    season = why.season
    return html.Li(
        [
            html.Span(
                "▲" if season.verdict == "good" else "▼",
                className="sign verdict",
                **aria(hidden="true"),
            ),
            html.Div(
                [
                    html.H3(
                        [
                            html.Span(
                                season_texts.WHY_CARD[season.verdict], className="advice-name"
                            ),
                            html.Span(
                                [html.Bdi(shown(season.name)), f", {shown_as[season.season]}"],
                                className="how-many",
                            ),
                        ]
                    ),
                    html.P(
                        season_texts.WHY_WEIGHT.format(
                            kg=kilograms(season.compared_kg or 0.0),
                            trees=count(season.compared_trees, texts.TREE_ONE, texts.TREE_MANY),
                            low=kilograms(season.low_kg or 0.0),
                            high=kilograms(season.high_kg or 0.0),
                        ),
                        className="who",
                    ),
                    html.Ol(_supported(why), className="why numbered"),
                ]
            ),
        ],
        className="card",
    )


def _table_rows(rows: Sequence[GroupRow], shown_as: dict[int, str]) -> list[dict[str, object]]:
    every = [each for row in rows for each in row.seasons]
    every.sort(key=lambda each: (-each.season, each.name.casefold()))
    return [
        {
            "name": shown(each.name),
            "season": shown_as[each.season],
            "verdict": season_texts.VERDICT_TABLE[each.verdict],
            "weight_kg": cell(each.weight_kg, "kg", 2),
            "compared_kg": cell(each.compared_kg, "kg", 2),
            "low_kg": cell(each.low_kg, "kg", 1),
            "high_kg": cell(each.high_kg, "kg", 1),
            "picked": each.trees_picked,
            "none": each.trees_none,
            "stripped": each.trees_stripped,
            "missing": each.trees_not_recorded,
            "per_tree_kg": cell(each.kg_per_bearing_tree, "kg", 1),
            "per_cm2": cell(each.kg_per_cm2, "kg/cm²", 3),
            "fruit": each.fruit_count,
            "fruit_g": cell(each.mean_fruit_g, "g", 0),
            "graded_kg": cell(each.graded_out_kg, "kg", 1),
            "causes": ", ".join(shown(cause) for cause in each.causes),
            "days": each.picking_days,
            "first": each.first_pick.isoformat() if each.first_pick else "",
            "last": each.last_pick.isoformat() if each.last_pick else "",
            "window": each.window_days,
            "cumulative_kg": cell(each.cumulative_kg, "kg", 1),
            "others": each.others,
        }
        for each in every
        if kind(each) != "not recorded" or each.trees_not_recorded
    ]
