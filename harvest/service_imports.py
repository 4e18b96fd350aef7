"""The use cases of taking in a file whose columns a person matches to ours beforehand."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from harvest.errors import InputError
from harvest.records import KINDS, fields
from harvest.service_records import judge
from harvest.store.history import Signature
from harvest.store.importing import ImportReport, import_table
from harvest.store.notebook import Layout
from harvest.store.orchard import Orchard
from harvest.store.parsing import headers_of, recognised
from harvest.store.tablefile import TextTable, read_table

__all__ = [
    "ImportReport",
    "Layout",
    "TextTable",
    "columns_of",
    "guess_columns",
    "guess_kind",
    "import_mapped",
    "loose_columns",
    "read_upload",
]

_LOOSE = re.compile(r"\d{4}(?:[/-]\d{2,4}){0,2}")
MOST_NAME = 80


def read_upload(name: str, content: bytes) -> TextTable:
    """The table in a file that was sent, CSV or .xlsx. Raises FileFormatError where it is none."""
    plain = re.sub(r"[^\w. ()-]", "_", Path(name.replace("\\", "/")).name)[-MOST_NAME:]
    with TemporaryDirectory() as folder:
        path = Path(folder) / (plain.lstrip(".") or "table.csv")
        path.write_bytes(content)
        return read_table(path)


def columns_of(kind: str) -> tuple[str, ...]:
    """The columns that a kind of record may have, in our units and others."""
    return tuple(headers_of(kind))


def guess_columns(kind: str, header: Sequence[str]) -> dict[str, str]:
    """Which column of a kind each column of a file seems to be, by its name; blank for none."""
    found: dict[str, str] = {}
    for name, own in recognised(kind, header).items():
        found[name] = "" if own in found.values() else own
    return found


def guess_kind(header: Sequence[str]) -> str:
    """Which kind of record a file seems to hold: by the columns it has of each, and lacks."""

    def fit(kind: str) -> tuple[int, int]:
        given = {own for own in guess_columns(kind, header).values() if own}
        lacking = sum(field.value_needed and field.header not in given for field in fields(kind))
        return len(given) - 2 * lacking, -len(fields(kind))

    return max(KINDS, key=fit)


def loose_columns(header: Sequence[str]) -> list[str]:
    """Columns named after seasons or dates: where there are some, it is a notebook's table."""
    return [name for name in header[1:] if _LOOSE.fullmatch(name.strip())]


def import_mapped(
    orchard: Orchard,
    kind: str,
    table: TextTable,
    columns: Mapping[str, str],
    *,
    today: date,
    signed: Signature,
    dry_run: bool,
    layout: Layout | None = None,
) -> ImportReport:
    """Take a table in, each of its columns as the one of ours it was matched to; blank: left out.

    A loose table is taken as it is. Raises InputError where two columns are matched to one.
    """
    if layout is None:
        chosen = {name: own for name, own in columns.items() if own}
        if unknown := set(chosen.values()) - set(headers_of(kind)):
            raise InputError(f"a column must be one of {kind}", given=", ".join(sorted(unknown)))
        twice = {own for own in chosen.values() if list(chosen.values()).count(own) > 1}
        if twice:
            raise InputError(
                "each of our columns can be filled from one column of the file",
                given=f"two or more for {', '.join(sorted(twice))}",
                todo="Leave one of them out.",
            )
        kept = [name for name in table.cells.columns if name in chosen]
        table = replace(table, cells=table.cells[kept].rename(columns=chosen))
    return import_table(
        orchard, kind, table, today=today, signed=signed, dry_run=dry_run, judge=judge,
        layout=layout,
    )  # fmt: skip
