"""Before planting: will a kind of tree do at a place, and what would fill weeks without fruit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from dashboard import measures, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.on_paper import on_paper
from dashboard.components.pieces import aria
from dashboard.data import ClimateFit, HarvestError, Scenario, kinds_to_plant
from dashboard.entries import reason_of
from dashboard.figures.planting import chill_figure, weeks_figure
from dashboard.measures import filled, retold
from dashboard.source import Source
from dashboard.texts import planting as words
from dashboard.views.planting import (
    Asked,
    asked_of,
    best_of,
    gap_span,
    joined,
    range_words,
    rank_rows,
    scenario_of,
    scenario_rows,
    share_words,
    shown_day,
    span_words,
)
from dashboard.words import count, day, listing, percent, shown

GAPS, GAPS_ASKED, GAPS_SHOW = "planting-gaps", "planting-gaps-asked", "planting-gaps-show"
BEST_IN_SENTENCE, LINKS = 3, 12
CHILL_SIGNS: pieces.Signs = (
    ("ripe", words.KEY_WINTER),
    ("band80", words.KEY_NEED),
    ("line-middle", words.KEY_SAFE),
)
WARMER_SIGNS: pieces.Signs = (
    ("ripe", words.KEY_WINTER_WARMER),
    ("winter-plain", words.KEY_WINTER),
    *CHILL_SIGNS[1:],
)
WEEK_SIGNS: pieces.Signs = (
    ("band80", words.KEY_BLOOM),
    ("band50", words.KEY_RIPE),
    ("median", words.KEY_MIDDLE),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    asked = _asked(source, view, as_of)
    if asked is None:
        return pieces.page(texts.PAGE_TITLES["planting"], pieces.answer(words.NO_SITE))
    head = (_form(source, asked, view, as_of), _warmer(asked, view))
    if asked.refused:
        refused = pieces.answer(words.BAD_COORDINATES)
        return pieces.page(texts.PAGE_TITLES["planting"], refused, head[0])
    try:
        fits = source.climate_fit(as_of, asked.place, asked.species, asked.cultivar)
    except HarvestError as error:
        refused = pieces.answer(reason_of(error))
        return pieces.page(texts.PAGE_TITLES["planting"], refused, head[0])
    fit = fits[0] if asked.cultivar else next(each for each in fits if not each.cultivar)
    return pieces.page(
        texts.PAGE_TITLES["planting"],
        pieces.answer(*sentences(fits, asked)),
        *head,
        None if asked.cultivar else _ranking(fits, asked, view),
        _facts(fit, asked),
        *_pictures(source, fit, asked, as_of),
        *_scenarios(fit),
        _gaps(asked, view),
    )


def connect(app: Dash, source: Source) -> None:
    """Work out the weeks without fruit when they are asked for."""

    @app.callback(
        Output(GAPS, "children"),
        Input(GAPS_SHOW, "n_clicks"),
        State(GAPS_ASKED, "data"),
        prevent_initial_call=True,
    )
    def work_out(_: int | None, search: str) -> Any:
        return gaps_found(source, search)


def _asked(source: Source, view: View, as_of: date) -> Asked | None:
    trees = source.overview(as_of).trees
    grown = list(zip(trees["site"].astype(str), trees["species"].astype(str), strict=True))
    records = source.records(as_of)
    sites = [str(name) for name in records.sites["site"]]
    return asked_of(view, sites, grown, kinds_to_plant(), set(records.weather["site"]))


def _form(source: Source, asked: Asked, view: View, as_of: date) -> Component:
    """What to plant and where, sent as an address like any other."""
    kinds, sites = kinds_to_plant(), [str(name) for name in source.records(as_of).sites["site"]]
    of_species = [{"value": name, "label": name} for name in sorted(kinds[asked.species])]
    chosen = [
        dmc.Select(label=words.SITE, name="site", value=asked.site, allowDeselect=False,
                   data=[{"value": name, "label": shown(name)} for name in sites]),
        dmc.Select(label=words.SPECIES, name="plant", value=asked.species, searchable=True,
                   allowDeselect=False,
                   data=[{"value": name, "label": name} for name in sorted(kinds)]),
        dmc.Select(label=words.CULTIVAR, name="plant_cultivar", value=asked.cultivar,
                   searchable=True, clearable=True, placeholder=words.ANY_CULTIVAR,
                   data=of_species),
    ]  # fmt: skip
    kept = {"as_of": view.as_of.isoformat() if view.as_of else "", "warmer": asked.warming}
    return html.Form(
        [
            html.Div(chosen, className="planting-what"),
            html.Details(
                [
                    html.Summary(words.ELSEWHERE),
                    html.P(words.ELSEWHERE_NOTE, className="quiet"),
                    html.Div(
                        [
                            dmc.TextInput(label=label, name=name, value=value)
                            for label, name, value in (
                                (words.LATITUDE, "lat", view.choice("lat") or ""),
                                (words.LONGITUDE, "lon", view.choice("lon") or ""),
                            )
                        ],
                        className="planting-what",
                    ),
                ],
                open=view.choice("lat") is not None,
            ),
            *(dcc.Input(type="hidden", name=name, value=value) for name, value in kept.items()
              if value),
            html.Button(words.SHOW, type="submit", className="choice"),
        ],
        method="GET",
        className="planting-form",
        **aria(label=words.FORM_LABEL),
    )  # fmt: skip


def _warmer(asked: Asked, view: View) -> Component:
    return html.Nav(
        [
            html.Span(words.WARMER_LABEL),
            *(
                dcc.Link(
                    filled(name),
                    href=view.choosing(warmer=by if by != "0" else None).search() or "?",
                    className="choice chosen" if by == asked.warming else "choice",
                )
                for by, name in words.WARMER.items()
            ),
        ],
        className="switch planting-warmer",
        **aria(label=words.WARMER_LABEL),
    )


def sentences(fits: Sequence[ClimateFit], asked: Asked) -> list[str]:
    """Whether it will do, or which cultivars of the species do best."""
    if asked.cultivar:
        return _one(fits[0], asked)
    best = best_of(fits, asked.warming)
    if not best:
        return [words.ANSWER_BEST_NONE.format(species=asked.species)]
    told = [
        words.ANSWER_BEST_ONE.format(
            cultivar=fit.cultivar,
            share=percent(share.share),
            low=percent(share.low),
            high=percent(share.high),
        )
        for fit, share in best[:BEST_IN_SENTENCE]
    ]
    return [
        words.ANSWER_BEST.format(
            count=len(best), species=asked.species, place=shown(asked.place_words, 60),
            years=_years(fits[0]), warmed=_warmed(asked), best=listing(told),
        )
    ]  # fmt: skip


def _one(fit: ClimateFit, asked: Asked) -> list[str]:
    at = scenario_of(fit, asked.warming)
    what, place = _what(fit), shown(asked.place_words, 60)
    if at is None:
        why = words.UNKNOWN_YEARS
        return [words.ANSWER_UNKNOWN.format(what=what, place=place, why=why)]
    said = [words.ANSWER_UNKNOWN.format(what=what, place=place, why=words.UNKNOWN_CHILL)]
    if at.all_well is not None:
        share = at.all_well
        said = [
            words.ANSWER.format(
                what=what, place=place, share=percent(share.share), low=percent(share.low),
                high=percent(share.high), years=_years(fit), warmed=_warmed(asked),
            )
        ]  # fmt: skip
    if at.bloom is not None and at.ripe is not None:
        said.append(
            words.ANSWER_DATES.format(
                bloom=shown_day(at.bloom.middle), bloom_span=span_words(at.bloom),
                ripe=shown_day(at.ripe.middle), ripe_span=span_words(at.ripe),
            )
        )  # fmt: skip
    return said


def _what(fit: ClimateFit) -> str:
    name = f"{fit.species} {fit.cultivar}".strip()
    return name[:1].upper() + name[1:]


def _years(fit: ClimateFit) -> str:
    return count(fit.years, words.YEARS_ONE, words.YEARS_MANY)


def _warmed(asked: Asked) -> str:
    return (
        ""
        if asked.warming == "0"
        else words.WARMED.format(by=measures.said(float(asked.warming), "°C warmer", 0))
    )


def _ranking(fits: Sequence[ClimateFit], asked: Asked, view: View) -> Component:
    best = best_of(fits, asked.warming)[:LINKS]
    links = [
        dcc.Link(
            fit.cultivar,
            href=view.choosing(plant=asked.species, plant_cultivar=fit.cultivar).search(),
            className="choice",
        )
        for fit, _ in best
    ]
    title = words.RANK_TITLE.format(species=asked.species)
    rows = rank_rows(fits, asked.warming)
    table = pieces.table(rows, words.RANK_COLUMNS, "ranking", title)
    printed = on_paper(rows, {n: words.RANK_COLUMNS[n] for n in words.RANK_PRINTED}, title)
    if not links:
        return html.Div([table, printed])
    nav = html.Nav(links, className="switch others-list", **aria(label=words.RANK_LINKS))
    offered = pieces.section(words.RANK_LINKS, nav, table)
    return html.Div([html.Div(offered, className="no-print"), printed])


def _facts(fit: ClimateFit, asked: Asked) -> Component:
    at = scenario_of(fit, asked.warming)
    rows = _numbers(fit, at) if at is not None else []
    if not asked.place.is_site:
        partners = words.PARTNERS_ELSEWHERE
    elif not fit.cultivar:
        partners = words.PARTNERS_SPECIES
    else:
        partners = listing([shown(name, 60) for name in fit.partners]) or words.PARTNERS_NONE
    notes = [*fit.notes, *fit.sources, words.PROMISE]
    return pieces.section(
        f"{words.FACTS_TITLE}: {_what(fit)}{_warmed(asked)}",
        pieces.facts([*rows, (words.FACT_PARTNERS, partners)]),
        html.Details(
            [html.Summary(words.NOTES_TITLE), html.Ul([html.Li(retold(note)) for note in notes])],
            className="fold",
            open=True,
        ),
    )


def _numbers(fit: ClimateFit, at: Scenario) -> list[tuple[pieces.Node, pieces.Node]]:
    chill = filled(words.CHILL_SAID).format(
        portions=round(at.portions_safe), hours=round(at.hours_safe),
        median=round(at.portions_median), need=_need(fit),
    )  # fmt: skip
    if at.chill_met is not None and at.chill_met_range is not None:
        low, high = at.chill_met_range
        said = words.CHILL_MET.format(
            share=share_words(at.chill_met), low=percent(low), high=percent(high)
        )
        chill = f"{chill} {said}"
    frost = words.FROST_UNKNOWN
    if at.frost_tenth is not None:
        frost = filled(words.FROST_SAID).format(
            tenth=share_words(at.frost_tenth), most=share_words(at.frost_most)
        )
    bloom = ripe = words.UNKNOWN
    if at.bloom is not None:
        bloom = words.BLOOM_SAID.format(
            early=shown_day(at.bloom.early), late=shown_day(at.bloom.late),
            middle=shown_day(at.bloom.middle),
        )  # fmt: skip
    if at.ripe is not None:
        ripe = filled(words.RIPE_SAID).format(
            share=share_words(at.ripens), early=shown_day(at.ripe.early),
            late=shown_day(at.ripe.late), middle=shown_day(at.ripe.middle),
        )  # fmt: skip
    return [
        (words.FACT_CHILL, chill),
        (words.FACT_FROST, frost),
        (words.FACT_BLOOM, bloom),
        (words.FACT_RIPE, ripe),
    ]


def _need(fit: ClimateFit) -> str:
    portions, hours = fit.chill_portions, fit.chill_hours
    if portions is not None and portions[1] == 0:
        return words.NEED_NONE
    if portions is not None and hours is not None:
        return words.NEED_BOTH.format(portions=range_words(portions), hours=range_words(hours))
    if portions is not None:
        return words.NEED_PORTIONS.format(need=range_words(portions))
    return words.NEED_HOURS.format(need=range_words(hours)) if hours else words.NEED_UNKNOWN


def _pictures(source: Source, fit: ClimateFit, asked: Asked, as_of: date) -> list[Component]:
    if not fit.scenarios:
        return []
    winters = source.winter_chill(as_of, asked.place)
    plain = winters[0]
    now = next(each for each in winters if each.warming_c == float(asked.warming))
    at = scenario_of(fit, asked.warming) or fit.scenarios[0]
    warmer = asked.warming != "0"
    southern = source.southern(as_of, asked.place)
    start = date(as_of.year, 4 if southern else 10, 1)
    drawn = [
        (words.PORTIONS, now.portions, plain.portions, fit.chill_portions, at.portions_safe),
        (filled(words.HOURS), now.hours, plain.hours, fit.chill_hours, at.hours_safe),
    ]
    # The measure in which the need is known; both where it is known in both, or in neither.
    if fit.chill_portions is not None and fit.chill_hours is None:
        drawn = drawn[:1]
    made = []
    for number, (unit, chill, as_was, need, safe) in enumerate(drawn):
        caption = words.CHILL_CAPTION if need else words.CHILL_CAPTION_NONE
        made.append(
            pieces.picture(
                chill_figure(now.seasons, chill, as_was if warmer else None, need, safe, unit),
                caption.format(start=day(start, start), what=_what(fit)),
                WARMER_SIGNS if warmer else CHILL_SIGNS,
                f"chill-{number}",
                label=words.CHILL_LABEL.format(unit=unit),
            )
        )
    weeks = pieces.picture(
        weeks_figure(fit, southern), words.WEEKS_CAPTION, WEEK_SIGNS, "weeks",
        label=words.WEEKS_LABEL,
    )  # fmt: skip
    return [pieces.section(words.CHILL_TITLE, *made), pieces.section(words.WEEKS_TITLE, weeks)]


def _scenarios(fit: ClimateFit) -> list[Component]:
    """The figures of the years and of warmer ones, for the screen and for paper."""
    told = scenario_rows(fit), words.SCENARIO_COLUMNS
    return [pieces.table(*told, "warmer", words.SCENARIO_TITLE),
            on_paper(*told, words.SCENARIO_TITLE)]  # fmt: skip


def _gaps(asked: Asked, view: View) -> Component:
    part = pieces.section(
        words.GAPS_TITLE.format(site=shown(asked.site)),
        dcc.Store(id=GAPS_ASKED, data=view.but(site=asked.site).search()),
        dcc.Loading(
            html.Div(
                html.Button(words.GAPS_SHOW, id=GAPS_SHOW, type="button", className="choice"),
                id=GAPS,
            )
        ),
    )
    return html.Div(part, className="planting-gaps")


def gaps_found(source: Source, search: str) -> list[Component]:
    """The weeks without fruit at the site of an address, and what would fill them."""
    view = source.view(search)
    try:
        weeks = source.fill_gaps(view.as_of or source.home_date(), view.site or "")
    except HarvestError as error:
        return [html.P(words.GAPS_FAILED.format(reason=reason_of(error)))]
    lines = [
        html.Li(
            words.GAPS_LINE.format(
                weeks=gap_span(gap),
                names=listing(gap.names, words.MOST_FILL) or words.GAPS_NOTHING,
            )
        )
        for gap in joined(weeks)
    ]
    if not lines:
        return [html.P(words.GAPS_NONE)]
    return [html.Ul(lines), html.P(words.GAPS_NOTE, className="quiet")]
