"""Attachments as a table and a folder of files, and back; a record goes by what names it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from harvest.errors import InputError
from harvest.records import HEADERS, KINDS
from harvest.store.attached_files import keep_file, read_file, sha256_of, write_named
from harvest.store.attaching import MOST_BYTES, media_type_of, owner_of, plain_name
from harvest.store.bulk import Plain
from harvest.store.history import UNKNOWN, Batch
from harvest.store.importing import ImportReport
from harvest.store.parsing import Refusal
from harvest.store.plain_tables import cell
from harvest.store.reading import read_kind
from harvest.store.record_cells import Cells, cells_of
from harvest.store.schema import ATTACHMENTS
from harvest.store.spreadsheet import restored
from harvest.store.tablefile import TextTable

NAME = FOLDER = "attachments"
HEADER = ("kind", "record", "date", "filename", "media_type", "bytes", "sha256", "note", "who",
          "attached_at")  # fmt: skip
NUMBERS = ("bytes",)


def attachment_cells(connection: Connection) -> Cells:
    """Every attachment as a file has it; `record` is what names its record, as JSON."""
    rows = connection.execute(select(ATTACHMENTS).order_by(ATTACHMENTS.c.id)).mappings().all()
    named: dict[str, dict[int, str]] = {}
    for kind in {str(row["kind"]) for row in rows}:
        named[kind] = {record: name for name, record in _records(connection, kind).items()}
    out = []
    for row in rows:
        values = {**row, "record": named[row["kind"]].get(row["record_id"], "")}
        out.append([_cell(values[name]) for name in HEADER])
    return out


def write_files(connection: Connection, cells: Cells, folder: Path) -> None:
    """The files of a table of attachments; one that is gone from its place is left out."""
    for name in {row[HEADER.index("sha256")] for row in cells}:
        data = read_file(connection, name)
        if data is not None:
            write_named(folder, name, data)


def take_attachments(
    connection: Connection, made: Batch, table: TextTable, folder: Path, *, dry_run: bool
) -> ImportReport:
    """Attach what an exported table names to the records that are here.

    A row whose record or file is not there is refused, the others go in.
    """
    records: dict[str, dict[str, int]] = {}
    known = select(ATTACHMENTS.c.kind, ATTACHMENTS.c.record_id, ATTACHMENTS.c.sha256)
    there = {tuple(row) for row in connection.execute(known)}
    refused, same, rows = [], 0, []
    for line, cells in zip(table.cells.index, table.cells.to_dict("records"), strict=True):
        row = {str(name): restored(str(text)) for name, text in cells.items()}
        kind = row.get("kind", "")
        if kind in KINDS and kind not in records:
            records[kind] = _records(connection, kind)
        record = records.get(kind, {}).get(_canonical(row.get("record", "")))
        data, wrong = _file_of(folder, row)
        if record is None:
            wrong = Refusal(int(line), "record", row.get("record", ""), "no such record here", "")
        if wrong is not None:
            refused.append(Refusal(int(line), wrong.column, wrong.value, wrong.reason, wrong.todo))
            continue
        assert record is not None
        if (kind, record, row["sha256"]) in there:
            same += 1
            continue
        there.add((kind, record, row["sha256"]))
        rows.append(_row(connection, kind, record, row, data))
        if not dry_run:
            keep_file(connection, data)
    if rows:
        made.insert(NAME, {name: [row[name] for row in rows] for name in rows[0]})
    return ImportReport(
        kind=NAME, file=table.name, read=len(table.cells), new=len(rows), same=same, changed=0,
        refused=tuple(refused), warnings=(), ignored_columns=(), encoding=table.encoding,
        dry_run=dry_run, batch=made.number,
    )  # fmt: skip


def attachments_schema() -> dict[str, Any]:
    """The table's description (Frictionless Table Schema)."""
    told = [{"name": name, "type": "integer" if name in NUMBERS else "string"} for name in HEADER]
    return {"fields": told, "missingValues": [""], "primaryKey": ["kind", "record", "sha256"]}


def _cell(value: object) -> str:
    return cell(value.isoformat() if hasattr(value, "isoformat") else value)


def _records(connection: Connection, kind: str) -> dict[str, int]:
    """Every record of a kind by what names it."""
    frame = read_kind(connection, kind, with_id=True)
    header, cells = cells_of(kind, frame)
    key = [HEADERS.get(name, name) for name in KINDS[kind].key if name != "time_of_day"]
    return {
        _named({name: restored(text) for name, text in zip(header, row, strict=True)}, key): record
        for record, row in zip(frame["id"].astype(int).tolist(), cells, strict=True)
    }


def _named(cells: Mapping[str, str], key: Sequence[str]) -> str:
    return json.dumps({name: cells[name] for name in key if cells[name]}, ensure_ascii=False)


def _canonical(text: str) -> str:
    try:
        return json.dumps(dict(json.loads(text)), ensure_ascii=False)
    except (ValueError, TypeError):
        return ""


def _file_of(folder: Path, row: Mapping[str, str]) -> tuple[bytes, Refusal | None]:
    """The content that a row names; or why it cannot be had."""
    name = row.get("sha256", "")
    if not re.fullmatch(r"[0-9a-f]{64}", name):
        return b"", Refusal(0, "sha256", name, "not the name of a content", "")
    path = folder / name
    if not path.is_file() or path.is_symlink() or path.stat().st_size > MOST_BYTES:
        return b"", Refusal(0, "sha256", name, "no such file in the folder of attachments", "")
    for column, read in (("date", date), ("attached_at", datetime)):
        try:
            read.fromisoformat(row.get(column) or ("" if read is date else "2000-01-01T00:00"))
        except ValueError:
            return b"", Refusal(0, column, row.get(column, ""), "not as it was exported", "")
    data = path.read_bytes()
    if sha256_of(data) != name:
        return b"", Refusal(0, "sha256", name, "the file is not as it was attached", "")
    try:
        media_type_of(data, row.get("filename", ""))
    except InputError as error:
        return b"", Refusal(0, "filename", row.get("filename", ""), error.required, error.todo)
    return data, None


def _row(
    connection: Connection, kind: str, record: int, row: Mapping[str, str], data: bytes
) -> Plain:
    name = plain_name(row.get("filename", ""))
    return {
        "kind": kind, "record_id": record, **owner_of(connection, kind, record),
        "date": row["date"], "filename": name,
        "media_type": media_type_of(data, name), "bytes": len(data), "sha256": row["sha256"],
        "note": row.get("note") or None, "who": row.get("who") or UNKNOWN,
        "attached_at": row.get("attached_at") or None,
    }  # fmt: skip
