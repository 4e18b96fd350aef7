"""Bringing a file in: what it holds, which column is which, what would happen, and back again.

The browser keeps the file until the end and sends it with every step, so that no process of the
app has to remember it.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import (
    HarvestError,
    ImportReport,
    InputError,
    Layout,
    TextTable,
    columns_of,
    guess_columns,
    guess_kind,
    import_mapped,
    loose_columns,
    read_upload,
    signed,
    undo_batch,
)
from dashboard.entries import reason_of
from dashboard.measures import retold
from dashboard.security import CHANGE, MOST_BYTES, may, require
from dashboard.source import Source
from dashboard.texts import import_page as own_texts
from dashboard.texts.records import KIND_NAMES
from dashboard.words import count, listing, shown

DROP, HELD, READ, LOOK, SHOWN = (
    "import-file",
    "import-held",
    "import-read",
    "import-look",
    "import-shown",
)
KIND, HOLDS, ON, ALWAYS = "import-kind", "import-holds", "import-on", "import-always"
COLUMN, CONFIRM, UNDO, DONE = "import-column", "import-confirm", "import-undo", "import-done"
# Parts that come with the file, after the page.
BROUGHT = {KIND, HOLDS, ON, ALWAYS, LOOK, CONFIRM}
# A file grows by a third on its way.
MOST_MB = MOST_BYTES * 3 // 4 // 1024**2 - 1
MOST_SHOWN = 200
NAMES = {**KIND_NAMES, "weather": own_texts.WEATHER}


def render(_source: Source, _view: View) -> Component:
    """The page, before a file is dropped."""
    drop = dcc.Upload(
        id=DROP,
        children=html.Div(
            [html.Strong(own_texts.DROP), html.Br(), own_texts.LIMIT.format(most=MOST_MB)]
        ),
        className="drop",
        className_active="drop active",
        max_size=MOST_MB * 1024**2,
        multiple=False,
    )
    return html.Div(
        pieces.page(
            texts.PAGE_TITLES["import"],
            pieces.answer(own_texts.ANSWER, own_texts.ANSWER_MORE),
            drop if may(CHANGE) else html.P(own_texts.MAY_NOT),
            dcc.Store(id=HELD),
            html.Div(id=READ, className="import-step"),
            dcc.Loading(html.Div(id=SHOWN, className="import-step"), type="circle"),
            html.Div(id=DONE, className="import-step", role="status"),
        ),
        className="no-date import",
    )


def table_of(held: Mapping[str, Any]) -> TextTable:
    """The table in what the browser holds. Raises FileFormatError, InputError."""
    try:
        content = base64.b64decode(str(held["content"]).partition(",")[2], validate=True)
    except (binascii.Error, KeyError) as error:
        raise InputError("a file must arrive whole", given="a part of one") from error
    return read_upload(str(held.get("name", "")), content)


def understood(held: Mapping[str, Any], kind: str | None) -> list[Component]:
    """What a file seems to hold, and a choice for each of its columns."""
    table = table_of(held)
    header = [str(name) for name in table.cells.columns]
    kind = kind if kind in NAMES else guess_kind(header)
    said = own_texts.GUESSED.format(
        file=shown(table.name),
        rows=count(len(table.cells), own_texts.ROW_ONE, own_texts.ROW_MANY),
        columns=count(len(header), own_texts.COLUMN_ONE, own_texts.COLUMN_MANY),
        kind=NAMES[kind].lower(),
    )
    choice = dmc.Select(
        id=KIND, label=own_texts.KIND, value=kind, allowDeselect=False, size="md", maw=320,
        data=[{"value": each, "label": NAMES[each]} for each in NAMES],
    )  # fmt: skip
    loose = loose_columns(header)
    return [
        html.P(said),
        choice,
        *(_loose(kind, loose) if loose else _columns(kind, table)),
        html.Div(
            html.Button(own_texts.PREVIEW, id=LOOK, type="button", className="main-button"),
            className="downloads",
        ),
    ]


def _columns(kind: str, table: TextTable) -> list[Component]:
    guessed = guess_columns(kind, [str(name) for name in table.cells.columns])
    data = [{"value": "", "label": own_texts.LEAVE_OUT}]
    data += [{"value": name, "label": name.replace("_", " ")} for name in columns_of(kind)]
    selects: list[Component] = [
        dmc.Select(
            id={"type": COLUMN, "name": name},
            label=own_texts.COLUMN.format(name=shown(name, 30), example=_example(table, name)),
            data=data, value=own, allowDeselect=False, searchable=True, size="md",
        )
        for name, own in guessed.items()
    ]  # fmt: skip
    return [
        html.H2(own_texts.STEP_COLUMNS),
        html.Div(selects, className="setting-fields"),
        *_loose(kind, [], hidden=True),
    ]


def _example(table: TextTable, name: str) -> str:
    filled = [str(cell) for cell in table.cells[name] if str(cell).strip()]
    return f"“{shown(filled[0], 24)}”" if filled else own_texts.NO_EXAMPLE


def _loose(kind: str, loose: Sequence[str], *, hidden: bool = False) -> list[Component]:
    """What a notebook's cells are; there but hidden for other tables."""
    holds = [{"value": "date", "label": own_texts.CELLS_ARE_DATES}]
    holds += [
        {"value": name, "label": name.replace("_", " ")}
        for name in columns_of(kind)
        if name not in ("date", "tree", "site")
    ]
    fields = html.Div(
        [
            dmc.Select(id=HOLDS, label=own_texts.HOLDS, data=holds, size="md", searchable=True),
            dmc.TextInput(id=ON, label=own_texts.ON, description=own_texts.ON_TOLD, size="md"),
            dmc.TextInput(
                id=ALWAYS, label=own_texts.ALWAYS, description=own_texts.ALWAYS_TOLD, size="md"
            ),
        ],
        className="setting-fields",
        hidden=hidden,
    )
    if hidden:
        return [fields]
    told = own_texts.LOOSE_TOLD.format(columns=listing([shown(name, 12) for name in loose], 3))
    return [html.H2(own_texts.STEP_LOOSE), html.P(told), fields]


def layout_of(holds: str | None, on: str | None, always: str | None) -> Layout | None:
    """What a loose table holds, as chosen; None for one record a row."""
    if not holds:
        return None
    pairs = [part.partition("=") for part in (always or "").split(",") if part.strip()]
    return Layout(holds, (on or "").strip(), {k.strip(): v.strip() for k, _, v in pairs})


def preview(report: ImportReport, left_out: Sequence[str] = ()) -> list[Component]:
    """What a file would do."""
    numbers = {"new": report.new, "same": report.same, "changed": report.changed,
               "refused": len(report.refused)}  # fmt: skip
    counts = html.Ul(
        [
            html.Li([html.Strong(f"{number:,}"), own_texts.COUNTS[name]])
            for name, number in numbers.items()
        ],
        className="import-counts",
    )
    parts: list[Component] = [
        html.H2(own_texts.STEP_PREVIEW),
        counts,
    ]
    if left := [*left_out, *report.ignored_columns]:
        columns = listing([shown(name) for name in left], 8)
        parts.append(html.P(own_texts.IGNORED.format(columns=columns)))
    if report.assumed_units:
        taken = "; ".join(report.assumed_units)
        parts.append(html.P(own_texts.UNITS_TAKEN.format(taken=taken)))
    parts += [html.P(own_texts.ORDER_TAKEN.format(taken=order)) for order in report.day_orders]
    for title, notes in (
        (own_texts.REFUSED, report.refused),
        (own_texts.WARNINGS, report.warnings),
    ):
        if notes:
            name = "import-" + ("refused" if notes is report.refused else "warnings")
            rows = [
                {"line": note.line, "column": shown(note.column), "value": shown(note.value),
                 "reason": retold(note.reason), "todo": retold(note.todo)}
                for note in notes[:MOST_SHOWN]
            ]  # fmt: skip
            headed = f"{title} ({len(notes)})"
            parts.append(pieces.table(rows, own_texts.REFUSED_COLUMNS, name, headed, unfolded=True))
            if len(notes) > MOST_SHOWN:
                more = own_texts.MORE_REFUSED.format(shown=MOST_SHOWN, total=len(notes))
                parts.append(html.P(more))
    return parts


def tried(
    source: Source, held: Mapping[str, Any], chosen: Chosen, *, dry_run: bool
) -> ImportReport:
    """Take a file in as chosen, or only say what would happen. Raises HarvestError."""
    require(CHANGE)
    kind, columns, layout = chosen
    return import_mapped(
        source.orchard, kind, table_of(held), columns,
        today=source.latest_date(), signed=signed(), dry_run=dry_run, layout=layout,
    )  # fmt: skip


Chosen = tuple[str, Mapping[str, str], Layout | None]


def reason_at(error: HarvestError) -> str:
    """An error with its place as the file has it, the rest in the units and dates chosen."""
    return f"{error.where}: {reason_of(error)}" if error.where else reason_of(error)


def _confirm(report: ImportReport) -> Component:
    total = report.new + report.changed
    if not total:
        return html.P([own_texts.NOTHING, html.Button(id=CONFIRM, hidden=True)])
    words = own_texts.CONFIRM.format(
        count=count(total, own_texts.RECORD_ONE, own_texts.RECORD_MANY)
    )
    button = html.Button(words, id=CONFIRM, type="button", className="main-button")
    return html.Div(button, className="downloads")


def _done(report: ImportReport) -> list[Component]:
    said = own_texts.DONE.format(
        file=shown(report.file), new=report.new, changed=report.changed,
        refused=len(report.refused),
    )  # fmt: skip
    undo = html.Button(
        own_texts.UNDO, id={"type": UNDO, "batch": report.batch or 0}, type="button",
        hidden=report.batch is None,
    )  # fmt: skip
    return [html.H2(own_texts.STEP_DONE), html.P(said), html.Div(undo, className="downloads")]


def connect(app: Dash, source: Source) -> None:
    """Hang the steps on the app."""
    _connect_reading(app)
    _connect_trying(app, source)
    _connect_undoing(app, source)


def _connect_reading(app: Dash) -> None:
    @app.callback(
        Output(HELD, "data"),
        Output(READ, "children"),
        Output(SHOWN, "children", allow_duplicate=True),
        Output(DONE, "children", allow_duplicate=True),
        Input(DROP, "contents"),
        State(DROP, "filename"),
        prevent_initial_call=True,
    )
    def read(contents: str | None, name: str | None) -> tuple[Any, ...]:
        if not contents:
            return no_update, no_update, no_update, no_update
        held = {"name": name or "", "content": contents}
        try:
            kind = guess_kind([str(each) for each in table_of(held).cells.columns])
            return {**held, "kind": kind}, understood(held, kind), "", ""
        except HarvestError as error:
            return None, pieces.notice(texts.FAILED, [reason_at(error)], "harm"), "", ""

    @app.callback(
        Output(HELD, "data", allow_duplicate=True),
        Output(READ, "children", allow_duplicate=True),
        Output(SHOWN, "children", allow_duplicate=True),
        Input(KIND, "value"),
        State(HELD, "data"),
        prevent_initial_call=True,
    )
    def another_kind(kind: str | None, held: dict[str, Any] | None) -> tuple[Any, Any, Any]:
        # The choice also reports itself when it is put on the page.
        if not held or not kind or held.get("kind") == kind:
            return no_update, no_update, no_update
        return {**held, "kind": kind}, understood(held, kind), ""


STATES = (
    State(HELD, "data"),
    State(KIND, "value"),
    State({"type": COLUMN, "name": ALL}, "value"),
    State({"type": COLUMN, "name": ALL}, "id"),
    State(HOLDS, "value"),
    State(ON, "value"),
    State(ALWAYS, "value"),
)


def chosen_of(given: Sequence[Any]) -> tuple[dict[str, Any], Chosen]:
    """The file and what was chosen for it, from the values of `STATES`."""
    held, kind, values, ids, holds, on, always = given
    columns = {each["name"]: own or "" for each, own in zip(ids, values, strict=True)}
    return held or {}, (str(kind), columns, layout_of(holds, on, always))


def _connect_trying(app: Dash, source: Source) -> None:
    @app.callback(
        Output(SHOWN, "children", allow_duplicate=True),
        Input(LOOK, "n_clicks"),
        *STATES,
        prevent_initial_call=True,
    )
    def look(clicks: int | None, *given: Any) -> Any:
        if not clicks:
            return no_update
        held, chosen = chosen_of(given)
        try:
            report = tried(source, held, chosen, dry_run=True)
        except HarvestError as error:
            return pieces.notice(texts.FAILED, [reason_at(error)], "harm")
        left = [name for name, own in chosen[1].items() if not own]
        return [*preview(report, left), _confirm(report)]

    @app.callback(
        Output(SHOWN, "children", allow_duplicate=True),
        Output(DONE, "children", allow_duplicate=True),
        Input(CONFIRM, "n_clicks"),
        *STATES,
        prevent_initial_call=True,
    )
    def confirm(clicks: int | None, *given: Any) -> tuple[Any, Any]:
        if not clicks:
            return no_update, no_update
        held, chosen = chosen_of(given)
        try:
            report = tried(source, held, chosen, dry_run=False)
        except HarvestError as error:
            return pieces.notice(texts.FAILED, [reason_at(error)], "harm"), ""
        return "", _done(report)


def _connect_undoing(app: Dash, source: Source) -> None:
    @app.callback(
        Output(DONE, "children", allow_duplicate=True),
        Input({"type": UNDO, "batch": ALL}, "n_clicks"),
        State({"type": UNDO, "batch": ALL}, "id"),
        prevent_initial_call=True,
    )
    def undo(clicks: list[int | None], ids: list[dict[str, Any]]) -> Any:
        if not any(clicks):
            return no_update
        require(CHANGE)
        try:
            undo_batch(source.orchard, int(ids[0]["batch"]), signed())
        except HarvestError as error:
            return pieces.notice(texts.FAILED, [reason_at(error)], "harm")
        return html.P(own_texts.UNDONE)
