"""Which season of each tree is running on a day, and what of it has been seen."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvest.phenology.observed import shared_blooms
from harvest.records import FULL_BLOOM, Records
from harvest.seasons import calendar_seasons, season_starts
from harvest.tree_years import FIRST_FLOWER_STAGE

EVENT_COLUMNS = (
    "bloom", "ripe", "first_pick", "last_pick", "half_picked", "finished", "stripped", "no_crop",
)  # fmt: skip


def running_seasons(records: Records, traits: pd.DataFrame, observed: pd.DataFrame) -> pd.DataFrame:
    """One row per standing tree and season that is not over on the as-of date.

    Parameters
    ----------
    records : with seasons. traits : indexed by tree (see `harvest.phenology.forecast`).
    observed : as from `harvest.phenology.observed.observed_events`.

    Returns
    -------
    Frame with tree, site, species, cultivar, latitude, season; what was seen of the season
    (`EVENT_COLUMNS`); `back`, 0 for the season the calendar gives, 1 for the one before;
    `bloom_trees`, 0 where the bloom is the tree's own, else the number of other trees of the
    cultivar on the site whose median bloom stands in for it; `own_bloom`, whether full bloom is
    known either way; `opening`, `opening_bbch`, the last date and code of first flowers (60-64).

    The season the calendar gives is always there. The one before it is too while its fruit may
    still hang: not finished, stripped or lost, and not past the cultivar's latest picking.
    """
    trees = records.trees[records.trees["removed"].isna()]
    now = calendar_seasons(
        np.full(len(trees), np.datetime64(records.as_of, "D")), trees["latitude"]
    )
    rows = pd.concat(
        [
            trees[["tree", "site", "species", "cultivar", "latitude", "planted"]].assign(
                season=now - back, back=back
            )
            for back in (1, 0)
        ]
    )
    rows = _with_events(rows, records, observed)
    rows = rows[_not_over(rows, records, traits)]
    return rows.sort_values(["tree", "season"], ignore_index=True)


def _with_events(rows: pd.DataFrame, records: Records, observed: pd.DataFrame) -> pd.DataFrame:
    """Add what was seen of each tree and season; a missing bloom is taken from its like."""
    rows = rows.join(observed, on=["tree", "season"])
    shared = shared_blooms(observed, records.trees)
    key = ["site", "species", "cultivar", "season"]
    rows = rows.join(shared.rename(columns={"bloom": "shared_bloom"}), on=key)
    own = rows["bloom"].notna()
    rows["bloom_trees"] = rows["bloom_trees"].where(~own, 0).fillna(0).astype(np.int64)
    rows["bloom"] = rows["bloom"].fillna(rows["shared_bloom"]).astype("datetime64[s]")
    rows["own_bloom"] = rows["bloom"].notna()
    return rows.drop(columns="shared_bloom").join(_openings(records), on=["tree", "season"])


def _openings(records: Records) -> pd.DataFrame:
    """Last date of first flowers (BBCH 60 to 64) of each tree and season, and its code."""
    stages = records.stages
    opening = stages[stages["bbch"].between(FIRST_FLOWER_STAGE, FULL_BLOOM - 1)]
    last = opening.sort_values("date", kind="stable").groupby(["tree", "season"]).last()
    return last[["date", "bbch"]].rename(columns={"date": "opening", "bbch": "opening_bbch"})


def _not_over(rows: pd.DataFrame, records: Records, traits: pd.DataFrame) -> pd.Series[bool]:
    own = traits.loc[rows["tree"]]
    start = season_starts(rows["season"].to_numpy(), rows["latitude"].to_numpy())
    usual = start + np.round(own["usual_bloom"].to_numpy() - 1).astype("timedelta64[D]")
    bloom = rows["bloom"].to_numpy().astype("datetime64[D]")
    bloom = np.where(np.isnat(bloom), usual, bloom)
    longest = own["prior_days"] + 2 * own["prior_sd_days"] + own["window_days_high"]
    end = bloom + np.round(longest.to_numpy()).astype("timedelta64[D]")
    day = np.datetime64(records.as_of, "D")
    current = rows["season"].to_numpy() == calendar_seasons(
        np.full(len(rows), day), rows["latitude"].to_numpy()
    )
    planted = rows["planted"].to_numpy().astype("datetime64[D]")
    hanging = (
        np.logical_and.reduce([rows[what].isna() for what in ("finished", "stripped", "no_crop")])
        & (day <= end)
        & (planted < bloom)
    )
    return pd.Series(current | hanging, index=rows.index)
