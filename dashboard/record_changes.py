"""What is done in the table of records, from what the browser sent to an outcome."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from dashboard.data import (
    ConflictError,
    HarvestError,
    Shown,
    browse_records,
    edit_record,
    one_record,
    record_fields,
    remove_record,
    signed,
    spreadsheet_text,
)
from dashboard.entries import reason_of
from dashboard.security import CHANGE, may
from dashboard.source import Source
from dashboard.texts import records as record_texts
from dashboard.views.records import (
    Change,
    Conflict,
    Outcome,
    asked_of,
    change_of,
    changed_words,
    record_words,
    row_of,
    shown_from,
    taken_cell,
    taken_name,
)
from dashboard.words import count, listing

PAGE_ROWS, MOST_COPIED = 100, 2000
# What the page can be told to do, by the id of the part that is used.
GRID, REMOVE, MINE, THEIRS = "records-grid", "records-remove", "records-mine", "records-theirs"


def rows_for(
    source: Source, which: Mapping[str, str], request: Mapping[str, Any]
) -> dict[str, Any]:
    """The rows that the grid asks for."""
    first, last = int(request.get("startRow", 0)), int(request.get("endRow", PAGE_ROWS))
    asked = asked_of(which["kind"], which["tree"], request)
    page = browse_records(source.orchard, asked, first, last - first)
    return {"rowData": [row_of(each) for each in page.rows], "rowCount": page.total}


def edited(source: Source, kind: str, change: Change) -> Outcome:
    """Change one cell, unless the record is another by now or the value cannot be."""
    cells = change.seen.cells
    before = cells.get(change.column, "")
    try:
        number = edit_record(
            source.orchard, kind, change.seen, {change.column: change.typed},
            today=source.latest_date(), signed=signed(),
        )  # fmt: skip
    except ConflictError as error:
        return _conflict(source, kind, change.seen, {change.column: change.typed}, error)
    except HarvestError as error:
        return Outcome(record_texts.REFUSED.format(reason=reason_of(error)))
    if number is None:
        return Outcome(record_texts.UNCHANGED)
    said = record_texts.CHANGED.format(
        record=record_words(kind, cells), what=changed_words(before, change.typed, change.column)
    )
    return Outcome(said, number)


def _conflict(
    source: Source, kind: str, seen: Shown, typed: Mapping[str, str], error: HarvestError
) -> Outcome:
    """Both versions, or the error where it is none of that kind."""
    now = one_record(source.orchard, kind, seen.id)
    if now is None:
        return Outcome(record_texts.GONE)
    if all(now.cells.get(name) == text for name, text in seen.cells.items()):
        return Outcome(record_texts.REFUSED.format(reason=reason_of(error)))
    return Outcome("", conflict=Conflict(kind, seen, typed, now))


def insisted(source: Source, kept: Mapping[str, Any] | None) -> Outcome:
    """Write one's own version over the one that was shown as being there now."""
    now = shown_from((kept or {}).get("now"))
    if kept is None or now is None:
        return Outcome("")
    kind, typed = str(kept["kind"]), {str(n): str(v) for n, v in kept["typed"].items()}
    try:
        number = edit_record(
            source.orchard, kind, now, typed, today=source.latest_date(), signed=signed()
        )
    except ConflictError as error:
        return _conflict(source, kind, now, typed, error)
    except HarvestError as error:
        return Outcome(record_texts.REFUSED.format(reason=reason_of(error)))
    what = listing([changed_words(now.cells.get(n, ""), v, n) for n, v in typed.items()])
    said = record_texts.CHANGED.format(record=record_words(kind, now.cells), what=what)
    return Outcome(said, number)


def removed(source: Source, kind: str, row: object) -> Outcome:
    """Take the chosen record away."""
    seen = shown_from(row)
    if seen is None:
        return Outcome(record_texts.CHOOSE_ROW)
    try:
        number = remove_record(source.orchard, kind, seen, signed())
    except HarvestError as error:
        if one_record(source.orchard, kind, seen.id) is None:
            return Outcome(record_texts.GONE)
        return Outcome(record_texts.REFUSED.format(reason=reason_of(error)))
    return Outcome(record_texts.REMOVED.format(record=record_words(kind, seen.cells)), number)


def copied(source: Source, which: Mapping[str, str], request: Any) -> tuple[str, str]:
    """The rows as the grid shows them, as text for a spreadsheet; and what is said of it."""
    asked = asked_of(which["kind"], which["tree"], request or {})
    page = browse_records(source.orchard, asked, 0, MOST_COPIED)
    names = [field.header for field in record_fields(which["kind"])]
    rows = [[taken_cell(name, each.cells[name]) for name in names] for each in page.rows]
    number = count(len(rows), record_texts.RECORD_ONE, record_texts.RECORD_MANY)
    said = record_texts.COPIED if len(rows) == page.total else record_texts.COPIED_SOME
    return spreadsheet_text([taken_name(name) for name in names], rows), said.format(
        count=number, total=page.total
    )


def done(
    source: Source, part: str, kind: str, changes: Any, rows: Any, kept: Any
) -> Outcome | None:
    """What was done in the table, by the part that was used; None where nothing was."""
    if part != THEIRS and not may(CHANGE):
        return Outcome(record_texts.MAY_NOT)
    if part == GRID and changes:
        last = [change_of(cast(Mapping[str, Any], each)) for each in changes]
        outcomes = [edited(source, kind, change) for change in last if change is not None]
        troubled = [each for each in outcomes if each.batch is None]
        return next(iter(troubled or outcomes), None)
    if part == REMOVE:
        return removed(source, kind, rows[0] if rows else None)
    if part == MINE:
        return insisted(source, kept)
    return Outcome("") if part == THEIRS else None
