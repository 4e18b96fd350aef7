"""A table as a printer is given it: plain, whole, and not to be seen on the screen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from dash import html
from dash.development.base_component import Component

from dashboard.components.plain import plain
from dashboard.measures import filled


def on_paper(
    rows: Iterable[Mapping[str, object]], columns: Mapping[str, str], title: str
) -> Component:
    """Rows under the names of their columns.

    The tables of the screen scroll and sort; what lies outside their frame would not be printed.
    """
    head = html.Tr([html.Th(filled(name), scope="col") for name in columns.values()])
    body = [html.Tr([html.Td(_cell(row.get(name))) for name in columns]) for row in rows]
    table = html.Table([html.Caption(filled(title)), html.Thead(head), html.Tbody(body)])
    return plain(table, className="on-paper")


def _cell(value: object) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)
