"""Parts of the page of seasons, each made when its fold is opened."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from dash import html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import GroupSeason
from dashboard.figures import yields as pictures
from dashboard.measures import cell, filled
from dashboard.source import Source
from dashboard.texts import seasons as season_texts
from dashboard.views.crops import Foreseen, GroupRow, came_inside, foreseen, group_rows
from dashboard.views.trees import grouping, trees_kept
from dashboard.words import count, listing, percent, shown

MOST_ROWS = 60
FORESEEN_SEASONS = 3


@dataclass(frozen=True)
class Asked:
    """What a part is made from."""

    source: Source
    view: View
    as_of: date
    trees: frozenset[str] | None

    def rows(self, by: str) -> list[GroupRow]:
        """Seasons added up by something."""
        return group_rows(self.source.yields_by(self.as_of, by, self.trees))

    def by_site(self, by: str) -> Iterator[tuple[str, float, list[GroupRow]]]:
        """Name, latitude [deg] and picked groups of each site that has any."""
        trees = self.source.overview(self.as_of).trees
        sites = trees.drop_duplicates("site").sort_values("site")
        for site, latitude in zip(sites["site"], sites["latitude"], strict=True):
            names = frozenset(trees.loc[trees["site"] == site, "tree"])
            names = names if self.trees is None else names & self.trees
            rows = group_rows(self.source.yields_by(self.as_of, by, names))
            rows = [row for row in rows if any(each.first_pick for each in row.seasons)]
            if rows:
                yield site, latitude, rows


Part = Callable[[Asked], list[Component]]


def asked(source: Source, search: str | None) -> Asked:
    """What an address asks about."""
    view = source.view(search)
    as_of = view.as_of or source.home_date()
    return Asked(source, view, as_of, trees_kept(source, view, as_of))


def _since_planting(ask: Asked) -> list[Component]:
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
                    "kg": cell(point.kg_per_tree, "kg", 1),
                    "trees": point.trees,
                }
                for point in points
            ],
            season_texts.SINCE_COLUMNS,
            "since",
            texts.TABLE_TITLE,
        ),
    ]


def _by_trunk(ask: Asked) -> list[Component]:
    points = ask.source.yield_pictures(ask.as_of, ask.trees).by_trunk
    if not points:
        return []
    lines = listing(f"{each:g}" for each in pictures.trunk_lines())
    signs = (
        ("ripe", season_texts.KEY_TRUNK_NOW),
        ("trunk-then", season_texts.KEY_TRUNK_THEN),
        ("trunk-line", filled(season_texts.KEY_TRUNK_LINE).format(lines=lines)),
    )
    return [
        pieces.picture(pictures.trunk_figure(points), season_texts.TRUNK_CAPTION, signs, "trunk"),
        pieces.table(
            [
                {
                    "tree": shown(point.tree),
                    "cultivar": shown(point.cultivar),
                    "season": point.season,
                    "tcsa_cm2": cell(point.tcsa_cm2, "cm²", 1),
                    "weight_kg": cell(point.weight_kg, "kg", 2),
                    "per_cm2": cell(point.weight_kg / point.tcsa_cm2, "kg/cm²", 3),
                    "girth_date": point.girth_date.isoformat(),
                }
                for point in sorted(points, key=lambda each: (-each.season, each.tree))
            ],
            season_texts.TRUNK_COLUMNS,
            "trunk",
            texts.TABLE_TITLE,
        ),
    ]


def _graded_out(ask: Asked) -> list[Component]:
    seasons = [each for row in ask.rows("orchard") for each in row.seasons if each.causes]
    if not seasons:
        return []
    by_season = {each.season: each.causes for each in seasons}
    season = max(by_season)
    so_far = "" if seasons[-1].complete else season_texts.SO_FAR
    before = [causes for each, causes in by_season.items() if each != season]
    sums: dict[str, float] = defaultdict(float)
    for causes in before:
        for cause, kg in causes.items():
            sums[cause] += kg / len(before)
    caption = season_texts.GRADED_CAPTION if before else season_texts.GRADED_CAPTION_ONE
    signs = (("ring", season_texts.KEY_GRADED_MEAN),)
    return [
        pieces.picture(
            pictures.graded_figure(by_season[season], sums),
            filled(caption).format(season=season, so_far=so_far, others=len(before)),
            signs if before else (),
            "graded",
        ),
        pieces.table(
            [
                {"season": each, "cause": shown(cause), "kg": cell(kg, "kg", 2)}
                for each in sorted(by_season, reverse=True)
                for cause, kg in sorted(by_season[each].items(), key=lambda item: -item[1])
            ],
            season_texts.GRADED_COLUMNS,
            "graded",
            texts.TABLE_TITLE,
        ),
    ]


def _kinds(ask: Asked) -> str:
    """Dates and fruit of unlike kinds say nothing together."""
    return "tree" if grouping(ask.view) == "tree" else "cultivar"


def _dates(ask: Asked) -> list[Component]:
    signs = (("crop-picked", season_texts.KEY_DATES_NOW),
             ("band80", season_texts.KEY_DATES_USUAL))  # fmt: skip
    parts: list[Component] = []
    cells: list[dict[str, object]] = []
    for number, (site, latitude, rows) in enumerate(ask.by_site(_kinds(ask))):
        one = len(rows) == 1
        caption = season_texts.DATES_CAPTION_ONE if one else season_texts.DATES_CAPTION
        name = f"dates-{number}" if number else "dates"
        parts += [
            html.H3(html.Bdi(shown(site))),
            pieces.picture(
                pictures.dates_figure(rows[:MOST_ROWS], southern=latitude < 0),
                caption,
                signs[:1] if one else signs,
                name,
                label=f"{season_texts.DATES_TITLE}: {shown(site)}",
                explained=number == 0 or one,
            ),
        ]
        cells += [_date_cells(each, site) for row in rows for each in reversed(row.seasons)]
    if not parts:
        return []
    known = [row for row in cells if row["first"]]
    return [*parts, pieces.table(known, season_texts.DATES_COLUMNS, "dates", texts.TABLE_TITLE)]


def _date_cells(season: GroupSeason, site: str) -> dict[str, object]:
    return {
        "name": shown(season.name),
        "site": shown(site),
        "season": season.season,
        "first": season.first_pick.isoformat() if season.first_pick else "",
        "last": season.last_pick.isoformat() if season.last_pick else "",
        "window": season.window_days,
        "days": season.picking_days,
    }


def _fruit(ask: Asked) -> list[Component]:
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
                    "fruit_g": cell(each.mean_fruit_g, "g", 1),
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


def _foreseen(ask: Asked) -> list[Component]:
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
    signs = (
        ("ripe", season_texts.KEY_FORESEEN_IN),
        ("logged-out", season_texts.KEY_FORESEEN_OUT),
        ("middle-line", season_texts.KEY_FORESEEN_LINE),
    )
    bare = sum(not pictures.drawn(row) for row in rows)
    zero = season_texts.FORESEEN_ZERO.format(count=_crops(bare)) if bare else ""
    return [
        html.P(foreseen_sentence(foreseen(rows)), className="second-answer"),
        html.P(season_texts.FORESEEN_NOTE, className="quiet"),
        pieces.picture(
            pictures.foreseen_figure(rows), season_texts.FORESEEN_CAPTION + zero, signs, "foreseen"
        ),
        pieces.table(
            [
                {
                    "tree": shown(row.tree),
                    "cultivar": shown(row.cultivar),
                    "season": row.season,
                    "low": cell(row.kg[0.1], "kg", 1),
                    "median": cell(row.kg[0.5], "kg", 1),
                    "high": cell(row.kg[0.9], "kg", 1),
                    "picked": cell(row.picked_kg, "kg", 1),
                    "inside": texts.YES if came_inside(row) else texts.NO,
                    "own": row.own_seasons,
                    "own_mean": cell(row.own_mean_kg, "kg", 1),
                    "as_of": row.as_of.isoformat(),
                }
                for row in sorted(rows, key=lambda each: (-each.season, each.tree))
            ],
            season_texts.FORESEEN_COLUMNS,
            "foreseen",
            texts.TABLE_TITLE,
        ),
    ]


def foreseen_sentence(found: Foreseen) -> str:
    """What forecasts of past crops were worth: their range, their middle, and a plain guess."""
    ends = {"first": found.seasons[0], "last": found.seasons[-1]}
    one = len(found.seasons) == 1
    text = season_texts.FORESEEN_ANSWER.format(
        crops=_crops(found.crops),
        seasons=(season_texts.FORESEEN_SEASON if one else season_texts.FORESEEN_SEASONS).format(
            **ends
        ),
        inside=found.inside,
        share=percent(found.inside / found.crops),
        range_was=season_texts.FORESEEN_RANGE[found.range_was],
    )
    if found.missed is not None:
        guess = found.guess_missed
        text += season_texts.FORESEEN_MISSED.format(
            missed=percent(found.missed),
            guess=""
            if guess is None
            else season_texts.FORESEEN_GUESS.format(missed=percent(guess)),
        )
    if found.middle_was is not None:
        text += season_texts.FORESEEN_MIDDLE[found.middle_was].format(
            above=found.above, count=found.crops
        )
    return text


def _crops(number: int) -> str:
    return count(number, season_texts.CROP_ONE, season_texts.CROP_MANY)


PARTS: dict[str, tuple[str, Part]] = {
    "since": (season_texts.SINCE_TITLE, _since_planting),
    "trunk": (season_texts.TRUNK_TITLE, _by_trunk),
    "graded": (season_texts.GRADED_TITLE, _graded_out),
    "dates": (season_texts.DATES_TITLE, _dates),
    "fruit": (season_texts.FRUIT_TITLE, _fruit),
    "foreseen": (season_texts.FORESEEN_TITLE, _foreseen),
}
