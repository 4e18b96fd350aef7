"""The form on the year's page that adds an item of one's own: for days, or by degree days."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, no_update
from dash.development.base_component import Component

from dashboard import ids
from dashboard.address import View, view_of_search
from dashboard.components import pieces
from dashboard.data import HeatSum, Records, kinds_at
from dashboard.measures import filled, metric_of
from dashboard.pages import marking
from dashboard.source import Source
from dashboard.texts import year as words
from dashboard.words import shown

ADD, SITE, WHAT_FOR = "year-add", "year-add-site", "year-add-for"
FIELDS = {
    "site": SITE, "title": "year-add-what", "what": WHAT_FOR, "first": "year-add-first",
    "last": "year-add-last", "sum": "year-add-sum", "base": "year-add-base",
    "upper": "year-add-upper", "from": "year-add-from", "event": "year-add-event",
    "why": "year-add-why",
}  # fmt: skip
MOST_CHOICES = 100


def form(source: Source, view: View) -> Component:
    """The form, folded away until asked for."""
    records = source.records(view.as_of or source.home_date())
    sites = [str(site) for site in records.sites["site"]]
    chosen = view.site if view.site in sites else next(iter(sites), None)
    about = [
        dmc.Select(id=SITE, label=words.ADD_SITE, value=chosen, allowDeselect=False,
                   data=_choices(sites)),
        dmc.TextInput(id=FIELDS["title"], label=words.ADD_WHAT),
        dmc.Select(
            id=WHAT_FOR, label=words.ADD_FOR, placeholder=words.ADD_ALL, searchable=True,
            clearable=True, limit=MOST_CHOICES, data=_kinds(records, chosen),
            clearButtonProps={"aria-label": words.ADD_ALL},
        ),
        dmc.TextInput(id=FIELDS["why"], label=words.ADD_WHY),
    ]  # fmt: skip
    days = [
        pieces.date_field(FIELDS["first"], words.ADD_FIRST),
        pieces.date_field(FIELDS["last"], words.ADD_LAST),
    ]
    heat = [
        dmc.NumberInput(id=FIELDS["sum"], label=filled(words.ADD_SUM), min=0),
        dmc.NumberInput(id=FIELDS["base"], label=filled(words.ADD_BASE)),
        dmc.NumberInput(id=FIELDS["upper"], label=filled(words.ADD_UPPER)),
        pieces.date_field(FIELDS["from"], words.ADD_FROM),
        dmc.TextInput(id=FIELDS["event"], label=words.ADD_EVENT),
    ]
    return html.Details(
        [
            html.Summary(words.ADD_TITLE),
            html.Div(about, className="year-add"),
            _group(words.ADD_DAYS, days),
            _group(words.ADD_HEAT, heat, words.ADD_HEAT_NOTE),
            html.Button(words.ADD, id=ADD, type="button", className="choice"),
        ],
        className="fold",
    )


def _group(title: str, fields: list[Component], note: str = "") -> Component:
    told = [html.P(note, className="quiet")] if note else []
    parts = [html.Legend(title), *told, html.Div(fields, className="year-add")]
    return html.Fieldset(parts, className="year-add-part")


def _choices(names: Iterable[str]) -> list[dict[str, str]]:
    return [{"value": name, "label": shown(name)} for name in names]


def _kinds(records: Records, site: str | None) -> list[dict[str, str]]:
    """What an item at a site can be for."""
    return [] if site is None else _choices(kinds_at(records.trees, site))


def connect(
    app: Dash,
    source: Source,
    page: str,
    parts: tuple[str, str],
    body: Callable[[Source, View], list[Component]],
) -> None:
    """Add what was typed; offer what stands at the site that was chosen.

    Parameters
    ----------
    parts : ids of the page's body and of where is told what was done. body : makes the body.
    """

    @app.callback(
        *(Output(part, "children", allow_duplicate=True) for part in parts),
        Input(ADD, "n_clicks"),
        *(State(part, "value") for part in FIELDS.values()),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def add(_: int | None, *given: Any) -> tuple[Any, Any]:
        view = view_of_search(given[-1], source.latest_date())
        typed = dict(zip(FIELDS, given[:-1], strict=True))
        outcome = adding(source, typed, view.as_of or source.home_date())
        made = no_update if outcome.batch is None else body(source, view)
        return made, marking.said_of(page, outcome)

    @app.callback(
        Output(WHAT_FOR, "data"),
        Output(WHAT_FOR, "value"),
        Input(SITE, "value"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def offer(site: str | None, search: str | None) -> tuple[Any, Any]:
        as_of = view_of_search(search, source.latest_date()).as_of or source.home_date()
        return _kinds(source.records(as_of), site), None


def adding(source: Source, typed: Mapping[str, Any], as_of: date) -> marking.Outcome:
    """Add what was typed, by the names of `FIELDS`; what is said of it."""
    given = {name: value for name, value in typed.items() if value not in (None, "")}
    heat = given.keys() & {"sum", "base", "upper", "from", "event"}
    if not given.keys() >= {"site", "title"} or not (heat or "first" in given):
        return marking.Outcome(words.ADD_NEEDS)
    if heat and "first" in given:
        return marking.Outcome(words.ADD_EITHER)
    if heat and not given.keys() >= {"sum", "base"}:
        return marking.Outcome(words.ADD_HEAT_NEEDS)
    when = _heat(given) if heat else _days(given)
    what, why = given.get("what"), given.get("why")
    return marking.added(source, given["site"], given["title"], when, as_of, what=what, why=why)


def _days(given: Mapping[str, Any]) -> tuple[date, date]:
    first = str(given["first"])[:10]
    return date.fromisoformat(first), date.fromisoformat(str(given.get("last", first))[:10])


def _heat(given: Mapping[str, Any]) -> HeatSum:
    """A sum as it was typed, in metric units."""
    upper, start = given.get("upper"), given.get("from")
    return HeatSum(
        round(metric_of(float(given["sum"]), "°C d"), 2),
        round(metric_of(float(given["base"]), "°C"), 2),
        None if upper is None else round(metric_of(float(upper), "°C"), 2),
        None if start is None else date.fromisoformat(str(start)[:10]),
        given.get("event"),
    )
