"""How sure are these forecasts: every past season forecast anew, beside what came."""

from __future__ import annotations

from datetime import date
from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.data import Backtest, LeadScores
from dashboard.figures.how_sure import (
    error_figure,
    ranges_figure,
    reliability_figure,
    skill_figure,
)
from dashboard.source import Source
from dashboard.texts import how_sure as words
from dashboard.views.how_sure import (
    BLOOM_LEADS,
    RIPE_LEADS,
    Known,
    counted,
    event_of,
    known_of,
    lead_of,
    leads_of,
    scores_at,
    shares,
    sure,
    table_rows,
)
from dashboard.words import count, day, percent, redated

CONTENT = "how-sure"
ASKED = "how-sure-asked"
CLOCK = "how-sure-clock"
ASK_EVERY_MS = 4000
RANGE_SIGNS = (
    ("ripe", words.KEY_SHARE),
    ("line-right", words.KEY_RIGHT),
    ("past-range", words.KEY_CHANCE),
)
ERROR_SIGNS = (("ripe", words.KEY_ERROR), ("band80", words.KEY_HALF))
SKILL_SIGNS = (("band50", words.KEY_SKILL),)


def render(source: Source, view: View) -> Component:
    """The page; while the work is going on it says how far it is, and asks again."""
    known = _known(source, view)
    return pieces.page(
        texts.PAGE_TITLES["how_sure"],
        _leads(view),
        dcc.Store(id=ASKED, data=[view.search(), known.ended]),
        dcc.Interval(id=CLOCK, interval=ASK_EVERY_MS, disabled=not known.running),
        html.Div(content(known, view, view.as_of or source.home_date()), id=CONTENT),
    )


def connect(app: Dash, source: Source) -> None:
    """Ask how far the work is until it is done."""

    @app.callback(
        Output(CONTENT, "children"),
        Output(ASKED, "data"),
        Output(CLOCK, "disabled"),
        Input(CLOCK, "n_intervals"),
        State(ASKED, "data"),
        prevent_initial_call=True,
    )
    def go_on(_: int | None, asked: list[Any]) -> tuple[Any, Any, bool]:
        return further(source, *asked)


def further(source: Source, search: str, ended: int) -> tuple[Any, Any, bool]:
    """What has changed since `ended` leads had ended: content, what to ask next, and the end."""
    view = source.view(search)
    known = _known(source, view)
    if known.backtest is not None and known.ended == ended:
        return no_update, no_update, not known.running
    made = content(known, view, view.as_of or source.home_date())
    return made, [search, known.ended], not known.running


def _known(source: Source, view: View) -> Known:
    lead = lead_of(view)
    event = event_of(lead)
    return known_of(lead, {each: source.backtest(event, each) for each in leads_of(lead)})


def content(known: Known, view: View, as_of: date) -> list[Component]:
    """What is known so far: how far the work is, or what it found."""
    if known.backtest is None:
        if known.error is not None:
            return [pieces.answer(words.FAILED.format(error=known.error))]
        working = words.WORKING.format(share=percent(known.share))
        return [pieces.answer(working if known.share else words.WORKING_START)]
    notes = []
    if known.renewing:
        notes.append(words.RENEWING)
    elif known.running:
        notes.append(words.OTHERS_WORKING)
    those = counted(known.backtest, view, as_of)
    return [
        *found(those, lead_of(view), as_of, view.as_of is not None),
        *(html.P(note, className="quiet", role="status") for note in notes),
    ]


def found(those: Backtest, lead: str, as_of: date, earlier: bool) -> list[Component]:
    """Answer, pictures and table of some past forecasts."""
    scores = scores_at(those, words.LEAD_NAMES[lead])
    if scores is None:
        none = words.NONE if those.event == "ripe" else words.NONE_BLOOM
        return [pieces.answer(none)]
    told = [sentence(scores), conclusion(scores)]
    if earlier:
        told.append(words.EARLIER_VIEW.format(date=day(as_of)))
    return [
        pieces.answer(*told),
        *_pictures(those, scores),
        pieces.section(words.CONCLUDE_TITLE, *(html.P(line) for line in words.CONCLUDE)),
        pieces.section(
            words.PUBLISHED_TITLE,
            html.Ul([html.Li(line) for line in words.PUBLISHED[those.event]]),
            html.P(words.PUBLISHED_NOTE, className="quiet"),
        ),
        pieces.table(
            table_rows(those, words.SKILL_COLUMNS), words.COLUMNS, "how-sure", words.TABLE_TITLE
        ),
    ]


def sentence(scores: LeadScores) -> str:
    """How far off the forecasts were, and how often the date came inside the 80 % range."""
    wide = scores.interval_80
    return words.ANSWER[scores.event].format(
        lead=redated(scores.lead),
        error=f"{scores.mean_absolute_error_days:.1f}",
        hits=wide.hits,
        n=scores.n,
        share=percent(wide.hits / scores.n),
    )


def conclusion(scores: LeadScores) -> str:
    """What that does and does not show."""
    wide = shares(scores)[1]
    return words.SURE[sure(wide, scores.seasons)].format(
        seasons=count(scores.seasons, words.SEASON_ONE, words.SEASON_MANY),
        low=percent(wide.low),
        high=percent(wide.high),
    )


def _leads(view: View) -> Component:
    """The leads to choose from, those of ripe fruit and those of bloom."""
    chosen = lead_of(view)
    groups = ((words.EVENT_RIPE, RIPE_LEADS), (words.EVENT_BLOOM, BLOOM_LEADS))
    return html.Nav(
        [
            html.Div(
                [
                    html.Span(title),
                    *(
                        dcc.Link(
                            redated(words.LEAD_SHORT[lead]),
                            href=view.choosing(lead=lead).search(),
                            className="choice chosen" if lead == chosen else "choice",
                            title=redated(
                                words.SOUTH_NOTE if lead in BLOOM_LEADS else words.LEAD_NAMES[lead]
                            ),
                        )
                        for lead in leads
                    ),
                ],
                className="switch leads",
            )
            for title, leads in groups
        ],
        **aria(label=words.LEADS_LABEL),
    )


def _pictures(those: Backtest, scores: LeadScores) -> list[Component]:
    beaten = (
        pieces.picture(
            skill_figure(scores),
            words.SKILL_CAPTION,
            SKILL_SIGNS,
            "skill",
            label=words.SKILL_LABEL,
        )
        if scores.skill
        else html.P(words.SKILL_NONE)
    )
    return [
        pieces.section(
            words.RANGES_TITLE,
            pieces.picture(
                ranges_figure(shares(scores)),
                words.RANGES_CAPTION,
                RANGE_SIGNS,
                "ranges",
                label=words.RANGES_LABEL,
            ),
        ),
        pieces.section(
            words.ERROR_TITLE,
            pieces.picture(
                error_figure(those.leads),
                words.ERROR_CAPTION,
                ERROR_SIGNS,
                "error",
                label=words.ERROR_LABEL,
            ),
        ),
        pieces.section(words.SKILL_TITLE, beaten),
        pieces.section(
            words.RELIABILITY_TITLE,
            pieces.picture(
                reliability_figure(those.reliability(scores.lead)),
                words.RELIABILITY_CAPTION,
                RANGE_SIGNS,
                "reliability",
                label=words.RELIABILITY_LABEL,
            ),
        ),
    ]
