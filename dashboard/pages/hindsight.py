"""Forecasts of past seasons beside what came: made after the page, as it takes longest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboard import ids, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import season_label
from dashboard.figures.hindsight import misses_figure, seasons_figure
from dashboard.source import Source
from dashboard.views.hindsight import Miss, Score, by_cultivar, misses, score
from dashboard.words import percent, shown

HINDSIGHT = "forecast-and-what-came"
MISS_SIGNS = (
    ("band80", texts.KEY_RANGE_80),
    ("ripe", texts.KEY_LOGGED_IN),
    ("logged-out", texts.KEY_LOGGED_OUT),
    ("logged-beyond", texts.KEY_BEYOND),
)


def place(view: View) -> Component:
    """Where the look back appears; `view` names its date."""
    return html.Div(
        [
            dcc.Store(id=ids.HINDSIGHT_ASKED, data=view.search()),
            html.Div(
                pieces.section(_hindsight_title(), html.P(texts.HINDSIGHT_WORKING)),
                id=ids.HINDSIGHT,
            ),
        ]
    )


def connect(app: Dash, source: Source) -> None:
    """Fill the place once the page is there."""

    @app.callback(Output(ids.HINDSIGHT, "children"), Input(ids.HINDSIGHT_ASKED, "data"))
    def look_back(asked: str) -> Component:
        return hindsight(source, source.view(asked))


def hindsight(source: Source, view: View) -> Component:
    """Past forecasts beside what came."""
    as_of = view.as_of or source.home_date()
    sites = source.overview(as_of).sites
    latitudes = dict(zip(sites["site"], sites["latitude"], strict=True))
    return _hindsight(misses(view.keep(source.past_forecasts(as_of))), latitudes)


def _hindsight(found: Sequence[Miss], latitudes: dict[str, float]) -> Component:
    total = score(found)
    if total is None:
        return pieces.section(_hindsight_title(), html.P(texts.HINDSIGHT_NONE))
    one = len({miss.cultivar for miss in found}) == 1
    return pieces.section(
        _hindsight_title(),
        html.P(hindsight_sentence(total), className="second-answer"),
        *(_season_by_season(found, latitudes) if one else [_all_misses(found)]),
        pieces.table(
            _miss_rows(found, latitudes), texts.MISS_COLUMNS, "hindsight", texts.TABLE_HINDSIGHT
        ),
    )


def _all_misses(found: Sequence[Miss]) -> Component:
    """Every cultivar's past forecasts in days from their middle."""
    groups = by_cultivar(found)
    at_sites = Counter(name for name, _ in groups)
    figure = misses_figure(
        [
            (f"{shown(name, 22)} · {shown(site, 14)}" if at_sites[name] > 1 else name, rows)
            for (name, site), rows in groups.items()
        ]
    )
    return pieces.picture(figure, texts.HINDSIGHT_CAPTION_ALL, MISS_SIGNS, "hindsight")


def _season_by_season(found: Sequence[Miss], latitudes: dict[str, float]) -> list[Component]:
    """One cultivar's past forecasts by date, a picture for each site."""
    signs = (MISS_SIGNS[0], ("median", texts.KEY_MEDIAN), *MISS_SIGNS[1:3])
    made = []
    for number, ((_, site), rows) in enumerate(by_cultivar(found).items()):
        ordered = sorted(rows, key=lambda miss: (-miss.season, miss.tree))
        latitude = latitudes[site]
        labels = [f"{season_label(m.season, latitude)} · {shown(m.tree, 16)}" for m in ordered]
        name = f"hindsight-{number}" if number else "hindsight"
        made += [
            html.H3(shown(site)),
            pieces.picture(
                seasons_figure(ordered, labels, latitude),
                texts.HINDSIGHT_CAPTION_ONE,
                signs,
                name,
                label=f"{texts.HINDSIGHT_TITLE}: {shown(site)}",
                explained=number == 0,
            ),
        ]
    return made


def _hindsight_title() -> Component:
    return html.Span(texts.HINDSIGHT_TITLE, id=HINDSIGHT)


def hindsight_sentence(total: Score) -> str:
    """How far off past forecasts were, said with their number and no more than that allows."""
    text = texts.HINDSIGHT_ANSWER.format(
        count=total.count,
        error=f"{total.mean_error:.1f}",
        inside=total.inside,
        share=percent(total.inside / total.count),
        few=texts.HINDSIGHT_FEW if total.few else "",
    )
    if not total.few and abs(total.spread) > 2:
        text += texts.HINDSIGHT_WIDE if total.spread > 0 else texts.HINDSIGHT_NARROW
    if not total.few and abs(total.bias) >= 0.5:
        text += texts.HINDSIGHT_BIAS.format(
            days=f"{abs(total.bias):.1f}",
            direction=texts.LATER if total.bias > 0 else texts.EARLIER,
        )
    return text


def _miss_rows(found: Sequence[Miss], latitudes: dict[str, float]) -> list[dict[str, object]]:
    return [
        {
            "cultivar": shown(miss.cultivar),
            "tree": shown(miss.tree),
            "site": shown(miss.site),
            "season": season_label(miss.season, latitudes[miss.site]),
            "low": miss.first.isoformat(),
            "median": miss.median.isoformat(),
            "high": miss.last.isoformat(),
            "observed": miss.observed.isoformat(),
            "logged": miss.logged,
            "inside": texts.YES if miss.inside else texts.NO,
        }
        for miss in reversed(found)
    ]
