"""Which season of each tree is running on a day, and what of it has been seen."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.phenology.observed import EVENT_COLUMNS, SharedBlooms, TreeSeasons
from harvest.records import FULL_BLOOM, Records
from harvest.seasons import calendar_seasons, season_starts
from harvest.tree_years import FIRST_FLOWER_STAGE, Names, with_columns_of

Bools = NDArray[np.bool_]
# What tells how long fruit may hang.
LASTING = ("usual_bloom", "prior_days", "prior_sd_days", "window_days_high")


def running_seasons(records: Records, traits: pd.DataFrame, observed: pd.DataFrame) -> pd.DataFrame:
    """One row per standing tree and season that is not over on the as-of date.

    Parameters
    ----------
    records : with seasons. traits : indexed by tree (see `harvest.phenology.forecast`).
    observed : as from `harvest.phenology.observed.observed_events`.

    Returns
    -------
    Frame with tree, site, species, cultivar, latitude, season; `planted` and, where that is when
    it was grafted over, `grafted`; what was seen of the season (`EVENT_COLUMNS`);
    `back`, 0 for the season the calendar gives, 1 for the one before;
    `bloom_trees`, 0 where the bloom is the tree's own, else the number of other trees of the
    cultivar on the site whose median bloom stands in for it; `own_bloom`, whether full bloom is
    known either way; `opening`, `opening_bbch`, the last date and code of first flowers (60-64).

    The season the calendar gives is always there. The one before it is too while its fruit may
    still hang: not finished, stripped or lost, and not past the cultivar's latest picking.
    """
    trees = records.trees[records.trees["removed"].isna()]
    grafted = trees["grafted"] if "grafted" in trees else np.datetime64("NaT", "s")
    trees = trees[["tree", "site", "species", "cultivar", "latitude", "planted"]]
    trees = trees.assign(grafted=grafted)
    now = calendar_seasons(
        np.full(len(trees), np.datetime64(records.as_of, "D")), trees["latitude"]
    )
    rows = pd.concat([trees.assign(season=now - back, back=back) for back in (1, 0)])
    rows = _with_events(rows.reset_index(drop=True), records, observed)
    rows = rows[_not_over(rows, records, traits)]
    return rows.sort_values(["tree", "season"], ignore_index=True)


def _with_events(rows: pd.DataFrame, records: Records, observed: pd.DataFrame) -> pd.DataFrame:
    """Add what was seen of each tree and season; a missing bloom is taken from its like."""
    names, tree, season = Names(records.trees["tree"]), rows["tree"], rows["season"]
    seen = TreeSeasons(names, observed).rows(EVENT_COLUMNS, tree, season)
    shared, like = SharedBlooms(observed, records.trees).of(tree, season)
    own = ~np.isnat(seen["bloom"])
    seen["bloom"] = bloom = np.where(own, seen["bloom"], shared)
    opening = _openings(records)
    opened = TreeSeasons(names, opening).rows(("opening", "opening_bbch"), tree, season)
    known = ~np.isnat(bloom)
    return rows.assign(**seen, bloom_trees=np.where(own, 0, like), own_bloom=known, **opened)


def _openings(records: Records) -> pd.DataFrame:
    """Last date of first flowers (BBCH 60 to 64) of each tree and season, and its code."""
    stages = records.stages[["tree", "season", "date", "bbch"]]
    opening = stages[stages["bbch"].between(FIRST_FLOWER_STAGE, FULL_BLOOM - 1)]
    opening = opening.sort_values("date", kind="stable")
    last = opening.drop_duplicates(["tree", "season"], keep="last")
    return last.rename(columns={"date": "opening", "bbch": "opening_bbch"})


def _not_over(rows: pd.DataFrame, records: Records, traits: pd.DataFrame) -> Bools:
    own = with_columns_of(traits[list(LASTING)], rows[["tree"]])
    start = season_starts(rows["season"].to_numpy(), rows["latitude"].to_numpy())
    usual = start + np.round(own["usual_bloom"].to_numpy() - 1).astype("timedelta64[D]")
    bloom = rows["bloom"].to_numpy().astype("datetime64[D]")
    bloom = np.where(np.isnat(bloom), usual, bloom)
    longest = own["prior_days"] + 2 * own["prior_sd_days"] + own["window_days_high"]
    end = bloom + np.round(longest.to_numpy()).astype("timedelta64[D]")
    day = np.datetime64(records.as_of, "D")
    current = rows["back"].to_numpy() == 0
    planted = rows["planted"].to_numpy().astype("datetime64[D]")
    over = np.any([rows[what].notna() for what in ("finished", "stripped", "no_crop")], axis=0)
    return np.asarray(current | (~over & (day <= end) & (planted < bloom)))
