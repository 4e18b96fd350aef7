"""What to do first when an orchard has no trees yet."""

from __future__ import annotations

from datetime import date

from dash import html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.components import pieces
from dashboard.words import day


def render(as_of: date, trees_later: bool) -> Component:
    """The steps from nothing to the first forecast; `trees_later` when a later date has trees."""
    lead = texts.EMPTY_KNOWN.format(date=day(as_of)) if trees_later else texts.EMPTY_AFTER
    steps = [
        html.Li([html.P(step), html.Code(command)])
        for step, command in zip(texts.EMPTY_STEPS, texts.EMPTY_COMMANDS, strict=True)
    ]
    return pieces.page(
        texts.EMPTY_TITLE, pieces.answer(lead), html.Ol(steps, className="first-steps")
    )
