"""The crop still to come: kilograms per week and per tree, with their ranges."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import groupby

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboard import measures, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import CropEstimate, CropToCome, WeekCrop, season_label
from dashboard.figures.weeks import weeks_figure
from dashboard.measures import cell, kilograms, retold
from dashboard.source import Source
from dashboard.texts import seasons as season_texts
from dashboard.views.trees import trees_kept
from dashboard.words import count, listing, shown, span, week

AHEAD, AHEAD_ASKED = "crop-ahead", "crop-ahead-asked"
# Less than this is not told as a crop still to come [kg].
LEAST_KG = 0.05
MOST_GAPS, MOST_PARTS = 3, 4
SIGNS = (
    ("band80", season_texts.KEY_WEEK_SPAN),
    ("middle-line", season_texts.KEY_WEEK_MIDDLE),
    ("glut", season_texts.KEY_GLUT),
    ("empty", season_texts.KEY_EMPTY),
)


def place(view: View) -> Component:
    """Where the crop to come appears; `view` names its date."""
    return html.Div(
        [
            dcc.Store(id=AHEAD_ASKED, data=view.search()),
            html.Div(
                pieces.section(season_texts.AHEAD_TITLE, html.P(season_texts.WORKING)), id=AHEAD
            ),
        ]
    )


def connect(app: Dash, source: Source) -> None:
    """Fill the place once the page is there."""

    @app.callback(Output(AHEAD, "children"), Input(AHEAD_ASKED, "data"))
    def look_ahead(asked: str) -> Component:
        return crop_ahead(source, source.view(asked))


def crop_ahead(source: Source, view: View) -> Component:
    """What is still to be picked, site by site."""
    as_of = view.as_of or source.home_date()
    sites = source.overview(as_of).sites
    latitudes = dict(zip(sites["site"], sites["latitude"], strict=True))
    crops = source.crops_ahead(as_of, trees_kept(source, view, as_of))
    whole = [each for each in crops.sites if each.kg[0.9] >= LEAST_KG]
    coming_at = {each.site for each in whole}
    weeks, estimates = [each for each in crops.weeks if each.site in coming_at], crops.trees
    if not weeks:
        return pieces.section(season_texts.AHEAD_TITLE, html.P(season_texts.AHEAD_NONE))
    parts: list[Component] = []
    for number, (site, own) in enumerate(groupby(weeks, key=lambda each: each.site)):
        coming = list(own)
        parts += [
            html.H3(html.Bdi(shown(site))),
            html.P(
                sentence(
                    coming,
                    [each for each in whole if each.site == site],
                    latitudes[site],
                    as_of,
                ),
                className="second-answer",
            ),
            pieces.picture(
                weeks_figure(coming),
                season_texts.AHEAD_CAPTION,
                SIGNS,
                f"weeks-{number}",
                label=f"{season_texts.AHEAD_TITLE}: {shown(site)}",
                explained=number == 0,
            ),
        ]
    return pieces.section(
        season_texts.AHEAD_TITLE,
        *parts,
        pieces.table(
            _week_rows(weeks), season_texts.WEEK_COLUMNS, "weeks", season_texts.TABLE_WEEKS
        ),
        pieces.table(
            _tree_rows(estimates, latitudes),
            season_texts.TREE_COLUMNS,
            "crop-trees",
            season_texts.TABLE_TREES,
        ),
    )


def sentence(
    weeks: Sequence[WeekCrop], whole: Sequence[CropToCome], latitude: float, as_of: date
) -> str:
    """How much is still to come at a site, when most of it, and when nothing."""
    text = " ".join(
        season_texts.AHEAD_SITE.format(
            season=season_label(each.season, latitude),
            kg=kilograms(each.kg[0.5]),
            trees=count(each.trees, texts.TREE_ONE, texts.TREE_MANY),
            low=kilograms(each.kg[0.1]),
            high=kilograms(each.kg[0.9]),
        )
        for each in whole
    )
    most = max(weeks, key=lambda each: each.mean_kg)
    text += season_texts.AHEAD_GLUT.format(week=week(most.start, as_of), kg=kilograms(most.kg[0.5]))
    gaps = empty_spans(weeks)
    if gaps:
        told = [span(first, last, as_of) for first, last in gaps]
        text += season_texts.AHEAD_EMPTY.format(weeks=listing(told, MOST_GAPS))
    return text


def empty_spans(weeks: Sequence[WeekCrop]) -> list[tuple[date, date]]:
    """Runs of weeks in which nothing is to be picked, from their first to their last day."""
    found = []
    for empty, run in groupby(weeks, key=lambda each: each.load == "nothing"):
        if empty:
            inside = list(run)
            found.append((inside[0].start, inside[-1].start + timedelta(days=6)))
    return found


def _week_rows(weeks: Sequence[WeekCrop]) -> list[dict[str, object]]:
    return [
        {
            "site": shown(each.site),
            "week": each.start.isoformat(),
            "low": cell(each.kg[0.1], "kg", 1),
            "middle": cell(each.kg[0.5], "kg", 1),
            "high": cell(each.kg[0.9], "kg", 1),
            "load": season_texts.LOADS[each.load],
            "what": ", ".join(
                f"{shown(name)} {measures.number(kg, 'kg', 0)}"
                for name, kg in sorted(each.by_cultivar.items(), key=lambda item: -item[1])[
                    :MOST_PARTS
                ]
                if kg >= 0.5
            ),
        }
        for each in weeks
    ]


def _tree_rows(
    estimates: Sequence[CropEstimate], latitudes: dict[str, float]
) -> list[dict[str, object]]:
    return [
        {
            "tree": shown(each.tree),
            "cultivar": shown(each.cultivar),
            "site": shown(each.site),
            "season": season_label(each.season, latitudes[each.site]),
            "low": cell(each.kg[0.1], "kg", 1),
            "middle": cell(each.kg[0.5], "kg", 1),
            "high": cell(each.kg[0.9], "kg", 1),
            "picked": cell(each.picked_so_far_kg, "kg", 1),
            "seasons": each.basis.seasons,
            "trees": each.basis.trees,
            "alternation": each.basis.alternation,
            "warnings": retold(" ".join(each.warnings)),
        }
        for each in estimates
    ]
