"""What was seen of each tree in each season: bloom, ripe, picks, and what ended it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.records import FULL_BLOOM, RIPE, Records
from harvest.seasons import Dates, Ints
from harvest.tree_years import Names

NO_CROP = "no crop"
EVENT_COLUMNS = (
    "bloom", "ripe", "first_pick", "last_pick", "half_picked", "finished", "stripped", "no_crop",
)  # fmt: skip
KIND = ["site", "species", "cultivar"]
NEVER = np.datetime64("NaT", "s")
Bools = NDArray[np.bool_]


def observed_events(records: Records) -> pd.DataFrame:
    """One row per tree and season with any record of bloom, fruit or its loss.

    Parameters
    ----------
    records : with seasons (`harvest.tree_years.with_seasons`).

    Returns
    -------
    Frame with tree and season, sorted by both, and `EVENT_COLUMNS`, datetime64, NaT where not
    seen: `bloom` full bloom (BBCH 65) · `ripe` BBCH 87, else the first pick · `first_pick` ·
    `last_pick` · `half_picked` when half of the weight logged so far was in · `finished` the pick
    marked as the season's last · `stripped` · `no_crop`.
    """
    names = np.sort(records.trees["tree"].to_numpy(dtype=object))
    among = Names(pd.Series(names, dtype=object))
    stages, picks, thinnings, events = (
        _Rows(among, frame)
        for frame in (records.stages, records.picks, records.thinnings, records.events)
    )
    bbch = stages.frame["bbch"].to_numpy()
    finished = picks.frame["last"].astype("boolean").fillna(False).to_numpy(dtype=bool)
    every = np.ones(len(picks.frame), dtype=bool)
    seen = {
        "bloom": stages.dates(bbch == FULL_BLOOM, np.minimum),
        "ripe": stages.dates(bbch == RIPE, np.minimum),
        "first_pick": picks.dates(every, np.minimum),
        "last_pick": picks.dates(every, np.maximum),
        "half_picked": _half_picked(picks),
        "finished": picks.dates(finished, np.maximum),
        "stripped": thinnings.dates(
            (thinnings.frame["action"] == "strip").to_numpy(dtype=bool), np.maximum
        ),
        "no_crop": events.dates(
            (events.frame["event"] == NO_CROP).to_numpy(dtype=bool), np.maximum
        ),
    }
    return _table(names, seen)


# Sums of weights are compared no closer than this [kg].
LEAST_KG = 1e-6
# Tree-seasons, as numbers in the order of tree and season, and a date for each.
_Dated = tuple[Ints, Dates]
# Tree-seasons are numbered tree by tree, so many seasons to each.
_SEASONS = 10_000


class _Rows:
    """Records of trees, each with the number of its tree-season; those of no tree are left out."""

    def __init__(self, among: Names, frame: pd.DataFrame) -> None:
        at = among.at(frame["tree"])
        known = at >= 0
        self.frame = frame if known.all() else frame[known]
        self.number = _numbers(at[known], self.frame["season"])
        self.date = self.frame["date"].to_numpy().astype("datetime64[s]")

    def dates(self, which: Bools, reduce: np.ufunc) -> _Dated:
        """First (`np.minimum`) or last (`np.maximum`) date of each tree-season of some rows."""
        number, at = np.unique(self.number[which], return_inverse=True)
        date = self.date[which].astype(np.int64)
        found = np.empty(len(number), dtype=np.int64)
        found[at] = date
        reduce.at(found, at, date)
        return number, found.astype("datetime64[s]")


def _table(names: NDArray[np.object_], seen: dict[str, _Dated]) -> pd.DataFrame:
    number = np.unique(np.concatenate([each for each, _ in seen.values()]))
    columns = {}
    for name, (own, dates) in seen.items():
        columns[name] = np.full(len(number), NEVER)
        columns[name][np.searchsorted(number, own)] = dates
    ripe = columns["ripe"]
    columns["ripe"] = np.where(np.isnat(ripe), columns["first_pick"], ripe)
    tree = pd.Series(names[number // _SEASONS], dtype=object)
    return pd.DataFrame({"tree": tree, "season": number % _SEASONS, **columns})


def _half_picked(picks: _Rows) -> _Dated:
    """Day by which half of a tree's weight of the season was picked, by tree-season."""
    weight = picks.frame["weight_kg"].to_numpy(dtype=float)
    order = np.lexsort((picks.date, picks.number))
    order = order[weight[order] > 0]
    number, first, at = np.unique(picks.number[order], return_index=True, return_inverse=True)
    running = np.cumsum(weight[order])
    before = (running - weight[order])[first]
    total = np.bincount(at, weight[order], minlength=len(number))
    reached = running - before[at] >= total[at] / 2 - LEAST_KG
    half = np.full(len(number), len(order), dtype=np.int64)
    np.minimum.at(half, at[reached], np.flatnonzero(reached))
    return number, picks.date[order][half]


class TreeSeasons:
    """Finds rows of a frame that has each tree and season (columns tree, season) at most once."""

    def __init__(self, trees: Names, frame: pd.DataFrame) -> None:
        self._trees, self._frame = trees, frame
        number = _numbers(trees.at(frame["tree"]), frame["season"])
        self._order = np.argsort(number)
        self._number = number[self._order]

    def rows(
        self, columns: Sequence[str], tree: pd.Series, season: pd.Series
    ) -> dict[str, NDArray[np.generic]]:
        """Columns of the row of each tree and season, missing (numbers nan) where there is none."""
        number = _numbers(self._trees.at(tree), season)
        at = np.searchsorted(self._number, number)
        known = np.append(self._number, -1)[at] == number
        place = np.append(self._order, -1)[at]
        found = {}
        for name in columns:
            values = self._frame[name].to_numpy()
            none = np.full(1, NEVER if values.dtype.kind == "M" else np.nan)
            found[name] = np.where(known, np.append(values, none)[place], none)
        return found


def _numbers(tree: Ints, season: pd.Series) -> Ints:
    return np.asarray(tree * _SEASONS + season.to_numpy(dtype=np.int64))


class SharedBlooms:
    """Median full bloom of each site, cultivar and season, for trees whose own was not logged.

    Parameters
    ----------
    observed : as from `observed_events`. trees : of the records.
    """

    def __init__(self, observed: pd.DataFrame, trees: pd.DataFrame) -> None:
        self._trees = Names(trees["tree"])
        _, self._kind = np.unique(
            np.stack([pd.factorize(trees[name])[0] for name in KIND]), axis=1, return_inverse=True
        )
        self._kind = self._kind.reshape(-1)
        seen = observed["bloom"].notna().to_numpy()
        bloom = observed["bloom"].to_numpy()[seen].astype("datetime64[s]").astype(np.int64)
        number = self._numbers(observed["tree"][seen], observed["season"][seen])
        order = np.lexsort((bloom, number))
        self._number, first, self._count = np.unique(
            number[order], return_index=True, return_counts=True
        )
        low, high = (bloom[order][first + half // 2] for half in (self._count - 1, self._count))
        middle = (low + (high - low) // 2).astype("datetime64[s]")
        self._bloom = middle.astype("datetime64[D]").astype("datetime64[s]")

    def _numbers(self, tree: pd.Series, season: pd.Series) -> Ints:
        return _numbers(self._kind[self._trees.at(tree)], season)

    def of(self, tree: pd.Series, season: pd.Series) -> tuple[Dates, Ints]:
        """Bloom of each tree's like in a season, NaT: none seen; and on how many trees."""
        number = self._numbers(tree, season)
        at = np.searchsorted(self._number, number)
        known = np.append(self._number, -1)[at] == number
        return (
            np.where(known, np.append(self._bloom, NEVER)[at], NEVER),
            np.where(known, np.append(self._count, 0)[at], 0),
        )
