"""The parts a page is put together from: its answer, pictures with their key, tables, notes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

import dash_ag_grid as dag
import dash_mantine_components as dmc
import plotly.graph_objects as go
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import ids, texts
from dashboard.downloads import PATH
from dashboard.figures.style import CONFIG
from dashboard.measures import filled
from dashboard.texts import downloads
from dashboard.words import DAY_FIRST, MONTH_FIRST, WAYS, YEAR_FIRST, dates_in_grid

DATE_FORMATS = {DAY_FIRST: "D MMMM YYYY", MONTH_FIRST: "MMMM D, YYYY", YEAR_FIRST: "YYYY-MM-DD"}
Node = Component | str
Signs = Sequence[tuple[str, str]]
"""A key: the sign's class in the style sheet, and what it stands for."""


def aria(**said: str) -> dict[str, Any]:
    """Properties for those who hear a page: `hidden`, `label` and their like."""
    return {f"aria-{name}": words for name, words in said.items()}


def data(**kept: str) -> dict[str, Any]:
    """Properties that scripts read: `store`, `fold` and their like."""
    return {f"data-{name}": value for name, value in kept.items()}


def page(title: str, *parts: Node | None) -> Component:
    """A page: its question as the heading, then its parts."""
    return html.Article(
        [html.H1(title, className="question"), *(part for part in parts if part is not None)]
    )


def answer(*sentences: Node) -> Component:
    """The page's answer in a sentence or two."""
    return html.Div([html.P(sentence) for sentence in sentences], id=ids.ANSWER, className="answer")


def section(title: Node, *parts: Node | None) -> Component:
    """A part of a page with a heading of its own."""
    return html.Section([html.H2(_filled(title)), *(part for part in parts if part is not None)])


def folded_section(title: Node, *parts: Node | None, name: str | None = None) -> Component:
    """A part of a page that opens when it is asked for; `name` as `plain` goes by."""
    summary = html.Summary(html.H2(_filled(title)))
    own = [part for part in parts if part is not None]
    return html.Details([summary, *own], className="fold part", **data(fold=name) if name else {})


def picture(
    figure: go.Figure,
    caption: str,
    signs: Signs,
    name: str,
    *,
    label: str = "",
    explained: bool = True,
) -> Component:
    """A figure with what it says in words and the key to its signs, unless one before had them.

    `label` is what it is called for those who hear the page.
    """
    return html.Figure(
        [
            html.Figcaption(filled(caption)) if explained else None,
            key(signs) if explained else None,
            dcc.Graph(
                id=f"{ids.PICTURE}-{name}",
                figure=figure,
                config=cast(Any, CONFIG),
                responsive=True,
                style={"height": f"{figure.layout.height}px"},
            ),
            take_away((downloads.PNG, downloads.SVG), filled(label or caption)),
        ],
        className="picture",
        **aria(label=filled(label or caption)),
    )


def key(signs: Signs) -> Component:
    """The signs of a picture and what each stands for."""
    return html.Ul(
        [
            html.Li([html.Span(className=f"sign {sign}", **aria(hidden="true")), filled(words)])
            for sign, words in signs
        ],
        className="key",
    )


def table(
    rows: Sequence[Mapping[str, Any]],
    columns: Mapping[str, str],
    name: str,
    title: str,
    *,
    unfolded: bool = False,
) -> Component:
    """Rows in a table that sorts and filters, folded away until asked for unless `unfolded`.

    Dates are given as ISO 8601, so that they sort, and shown in the order chosen.
    """
    title, numeric = filled(title), _numeric(rows, columns)
    grid = dag.AgGrid(
        id=f"{ids.TABLE}-{name}",
        rowData=[dict(row) for row in rows],
        columnDefs=[
            {
                "field": field,
                "pinned": "left" if number == 0 else None,
                "headerName": filled(header),
                "type": "rightAligned" if field in numeric else None,
                "filter": "agNumberColumnFilter" if field in numeric else "agTextColumnFilter",
                "cellDataType": "number" if field in numeric else "text",
                **({} if field in numeric else _dates()),
            }
            for number, (field, header) in enumerate(columns.items())
        ],
        defaultColDef={
            "sortable": True,
            "resizable": True,
            "minWidth": 90,
            "wrapHeaderText": True,
            "autoHeaderHeight": True,
        },
        columnSize="autoSize",
        dashGridOptions={
            "domLayout": "autoHeight" if len(rows) <= 12 else "normal",
            "enableCellTextSelection": True,
            "ensureDomOrder": True,
            "suppressFieldDotNotation": True,
            "suppressColumnVirtualisation": True,
        },
        style={"height": None if len(rows) <= 12 else "480px", "width": "100%"},
    )
    ways = (downloads.COPY, downloads.CSV, downloads.XLSX)
    return html.Details(
        [html.Summary(title), grid, take_away(ways, title, str(grid.id))],
        className="table",
        open=unfolded,
    )


def _dates() -> dict[str, Any]:
    """How a column of text shows the dates in it, and is searched for them (`assets/tables.js`)."""
    return {
        "valueFormatter": {"function": dates_in_grid("params.value")},
        "filterValueGetter": {"function": dates_in_grid("params.data[params.column.colId]")},
    }


def _numeric(rows: Sequence[Mapping[str, Any]], columns: Iterable[str]) -> set[str]:
    """The columns that hold numbers and no text."""
    return {
        field
        for field in columns
        if any(isinstance(row[field], int | float) for row in rows)
        and not any(isinstance(row[field], str) for row in rows)
    }


def take_away(ways: Sequence[str], title: str, grid: str = "") -> Component:
    """Buttons that make files of the figure they stand under, or of the table named.

    A script of the page does it (`assets/downloads.js`), for a file named after the page.
    """
    buttons = [
        html.Button(
            downloads.LABELS[way],
            type="button",
            **{  # type: ignore[arg-type]
                "data-download": way,
                "data-of": grid,
                "data-where": PATH,
                "data-done": downloads.DONE[way],
                "data-failed": downloads.FAILED,
            },
        )
        for way in ways
    ]
    return html.Div(
        [*buttons, html.Span(role="status")],
        className="downloads",
        role="group",
        **aria(label=downloads.GROUP_LABEL.format(title=title)),
    )


def named(content: Component, file: str, said: str) -> Component:
    """Content whose tables and figures are saved under a file's name, with a line that says of what
    they are."""
    return html.Div(
        content,
        className="named",
        **{"data-file": file, "data-said": said},  # type: ignore[arg-type]
    )


def notice(title: str, parts: Sequence[Node], kind: str = "note") -> Component:
    """Something the reader must not miss."""
    return html.Aside([html.H2(title), *parts], className=f"notice {kind}", role="note")


def _filled(node: Node) -> Node:
    return filled(node) if isinstance(node, str) else node


def facts(items: Sequence[tuple[Node, Node]]) -> Component:
    """Words and what is said of each."""
    return html.Dl(
        [part for term, said in items for part in (html.Dt(term), html.Dd(_filled(said)))],
        className="facts",
    )


def date_field(part: str, label: str, **more: Any) -> Component:
    """A field for a date, written in the order and with the first day of the week chosen."""
    ways = WAYS.get()
    field: Component = dmc.DateInput(
        id=part, label=label, valueFormat=DATE_FORMATS[ways.dates],
        firstDayOfWeek=ways.first_day, **more,
    )  # fmt: skip
    return field


def no_match() -> Component:
    """Said in place of a page's content when the filters let nothing through."""
    return answer(texts.NO_MATCH)
