"""From text to values, column by column: what can be read goes on, what cannot is refused.

Nothing is guessed: a date is ISO 8601 or can mean one day only, a number has a decimal point (or a
comma that cannot be a thousands mark). Each refusal names line, column, value, reason and what to
do.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, time
from textwrap import shorten

import numpy as np
import pandas as pd

from harvest.errors import FileFormatError
from harvest.records import KINDS, Field, fields
from harvest.store.spreadsheet import restored
from harvest.store.synonyms import SYNONYMS
from harvest.store.tablefile import EXTRA, MOST_CELL, TextTable, header_below
from harvest.store.typed_dates import FORM, order_told, read_otherwise, why_not
from harvest.units import CONVERSIONS, QUANTITIES, convert

# Characters that are no text but commands to a terminal; tabs and new lines may stand in a note.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
COMMA = ("comma", ",", "Write the number with a decimal point and without a thousands mark.")
POINT = ("point", ".", "Leave a thousands mark out; write decimals as 1.25 or 1.2500.")
YES = {"yes", "y", "true", "1", "x", "last"}
NO = {"no", "n", "false", "0"}

# Headers that name no unit, by the one they are read in.
WITHOUT_UNIT = {
    "tmin": "degC", "tmax": "degC", "precip": "mm", "prcp": "mm", "graded_out": "kg",
    "wind": "km/h", "wspd": "km/h", "wind_speed": "km/h",
}  # fmt: skip
# Hotter than any air on record (56.7 degC, Furnace Creek 1913, World Meteorological Organization's
# archive; from memory), and how many such days among a hundred say that the unit is another.
HOTTEST_C, SHARE_TOO_HOT = 57.0, 0.01


@dataclass(frozen=True, slots=True)
class Refusal:
    """One row that did not go in, or looks wrong: where, what, why, and what to do about it."""

    line: int
    column: str
    value: str
    reason: str
    todo: str = ""
    rule: str = ""
    """Which of `harvest.store.rules` it looks wrong by; it is about the whole record then."""


@dataclass(frozen=True)
class Parsed:
    """Rows whose cells could all be read (`rows`, by line), and the refused ones."""

    rows: pd.DataFrame
    columns: tuple[str, ...]
    """Fields the file had a column for."""
    typed: dict[str, pd.Series]
    """Each such field's cells as they were typed, by line; their name is the file's header."""
    refused: list[Refusal]
    ignored_columns: tuple[str, ...]
    assumed_units: tuple[str, ...] = ()
    """For each column whose name tells no unit, in which one it was read."""
    day_orders: tuple[str, ...] = ()
    """For each column of dates whose order only the column as a whole tells: how it was read."""


def parse(kind: str, table: TextTable) -> Parsed:
    """Read a text table as records of one kind.

    Returns values with the fields' names as columns, the line as index; dates are datetime64,
    missing values nan / None / NaT.

    Raises FileFormatError when a needed column is missing, or a column of temperatures that names
    no unit can hardly hold degC.
    """
    columns = match_columns(kind, table)
    assumed = _assumed_units(columns, table)
    refused: dict[int, Refusal] = {}
    out: dict[str, pd.Series] = {}
    cells = table.cells
    if EXTRA in cells.columns:
        _refuse(
            refused,
            cells[EXTRA] != "",
            cells[EXTRA],
            "",
            "the row has more cells than the header",
            "Quote a text that contains the separator.",
        )
    for field in fields(kind):
        source = columns.get(field.header)
        texts = (
            cells[source].str.strip()
            if source is not None
            else pd.Series("", index=cells.index, dtype=object)
        )
        out[field.name] = _parse_field(field, source, texts, refused, out)
    values = pd.DataFrame(out, index=cells.index)
    present = tuple(f.name for f in fields(kind) if f.header in columns or f.type is time)
    typed = {f.name: cells[columns[f.header]] for f in fields(kind) if f.header in columns}
    for name in values.columns[[f.type is date for f in fields(kind)]]:
        values[name] = values[name].dt.normalize()
    good = ~values.index.isin(list(refused))
    used = {*columns.values(), EXTRA}
    ignored = tuple(str(name) for name in cells.columns if name not in used)
    by_line = sorted(refused.values(), key=lambda r: r.line)
    orders = tuple(
        f"{typed[f.name].name} was read {told}"
        for f in fields(kind)
        if f.type is date and f.name in typed and (told := order_told(typed[f.name].str.strip()))
    )
    return Parsed(values[good], present, typed, by_line, ignored, assumed, orders)


def _assumed_units(columns: dict[str, str], table: TextTable) -> tuple[str, ...]:
    """What is to be said of columns whose names tell no unit.

    Raises FileFormatError where the values of such a column look like degF.
    """
    said = []
    for source in columns.values():
        unit = WITHOUT_UNIT.get(_fold(source))
        if unit is None:
            continue
        numbers = pd.to_numeric(table.cells[source].str.replace(",", "."), errors="coerce")
        hot = numbers[numbers > HOTTEST_C]
        if unit == "degC" and len(hot) > SHARE_TOO_HOT * max(int(numbers.notna().sum()), 1):
            shown = ", ".join(f"{value:g} in line {line}" for line, value in hot.head(5).items())
            raise FileFormatError(
                f"temperatures whose column names no unit must be in degC, at most {HOTTEST_C:g}",
                given=f"{len(hot)} of {int(numbers.notna().sum())} values above it ({shown})",
                where=f"{table.name}, column {source}",
                todo=f"Call the column {_fold(source)}_f if it is in degF, {_fold(source)}_c if in "
                "degC.",
            )
        said.append(f"{source} was read in {unit}")
    return tuple(said)


def match_columns(kind: str, table: TextTable) -> dict[str, str]:
    """Which column of the file holds which header of ours (or of ours in another unit).

    Raises FileFormatError that lists what is missing and what was expected.
    """
    given = _given_headers(table)
    found: dict[str, str] = {}
    for field in fields(kind):
        names = _units_of(field.header)
        names += [word for name in names for word in SYNONYMS.get(name, ())]
        match = next((given[name] for name in names if name in given), None)
        if match is not None and field.type is not time:
            found[field.header] = match
            _refuse_two_units(field.header, given, match, table.name)
    missing = [f.header for f in fields(kind) if f.column_needed and f.header not in found]
    owner = KINDS[kind].owner
    if len(owner) > 1 and not any(name in found for name in owner):
        missing.append(" or ".join(owner))
    if missing:
        needed, optional = (
            ", ".join(
                " or ".join(_units_of(f.header))
                for f in fields(kind)
                if f.column_needed is wanted and f.type is not time
            )
            for wanted in (True, False)
        )
        line = header_below(table, missing)
        above = f"Take out the lines above the column names in line {line}. " if line else ""
        raise FileFormatError(
            f"a {kind} file needs the column{'s' * (len(missing) > 1)} {', '.join(missing)}",
            given=shorten(", ".join(given.values()), 300, placeholder=" …") or "no column names",
            where=f"{table.name}, header row",
            todo=f"{above}Columns needed: {needed}; may be there too: {optional}.",
        )
    return found


def _refuse_two_units(header: str, given: Mapping[str, str], used: str, where: str) -> None:
    """Raise FileFormatError where a quantity stands in two units: one would be left out unseen."""
    other = [given[name] for name in _units_of(header) if name in given and given[name] != used]
    if other:
        raise FileFormatError(
            "a quantity stands in one unit",
            given=f"both {used} and {', '.join(other)}",
            where=f"{where}, header row",
            todo="Nothing was read. Keep the column that is right.",
        )


def headers_of(kind: str) -> list[str]:
    """Every header that a column of a kind may have, those in other units among them."""
    return [name for f in fields(kind) if f.type is not time for name in _units_of(f.header)]


def recognised(kind: str, header: Iterable[str]) -> dict[str, str]:
    """As which of `headers_of` each column of a file is read by its name; blank for none."""
    names = headers_of(kind)
    known = {word: name for name in names for word in (*SYNONYMS.get(name, ()), name)}
    return {name: known.get(_fold(name), "") for name in header}


def _given_headers(table: TextTable) -> dict[str, str]:
    """The file's column names by their folded form. Raises FileFormatError where two are alike."""
    given: dict[str, str] = {}
    for name in table.cells.columns:
        folded = _fold(str(name))
        if folded and folded in given:
            raise FileFormatError(
                "every column needs a name of its own",
                given=f"{given[folded]!r} and {str(name)!r}",
                where=f"{table.name}, header row",
                todo="Rename or remove the one that is not meant.",
            )
        if name != EXTRA:
            given[folded] = str(name)
    return given


def _units_of(header: str) -> list[str]:
    """A header of ours, and those of the same quantity in other units."""
    return [header, *(c for c, conversion in CONVERSIONS.items() if conversion.column == header)]


def _fold(header: str) -> str:
    """A header without case, spaces and punctuation: `Tmin (C)` is `tmin_c`."""
    words = "".join(c if c.isalnum() or c == "%" else " " for c in header.casefold()).split()
    return "_".join(words)


def _refuse(
    refused: dict[int, Refusal],
    where: pd.Series,
    texts: pd.Series,
    column: str,
    reason: str | Callable[[str], str],
    todo: str = "",
) -> None:
    """Note the first trouble of each row in which `where` holds."""
    for line, value in texts[where].items():
        said = reason if isinstance(reason, str) else reason(str(value))
        refused.setdefault(int(str(line)), Refusal(int(str(line)), column, str(value), said, todo))


def _parse_field(
    field: Field,
    source: str | None,
    texts: pd.Series,
    refused: dict[int, Refusal],
    out: dict[str, pd.Series],
) -> pd.Series:
    column = source or field.header
    if source is None and field.type is not time and not field.value_needed:
        return _nothing(field, texts.index)
    blank = texts == ""
    if field.value_needed:
        todo = "Fill it in, or leave the row out."
        _refuse(refused, blank, texts, column, "a value is needed here", todo)
    long = texts.str.len() > MOST_CELL
    if long.any():
        shown = texts.str[:40] + "…"
        reason = f"a cell may hold at most {MOST_CELL} characters"
        _refuse(refused, long, shown, column, reason, "Look for a missing quotation mark.")
    if field.type is str:
        return _parse_text(field, column, texts, refused)
    if field.type is bool:
        return _parse_yes_no(column, texts, refused)
    if field.type is date:
        return _parse_date(column, texts, refused)
    if field.type is time:  # written in the date column, read with it
        return pd.Series(_times(out), index=texts.index, dtype=object)
    return _parse_number(field, column, texts, refused)


def _nothing(field: Field, lines: pd.Index) -> pd.Series:
    """The values of a column that the file has not."""
    if field.type is date:
        return pd.Series(np.full(len(lines), np.datetime64("NaT", "s")), index=lines)
    if field.type in (str, bool):
        return pd.Series(None, index=lines, dtype=object)
    return pd.Series(np.nan, index=lines)


def _parse_text(
    field: Field, column: str, texts: pd.Series, refused: dict[int, Refusal]
) -> pd.Series:
    if field.choices:
        texts = texts.str.casefold()
        wrong = ~texts.isin(["", *field.choices])
        listed = ", ".join(field.choices)
        _refuse(refused, wrong, texts, column, "not one of the words known here", f"Use: {listed}.")
    hidden = texts.str.contains(_CONTROL)
    if hidden.any():
        _refuse(
            refused,
            hidden,
            texts.str.replace(_CONTROL, "�", regex=True),
            column,
            "the text holds a control character",
            "Type the text anew, without copying it.",
        )
    if texts.str.startswith("'").any():
        texts = texts.map(restored)
    return texts.where(texts != "", None)


def _parse_yes_no(column: str, texts: pd.Series, refused: dict[int, Refusal]) -> pd.Series:
    folded = texts.str.casefold()
    wrong = ~folded.isin([*YES, *NO, ""])
    _refuse(refused, wrong, texts, column, "neither yes nor no", "Write yes or no.")
    values = folded.map(lambda word: True if word in YES else False if word in NO else None)
    return values.astype(object)


def _parse_date(column: str, texts: pd.Series, refused: dict[int, Refusal]) -> pd.Series:
    plain = texts.str.fullmatch(r"\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?)?")
    values = pd.to_datetime(
        texts.where(plain).str.replace(" ", "T"), format="ISO8601", errors="coerce"
    )
    values = values.astype("datetime64[s]")
    if (other := (texts != "") & ~plain).any():
        values[other] = read_otherwise(texts[other])
    _refuse(refused, (texts != "") & values.isna(), texts, column, why_not, FORM)
    return values


def _times(out: dict[str, pd.Series]) -> list[time | None]:
    """Time of day of each date-and-time already read; None where only a date was written."""
    moments = out["date"]
    return [
        None if pd.isna(moment) or moment == moment.normalize() else moment.time()
        for moment in moments
    ]


def _parse_number(
    field: Field, column: str, texts: pd.Series, refused: dict[int, Refusal]
) -> pd.Series:
    numeric = pd.to_numeric(texts.where(texts != ""), errors="coerce").astype(float)
    if not np.isfinite(numeric[texts != ""]).all():
        numeric = _with_commas(column, texts, refused)
    elif field.type is int:
        _refuse_mark(column, texts, refused, POINT)
    wrong = (texts != "") & ~np.isfinite(numeric)
    _refuse(refused, wrong, texts, column, "not a number", "Write digits and a decimal point only.")
    unit_header = _unit_header(_fold(column), field.header)
    name, values = convert(unit_header, np.asarray(numeric, dtype=np.float64))
    numeric = pd.Series(values, index=texts.index)
    if field.type is int:
        broken = (numeric % 1 != 0) & numeric.notna()
        _refuse(refused, broken, texts, column, "not a whole number", "Write a whole number.")
    quantity = QUANTITIES[name]
    outside = numeric.notna() & ~numeric.between(quantity.low, quantity.high)
    unit = "" if quantity.unit == "1" else f" {quantity.unit}"
    _refuse(
        refused,
        outside,
        texts,
        column,
        f"{quantity.meaning} must lie between {quantity.low:g} and {quantity.high:g}{unit}",
        "Check the value, and the unit named in the header.",
    )
    return numeric


def _refuse_mark(
    column: str, texts: pd.Series, refused: dict[int, Refusal], mark: tuple[str, str, str]
) -> None:
    """Refuse numbers like 1,234 in which a mark may part the thousands as well as the decimals."""
    name, sign, todo = mark
    where = texts.str.fullmatch(rf"[+-]?[1-9]\d{{0,2}}({re.escape(sign)}\d{{3}})+")
    reason = f"the {name} may be a decimal or a thousands mark"
    _refuse(refused, where, texts, column, reason, todo)


def _with_commas(column: str, texts: pd.Series, refused: dict[int, Refusal]) -> pd.Series:
    """Numbers of which some have a decimal comma; what may be a thousands mark is refused."""
    comma = texts.str.fullmatch(r"[+-]?\d+,\d+")
    _refuse_mark(column, texts, refused, COMMA)
    if comma.any():  # where the comma is the decimal mark, the point is none
        _refuse_mark(column, texts, refused, POINT)
    plain = texts.where(~comma, texts.str.replace(",", "."))
    return pd.to_numeric(plain.where(plain != ""), errors="coerce").astype(float)


def _unit_header(folded: str, header: str) -> str:
    """The header whose unit a column is in: `lbs` stands for `weight_lb`."""
    for other in CONVERSIONS:
        if folded == other or folded in SYNONYMS.get(other, ()):
            return other
    return header
