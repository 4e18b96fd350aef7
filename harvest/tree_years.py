"""Records sorted into the seasons they belong to, tree by tree.

Picks and fruit stages belong to the bloom before them, bud stages to the bloom that follows,
thinnings and a tree's events to the bloom they stand at or after (see `harvest.seasons`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.records import FULL_BLOOM, Records
from harvest.seasons import (
    Dates,
    Ints,
    bloom_seasons,
    calendar_seasons,
    pick_seasons,
)

Bools = NDArray[np.bool_]

FIRST_FLOWER_STAGE = 60
FIRST_FRUIT_STAGE = 71
RIPENING_STAGE = 81
# Stages below first flower are those of a bloom still to come, at most this far ahead [d].
BUD_LEAD_DAYS = 120
# How long before the full bloom a blossom may be thinned, or a frost strike it [d].
THINNING_LEAD_DAYS = 30
EVENT_LEAD_DAYS = 60


class Names:
    """Positions of names among some that are distinct, as those of the rows of a frame of trees."""

    def __init__(self, names: pd.Series | pd.Index) -> None:
        self._index = _plain(names)

    def at(self, names: pd.Series | pd.Index) -> Ints:
        """Position of each name; -1 where it is not among them."""
        return np.asarray(self._index.get_indexer(_plain(names)), dtype=np.int64)


def _plain(names: pd.Series | pd.Index) -> pd.Index:
    """Names as objects, which are looked up without being converted."""
    plain: pd.Index = pd.Index(names.to_numpy(dtype=object), dtype=object)
    return plain


def with_columns_of(trees: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of trees (column tree) with the columns of a frame that is indexed by tree.

    Raises KeyError for a tree that the frame does not have.
    """
    at = Names(trees.index).at(rows["tree"])
    if (at < 0).any():
        raise KeyError(rows["tree"].to_numpy()[at < 0][0])
    return rows.assign(**{name: trees[name].to_numpy()[at] for name in trees.columns})


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
    trees = _Trees(records, usual)
    stages = records.stages
    at, bbch = trees.names.at(stages["tree"]), stages["bbch"].to_numpy(dtype=np.int64)
    season = trees.stage_seasons(at, _days(stages), bbch)
    blooms = _Blooms(at, season, _days(stages), bbch == FULL_BLOOM)
    late, ripening = bbch >= FIRST_FRUIT_STAGE, bbch >= RIPENING_STAGE
    for which, least in ((late & ~ripening, 1.0), (ripening, None)):
        season[which] = trees.seasons(at[which], _days(stages)[which], blooms, least)
    events = records.events
    own = events["tree"].notna().to_numpy()
    event_season = _calendar_seasons_of(records, events)
    event_season[own] = trees.seasons(
        trees.names.at(events["tree"][own]), _days(events)[own], blooms, -EVENT_LEAD_DAYS
    )
    return replace(
        records,
        stages=stages.assign(season=season),
        picks=_with_season(records.picks, trees, blooms, None),
        thinnings=_with_season(records.thinnings, trees, blooms, -THINNING_LEAD_DAYS),
        events=events.assign(season=event_season),
    )


def full_blooms(stages: pd.DataFrame) -> pd.DataFrame:
    """First date of full bloom (BBCH 65) of each tree and season: columns tree, season, bloom."""
    blooms = stages[stages["bbch"] == FULL_BLOOM]
    return blooms.groupby(["tree", "season"], as_index=False).agg(bloom=("date", "min"))


def _days(rows: pd.DataFrame) -> Dates:
    return rows["date"].to_numpy().astype("datetime64[D]")


def _with_season(
    rows: pd.DataFrame, trees: _Trees, blooms: _Blooms, least: float | None
) -> pd.DataFrame:
    return rows.assign(
        season=trees.seasons(trees.names.at(rows["tree"]), _days(rows), blooms, least)
    )


def _calendar_seasons_of(records: Records, rows: pd.DataFrame) -> Ints:
    """Seasons of rows of a site by the calendar; without a site as in the north."""
    latitude = np.append(records.sites["latitude"].to_numpy(dtype=float), np.nan)
    at = Names(records.sites["site"]).at(rows["site"])
    return calendar_seasons(_days(rows), latitude[at])


class _Trees:
    """What of each tree decides the seasons of its records; the last place is of no tree."""

    def __init__(self, records: Records, usual: pd.DataFrame) -> None:
        trees = records.trees
        self.names = Names(trees["tree"])
        self._latitude = np.append(trees["latitude"].to_numpy(dtype=float), np.nan)
        at = np.append(Names(usual.index).at(trees["tree"]), -1)
        self._bloom, self._least = (
            np.append(usual[name].to_numpy(dtype=float), np.nan)[at]
            for name in ("usual_bloom", "least_days")
        )

    def stage_seasons(self, at: Ints, days: Dates, bbch: Ints) -> Ints:
        """Seasons of stages up to the end of bloom; those of fruit are found afterwards."""
        bud = bbch < FIRST_FLOWER_STAGE
        meant = np.where(bud, days + np.timedelta64(BUD_LEAD_DAYS, "D"), days)
        return bloom_seasons(meant, self._latitude[at], self._bloom[at])

    def seasons(self, at: Ints, days: Dates, blooms: _Blooms, least: float | None) -> Ints:
        """Season of rows of trees; `least` days from bloom, or None for the species' own."""
        latitude = self._latitude[at]
        return pick_seasons(
            days,
            latitude,
            self._bloom[at],
            self._least[at] if least is None else np.full(len(at), least),
            blooms.around(at, calendar_seasons(days, latitude)),
        )


class _Blooms:
    """Logged full blooms of the trees, by tree and season."""

    def __init__(self, at: Ints, season: Ints, days: Dates, full: Bools) -> None:
        full = full & (at >= 0)
        self._first = int(season[full].min(initial=9999))
        size = int(season[full].max(initial=0)) - self._first + 1
        number = days[full].astype(np.int64)
        shape = int(at.max(initial=-1)) + 2, max(size, 0) + 1
        self._seen = np.full(shape, _NEVER)
        np.minimum.at(self._seen, (at[full], season[full] - self._first), number)

    def around(self, at: Ints, season: Ints) -> Dates:
        """Blooms of the season before each, of it, and after it, shape (n, 3); NaT: none."""
        rows, columns = self._seen.shape
        step = season[:, None] - self._first + np.array([-1, 0, 1])
        inside = (step >= 0) & (step < columns) & (at < rows)[:, None]
        found = self._seen[np.where(inside, at[:, None], -1), np.where(inside, step, -1)]
        days = np.where(found == _NEVER, 0, found).astype("datetime64[D]")
        return np.where(found == _NEVER, np.datetime64("NaT", "D"), days)


_NEVER = np.iinfo(np.int64).max
