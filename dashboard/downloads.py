"""Tables as spreadsheets: the rows a page shows, packed into a file; nothing else is known here."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from io import BytesIO
from typing import Any

from dash import Dash
from flask import Blueprint, Response, abort, request

from dashboard.security import LOOK, require
from dashboard.texts import downloads as texts

PATH = "downloads/table.xlsx"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_ROWS, MOST_COLUMNS, MOST_LETTERS = 100_000, 200, 32_000
WIDEST = 60
_NAME_LENGTH = 40
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
# Letters that no file of this kind may hold.
_FORBIDDEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")

Cell = str | int | float | bool | date | None


def connect(app: Dash) -> None:
    """Hang the address that packs tables on the app."""
    routes = Blueprint("downloads", __name__)

    @routes.post(f"/{PATH}")
    def pack() -> Response:
        require(LOOK)
        asked = table_of(request.get_json(silent=True))
        if asked is None:
            abort(400)
        header, rows, said = asked
        answer = Response(spreadsheet(header, rows, said), mimetype=XLSX)
        answer.headers["Cache-Control"] = "no-store"
        return answer

    app.server.register_blueprint(routes, url_prefix=app.config.routes_pathname_prefix.rstrip("/"))


def table_of(body: Any) -> tuple[list[str], list[list[Cell]], str] | None:
    """Header, rows and the line that says what they are of; None if a body is no table."""
    if not isinstance(body, Mapping):
        return None
    header, rows, said = body.get("header"), body.get("rows"), body.get("said")
    if not isinstance(header, list) or not isinstance(rows, list) or not isinstance(said, str):
        return None
    if not 0 < len(header) <= MOST_COLUMNS or len(rows) > MOST_ROWS:
        return None
    if any(not isinstance(row, list) or len(row) != len(header) for row in rows):
        return None
    return (
        [_words(str(name)) for name in header],
        [[_cell(value) for value in row] for row in rows],
        _words(said),
    )


def _cell(value: Any) -> Cell:
    """A value as a spreadsheet has it; a date as a date."""
    if value is None or isinstance(value, bool | int | float):
        return value
    words = _words(str(value))
    if _DAY.fullmatch(words):
        try:
            return date.fromisoformat(words)
        except ValueError:
            return words
    return words


def _words(text: str) -> str:
    return _FORBIDDEN.sub("", text)[:MOST_LETTERS]


def spreadsheet(header: Sequence[str], rows: Sequence[Sequence[Cell]], said: str) -> bytes:
    """An .xlsx file of one table and a sheet that says what it is of; text is never a formula."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet = book.create_sheet(texts.TABLE_SHEET, 0)
    del book[book.sheetnames[1]]
    for line, row in enumerate([header, *rows], start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(line, column, value)
            if isinstance(value, str):
                cell.data_type = "s"
            if line == 1:
                cell.font = Font(bold=True)
                cell.alignment = Alignment(wrap_text=True, vertical="top")
    for column in range(len(header)):
        longest = max((len(str(row[column] or "")) for row in [header, *rows]), default=8)
        sheet.column_dimensions[get_column_letter(column + 1)].width = min(longest + 2, WIDEST)
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
    source = book.create_sheet(texts.SOURCE_SHEET).cell(1, 1, said)
    source.data_type = "s"
    packed = BytesIO()
    book.save(packed)
    return packed.getvalue()


def file_name(*parts: str) -> str:
    """A file's name from words: letters and digits of any script, hyphens between."""
    plain = (re.sub(r"[\W_]+", "-", part.casefold()).strip("-")[:_NAME_LENGTH] for part in parts)
    return "-".join(part.strip("-") for part in plain if part) or "orchard"
