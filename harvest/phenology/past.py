"""What past seasons, and the running one so far, say: blooms, intervals and picking windows."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvest.phenology.clocks import day_numbers
from harvest.phenology.observed import shared_blooms
from harvest.records import Records
from harvest.seasons import days_of_season

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
    rows = observed.reset_index()
    trees = records.trees[["tree", "site", "species", "cultivar", "latitude"]]
    rows = rows.merge(trees, on="tree")
    rows["cultivar_key"] = cultivar_keys(rows)
    own = rows["bloom"].to_numpy()
    seen = ~np.isnat(own)
    rows["bloom_day"] = np.nan
    rows.loc[seen, "bloom_day"] = days_of_season(
        own[seen], rows["season"].to_numpy()[seen], rows["latitude"].to_numpy()[seen]
    )
    shared = shared_blooms(observed, records.trees)["bloom"]
    rows = rows.join(shared.rename("shared_bloom"), on=["site", "species", "cultivar", "season"])
    bloom = rows["bloom"].fillna(rows["shared_bloom"])
    rows["bloom_number"] = day_numbers(bloom.to_numpy()).astype(float)
    interval = (rows["ripe"] - bloom).dt.days.astype(float)
    rows["interval"] = interval.where(interval > 0)
    rested = np.datetime64(records.as_of, "s") - rows["last_pick"] > np.timedelta64(REST_DAYS, "D")
    over = (rows["finished"].notna() | rested) & (rows["last_pick"] > rows["ripe"])
    rows["window_days"] = (rows["last_pick"] - rows["ripe"]).dt.days.astype(float).where(over)
    rows["half_days"] = (rows["half_picked"] - rows["ripe"]).dt.days.astype(float).where(over)
    return rows


def cultivar_keys(rows: pd.DataFrame) -> pd.Series:
    """A cultivar of a species, whatever its spelling's case."""
    return rows["species"] + "|" + rows["cultivar"].str.casefold()


def tree_departures(rows: pd.DataFrame, worth: float) -> pd.Series:
    """How much longer a tree takes than its like beside it [d], drawn towards none; by tree.

    Only seasons count in which another tree of the cultivar at the site was ripe too. `worth` is
    the number of such seasons it takes to believe half of the difference.
    """
    known = rows[rows["interval"].notna()]
    by_cell = known.groupby(CELL)["interval"]
    shared = known[by_cell.transform("size") > 1]
    apart = shared["interval"] - by_cell.transform("mean")[shared.index]
    grouped = apart.groupby(shared["tree"])
    return grouped.sum() / (grouped.size() + worth)
