"""What past seasons, and the running one so far, say: blooms, intervals and picking windows."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvest.phenology.cells import renumbered
from harvest.phenology.clocks import day_numbers
from harvest.phenology.observed import SharedBlooms
from harvest.records import Records
from harvest.seasons import days_between, days_of_season
from harvest.tree_years import with_columns_of

# Picking counts as over this long after the last pass [d], where none was marked as the last.
REST_DAYS = 45
CELL = ["site", "species", "cultivar_key", "season"]


def tree_seasons(records: Records, observed: pd.DataFrame) -> pd.DataFrame:
    """One row per tree and season of `observed_events`.

    Adds site, species, cultivar, cultivar_key, latitude, `bloom_day` day of
    season of the tree's own bloom [d], `interval` full bloom to ripe [d] (the bloom of its like
    at the site where its own is not logged), `bloom_number` day number of that bloom,
    `window_days` ripe to last pick of seasons whose picking is over [d], `half_days` ripe to the
    day by which half of the weight was in, of the same [d].
    """
    trees = records.trees.assign(cultivar_key=cultivar_keys(records.trees))
    trees = trees.set_index("tree")[["site", "species", "cultivar", "cultivar_key", "latitude"]]
    rows = with_columns_of(trees, observed)
    own, ripe, last, half = (
        rows[name].to_numpy() for name in ("bloom", "ripe", "last_pick", "half_picked")
    )
    shared, _ = SharedBlooms(observed, records.trees).of(rows["tree"], rows["season"])
    bloom = np.where(np.isnat(own), shared, own)
    interval = days_between(bloom, ripe)
    rested = np.datetime64(records.as_of, "s") - last > np.timedelta64(REST_DAYS, "D")
    over = (rows["finished"].notna().to_numpy() | rested) & (last > ripe)
    return rows.assign(
        bloom_day=days_of_season(own, rows["season"].to_numpy(), rows["latitude"].to_numpy()),
        bloom_number=np.where(np.isnat(bloom), np.nan, day_numbers(bloom)),
        interval=np.where(interval > 0, interval, np.nan),
        window_days=np.where(over, days_between(ripe, last), np.nan),
        half_days=np.where(over, days_between(ripe, half), np.nan),
    )


def cultivar_keys(rows: pd.DataFrame) -> pd.Series:
    """A cultivar of a species, whatever its spelling's case."""
    return rows["species"] + "|" + rows["cultivar"].str.casefold()


def tree_departures(rows: pd.DataFrame, worth: float) -> dict[str, float]:
    """How much longer a tree takes than its like beside it [d], drawn towards none; by tree.

    Only seasons count in which another tree of the cultivar at the site was ripe too. `worth` is
    the number of such seasons it takes to believe half of the difference.
    """
    interval = rows["interval"].to_numpy(dtype=float)
    known = ~np.isnan(interval)
    interval = interval[known]
    labels = (rows[name].to_numpy()[known] for name in CELL)
    cell = renumbered(*(pd.factorize(each)[0].astype(np.int64) for each in labels))
    tree, names = pd.factorize(rows["tree"].to_numpy()[known])
    count = np.bincount(cell)
    apart = interval - (np.bincount(cell, interval) / np.maximum(count, 1))[cell]
    shared = count[cell] > 1
    total = np.bincount(tree[shared], apart[shared], minlength=len(names))
    seasons = np.bincount(tree[shared], minlength=len(names))
    return dict(zip(names, total / (seasons + worth), strict=True))
