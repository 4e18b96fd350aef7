"""Small orchards for tests: frames as the store hands them out, with the season of each record."""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING
from datetime import date

import numpy as np
import pandas as pd

from harvest.records import KINDS, Records, fields
from harvest.store.reference import (
    crop_load_table,
    cultivar_table,
    species_table,
    young_tree_table,
)
from harvest.tree_years import with_seasons
from harvest.yields import CropAdvice, CropReference, SeasonYield, crop_advice, season_yields

NORTH, SOUTH = "North", "South"
LATITUDES = {NORTH: 50.0, SOUTH: -38.0}
# Usual full bloom in these tests: 20 April in the north, 5 October in the south (day of season).
USUAL_BLOOM = {NORTH: 110.0, SOUTH: 97.0}


def frame(kind: str, rows: list[dict[str, object]]) -> pd.DataFrame:
    columns = {}
    for field in fields(kind):
        values = [row.get(field.name) for row in rows]
        if field.type is date:
            columns[field.name] = pd.Series(pd.to_datetime(values)).astype("datetime64[s]")
        elif field.type in (int, float):
            columns[field.name] = pd.Series(np.array(values, dtype=float))
        else:
            columns[field.name] = pd.Series(values, dtype=object)
    return pd.DataFrame(columns)


def tree(name: str = "T", **known: object) -> dict[str, object]:
    row: dict[str, object] = {
        "tree": name,
        "site": NORTH,
        "species": "apple",
        "cultivar": "Gala",
        "planted": "2010-03-01",
        "vigour": "dwarf",
    }
    return row | known


def orchard(
    as_of: str, trees: list[dict[str, object]], **kinds: list[dict[str, object]]
) -> Records:
    """Records of two sites; each kind is a list of rows, those of tree "T" need not say so."""
    rows: dict[str, list[dict[str, object]]] = {kind: [] for kind in KINDS} | kinds
    for kind in ("stages", "picks", "thinnings", "girths"):
        rows[kind] = [{"tree": "T"} | row for row in rows[kind]]
    rows["sites"] = [
        {"site": site, "latitude": latitude, "longitude": 0.0}
        for site, latitude in LATITUDES.items()
    ]
    rows["trees"] = trees
    frames = {kind: frame(kind, rows[kind]) for kind in KINDS}
    standing = frames["trees"]
    standing["latitude"] = standing["site"].map(LATITUDES).astype(float)
    # Weather, of whatever kind, has no part in yields.
    needed = [each.name for each in dataclasses.fields(Records) if each.default is MISSING]
    known = dict.fromkeys(needed, frames["weather"]) | frames | {"as_of": date.fromisoformat(as_of)}
    records = Records(**known)
    return with_seasons(records, usual(records))


def usual(records: Records) -> pd.DataFrame:
    trees = records.trees
    bloom = trees["site"].map(USUAL_BLOOM).to_numpy(dtype=float)
    return pd.DataFrame({"usual_bloom": bloom, "least_days": 60.0}, index=trees["tree"].to_numpy())


def reference(records: Records) -> CropReference:
    return CropReference(
        species=species_table(),
        cultivars=cultivar_table(),
        crop_load=crop_load_table(),
        young_trees=young_tree_table(),
        usual=usual(records),
    )


def yields_of(records: Records, name: str = "T") -> dict[int, SeasonYield]:
    return {row.season: row for row in season_yields(records) if row.tree == name}


def advice_for(records: Records, season: int | None = None, name: str = "T") -> CropAdvice:
    return next(row for row in crop_advice(records, season, reference(records)) if row.tree == name)


def with_weather(
    records: Records,
    nights: dict[str, float] | None = None,
    warm_c: float = 18.0,
    rain_mm: float = 0.0,
) -> Records:
    """Mild weather all along, but for the nights named."""
    days = pd.date_range("2011-07-01", "2022-01-31", freq="D").astype("datetime64[s]")
    cold = np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365.25)
    weather = pd.DataFrame(
        {"site": NORTH, "date": days, "tmin_c": 7.0 - 5 * cold, "tmax_c": warm_c - 9 * cold,
         "precip_mm": rain_mm, "source": "test"}
    )  # fmt: skip
    for night, tmin_c in (nights or {}).items():
        weather.loc[weather["date"] == np.datetime64(night), "tmin_c"] = tmin_c
    return dataclasses.replace(records, weather=weather)
