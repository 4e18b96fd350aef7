"""How a forecast comes about, what to be careful of, what the words mean, where it is from."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.source import Source
from dashboard.texts import help_page as help_texts


def render(_source: Source, _view: View) -> Component:
    """The page; it is the same on every date."""
    return pieces.page(
        texts.PAGE_TITLES["help"],
        pieces.answer(help_texts.HELP_ANSWER),
        pieces.notice(
            help_texts.HELP_CAUTION_TITLE,
            [html.Ul([html.Li(line) for line in help_texts.HELP_CAUTIONS])],
            kind="danger",
        ),
        pieces.section(help_texts.HELP_FIND_TITLE, pieces.facts(help_texts.HELP_FIND)),
        pieces.section(help_texts.HELP_HOW_TITLE, *(html.P(line) for line in help_texts.HELP_HOW)),
        pieces.section(help_texts.HELP_WORDS_TITLE, pieces.facts(help_texts.HELP_WORDS)),
        pieces.section(
            help_texts.HELP_SOURCES_TITLE,
            html.Ul([html.Li(line) for line in help_texts.HELP_SOURCES]),
        ),
    )
