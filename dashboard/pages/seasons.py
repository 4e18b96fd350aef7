"""Was this season better: kilograms season by season, and forecasts beside what came."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import date

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboard import ids, texts
from dashboard.address import View, view_of_search
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.data import SeasonYield, Source, season_label
from dashboard.figures.crops import crops_figure, totals_figure
from dashboard.figures.hindsight import misses_figure, seasons_figure
from dashboard.views.crops import (
    CropCell,
    SeasonTotal,
    crop_cells,
    season_totals,
    seasons_shown,
    usual_swing,
    verdict,
)
from dashboard.views.hindsight import Miss, Score, by_cultivar, misses, score
from dashboard.words import count, day, kilograms, percent, shown

CROPS, HINDSIGHT = "kilograms", "forecast-and-what-came"
MOST_SEASONS = 12
TOTAL_SIGNS = (
    ("crop-picked", texts.KEY_TOTAL),
    ("crop-running", texts.KEY_RUNNING_TOTAL),
)
CROP_SIGNS = (
    ("crop-picked", texts.CROP_NAMES["picked"]),
    ("crop-partly", texts.KEY_PARTLY),
    ("crop-stripped", texts.CROP_NAMES["stripped"]),
    ("crop-none", texts.CROP_NAMES["none"]),
    ("crop-unrecorded", texts.CROP_NAMES["not recorded"]),
    ("this-season", texts.KEY_RUNNING),
)
MISS_SIGNS = (
    ("band80", texts.KEY_RANGE_80),
    ("ripe", texts.KEY_LOGGED_IN),
    ("logged-out", texts.KEY_LOGGED_OUT),
    ("logged-beyond", texts.KEY_BEYOND),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    sites = source.overview(as_of).sites
    latitudes = dict(zip(sites["site"], sites["latitude"], strict=True))
    yields = view.keep(source.yields(as_of))
    totals = season_totals(yields)
    running = running_seasons(totals)
    return pieces.page(
        texts.PAGE_TITLES["seasons"],
        pieces.answer(*sentences(totals, running, latitudes, as_of)),
        _jumps(),
        _sites(yields, totals, running, latitudes),
        html.Div(
            [
                dcc.Store(id=ids.HINDSIGHT_ASKED, data=view.but(as_of=as_of).search()),
                html.Div(
                    pieces.section(_hindsight_title(), html.P(texts.HINDSIGHT_WORKING)),
                    id=ids.HINDSIGHT,
                ),
            ]
        ),
        pieces.table(
            _crop_rows(crop_cells(yields), latitudes),
            texts.CROP_COLUMNS,
            "crops",
            texts.TABLE_CROPS,
        ),
    )


def connect(app: Dash, source: Source) -> None:
    """The look back at past forecasts, which takes its time, comes after the rest of the page."""

    @app.callback(Output(ids.HINDSIGHT, "children"), Input(ids.HINDSIGHT_ASKED, "data"))
    def look_back(asked: str) -> Component:
        return hindsight(source, view_of_search(asked, source.latest_date()))


def hindsight(source: Source, view: View) -> Component:
    """Past forecasts beside what came: made after the page, as it takes longest."""
    as_of = view.as_of or source.home_date()
    sites = source.overview(as_of).sites
    latitudes = dict(zip(sites["site"], sites["latitude"], strict=True))
    return _hindsight(misses(view.keep(source.past_forecasts(as_of))), latitudes)


def running_seasons(totals: Sequence[SeasonTotal]) -> dict[str, int]:
    """Latest season of each site that has been picked from and in which more may be picked."""
    return {total.site: total.season for total in totals if total.picked and not total.complete}


def sentences(
    totals: Sequence[SeasonTotal],
    running: dict[str, int],
    latitudes: dict[str, float],
    as_of: date,
) -> list[str]:
    """For each site its latest season with a pick: kilograms, and whether that is better."""
    said = []
    for site in dict.fromkeys(total.site for total in totals):
        own = [total for total in totals if total.site == site]
        picked = [total for total in own if total.picked]
        if picked:
            said.append(_sentence(picked[-1], own, running, latitudes))
    return said or [texts.NO_YIELDS.format(date=day(as_of))]


def _sentence(
    total: SeasonTotal,
    own: Sequence[SeasonTotal],
    running: dict[str, int],
    latitudes: dict[str, float],
) -> str:
    swing = usual_swing(own, total.season)
    judged = verdict(total, swing)
    words = {
        "site": shown(total.site),
        "season": season_label(total.season, latitudes[total.site]),
        "so_far": texts.SO_FAR if running.get(total.site) == total.season else "",
        "weight": kilograms(total.weight_kg or 0.0),
        "trees": count(total.picked, texts.TREE_ONE, texts.TREE_MANY),
        "verdict": texts.VERDICTS[judged],
    }
    if total.against_usual is None or swing is None:
        return texts.SEASON_TOTAL_SHORT.format(**words)
    compared = texts.COMPARED_ALL
    if total.compared < total.picked:
        compared = texts.COMPARED_SOME.format(count=total.compared)
    return texts.SEASON_TOTAL.format(
        compared=compared,
        difference=_difference(total.against_usual),
        swing=percent(swing),
        **words,
    )


def _difference(share: float) -> str:
    if round(abs(share) * 100) == 0:
        return texts.DIFFERENCE_NONE
    template = texts.DIFFERENCE_MORE if share > 0 else texts.DIFFERENCE_LESS
    return template.format(share=percent(abs(share)))


def _jumps() -> Component:
    """Links to the parts of a long page."""
    return html.Nav(
        [
            html.A(texts.JUMP_CROPS, href=f"#{CROPS}", className="choice"),
            html.A(texts.JUMP_HINDSIGHT, href=f"#{HINDSIGHT}", className="choice"),
        ],
        className="switch",
        **aria(label=texts.JUMP_LABEL),
    )


def _sites(
    yields: Sequence[SeasonYield],
    totals: Sequence[SeasonTotal],
    running: dict[str, int],
    latitudes: dict[str, float],
) -> Component:
    return html.Div(
        [
            _site(
                [item for item in yields if item.site == site],
                [total for total in totals if total.site == site],
                running.get(site),
                latitudes[site],
                str(number),
            )
            for number, site in enumerate(dict.fromkeys(total.site for total in totals))
        ],
        id=CROPS,
    )


def _site(
    yields: Sequence[SeasonYield],
    totals: Sequence[SeasonTotal],
    running: int | None,
    latitude: float,
    name: str,
) -> Component | None:
    """One site's seasons: all its kilograms, then each cultivar's."""
    seasons = seasons_shown(yields, MOST_SEASONS)
    if not seasons:
        return None
    labels = {season: season_label(season, latitude) for season in seasons}
    rows: dict[str, list[CropCell]] = defaultdict(list)
    for cell in crop_cells(yields):
        if cell.season in labels:
            rows[cell.cultivar].append(cell)
    caption = texts.CROPS_CAPTION
    if min(item.season for item in yields) < seasons[0]:
        caption += texts.CROPS_OLDER.format(season=labels[seasons[0]])
    return pieces.section(
        f"{texts.CROPS_TITLE}: {shown(yields[0].site)}",
        pieces.picture(
            totals_figure([total for total in totals if total.season in labels], labels, running),
            texts.TOTALS_CAPTION,
            TOTAL_SIGNS if len(rows) > 1 else (*TOTAL_SIGNS, *CROP_SIGNS[2:5]),
            f"totals-{name}",
        ),
        None
        if len(rows) == 1
        else pieces.picture(
            crops_figure(
                sorted(rows.items(), key=lambda item: item[0].casefold()), labels, running
            ),
            caption,
            CROP_SIGNS,
            f"crops-{name}",
        ),
    )


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


def _crop_rows(cells: Sequence[CropCell], latitudes: dict[str, float]) -> list[dict[str, object]]:
    return [
        {
            "cultivar": shown(cell.cultivar),
            "species": shown(cell.species),
            "site": shown(cell.site),
            "season": season_label(cell.season, latitudes[cell.site]),
            "crop": texts.CROP_NAMES[cell.crop],
            "weight_kg": None if cell.weight_kg is None else round(cell.weight_kg, 2),
            "picked": cell.picked,
            "trees": cell.trees,
            "missing": cell.missing,
        }
        for cell in sorted(cells, key=lambda cell: -cell.season)
    ]


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
