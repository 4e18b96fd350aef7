"""The pictures of the picking page: windows by site, seasons as bands, what is picked already."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.figures.season_bands import season_figure
from dashboard.figures.windows import MOST_ROWS, windows_figure
from dashboard.views.windows import Window
from dashboard.words import shown

WEEKS_AHEAD = 4
SIGNS = (
    ("band80", texts.KEY_RANGE_80),
    ("band50", texts.KEY_RANGE_50),
    ("median", texts.KEY_MEDIAN),
    ("ripe", texts.KEY_RIPE),
    ("pick", texts.KEY_PICK),
    ("period", texts.KEY_PERIOD),
    ("as-of", texts.KEY_AS_OF),
    ("blocked", texts.KEY_BLOCKED),
)
SIGNS_OVER = SIGNS[3:-1]
SEASON_SIGNS = (
    ("in-bloom", texts.KEY_BLOOM),
    ("period", texts.KEY_GROWTH),
    *SIGNS[:2],
    *SIGNS[3:5],
    SIGNS[6],
)


def pictures(rows: Sequence[Window], view: View, as_of: date) -> list[Component]:
    """One picture per site, first the site with most to pick in the coming weeks."""
    soon = as_of + timedelta(weeks=WEEKS_AHEAD)
    by_site: dict[str, list[Window]] = defaultdict(list)
    for row in rows:
        by_site[row.site].append(row)
    ordered = sorted(by_site.items(), key=lambda item: -sum(row.when <= soon for row in item[1]))
    return [
        pieces.section(
            texts.PICTURE_TO_COME.format(site=shown(site)),
            _picture(found, view, as_of, str(number), explained=number == 0),
        )
        for number, (site, found) in enumerate(ordered)
    ]


def _picture(
    rows: Sequence[Window], view: View, as_of: date, name: str, *, explained: bool = True
) -> Component:
    of = texts.ROW_TREES if view.rows == "trees" else texts.ROW_CULTIVARS
    caption = texts.WINDOW_CAPTION.format(row=of)
    if len(rows) > MOST_ROWS:
        caption += " " + texts.MORE_ROWS.format(shown=MOST_ROWS, total=len(rows))
    figure = windows_figure(rows, as_of)
    title = texts.PICTURE_OF_SITE.format(site=shown(rows[0].site))
    return pieces.picture(figure, caption, SIGNS, name, label=title, explained=explained)


def trees_of(rows: Sequence[Window], view: View) -> Component | None:
    """Every cultivar of several trees, each a way to its trees one by one."""
    several = [row for row in rows if not row.single and len(row.trees) > 1]
    if not several:
        return None
    return html.Details(
        [
            html.Summary(texts.EXPAND_TITLE),
            html.Nav(
                [
                    dcc.Link(
                        texts.EXPAND.format(name=shown(row.name), trees=len(row.trees)),
                        href=view.but(site=row.site, cultivar=row.cultivar, rows="trees").search(),
                        className="choice",
                    )
                    for row in several
                ],
                className="switch others-list",
                **aria(label=texts.EXPAND_TITLE),
            ),
        ],
        className="fold",
    )


def season_bands(rows: Sequence[Window], as_of: date) -> Component | None:
    """Bloom, fruit growth and picking of everything on one axis, a picture for each site."""
    if not rows:
        return None
    by_site: dict[str, list[Window]] = defaultdict(list)
    for row in sorted(rows, key=lambda each: (each.when, each.name.casefold())):
        by_site[row.site].append(row)
    return html.Details(
        [
            html.Summary(texts.SEASON_BANDS_TITLE),
            *(
                html.Div(
                    [
                        html.H3(shown(site)),
                        pieces.picture(
                            season_figure(found, as_of),
                            texts.SEASON_BANDS_CAPTION,
                            SEASON_SIGNS,
                            f"season-{number}",
                            label=texts.SEASON_BANDS_LABEL.format(site=shown(site)),
                            explained=number == 0,
                        ),
                    ]
                )
                for number, (site, found) in enumerate(by_site.items())
            ),
        ],
        className="fold",
    )


def picked_already(rows: Sequence[Window], as_of: date) -> Component | None:
    """What is over this season, folded away."""
    if not rows:
        return None
    by_site: dict[str, list[Window]] = defaultdict(list)
    for row in rows:
        by_site[row.site].append(row)
    return html.Details(
        [
            html.Summary(f"{texts.PICTURE_OVER} ({len(rows)})"),
            *(
                html.Div(
                    [
                        html.H3(shown(site)),
                        pieces.picture(
                            windows_figure(found, as_of),
                            texts.OVER_CAPTION,
                            SIGNS_OVER,
                            f"over-{number}",
                            explained=number == 0,
                        ),
                    ]
                )
                for number, (site, found) in enumerate(by_site.items())
            ),
        ],
        className="fold",
    )
