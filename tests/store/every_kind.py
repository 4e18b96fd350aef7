"""One full and one sparse record of every kind, as people write them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from harvest.store.orchard import Orchard
from tests.orchards import Row, put

RECORDS: Mapping[str, Sequence[Row]] = {
    "sites": [
        {"site": "Home", "latitude": 51.5, "longitude": -1.25, "elevation_m": 61.5,
         "timezone": "Europe/London", "row_spacing_m": 4.5, "tree_spacing_m": 2.25,
         "note": "clay, \"heavy\"\nwet"},
        {"site": "Plains", "latitude": -34, "longitude": 150.75},
    ],
    "trees": [
        {"tree": "Old Pearmain 3", "site": "Home", "species": "apple", "cultivar": "Pearmain",
         "planted": "1987-11-20", "rootstock": "M26", "vigour": "semi-dwarf", "form": "bush",
         "row": 3, "position": 12, "pollen_group": "B", "removed": "2026-03-01", "note": "x"},
        {"tree": "Zoë", "site": "Plains", "species": "peach", "cultivar": "seedling",
         "planted": "2020-02-29"},
    ],
    "weather": [
        {"site": "Home", "date": "2024-02-29", "tmin_c": -1.5, "tmax_c": 9.25, "precip_mm": 0.4,
         "wind_kmh": 7.25},
        {"site": "Home", "date": "2024-03-01", "tmin_c": 1, "tmax_c": "", "precip_mm": "",
         "wind_kmh": ""},
    ],
    "stages": [
        {"tree": "Old Pearmain 3", "date": "2024-05-02", "bbch": 65, "percent_open": 80.5,
         "observer": "Ada", "note": "n"},
        {"tree": "Old Pearmain 3", "date": "2024-05-02", "bbch": 67},
    ],
    "picks": [
        {"tree": "Zoë", "date": "2026-01-12", "weight_kg": 12.4, "fruit_count": 80, "pass": 1,
         "graded_out_kg": 0.9, "cause": "birds", "last": "no", "brix": 12.5, "firmness_kg": 6.1,
         "starch": 4, "note": "n"},
        {"tree": "Zoë", "date": "2026-01-12", "weight_kg": 3.25, "pass": 2, "last": "yes"},
        {"tree": "Zoë", "date": "2026-01-12", "weight_kg": 0},
    ],
    "thinnings": [
        {"tree": "Zoë", "date": "2025-10-30", "action": "thin", "fruit_removed": 40,
         "fruit_left": 20, "note": "n"},
        {"tree": "Old Pearmain 3", "date": "2024-06-20", "action": "strip"},
    ],
    "girths": [
        {"tree": "Zoë", "date": "2025-06-01", "girth_cm": 12.7},
        {"tree": "Zoë", "date": "2026-06-01", "girth_cm": 14},
    ],
    "sprays": [
        {"tree": "Zoë", "site": "", "date": "2025-08-01T06:30", "product": "Copper A",
         "withholding_days": 14, "registration": "R1", "crop": "peach", "rate": "5 g/l",
         "reason": "leaf curl", "note": "n", "also_reached": "row 3; Zoë", "re_entry": "24 h"},
        {"tree": "Zoë", "site": "", "date": "2025-08-01", "product": "Copper A",
         "withholding_days": ""},
        {"tree": "", "site": "Home", "date": "2025-08-01", "product": "Copper A",
         "withholding_days": 0},
    ],
    "grafts": [
        {"tree": "Old Pearmain 3", "date": "2025-03-14", "cultivar": "Gala", "species": "apple",
         "note": "n"},
        {"tree": "Old Pearmain 3", "date": "2000-03-14", "cultivar": "seedling"},
    ],
    "events": [
        {"tree": "Zoë", "site": "", "date": "2025-09-12", "event": "frost", "severity": 2,
         "note": "n"},
        {"tree": "", "site": "Home", "date": "2024-04-21", "event": "frost", "severity": ""},
    ],
}  # fmt: skip


def wide(rows: Sequence[Row]) -> list[Row]:
    """Rows with every column that any of them has."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    return [{name: row.get(name, "") for name in names} for row in rows]


def fill(orchard: Orchard, folder: Path) -> None:
    for kind, rows in RECORDS.items():
        put(orchard, kind, wide(rows), folder)
