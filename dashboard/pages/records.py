"""Everything on record, to be looked up, corrected, added to, and taken back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_ag_grid as dag
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import paths, texts
from dashboard.address import View
from dashboard.components import pieces, record_form
from dashboard.components.pieces import aria
from dashboard.data import count_kinds, entry_lists, record_fields
from dashboard.pages.records_below import below, conflict_table, doubts_part, said_of
from dashboard.paths import link
from dashboard.record_changes import (
    GRID,
    MINE,
    PAGE_ROWS,
    REMOVE,
    THEIRS,
    copied,
    done,
    rows_for,
)
from dashboard.security import CHANGE, may
from dashboard.source import Source
from dashboard.texts import records as record_texts
from dashboard.views.records import KINDS, grid_columns, shown_from
from dashboard.words import count, listing, shown

WHICH, REFRESH, SAID, CONFLICT, BELOW, CHECKS, COPY_TEXT = (
    "records-which", "records-refresh", "records-said", "records-conflict",
    "records-below", "records-checks", "records-copy-text",
)  # fmt: skip
HISTORY, COPY, CHOICE = "records-history", "records-copy", "records-choice"


def render(source: Source, view: View) -> Component:
    """The page for one kind of record, of all trees or one."""
    asked = view.choice("kind")
    kind = asked if asked in KINDS else "picks"
    tree = view.choice("tree") or ""
    counts = count_kinds(source.orchard)
    return html.Div(
        pieces.page(
            texts.PAGE_TITLES["records"],
            pieces.answer(sentence(counts), record_texts.ANSWER_TRUST),
            _switch(kind, tree, view),
            _one_tree(tree, kind, view) if tree else None,
            html.P(record_texts.HOW, className="quiet"),
            _tools(),
            html.Div(id=SAID, className="records-said", role="status"),
            _conflict_place(),
            _grid(kind),
            _add(source, kind, tree),
            html.Div(id=BELOW),
            html.Div(html.P(record_texts.CHECKING), id=CHECKS),
            dcc.Store(id=WHICH, data={"kind": kind, "tree": tree}),
            dcc.Store(id=REFRESH, data=0),
            dcc.Store(id=CONFLICT),
            dcc.Store(id=COPY_TEXT),
        ),
        className="no-date",
    )


def sentence(counts: Mapping[str, int]) -> str:
    """How much is on record."""
    own = [count(counts[kind], *record_texts.KIND_COUNTS[kind]) for kind in KINDS if counts[kind]]
    if not own:
        return record_texts.ANSWER_NONE
    total = sum(counts[kind] for kind in KINDS)
    return record_texts.ANSWER.format(
        count=count(total, record_texts.RECORD_ONE, record_texts.RECORD_MANY), kinds=listing(own)
    )


def _switch(kind: str, tree: str, view: View) -> Component:
    return html.Nav(
        [
            dcc.Link(
                name,
                href=link(paths.RECORDS, view.choosing(kind=each, tree=tree or None)),
                className="choice chosen" if each == kind else "choice",
            )
            for each, name in record_texts.KIND_NAMES.items()
        ],
        className="switch records-switch",
        **aria(label=record_texts.SWITCH),
    )


def _one_tree(tree: str, kind: str, view: View) -> Component:
    every = link(paths.RECORDS, view.choosing(kind=kind, tree=None))
    return html.P(
        [record_texts.ONE_TREE.format(tree=shown(tree)), " ",
         dcc.Link(record_texts.ALL_TREES, href=every)]
    )  # fmt: skip


def _tools() -> Component:
    named = {HISTORY: record_texts.HISTORY, REMOVE: record_texts.REMOVE, COPY: record_texts.COPY}
    buttons = [
        html.Button(words, id=part, type="button", className="log-chip")
        for part, words in named.items()
    ]
    return html.Div(buttons, className="records-tools")


def _conflict_place() -> Component:
    """Both versions of a record that two people changed, hidden until there is one."""
    buttons = [
        html.Button(record_texts.KEEP_THEIRS, id=THEIRS, type="button", className="log-chip"),
        html.Button(record_texts.KEEP_MINE, id=MINE, type="button", className="log-chip"),
    ]
    return html.Div(
        [html.Div(id=CHOICE), html.Div(buttons, className="records-tools")],
        className="records-conflict",
        role="alert",
    )


def _grid(kind: str) -> Component:
    options = {
        "rowSelection": {"mode": "singleRow", "checkboxes": False, "enableClickSelection": True},
        "cacheBlockSize": PAGE_ROWS,
        "maxBlocksInCache": 20,
        "infiniteInitialRowCount": 1,
        "suppressFieldDotNotation": True,
        "ensureDomOrder": True,
        "rowHeight": 44,
        "stopEditingWhenCellsLoseFocus": True,
    }
    grid = dag.AgGrid(
        id=GRID,
        columnDefs=grid_columns(record_fields(kind)),
        defaultColDef={
            "editable": may(CHANGE), "sortable": True, "resizable": True, "floatingFilter": True,
            "suppressHeaderMenuButton": True, "wrapHeaderText": True, "autoHeaderHeight": True,
            "cellDataType": False,
        },
        rowModelType="infinite",
        getRowId="params.data.id.toString()",
        dashGridOptions=options,
        style={"height": "520px", "width": "100%"},
    )  # fmt: skip
    label = record_texts.GRID_LABEL.format(kind=record_texts.KIND_NAMES[kind])
    return html.Section(grid, **aria(label=label))


def _add(source: Source, kind: str, tree: str) -> Component:
    """The form for one record more."""
    known = entry_lists(source.orchard)
    given = {"tree": tree} if "tree" in {each.header for each in record_fields(kind)} else {}
    names = {"tree": known.trees["tree"].tolist() if kind != "trees" else [],
             "site": known.sites["site"].tolist() if kind != "sites" else []}  # fmt: skip
    title = record_texts.ADD_TITLE.format(kind=record_texts.KIND_NAMES[kind])
    fields = [record_form.field_of(kind, each, names, given) for each in record_fields(kind)]
    return html.Details([html.Summary(title), record_form.form(kind, fields)], className="fold")


def connect(app: Dash, source: Source) -> None:
    """Hang the table, and what is done with it, on the app."""
    _connect_table(app, source)
    _connect_rest(app, source)


def _connect_table(app: Dash, source: Source) -> None:
    """Rows that are asked for, cells that are changed."""

    @app.callback(
        Output(GRID, "getRowsResponse"), Input(GRID, "getRowsRequest"), State(WHICH, "data")
    )
    def fill(request: dict[str, Any] | None, which: dict[str, str]) -> Any:
        return rows_for(source, which, request) if request else no_update

    @app.callback(
        Output(SAID, "children"),
        Output(CONFLICT, "data"),
        Output(CHOICE, "children"),
        Output(REFRESH, "data"),
        Input(GRID, "cellValueChanged"),
        Input(REMOVE, "n_clicks"),
        Input(MINE, "n_clicks"),
        Input(THEIRS, "n_clicks"),
        State(GRID, "selectedRows"),
        State(CONFLICT, "data"),
        State(WHICH, "data"),
        State(REFRESH, "data"),
        prevent_initial_call=True,
    )
    def act(changes: Any, _remove: Any, _mine: Any, _theirs: Any, *state: Any) -> Any:
        rows, kept, which, turn = state
        outcome = done(source, str(ctx.triggered_id), which["kind"], changes, rows, kept)
        if outcome is None:
            return no_update, no_update, no_update, no_update
        conflict = outcome.conflict
        return (
            said_of(outcome),
            conflict.as_json() if conflict else None,
            conflict_table(conflict) if conflict else [],
            (turn or 0) + 1,
        )


def _connect_rest(app: Dash, source: Source) -> None:
    """What stands below the table, copying, and the table drawn anew after a change."""

    @app.callback(
        Output(BELOW, "children"),
        Input(REFRESH, "data"),
        Input(HISTORY, "n_clicks"),
        State(GRID, "selectedRows"),
        State(WHICH, "data"),
    )
    def tell(_turn: Any, _asked: Any, rows: Any, which: dict[str, str]) -> Any:
        chosen = shown_from(rows[0]) if rows else None
        tree = chosen.cells.get("tree", "") if chosen else which["tree"]
        asked = ctx.triggered_id == HISTORY or bool(which["tree"])
        return below(source, tree if asked else "")

    @app.callback(Output(CHECKS, "children"), Input(REFRESH, "data"))
    def check(_turn: Any) -> Any:
        return doubts_part(source.doubts(source.latest_date()))

    @app.callback(
        Output(COPY_TEXT, "data"),
        Input(COPY, "n_clicks"),
        State(GRID, "getRowsRequest"),
        State(WHICH, "data"),
        prevent_initial_call=True,
    )
    def copy(_clicks: Any, request: Any, which: dict[str, str]) -> Any:
        text, said = copied(source, which, request)
        return {"text": text, "said": said, "failed": record_texts.COPY_FAILED}

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("records", "refresh"),
        Output(GRID, "id"),
        Input(REFRESH, "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("records", "copy"), Output(COPY, "title"), Input(COPY_TEXT, "data"),
        prevent_initial_call=True,
    )  # fmt: skip
