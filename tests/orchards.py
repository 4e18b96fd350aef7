"""Small orchards for the tests: rows as people write them, taken in through the real import."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from harvest.store.importing import ImportReport, import_file
from harvest.store.orchard import Orchard

TODAY = date(2026, 8, 12)
Row = Mapping[str, object]

SITES: Sequence[Row] = (
    {"site": "Home", "latitude": 51.5, "longitude": -1.2},
    {"site": "Coast", "latitude": 38.8, "longitude": 0.1},
    {"site": "Plains", "latitude": -34.0, "longitude": 150.8},
)
TREES: Sequence[Row] = (
    {"tree": "Apple 1", "site": "Home", "species": "apple", "cultivar": "Gala"},
    {"tree": "Apple 2", "site": "Home", "species": "apple", "cultivar": "Gala"},
    {"tree": "Mandarin", "site": "Coast", "species": "mandarin", "cultivar": "own seedling"},
    {"tree": "Loquat", "site": "Coast", "species": "loquat", "cultivar": "own seedling"},
    {"tree": "Peach", "site": "Plains", "species": "peach", "cultivar": "own seedling"},
    {"tree": "Mandarin S", "site": "Plains", "species": "mandarin", "cultivar": "own seedling"},
)


def write_csv(path: Path, rows: Sequence[Row]) -> Path:
    """Write rows as a CSV file; the first row names the columns."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]), restval="")
        writer.writeheader()
        writer.writerows(rows)
    return path


def put(
    orchard: Orchard, kind: str, rows: Sequence[Row], folder: Path, *, today: date = TODAY
) -> ImportReport:
    """Import rows of one kind from a file in the folder."""
    return import_file(orchard, kind, write_csv(folder / f"{kind}.csv", rows), today=today)


def plant(orchard: Orchard, folder: Path, trees: Sequence[Row] = TREES) -> None:
    """Three sites and their trees, planted in the dormant season of 2015."""
    assert put(orchard, "sites", SITES, folder).new == len(SITES)
    rows = [{"planted": "2015-01-15", **tree} for tree in trees]
    report = put(orchard, "trees", rows, folder)
    assert report.new == len(trees), report.refused
