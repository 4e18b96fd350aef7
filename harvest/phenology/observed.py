"""What was seen of each tree in each season: bloom, ripe, picks, and what ended it."""

from __future__ import annotations

import pandas as pd

from harvest.records import RIPE, Records
from harvest.tree_years import full_blooms

NO_CROP = "no crop"


def observed_events(records: Records) -> pd.DataFrame:
    """One row per tree and season with any record of bloom, fruit or its loss.

    Parameters
    ----------
    records : with seasons (`harvest.tree_years.with_seasons`).

    Returns
    -------
    Frame indexed by (tree, season), columns datetime64, NaT where not seen:
    `bloom` full bloom (BBCH 65) · `ripe` BBCH 87, else the first pick · `first_pick` ·
    `last_pick` · `half_picked` when half of the weight logged so far was in · `finished` the pick
    marked as the season's last · `stripped` · `no_crop`.
    """
    stages, picks, events = records.stages, records.picks, records.events
    key = ["tree", "season"]
    bloom = full_blooms(stages).set_index(key)["bloom"]
    ripe = stages[stages["bbch"] == RIPE].groupby(key)["date"].min()
    first = picks.groupby(key)["date"].min()
    last = picks.groupby(key)["date"].max()
    finished = picks[picks["last"].astype("boolean").fillna(False)].groupby(key)["date"].max()
    thinnings = records.thinnings
    stripped = thinnings[thinnings["action"] == "strip"].groupby(key)["date"].max()
    lost = events[events["tree"].notna() & (events["event"] == NO_CROP)]
    table = pd.DataFrame(
        {
            "bloom": bloom,
            "ripe": ripe,
            "first_pick": first,
            "last_pick": last,
            "half_picked": _half_picked(picks),
            "finished": finished,
            "stripped": stripped,
            "no_crop": lost.groupby(key)["date"].max(),
        }
    ).astype("datetime64[s]")
    table["ripe"] = table["ripe"].fillna(table["first_pick"])
    table.index.names = key
    return table.sort_index()


def _half_picked(picks: pd.DataFrame) -> pd.Series:
    """Day by which half of a tree's weight of the season was picked, by tree and season."""
    passes = picks[picks["weight_kg"] > 0].sort_values("date", kind="stable")
    grouped = passes.groupby(["tree", "season"])["weight_kg"]
    reached = grouped.cumsum() >= grouped.transform("sum") / 2
    return passes[reached].groupby(["tree", "season"])["date"].min()


def shared_blooms(observed: pd.DataFrame, trees: pd.DataFrame) -> pd.DataFrame:
    """Median full bloom of each site, cultivar and season, for trees whose own was not logged.

    Returns a frame indexed by (site, species, cultivar, season): `bloom`, and `bloom_trees`, the
    number of trees it was seen on.
    """
    seen = observed["bloom"].dropna().reset_index()
    seen = seen.merge(trees[["tree", "site", "species", "cultivar"]], on="tree")
    grouped = seen.groupby(["site", "species", "cultivar", "season"])["bloom"]
    return pd.DataFrame({"bloom": grouped.median().dt.floor("D"), "bloom_trees": grouped.size()})
