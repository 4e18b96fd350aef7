"""Check values from outside the project that bear on crops, each with its source."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import NamedTuple

import pytest

TABLE = Path(__file__).with_name("check_values.csv")


class Published(NamedTuple):
    inputs: str
    expected: float
    tolerance: float
    source: str

    @property
    def numbers(self) -> list[float]:
        return [float(number) for number in re.findall(r"(?<![\w.])\d+(?:\.\d+)?", self.inputs)]

    @property
    def approximately(self) -> object:
        return pytest.approx(self.expected, abs=self.tolerance, rel=1e-9)


def published(topic: str) -> list[object]:
    """Rows of one topic as test parameters, named by their inputs and source."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["topic"] == topic]
    return [
        pytest.param(
            Published(
                row["inputs"], float(row["expected"]), float(row["tolerance"]), row["source"]
            ),
            id=f"{row['inputs']} ({row['source']})",
        )
        for row in rows
    ]
