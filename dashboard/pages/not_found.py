"""What an address shows that is no page's: the pages there are."""

from __future__ import annotations

from collections.abc import Iterable

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.components import pieces


def render(places: Iterable[tuple[str, str]]) -> Component:
    """The page; `places` are the names and paths of all pages."""
    links = [
        html.Li(
            [
                dcc.Link(texts.PAGE_NAMES[name], href=path),
                f": {texts.PAGE_TITLES[name]}",
            ]
        )
        for name, path in places
    ]
    return pieces.page(texts.NOT_FOUND_TITLE, pieces.answer(texts.NOT_FOUND), html.Ul(links))
