"""The table in a logger's file: whatever its letters, separator and the lines above it."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from harvest.errors import FileFormatError
from harvest.weather.listening import said_by

# Ours: a file in which more lines than this share have cells past the header is read wrongly.
MOST_LONG_LINES = 0.01
# How files of a spreadsheet program begin: a zip archive, or the older binary one.
WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
HEADER_WITHIN_LINES = 60


def table_of(path: Path, wanted: Sequence[str]) -> pd.DataFrame:
    """The wanted columns as text, from the line on that holds their names.

    Raises FileFormatError when the file cannot be read, has no such line, or has lines that do
    not fit it.
    """
    lines = _text(path).splitlines()
    for place, line in enumerate(lines[:HEADER_WITHIN_LINES]):
        for separator in (",", ";", "\t", "|"):
            cells = [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]
            if all(name in cells for name in wanted):
                header = separator.join(map(str, range(len(cells) + 1)))
                body = "\n".join([header, *lines[place + 1 :]])
                table = pd.read_csv(
                    io.StringIO(body),
                    sep=separator,
                    header=0,
                    usecols=[*(cells.index(name) for name in wanted), len(cells)],
                    dtype=str,
                    index_col=False,
                    keep_default_na=False,
                    on_bad_lines="skip",
                )
                table = _without_long_lines(table.fillna(""), separator, path)
                table.columns = pd.Index([cells[int(str(at))] for at in table.columns])
                if table.empty:
                    break
                return table
    seen = next((line for line in lines if line.strip()), "an empty file")
    raise FileFormatError(
        f"a header line must name the columns {', '.join(wanted)}, with readings below",
        given=repr(seen[:80]),
        where=str(path),
        todo="Name the columns as they stand in the file: --time, --temperature.",
    )


def _without_long_lines(table: pd.DataFrame, separator: str, path: Path) -> pd.DataFrame:
    """The table without its last column, in which stands what lines hold past the header.

    Such lines count as unreadable: which of their cells is the temperature cannot be told.
    """
    *own, past = table.columns
    long = table[past].str.strip() != ""
    if long.mean() > MOST_LONG_LINES:
        raise FileFormatError(
            "every line must have as many cells as the header",
            given=f"{long.sum()} longer lines of {len(table)}",
            where=str(path),
            todo="Numbers with a decimal comma need another separator, or a decimal point: save "
            "the file with semicolons."
            if separator == ","
            else "Look at the lines in an editor.",
        )
    table.loc[long, own] = ""
    return table[own]


def _text(path: Path) -> str:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise FileFormatError(
            "a file must be there and readable", given=said_by(error), where=str(path)
        ) from error
    if raw.startswith(WORKBOOKS):
        raise FileFormatError(
            "a logger's file must be text",
            given="a workbook",
            where=str(path),
            todo="Save its sheet as CSV.",
        )
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", errors="replace")
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1")
