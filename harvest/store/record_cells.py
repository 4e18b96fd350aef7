"""Records as the cells of a table, as an import reads them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time
from typing import Any

import pandas as pd

from harvest.records import Field, fields
from harvest.store.plain_tables import cell

Cells = list[list[str]]


def cells_of(kind: str, frame: pd.DataFrame) -> tuple[list[str], Cells]:
    """Header and cells of records of one kind, as an import reads them."""
    own = [field for field in fields(kind) if field.type is not time]
    columns = [texts(field, frame) for field in own]
    if "time_of_day" in frame:
        at = [field.name for field in own].index("date")
        columns[at] = [
            day if moment is None else f"{day}T{moment.isoformat()}"
            for day, moment in zip(columns[at], frame["time_of_day"], strict=True)
        ]
    return [field.header for field in own], [list(row) for row in zip(*columns, strict=True)]


def texts(field: Field, frame: pd.DataFrame) -> list[str]:
    """A column of records as a file has it."""
    values: Sequence[Any] = frame[field.name].tolist()
    missing = frame[field.name].isna().tolist()
    if field.type is date:
        values = frame[field.name].dt.strftime("%Y-%m-%d").tolist()
    return ["" if none else cell(value) for value, none in zip(values, missing, strict=True)]
