"""Check values from outside the project, each with its source and how it was verified.

`verified` says whether the value was read in an opened text, computed by an independent script
from the published formula, or written from memory.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import NamedTuple

import pytest

CHECK_VALUES = Path(__file__).parents[1] / "reference" / "check_values.csv"


class CheckValue(NamedTuple):
    topic: str
    inputs: str
    expected: float
    tolerance: float
    source: str
    verified: str

    @property
    def approximately(self) -> object:
        """The expected value within its tolerance; the table prints ten digits."""
        return pytest.approx(self.expected, abs=self.tolerance, rel=1e-9)

    @property
    def numbers(self) -> dict[str, float]:
        """The named inputs, e.g. 'Tmin=5; Tmax=20' as {'Tmin': 5.0, 'Tmax': 20.0}."""
        return {
            name: float(value)
            for name, value in re.findall(r"(\w+)=(-?\d+(?:\.\d+)?)", self.inputs)
        }


def check_values(*topics: str) -> list[CheckValue]:
    """Return the rows of these topics; a topic without rows is an error."""
    with CHECK_VALUES.open(encoding="utf-8", newline="") as file:
        rows = [
            CheckValue(
                row["topic"],
                row["inputs"],
                float(row["expected"]),
                float(row["tolerance"]),
                row["source"],
                row["verified"],
            )
            for row in csv.DictReader(file)
            if row["topic"] in topics
        ]
    missing = set(topics) - {row.topic for row in rows}
    if missing:
        raise LookupError(f"no check values for {sorted(missing)} in {CHECK_VALUES}")
    return rows


def each(*topics: str) -> pytest.MarkDecorator:
    """Parametrize a test with `check`, one run for each row of these topics."""
    rows = check_values(*topics)
    names = [f"{row.topic}: {row.inputs} [{row.verified}]" for row in rows]
    return pytest.mark.parametrize("check", rows, ids=names)
