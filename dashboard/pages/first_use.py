"""From nothing to the first forecast: a site, a tree, the day it bloomed, each by a short form."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import paths, texts
from dashboard.address import View
from dashboard.components import pieces, record_form
from dashboard.components.pieces import aria
from dashboard.components.record_form import FormField
from dashboard.data import kinds_of_fruit
from dashboard.measures import filled
from dashboard.paths import link
from dashboard.source import Source
from dashboard.texts import first_use as first_texts
from dashboard.texts import records as record_texts
from dashboard.views.plain_input import PLACE
from dashboard.words import day, shown

STEP = "first"
# Stands where the next step is a tree: no tree has a blank for its name.
NO_TREE = "%20"


def wanted(source: Source, query: dict[str, str], as_of: date) -> bool:
    """Whether to show these steps: without trees, or while somebody goes through them."""
    return STEP in query or source.overview(as_of).trees.empty


def render(source: Source, query: dict[str, str], as_of: date) -> Component:
    """The step that comes next: the first site, the first tree, its first bloom."""
    latest = source.overview(source.latest_date())
    step = query.get(STEP)
    trees, sites = latest.trees["tree"].tolist(), latest.sites["site"].tolist()
    if not trees or step is not None:
        if not sites:
            return _page([None, None, None], first_texts.ANSWER_SITE, _site_form())
        if step is not None and step in trees:
            said = first_texts.ANSWER_BLOOM.format(tree=shown(step))
            return _page([sites[-1], step, None], said, _bloom_form(step, as_of))
        said = first_texts.ANSWER_TREE.format(site=shown(sites[-1]))
        return _page([sites[-1], None, None], said, _tree_form(sites))
    return pieces.page(texts.EMPTY_TITLE, pieces.answer(texts.EMPTY_KNOWN.format(date=day(as_of))))


def _page(done: Sequence[str | None], said: str, form: Sequence[Component]) -> Component:
    """One step: which are done, what is asked now, and the other way in."""
    titles = (first_texts.STEP_SITE, first_texts.STEP_TREE, first_texts.STEP_BLOOM)
    now = list(done).index(None)
    steps = [
        html.Li(
            [title, html.Span(first_texts.DONE.format(name=shown(name)))] if name else title,
            className="done" if name else "now" if number == now else "",
            **(aria(current="step") if number == now else {}),
        )
        for number, (title, name) in enumerate(zip(titles, done, strict=True))
    ]
    return html.Div(
        pieces.page(
            texts.EMPTY_TITLE if now < 2 else first_texts.STEP_BLOOM,
            pieces.answer(said),
            html.Ol(steps, className="first-steps", **aria(label=first_texts.STEPS_LABEL)),
            html.Section(form),
            _tables() if now < 2 else None,
        ),
        className="no-date",
    )


def _site_form() -> list[Component]:
    fields = [
        FormField("site", first_texts.SITE, needed=True, hint=first_texts.SITE_HINT),
        FormField(
            PLACE, first_texts.PLACE, needed=True, hint=first_texts.PLACE_HINT,
            told=first_texts.PLACE_TOLD, here=(first_texts.HERE, first_texts.HERE_FAILED),
        ),
    ]  # fmt: skip
    how = html.Details(
        [
            html.Summary(first_texts.PLACE_HOW),
            html.Ol([html.Li(step) for step in first_texts.PLACE_STEPS]),
            html.P(filled(first_texts.PLACE_WHY)),
        ],
        className="fold",
    )
    return [
        record_form.form(
            "sites", fields, single=True, save=first_texts.SAVE_SITE, then=f"?{STEP}={NO_TREE}"
        ),
        how,
    ]


def _tree_form(sites: Sequence[str]) -> list[Component]:
    fruit = kinds_of_fruit()
    one: dict[str, Any] = {"value": sites[0]} if len(sites) == 1 else {}
    fields = [
        FormField("tree", first_texts.TREE, needed=True, hint=first_texts.TREE_HINT,
                  told=first_texts.TREE_TOLD),
        FormField("site", first_texts.TREE_SITE, needed=True, choices=tuple(sites), **one),
        FormField("species", first_texts.SPECIES, needed=True, choices=tuple(sorted(fruit))),
        FormField("cultivar", first_texts.CULTIVAR, needed=True, told=first_texts.CULTIVAR_TOLD,
                  hint=first_texts.CULTIVAR_HINT, depends="species", lists=fruit),
        FormField("planted", first_texts.PLANTED, needed=True, hint=record_texts.PLANTED_HINT,
                  told=record_texts.PLANTED_TOLD),
    ]  # fmt: skip
    then = f"?{STEP}={{tree}}"
    return [record_form.form("trees", fields, single=True, save=first_texts.SAVE_TREE, then=then)]


def _bloom_form(tree: str, as_of: date) -> list[Component]:
    fields = [
        FormField("date", first_texts.BLOOM, needed=True, kind="date", told=first_texts.BLOOM_TOLD,
                  latest=as_of.isoformat()),
    ]  # fmt: skip
    to_picking = paths.PICKING.lstrip("/")
    form = record_form.form(
        "stages", fields, single=True, save=first_texts.SAVE_BLOOM, then=to_picking,
        fixed={"tree": tree, "bbch": "65"},
    )  # fmt: skip
    others = html.Nav(
        [
            dcc.Link(first_texts.NOT_YET, href=link(paths.PICKING, View()), className="choice"),
            dcc.Link(first_texts.ANOTHER, href=f"?{STEP}={NO_TREE}", className="choice"),
        ],
        className="switch others-list",
        **aria(label=first_texts.STEP_BLOOM),
    )
    return [form, others]


def _tables() -> Component:
    """How tables that are there already are taken in."""
    steps = [
        html.Li([html.P(step), html.Code(command)])
        for step, command in zip(texts.EMPTY_STEPS, texts.EMPTY_COMMANDS, strict=True)
    ]
    return html.Details(
        [html.Summary(first_texts.TABLES), html.P(first_texts.TABLES_TOLD), html.Ol(steps)],
        className="fold",
    )
