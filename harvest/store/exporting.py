"""The whole orchard as a folder of tables that other programs read, and that rebuild it elsewhere.

One CSV (or .xlsx) file a table, attached photos and notes in a folder of their own, described in
`datapackage.json` (Frictionless Data Package and Table Schema, specs.frictionlessdata.io).
"""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path
from typing import Any

from sqlalchemy import Boolean, Connection, Date, DateTime, Float, Integer, Table

from harvest.errors import InputError
from harvest.records import HEADERS, KINDS, Field, fields
from harvest.store.attachment_tables import (
    FOLDER,
    HEADER,
    NAME,
    attachment_cells,
    attachments_schema,
    write_files,
)
from harvest.store.orchard import Orchard
from harvest.store.plain_tables import KEYS, PLAIN_TABLES, cell, names_of, rows_of
from harvest.store.reading import read_kind
from harvest.store.record_cells import Cells, cells_of
from harvest.units import QUANTITIES

DESCRIPTION = "datapackage.json"
SCHEMA_TYPES: dict[type, str] = {str: "string", float: "number", int: "integer", bool: "boolean",
                                 date: "date"}  # fmt: skip


@dataclass(frozen=True)
class Exported:
    """One file of an export: its name and how many records it holds."""

    file: str
    records: int


def export_folder(orchard: Orchard, folder: Path, *, xlsx: bool = False) -> list[Exported]:
    """Write every table of the orchard, as of one moment, into a new folder.

    Raises InputError where the folder is there and not empty, or cannot be written; an export cut
    short leaves nothing under the folder's name.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(
            "an export needs a new or empty folder",
            given="a folder with files in it" if folder.is_dir() else "a file",
            where=str(folder),
            todo="Nothing was changed. Name another.",
        )
    draft = folder.with_name(f".{folder.name}.part")
    try:
        shutil.rmtree(draft, ignore_errors=True)
        draft.mkdir(parents=True)
        with orchard.reading() as connection:
            done = _write_all(connection, draft, ".xlsx" if xlsx else ".csv")
        if folder.exists():
            folder.rmdir()
        draft.rename(folder)
    except OSError as error:
        raise InputError(
            "the folder must be writable and have room", given=str(error), where=str(folder)
        ) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return done


def _write_all(connection: Connection, folder: Path, ending: str) -> list[Exported]:
    done, resources = [], []
    tables = [(kind, *_records(connection, kind), _kind_schema(kind))
              for kind in KINDS if kind != "weather"]  # fmt: skip
    for name, table in PLAIN_TABLES.items():
        rows = [[cell(v) for v in row] for row in rows_of(connection, table)]
        tables.append((name, names_of(table), rows, _table_schema(table)))
    attached = attachment_cells(connection)
    write_files(connection, attached, folder / FOLDER)
    tables.append((NAME, list(HEADER), attached, attachments_schema()))
    for name, header, cells, schema in tables:
        file = f"{name}{ending}"
        if ending == ".xlsx":
            numbers = [f["type"] in ("number", "integer") for f in schema["fields"]]
            _write_xlsx(folder / file, header, cells, numbers)
        else:
            _write_csv(folder / file, header, cells)
        resources.append(
            {"name": name, "path": file, "profile": "tabular-data-resource",
             "format": ending[1:], "encoding": "utf-8", "schema": schema}
        )  # fmt: skip
        done.append(Exported(file, len(cells)))
    package = {"name": "orchard", "profile": "tabular-data-package", "resources": resources}
    text = json.dumps(package, indent=1, ensure_ascii=False)
    (folder / DESCRIPTION).write_text(f"{text}\n", encoding="utf-8")
    return done


def _records(connection: Connection, kind: str) -> tuple[list[str], Cells]:
    return cells_of(kind, read_kind(connection, kind))


def _write_csv(path: Path, header: Sequence[str], cells: Cells) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(cells)


def _write_xlsx(path: Path, header: Sequence[str], cells: Cells, numbers: Sequence[bool]) -> None:
    import openpyxl
    from openpyxl.utils import get_column_letter

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet(path.stem)
    # Told its size, the sheet tells it to its readers, who then give every row its blank cells.
    size = f"A1:{get_column_letter(len(header))}{len(cells) + 1}"
    sheet.calculate_dimension = lambda: size
    sheet.append(list(header))
    for row in cells:
        sheet.append([_xlsx_cell(t, n) for t, n in zip(row, numbers, strict=True)])
    book.save(path)


def _xlsx_cell(text: str, number: bool) -> float | str | None:
    """A cell of a workbook; a number that needs more than its 15 digits stays text."""
    if not text:
        return None
    return float(text) if number and float(f"{float(text):.15g}") == float(text) else text


def _kind_schema(kind: str) -> dict[str, Any]:
    own = [field for field in fields(kind) if field.type is not time]
    timed = any(field.type is time for field in fields(kind))
    schema: dict[str, Any] = {"fields": [_field_schema(f, timed) for f in own]}
    schema["missingValues"] = [""]
    if kind in ("sites", "trees"):
        schema["primaryKey"] = [HEADERS.get(n, n) for n in KINDS[kind].key]
    schema["foreignKeys"] = [
        {"fields": name, "reference": {"resource": f"{name}s", "fields": name}}
        for name in KINDS[kind].owner
    ]
    return schema


def _field_schema(field: Field, timed: bool) -> dict[str, Any]:
    told: dict[str, Any] = {"name": field.header, "type": SCHEMA_TYPES[field.type]}
    rules: dict[str, Any] = {"required": True} if field.value_needed else {}
    if field.type is date and timed:  # a day, with the time of day where that is known
        told["type"] = "string"
        rules["pattern"] = r"\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2})?)?"
    if field.type is bool:
        told |= {"trueValues": ["yes"], "falseValues": ["no"]}
    quantity = QUANTITIES.get(field.header)
    if quantity is not None:
        told["description"] = f"{quantity.meaning} [{quantity.unit}]"
        rules |= {"minimum": quantity.low, "maximum": quantity.high}
    if field.choices:
        rules["enum"] = list(field.choices)
    return told | ({"constraints": rules} if rules else {})


def _table_schema(table: Table) -> dict[str, Any]:
    return {
        "fields": [_column_schema(table, name) for name in names_of(table)],
        "missingValues": [""],
        "primaryKey": list(KEYS[table.name]),
    }


def _column_schema(table: Table, name: str) -> dict[str, Any]:
    column = table.c.get(name)
    kinds = ((Boolean, "boolean"), (Integer, "integer"), (Float, "number"), (Date, "date"))
    kind = "string"
    if column is not None and not isinstance(column.type, DateTime):
        kind = next((word for sort, word in kinds if isinstance(column.type, sort)), "string")
    told: dict[str, Any] = {"name": name, "type": kind}
    return told | ({"trueValues": ["yes"], "falseValues": ["no"]} if kind == "boolean" else {})
