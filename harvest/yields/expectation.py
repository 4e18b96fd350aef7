"""A fair yardstick: what each tree's season should have given, going by everything but itself.

The reference curve of age, vigour and species gives the shape; the other seasons of the species,
of the trees planted with it, and of the tree itself give the level, each drawn towards the one
before as long as seasons are few. The season that is judged never counts in its own yardstick.
Experimental: our own, no published source.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.records import Records
from harvest.seasons import Floats, Ints
from harvest.yields.bearing_curve import TreeCurves, tree_curves
from harvest.yields.crop_history import USUAL_KG
from harvest.yields.load_rules import YieldReference
from harvest.yields.totals import yield_table
from harvest.yields.tree_seasons import first_seasons

Bools = NDArray[np.bool_]

GOOD, USUAL, POOR, EARLY, NOT_COMPARED = (
    "good",
    "usual",
    "poor",
    "too early to tell",
    "not compared",
)
# Other seasons of the tree, or of those planted with it, before one may be called good or poor.
LEAST_OTHERS = 3
# How many tree-seasons the reference, the species and the planting are worth [judgement].
REFERENCE_WORTH, SPECIES_WORTH, PLANTING_WORTH = 4.0, 3.0, 2.0
# Scatter of sqrt(kg / expected) before seasons are known, and how many it is worth: crops that
# differ by about 45 % [judgement].
USUAL_SCATTER, SCATTER_WORTH = 0.22, 6.0
YOUNG_DOUBT = 0.4
# Eight in ten seasons lie within.
Z80 = 1.2816
MAD_TO_SD = 1.4826


def fair_table(records: Records, reference: YieldReference) -> pd.DataFrame:
    """`yield_table` with what each season is held against.

    Added columns: `row`, `rootstock`, `vigour` of the tree; `bearing`, whether it was picked, or
    bore nothing at an age to bear; `counted`, whether its weight is compared: a crop that is
    complete, or none at an age to bear, never a stripped or unrecorded season; `expected_kg`,
    `low_kg`, `high_kg` [kg], within which eight in ten seasons lie; `others`, seasons they rest
    on; `verdict`: good, usual, poor, too early to tell (fewer than three other seasons of the
    tree and of those planted with it), not compared.
    """
    table = yield_table(records)
    tree = np.asarray(pd.Index(records.trees["tree"]).get_indexer(table["tree"]), dtype=np.int64)
    curves = tree_curves(records.trees, reference.species, reference.bearing_curves)
    leaf = table["leaf"].to_numpy(dtype=float)
    old_enough = curves.bearing(tree, leaf)
    crop = table["crop"].to_numpy(dtype=object)
    bearing = (crop == "picked") | ((crop == "none") & old_enough)
    counted = bearing & table["complete"].to_numpy(dtype=bool)
    for name in ("row", "rootstock", "vigour"):
        table[name] = records.trees[name].to_numpy()[tree]
    table["bearing"], table["counted"] = bearing, counted
    return table.assign(**_held_against(records, table, tree, curves))


def _held_against(
    records: Records, table: pd.DataFrame, tree: Ints, curves: TreeCurves
) -> dict[str, NDArray[Any]]:
    if table.empty:
        names = ("expected_kg", "low_kg", "high_kg", "others")
        return {**{name: np.empty(0) for name in names}, "verdict": np.empty(0, dtype=object)}
    counted = table["counted"].to_numpy(dtype=bool)
    kg = table["weight_kg"].to_numpy(dtype=float)
    share = curves.share(tree, table["leaf"])
    mature = curves.mature_kg[tree]
    by_age = share * np.where(np.isnan(mature), USUAL_KG, mature)
    z = np.where(counted, np.sqrt(np.where(counted, kg, 0.0) / by_age), 0.0)
    season = table["season"].to_numpy(dtype=np.int64)
    species = pd.factorize(table["species"])[0].astype(np.int64)
    planting = plantings(records.trees)[tree]
    level = np.ones(len(table))
    worth = REFERENCE_WORTH
    for group, next_worth in ((species, SPECIES_WORTH), (planting, PLANTING_WORTH), (tree, 0.0)):
        total, count = _others(group, season, z, counted)
        level = (total + worth * level) / (count + worth)
        worth = next_worth
    others = np.maximum(*(_other_seasons(group, season, counted) for group in (planting, tree)))
    scatter = _scatter(z - level, counted & (others >= 1), species)
    spread = np.hypot(scatter, YOUNG_DOUBT * (1 - share))
    low = np.maximum(level - Z80 * spread, 0) ** 2 * by_age
    high = (level + Z80 * spread) ** 2 * by_age
    verdict = np.where(kg < low, POOR, np.where(kg > high, GOOD, USUAL)).astype(object)
    verdict[others < LEAST_OTHERS] = EARLY
    verdict[~counted] = NOT_COMPARED
    return {
        "expected_kg": level**2 * by_age,
        "low_kg": low,
        "high_kg": high,
        "others": others,
        "verdict": verdict,
    }


def plantings(trees: pd.DataFrame) -> Ints:
    """Number of the planting of each tree: a cultivar on like roots, set out in one season."""
    key = [
        trees["site"],
        trees["cultivar"].str.casefold(),
        trees["rootstock"].fillna("").astype(str).str.casefold(),
        trees["vigour"].fillna("").astype(str),
        pd.Series(first_seasons(trees), index=trees.index),
    ]
    return np.asarray(pd.MultiIndex.from_arrays(key).factorize()[0], dtype=np.int64)


def _others(group: Ints, season: Ints, z: Floats, counted: Bools) -> tuple[Floats, Floats]:
    """Sum and number of a group's counted values in all seasons but that of each row."""
    cell = _cells(group, season)
    weight = counted.astype(float)
    total = np.bincount(group, z * weight)[group] - np.bincount(cell, z * weight)[cell]
    count = np.bincount(group, weight)[group] - np.bincount(cell, weight)[cell]
    return np.maximum(total, 0.0), np.asarray(count, dtype=float)


def _other_seasons(group: Ints, season: Ints, counted: Bools) -> Ints:
    """Seasons, other than that of each row, in which the group has a counted value."""
    cell = _cells(group, season)
    first = np.zeros(int(cell.max()) + 1, dtype=bool)
    first[cell[counted]] = True
    owner = np.zeros(len(first), dtype=np.int64)
    owner[cell] = group
    seasons = np.bincount(owner[first], minlength=int(group.max()) + 1)
    return np.asarray(seasons[group] - first[cell], dtype=np.int64)


def _cells(group: Ints, season: Ints) -> Ints:
    """Number of each row's group and season together."""
    width = int(season.max() - season.min()) + 1
    return np.asarray(group * width + (season - season.min()), dtype=np.int64)


def _scatter(apart: Floats, use: Bools, species: Ints) -> Floats:
    """Spread of z around its yardstick, by species, drawn towards the usual one.

    From the median distance, so that a few seasons lost to frost do not make all others usual.
    """
    rows = pd.Series(np.abs(apart[use])).groupby(species[use])
    size = int(species.max()) + 1
    own = rows.median().reindex(range(size)).fillna(0).to_numpy() * MAD_TO_SD
    count = np.bincount(species[use], minlength=size)
    variance = (count * own**2 + SCATTER_WORTH * USUAL_SCATTER**2) / (count + SCATTER_WORTH)
    return np.asarray(np.sqrt(variance)[species])
