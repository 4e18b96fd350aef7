"""Every season every tree stood, laid out as one flat array of cells, and which of them are over.

A cell is one tree in one season. Sums, counts and dates of any record go into cells by number,
so that a whole orchard is added up without a loop.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.records import Records
from harvest.seasons import (
    Dates,
    Floats,
    Ints,
    calendar_seasons,
    days_of_season,
    first_leaf_season,
    season_starts,
)

Bools = NDArray[np.bool_]
Scalar = TypeVar("Scalar", bound=np.generic)

# A tree taken out this early in a season was taken out dormant: the season was not its own.
DORMANT_DAYS = 60
# After the latest day on which a species has been picked here, this long until a season is over,
# and after a pass without another one, this long until picking is over [d, judgement].
QUIET_DAYS = 45


class TreeSeasons:
    """Cells of an orchard's trees by seasons: row-major, seasons `low` to `high` of each tree."""

    def __init__(self, records: Records) -> None:
        trees = records.trees
        self.records = records
        self.names = pd.Index(trees["tree"], dtype=object)
        self.latitude: Floats = trees["latitude"].to_numpy(dtype=float)
        self.first_season = first_seasons(trees)
        self.last_season = last_seasons(records)
        logged = [frame["season"] for frame in (records.picks, records.thinnings, records.events)]
        ends = [self.first_season, self.last_season, *(column.to_numpy() for column in logged)]
        filled = [values for values in ends if values.size]
        self.low = int(min((values.min() for values in filled), default=0))
        self.high = int(max((values.max() for values in filled), default=-1))
        self.width = self.high - self.low + 1
        self.size = len(self.names) * self.width
        self.tree: Ints = np.repeat(np.arange(len(self.names)), self.width)
        self.season: Ints = np.tile(np.arange(self.low, self.high + 1), len(self.names))

    def of(self, rows: pd.DataFrame) -> Ints:
        """Cell of each row, by its tree and season."""
        tree = self.tree_of(rows)
        cell: Ints = tree * self.width + rows["season"].to_numpy(dtype=np.int64) - self.low
        return cell

    def tree_of(self, rows: pd.DataFrame) -> Ints:
        """Number of each row's tree, in the order of the tree records."""
        return np.asarray(self.names.get_indexer(rows["tree"].astype(object)), dtype=np.int64)

    def spread(self, per_tree: NDArray[Scalar]) -> NDArray[Scalar]:
        """One value per tree, repeated for each of its seasons."""
        return per_tree[self.tree]

    def stood(self) -> Bools:
        """Cells from a tree's first leaf to its last season."""
        return (self.season >= self.spread(self.first_season)) & (
            self.season <= self.spread(self.last_season)
        )

    def over(self) -> Bools:
        """Cells whose season is over on the as-of day: no pick of it is to be expected.

        A season is over at its end, or, where the species has been picked in this orchard later
        than that (citrus, loquat), 45 days after the latest day of season of such a pick.
        """
        latitude = self.spread(self.latitude)
        latest = self.spread(self._latest_pick_day())
        with_late = season_starts(self.season, latitude) + (latest + QUIET_DAYS).astype(
            "timedelta64[D]"
        )
        end = season_starts(self.season + 1, latitude)
        late = latest > 365
        return np.datetime64(self.records.as_of, "D") >= np.where(late, with_late, end)

    def _latest_pick_day(self) -> Floats:
        """Latest day of season [d] on which each tree's species was picked here, else 0."""
        species, kinds = pd.factorize(self.records.trees["species"])
        latest = np.zeros(len(kinds))
        picks = self.records.picks
        tree = self.tree_of(picks)
        days = days_of_season(
            picks["date"].to_numpy(), picks["season"].to_numpy(), self.latitude[tree]
        )
        np.maximum.at(latest, species[tree], days)
        return latest[species]


def first_seasons(trees: pd.DataFrame) -> Ints:
    """Season of the first leaf of each tree, shape (n,)."""
    planted = trees["planted"].to_numpy().astype("datetime64[D]").tolist()
    latitude = trees["latitude"].to_numpy(dtype=float).tolist()
    return np.array(
        [first_leaf_season(day, place) for day, place in zip(planted, latitude, strict=True)],
        dtype=np.int64,
    )


def last_seasons(records: Records) -> Ints:
    """Last season of each tree: that of its removal, else the one running on the as-of day.

    What a tree was before it was grafted over ends with the season before the graft's first leaf.
    """
    latitude = records.trees["latitude"].to_numpy(dtype=float)
    removed: Dates = records.trees["removed"].to_numpy().astype("datetime64[D]")
    as_of = np.datetime64(records.as_of, "D")
    last_day = np.where(np.isnat(removed), as_of, removed)
    season = calendar_seasons(last_day, latitude)
    dormant = days_of_season(last_day, season, latitude) <= DORMANT_DAYS
    last: Ints = season - (dormant & ~np.isnat(removed))
    past = _grafted_over(records.trees)
    days = (removed[past] + np.timedelta64(1, "D")).tolist()
    firsts = [first_leaf_season(day, at) for day, at in zip(days, latitude[past], strict=True)]
    last[past] = np.array(firsts, dtype=np.int64) - 1
    return last


def _grafted_over(trees: pd.DataFrame) -> Bools:
    """Which rows are what a tree was before a graft (`harvest.grafting`)."""
    if "own_name" not in trees:
        return np.zeros(len(trees), dtype=bool)
    return np.asarray(trees["tree"] != trees["own_name"], dtype=bool)
