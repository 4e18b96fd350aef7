"""What an orchard's own seasons say of each cultivar, short enough to be passed on."""

from __future__ import annotations

import pandas as pd


def cultivar_intervals(past: pd.DataFrame) -> pd.DataFrame:
    """Days from full bloom to ripe of each cultivar, one mean a season.

    Parameters
    ----------
    past : as from `harvest.phenology.past.tree_seasons`.

    Returns
    -------
    Frame with species, cultivar, latitude [deg, whole], seasons, trees, days_mean and days_sd [d]
    over the seasons (nan after one), first_season, last_season.
    """
    known = past[past["interval"].notna()]
    by_season = known.groupby(["species", "cultivar_key", "season"], as_index=False).agg(
        cultivar=("cultivar", "first"), days=("interval", "mean"), latitude=("latitude", "mean")
    )
    grouped = by_season.groupby(["species", "cultivar_key"])
    out = grouped.agg(
        cultivar=("cultivar", "first"),
        latitude=("latitude", "mean"),
        seasons=("season", "nunique"),
        days_mean=("days", "mean"),
        days_sd=("days", "std"),
        first_season=("season", "min"),
        last_season=("season", "max"),
    )
    out["trees"] = known.groupby(["species", "cultivar_key"])["tree"].nunique()
    out["latitude"] = out["latitude"].round()
    return out.round({"days_mean": 1, "days_sd": 2}).reset_index().drop(columns="cultivar_key")
