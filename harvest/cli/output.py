"""Results as people and programs read them: a table, JSON, or CSV."""

from __future__ import annotations

import csv
import dataclasses
import json
import sys
from collections.abc import Mapping, Sequence
from datetime import date
from enum import StrEnum
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

# Characters that command a terminal instead of being read; records may come from anywhere.
_COMMANDS = dict.fromkeys((*range(9), *range(11, 32), *range(127, 160)), "�")


class Format(StrEnum):
    """How results are printed."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


def console() -> Console:
    """A console for the terminal, or plain text of a steady width where there is none."""
    return Console() if sys.stdout.isatty() else Console(width=140, no_color=True, highlight=False)


def as_plain(value: Any) -> Any:
    """Dataclasses, dates and the like as JSON has them."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: as_plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): as_plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [as_plain(item) for item in value]
    return value


def print_json(rows: Sequence[Any]) -> None:
    """A JSON list, one object per row."""
    sys.stdout.write(json.dumps([as_plain(row) for row in rows], indent=1, ensure_ascii=False))
    sys.stdout.write("\n")


def print_csv(rows: Sequence[Mapping[str, Any]]) -> None:
    """Rows with a header; sentences stand one after the other, words with semicolons between."""
    if not rows:
        return
    writer = csv.DictWriter(sys.stdout, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({key: _csv_cell(as_plain(value)) for key, value in row.items()})


def _csv_cell(value: Any) -> Any:
    if isinstance(value, list) and not any(isinstance(item, (list, dict)) for item in value):
        texts = [str(item) for item in value]
        return (" " if all(text.endswith(".") for text in texts) else "; ").join(texts)
    if isinstance(value, (list, dict)):
        return json.dumps(value, ensure_ascii=False)
    return "" if value is None else value


def _text(text: str) -> Text:
    """Text shown as it is, whatever it holds; nothing in it is markup or a command."""
    return Text(text.translate(_COMMANDS))


def print_table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table under a title; text is shown as it is, whatever it holds."""
    table = Table(title=_text(title), title_justify="left", header_style="bold")
    for column in columns:
        table.add_column(_text(column), overflow="fold")
    for row in rows:
        table.add_row(*(_text(cell) for cell in row))
    console().print(table)


def say(text: str) -> None:
    """A line for the person, on standard output."""
    console().print(_text(text), soft_wrap=True)


def complain(text: str) -> None:
    """A line about trouble, on standard error."""
    Console(stderr=True, highlight=False).print(_text(text), soft_wrap=True)


def number(value: float | None, digits: int = 1, unit: str = "") -> str:
    """A number with its unit, or a dash where it is not known."""
    return "–" if value is None else f"{value:.{digits}f}{f' {unit}' if unit else ''}"


def count(number: int, what: str) -> str:
    """A number with its noun: `1 tree`, `3 trees`."""
    return f"{number} {what}{'' if number == 1 else 's'}"
