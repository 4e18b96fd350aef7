"""Writes the demo orchard's CSV files. Everything in them is invented.

Run: python data/demo/make_demo.py [FOLDER]   (default: the folder of this script)

The seed is fixed, so a second run writes the same bytes. Nothing of the harvest package is used:
what makes the records must not be what forecasts them.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pandas as pd
from invented import care, logbook
from invented.fruiting import Fruiting, life_of, weather_of
from invented.plan import AS_OF, CULTIVARS, PLACES, PlannedTree, planned_trees
from invented.weather import weather_table

NAME = "The Half-Year Orchard (invented)"
NOTE = (
    "Invented demo data: no orchard, place, weather or spray product here is real. "
    "Two sites, Quernwell in the north and Saltpan Reach in the south, half a year apart."
)
ROW_SPACING_M, TREE_SPACING_M = 4.5, 3
POLLEN_GROUPS = {-4: "2", -3: "2", -1: "3", 0: "3", 1: "3", 2: "3", 4: "4"}  # apples, by bloom


def site_rows() -> list[logbook.Row]:
    return [
        {
            "site": place.site,
            "latitude": place.latitude,
            "longitude": place.longitude,
            "elevation_m": place.elevation_m,
            "timezone": place.timezone,
            "row_spacing_m": ROW_SPACING_M,
            "tree_spacing_m": TREE_SPACING_M,
            "note": place.note,
        }
        for place in PLACES.values()
    ]


def tree_rows(trees: list[PlannedTree]) -> list[logbook.Row]:
    return [
        {
            "tree": tree.tree,
            "site": tree.place.site,
            "species": tree.species,
            "cultivar": tree.cultivar,
            "planted": tree.planted.isoformat(),
            "rootstock": tree.rootstock,
            "vigour": tree.vigour,
            "form": tree.form,
            "row": tree.row,
            "position": int(tree.tree[3:]),
            "pollen_group": POLLEN_GROUPS[CULTIVARS["apple", tree.cultivar][0]]
            if tree.species == "apple"
            else "",
            "removed": tree.removed.isoformat() if tree.removed else "",
            "note": tree.note,
        }
        for tree in trees
    ]


def by_date(rows: list[logbook.Row]) -> pd.DataFrame:
    keys = ("date", "tree", "site", "bbch", "pass", "product")
    return pd.DataFrame(sorted(rows, key=lambda row: [str(row.get(key, "")) for key in keys]))


def tables() -> dict[str, pd.DataFrame]:
    trees = planned_trees()
    lives: list[Fruiting] = [one for tree in trees for one in life_of(tree)]
    told = [one for one in lives if not logbook.unrecorded(one)]
    picks = [row for one in told for row in logbook.pick_rows(one)]
    thinnings = [row for one in told for row in care.thinning_rows(one)]
    sprays = care.site_sprays() + care.tree_sprays(told) + care.late_sprays()
    return {
        "sites": pd.DataFrame(site_rows()),
        "trees": pd.DataFrame(tree_rows(trees)),
        "weather": weather_table({site: weather_of(site) for site in PLACES}),
        "stages": by_date([row for one in told for row in logbook.stage_rows(one)]),
        "picks": by_date([*picks, logbook.wrong_row(picks)]),
        "thinnings": by_date([*thinnings, care.overladen_row()]),
        "girths": by_date([row for tree in trees for row in care.girth_rows(tree)]),
        "sprays": by_date(sprays),
        "events": by_date(care.site_events() + care.tree_events(told)),
    }


def write(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, table in tables().items():
        table.to_csv(folder / f"{name}.csv", index=False, lineterminator="\n")
    about = {"name": NAME, "as_of": AS_OF.isoformat(), "note": NOTE}
    (folder / "demo.json").write_text(json.dumps(about, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
