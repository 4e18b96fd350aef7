"""Records sorted into the seasons they belong to, tree by tree.

Picks and fruit stages belong to the bloom before them, bud stages to the bloom that follows,
thinnings and a tree's events to the bloom they stand at or after (see `harvest.seasons`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from harvest.records import FULL_BLOOM, Records
from harvest.seasons import (
    Dates,
    Ints,
    bloom_seasons,
    calendar_seasons,
    pick_seasons,
)

FIRST_FLOWER_STAGE = 60
FIRST_FRUIT_STAGE = 71
RIPENING_STAGE = 81
# Stages below first flower are those of a bloom still to come, at most this far ahead [d].
BUD_LEAD_DAYS = 120
# How long before the full bloom a blossom may be thinned, or a frost strike it [d].
THINNING_LEAD_DAYS = 30
EVENT_LEAD_DAYS = 60


def with_seasons(records: Records, usual: pd.DataFrame) -> Records:
    """The same records, with a `season` column [int64] in stages, picks, thinnings and events.

    Parameters
    ----------
    records : as read from the store.
    usual : one row per tree (index: tree) with `usual_bloom`, the usual day of season of full
        bloom of its species there [d], and `least_days`, the days [d] from full bloom below
        which no fruit of the species can be ripe.

    Events of a whole site get the season the calendar gives.
    """
    stages = records.stages.assign(season=_stage_seasons(records, usual))
    blooms = full_blooms(stages)
    lookup = _BloomLookup(blooms)
    picks = records.picks
    thinnings = records.thinnings
    events = records.events
    of_tree = events["tree"].notna()
    event_seasons = _calendar_seasons_of(records, events)
    event_seasons[of_tree.to_numpy()] = lookup.seasons(
        records, events[of_tree], usual, -EVENT_LEAD_DAYS
    )
    late = (stages["bbch"] >= FIRST_FRUIT_STAGE).to_numpy()
    ripening = (stages["bbch"] >= RIPENING_STAGE).to_numpy()
    season = stages["season"].to_numpy().copy()
    season[late & ~ripening] = lookup.seasons(records, stages[late & ~ripening], usual, 1)
    season[ripening] = lookup.seasons(records, stages[ripening], usual, None)
    return replace(
        records,
        stages=stages.assign(season=season),
        picks=picks.assign(season=lookup.seasons(records, picks, usual, None)),
        thinnings=thinnings.assign(
            season=lookup.seasons(records, thinnings, usual, -THINNING_LEAD_DAYS)
        ),
        events=events.assign(season=event_seasons),
    )


def full_blooms(stages: pd.DataFrame) -> pd.DataFrame:
    """First date of full bloom (BBCH 65) of each tree and season: columns tree, season, bloom."""
    blooms = stages[stages["bbch"] == FULL_BLOOM]
    return blooms.groupby(["tree", "season"], as_index=False).agg(bloom=("date", "min"))


def latitudes(records: Records, rows: pd.DataFrame) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Latitude [deg] of each row's tree, shape (n,)."""
    by_tree = records.trees.set_index("tree")["latitude"]
    return rows["tree"].map(by_tree).to_numpy(dtype=float)


def _stage_seasons(records: Records, usual: pd.DataFrame) -> Ints:
    """Seasons of stages up to the end of bloom; fruit stages are corrected afterwards."""
    stages = records.stages
    latitude = latitudes(records, stages)
    days = stages["date"].to_numpy().astype("datetime64[D]")
    bloom = stages["tree"].map(usual["usual_bloom"]).to_numpy(dtype=float)
    season = bloom_seasons(days, latitude, bloom)
    ahead = bloom_seasons(days + np.timedelta64(BUD_LEAD_DAYS, "D"), latitude, bloom)
    return np.where(stages["bbch"].to_numpy() < FIRST_FLOWER_STAGE, ahead, season)


def _calendar_seasons_of(records: Records, rows: pd.DataFrame) -> Ints:
    by_site = records.sites.set_index("site")["latitude"]
    latitude = rows["site"].map(by_site).to_numpy(dtype=float)
    return calendar_seasons(rows["date"].to_numpy(), latitude)


class _BloomLookup:
    """Logged full blooms of a tree in the seasons around a date."""

    def __init__(self, blooms: pd.DataFrame) -> None:
        self._blooms = blooms.set_index(["tree", "season"])["bloom"]

    def _around(self, rows: pd.DataFrame, latitude: np.ndarray) -> Dates:
        season = calendar_seasons(rows["date"].to_numpy(), latitude)
        found = np.empty((len(rows), 3), dtype="datetime64[D]")
        for column, step in enumerate((-1, 0, 1)):
            wanted = pd.MultiIndex.from_arrays([rows["tree"], season + step])
            found[:, column] = self._blooms.reindex(wanted).to_numpy().astype("datetime64[D]")
        return found

    def seasons(
        self, records: Records, rows: pd.DataFrame, usual: pd.DataFrame, least: float | None
    ) -> Ints:
        """Season of each row; `least` days from bloom, or None for the species' own."""
        if rows.empty:
            return np.empty(0, dtype=np.int64)
        latitude = latitudes(records, rows)
        least_days = (
            rows["tree"].map(usual["least_days"]).to_numpy(dtype=float)
            if least is None
            else np.full(len(rows), float(least))
        )
        return pick_seasons(
            rows["date"].to_numpy(),
            latitude,
            rows["tree"].map(usual["usual_bloom"]).to_numpy(dtype=float),
            least_days,
            self._around(rows, latitude),
        )
