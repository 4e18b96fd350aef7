"""Reading a table as people keep them: CSV in the usual encodings and separators, or .xlsx.

Everything comes back as text with the line it stood on, so that a refusal can name the place.
"""

from __future__ import annotations

import csv
import hashlib
import io
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from harvest.errors import FileFormatError

MOST_BYTES = 256 * 1024 * 1024
MOST_CELL = 10_000
_SEPARATORS = (",", ";", "\t", "|")


@dataclass(frozen=True)
class TextTable:
    """A table as text: `cells` indexed by the line in the file [1-based], and how it was read."""

    cells: pd.DataFrame
    name: str
    encoding: str
    separator: str
    digest: str


def read_table(path: Path) -> TextTable:
    """Read a CSV or .xlsx file as text.

    Raises FileFormatError when the file is missing, empty, too large, or no table.
    """
    if not path.is_file():
        raise FileFormatError("a file must be there to read", given="no such file", where=str(path))
    if path.stat().st_size > MOST_BYTES:
        raise FileFormatError(
            f"a file may have at most {MOST_BYTES // 1024**2} MB",
            given=f"{path.stat().st_size // 1024**2} MB",
            where=str(path),
            todo="Split it into several files.",
        )
    raw = path.read_bytes()
    digest = hashlib.sha256(raw).hexdigest()
    if not raw.strip(b"\xef\xbb\xbf\xff\xfe \r\n\t"):
        raise FileFormatError(
            "a file must hold a header row and records",
            given="an empty file",
            where=str(path),
            todo="Write the column names in the first row and one record in each row below.",
        )
    if raw[:4] == b"PK\x03\x04":
        cells = _read_xlsx(raw, path)
        return TextTable(_tidy(cells, path), path.name, "xlsx", "", digest)
    text, encoding = _decode(raw, path)
    cells, separator = _read_csv(text, path)
    return TextTable(_tidy(cells, path), path.name, encoding, separator, digest)


def _decode(raw: bytes, path: Path) -> tuple[str, str]:
    """Text of the bytes: by byte-order mark, else UTF-8, else UTF-16 by its zeros, else Latin-1."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        candidates = ["utf-16"]
    elif raw.startswith(b"\xef\xbb\xbf"):
        candidates = ["utf-8-sig"]
    elif b"\x00" in raw[:200]:
        candidates = ["utf-16-le" if raw[1:2] == b"\x00" else "utf-16-be"]
    else:
        candidates = ["utf-8", "cp1252", "latin-1"]
    for encoding in candidates:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            break
        return text, encoding
    raise FileFormatError(
        "a file must be text (CSV) or .xlsx",
        given="bytes that are neither",
        where=str(path),
        todo="Save the sheet as CSV (UTF-8) or .xlsx and try again.",
    )


def _read_csv(text: str, path: Path) -> tuple[pd.DataFrame, str]:
    header = next(line for line in text.splitlines() if line.strip())
    separator = max(_SEPARATORS, key=header.count)
    rows: list[list[str]] = []
    lines: list[int] = []
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
        end = 0
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append(row)
                lines.append(end + 1)
            end = reader.line_num
    except csv.Error as error:
        raise FileFormatError(
            "every row must be readable as CSV",
            given=str(error),
            where=f"{path}, line {end + 1}",
            todo="Look for a stray or missing quotation mark there.",
        ) from error
    return _frame(rows, lines), separator


def _read_xlsx(raw: bytes, path: Path) -> pd.DataFrame:
    import openpyxl

    try:
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows, lines = [], []
        for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
            texts = [_cell_text(value) for value in row]
            if any(texts):
                rows.append(texts)
                lines.append(number)
        book.close()
    except (OSError, ValueError, KeyError, IndexError) as error:
        raise FileFormatError(
            "the workbook must be readable", given=str(error), where=str(path)
        ) from error
    if not rows:
        raise FileFormatError(
            "the first sheet must hold a header row and records",
            given="an empty sheet",
            where=str(path),
        )
    return _frame(rows, lines)


def _cell_text(value: object) -> str:
    """A cell as the text its CSV twin would have."""
    if value is None:
        return ""
    if hasattr(value, "isoformat"):
        text = str(value.isoformat())
        return text.removesuffix("T00:00:00")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() else repr(value)
    return str(value)


def _frame(rows: list[list[str]], lines: list[int]) -> pd.DataFrame:
    """Rows below the header; short rows are padded, cells beyond the header kept in `_extra`."""
    header = [cell.strip() for cell in rows[0]]
    width = len(header)
    extra = [" ".join(row[width:]).strip() for row in rows[1:]]
    body = [row[:width] + [""] * (width - len(row)) for row in rows[1:]]
    frame = pd.DataFrame(body, columns=pd.Index(header), index=lines[1:], dtype=object)
    if any(extra):
        frame["_extra"] = extra
    return frame


def _tidy(cells: pd.DataFrame, path: Path) -> pd.DataFrame:
    """Drop unnamed empty columns; refuse a header that is no header."""
    names = [str(name) for name in cells.columns]
    doubled = sorted({name for name in names if name and names.count(name) > 1})
    if doubled:
        raise FileFormatError(
            "every column needs a name of its own",
            given=f"{', '.join(doubled)} more than once",
            where=f"{path}, line 1",
        )
    return cells.loc[:, [bool(name) for name in names]]
