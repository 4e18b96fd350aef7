"""Reading a table as people keep them: CSV in the usual encodings and separators, or .xlsx.

Everything comes back as text with the line it stood on, so that a refusal can name the place.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
import unicodedata
import zipfile
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from harvest.errors import FileFormatError

MOST_BYTES = 256 * 1024 * 1024
MOST_UNPACKED = 1024 * 1024 * 1024
MOST_CELL = 10_000
# How many lines of titles may stand above the column names for them to be found.
LINES_ABOVE = 10
# Where the cells beyond the header's last column are kept; no header cell can be called so.
EXTRA = " "
_SEPARATORS = (",", ";", "\t", "|")
# A cell with a formula that no program has worked out: without a value, not even an empty text.
_OPEN_FORMULA = re.compile(
    rb'<c (?![^>]*\bt="str")[^>]*><f(?:[^>]*/>|[^>]*>[^<]*</f>)(?:<v ?/>|<v></v>)?</c>'
)
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"


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
    if raw[:4] == b"PK\x03\x04":
        cells, name = _read_xlsx(raw, path)
        return TextTable(_tidy(cells, path), name, "xlsx", "", digest)
    text, encoding = _decode(raw, path)
    cells, separator = _read_csv(text, path)
    return TextTable(_tidy(cells, path), path.name, encoding, separator, digest)


def header_below(table: TextTable, names: Collection[str]) -> int | None:
    """The line among the first that holds two or more of some column names; None: there is none."""
    for line, *cells in table.cells.head(LINES_ABOVE).itertuples():
        if len({str(cell).strip().casefold() for cell in cells} & set(names)) > 1:
            return int(line)
    return None


def _empty(path: Path, what: str) -> FileFormatError:
    return FileFormatError(
        "a table must hold a header row and records",
        given=what,
        where=str(path),
        todo="Write the column names in the first row and one record in each row below.",
    )


def _decode(raw: bytes, path: Path) -> tuple[str, str]:
    """Text of the bytes: by byte-order mark, else UTF-8, else UTF-16 by its zeros, else Latin-1.

    Accents are composed, so that a name is the same whichever computer wrote it.
    """
    if raw.startswith(_OLD_WORKBOOK):
        candidates = []
    elif raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        candidates = ["utf-16"]
    elif raw.startswith(b"\xef\xbb\xbf"):
        candidates = ["utf-8-sig"]
    elif b"\x00" in raw[:2]:
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
        return unicodedata.normalize("NFC", text), encoding
    raise FileFormatError(
        "a file must be text (CSV) or .xlsx",
        given="bytes that are neither",
        where=str(path),
        todo="Save the sheet as CSV (UTF-8) or .xlsx and try again.",
    )


def _read_csv(text: str, path: Path) -> tuple[pd.DataFrame, str]:
    header = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(_SEPARATORS, key=header.count)
    rows: list[list[str]] = []
    lines: list[int] = []
    # A cell too long is refused as a cell, with its line and column, and hides no other.
    csv.field_size_limit(max(csv.field_size_limit(), len(text)))
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
    if not rows:
        raise _empty(path, "an empty file")
    return _frame(rows, lines), separator


def _read_xlsx(raw: bytes, path: Path) -> tuple[pd.DataFrame, str]:
    """The first sheet, and the file's name; with the sheet's where there are several."""
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    broken = (OSError, ValueError, LookupError, TypeError, AttributeError, SyntaxError,
              zipfile.BadZipFile, InvalidFileException)  # fmt: skip
    try:
        _refuse_bomb(raw, path)
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows, lines = [], []
        for number, row in enumerate(_worked_out(raw, sheet.iter_rows(values_only=True)), start=1):
            texts = [_cell_text(value) for value in row]
            if any(texts):
                rows.append(texts)
                lines.append(number)
        several = len(book.worksheets) > 1
        book.close()
    except broken as error:
        raise FileFormatError(
            "the workbook must be readable",
            given=str(error),
            where=str(path),
            todo="Open it, save it as .xlsx or as CSV (UTF-8), and try again.",
        ) from error
    if not rows:
        raise _empty(path, f"an empty sheet {sheet.title!r}")
    return _frame(rows, lines), f"{path.name}, sheet {sheet.title}" if several else path.name


def _worked_out(raw: bytes, values: Iterable[Sequence[object]]) -> Iterator[Sequence[object]]:
    """Values of each row; a formula that no program has worked out yet stands as it is written."""
    import openpyxl

    if not _holds_open_formulas(raw):
        yield from values
        return
    book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True)
    written = book.worksheets[0].iter_rows(values_only=True)
    for row, formulas in zip(values, written, strict=True):
        yield [
            formula if value is None else value
            for value, formula in zip(row, formulas, strict=True)
        ]
    book.close()


def _holds_open_formulas(raw: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        sheets = [name for name in packed.namelist() if name.startswith("xl/worksheets/")]
        return any(
            _OPEN_FORMULA.search(packed.read(name)) for name in sheets if name.endswith(".xml")
        )


def _refuse_bomb(raw: bytes, path: Path) -> None:
    """Raise FileFormatError where a small workbook unpacks to more than a computer may hold."""
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        size = sum(part.file_size for part in packed.infolist())
    if size > MOST_UNPACKED:
        raise FileFormatError(
            f"a workbook may hold at most {MOST_UNPACKED // 1024**2} MB when unpacked",
            given=f"{size // 1024**2} MB",
            where=str(path),
            todo="Nothing was read. Split it into several files, or save the sheet as CSV.",
        )


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
    return unicodedata.normalize("NFC", str(value)).strip()


def _frame(rows: list[list[str]], lines: list[int]) -> pd.DataFrame:
    """Rows below the header; short rows are padded, cells beyond the header kept in `EXTRA`."""
    header = [cell.strip() for cell in rows[0]]
    width = len(header)
    extra = [" ".join(row[width:]).strip() for row in rows[1:]]
    body = [row[:width] + [""] * (width - len(row)) for row in rows[1:]]
    frame = pd.DataFrame(body, columns=pd.Index(header), index=lines[1:], dtype=object)
    if any(extra):
        frame[EXTRA] = extra
    return frame


def _tidy(cells: pd.DataFrame, path: Path) -> pd.DataFrame:
    """Drop unnamed empty columns, number those with cells; refuse a header that is no header."""
    filled = (cells != "").any()
    names = [
        str(name) or (f"column {place} without a name" if full else "")
        for place, (name, full) in enumerate(zip(cells.columns, filled, strict=True), start=1)
    ]
    doubled = sorted({name for name in names if name and names.count(name) > 1})
    if doubled:
        raise FileFormatError(
            "every column needs a name of its own",
            given=f"{', '.join(doubled)} more than once",
            where=f"{path}, header row",
            todo="Rename or remove the one that is not meant.",
        )
    return cells.set_axis(names, axis="columns").loc[:, [bool(name) for name in names]]
