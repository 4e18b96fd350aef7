"""Orchards for whole pages: without trees, and with names that mean harm. All invented."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from harvest import service
from harvest.store.about import About, write_about
from harvest.store.importing import import_file
from harvest.store.orchard import Orchard
from tests.dashboard.made_up import AS_OF, HOSTILE

SEASONS = range(2022, 2027)


def take_in(orchard: Orchard, folder: Path, kind: str, rows: Sequence[Sequence[object]]) -> None:
    """Import rows, the first of them the header; every one of them must go in."""
    path = folder / f"{kind}.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    report = import_file(orchard, kind, path, today=AS_OF)
    assert not report.refused, report.refused


def hostile_names() -> list[str]:
    """The hostile names that a table can hold: without line breaks and control characters."""
    return [name for name in HOSTILE if name.isprintable() or "\u202e" in name]


def hostile_orchard(address: str, folder: Path) -> Orchard:
    """An orchard whose every tree, site and cultivar is called something that means harm."""
    orchard = service.create_orchard(address)
    names = hostile_names()
    site = names[0]
    write_about(orchard, About(name="</title></head>" + names[0], note=names[1]))
    take_in(orchard, folder, "sites", [("site", "latitude", "longitude"), (site, 47.5, 16.0)])
    take_in(
        orchard,
        folder,
        "trees",
        [
            ("tree", "site", "species", "cultivar", "planted", "note"),
            *((f"{name}", site, "apple", f"{name}", "2015-11-14", name) for name in names),
            ("young", site, "apple", names[0], "2025-11-14", ""),
        ],
    )
    blooms = [(name, f"{season}-04-28", 65) for name in names for season in SEASONS]
    take_in(orchard, folder, "stages", [("tree", "date", "bbch"), *blooms])
    picks = [
        (name, f"{season}-09-0{1 + season % 5}", 5 + season % 7)
        for name in names
        for season in SEASONS[:-1]
    ]
    take_in(orchard, folder, "picks", [("tree", "date", "weight_kg"), *picks])
    # One label lost, one wait over a pick of the year before, one that runs now.
    sprayed = [
        (names[0], "2025-08-28", names[1], 14),
        *((name, "2026-08-05", name, "" if n % 2 else 30) for n, name in enumerate(names)),
    ]
    take_in(orchard, folder, "sprays", [("tree", "date", "product", "withholding_days"), *sprayed])
    start = date(2022, 1, 1)
    days = [start + timedelta(days=n) for n in range((AS_OF - start).days)]
    weather = [(site, day, 3 + n * 7 % 11, 15 + n * 5 % 13) for n, day in enumerate(days)]
    take_in(orchard, folder, "weather", [("site", "date", "tmin_c", "tmax_c"), *weather])
    return orchard
