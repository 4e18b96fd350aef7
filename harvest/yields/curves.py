"""What pictures of yields show: running totals by rootstock, yield by trunk, forecast by picked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import season_start
from harvest.yields.crop_estimate import crop_estimates
from harvest.yields.load_rules import YieldReference
from harvest.yields.plain_rows import plain_rows
from harvest.yields.result import CumulativePoint, ForecastPicked, TrunkPoint

UNKNOWN_ROOTS = "not on record"


def cumulative_by_rootstock(fair: pd.DataFrame) -> list[CumulativePoint]:
    """Mean weight per tree since planting [kg], by species, rootstock and leaf.

    Trees whose record has a gap (a season not recorded between first and last crop) are left out:
    their total is not known. Stripped seasons and seasons without a crop add nothing.
    """
    table = fair.sort_values(["tree", "season"])
    lost = (table["crop"] == "not recorded") & table["weight_kg"].isna()
    started = table["weight_kg"].gt(0).groupby(table["tree"]).cummax()
    gap = (lost & started).groupby(table["tree"]).cummax()
    running = table["weight_kg"].fillna(0).groupby(table["tree"]).cumsum()
    roots = table["rootstock"].fillna(UNKNOWN_ROOTS)
    whole = table.assign(running=running, roots=roots)[started & ~gap & table["complete"]]
    grouped = whole.groupby(["species", "roots", "leaf"])["running"]
    points = grouped.agg(kg="mean", trees="count").reset_index()
    return [
        CumulativePoint(row.species, row.roots, int(row.leaf), float(row.kg), int(row.trees))
        for row in plain_rows(points)
    ]


def yield_by_trunk(fair: pd.DataFrame) -> list[TrunkPoint]:
    """Weight [kg] against trunk cross-section [cm2] of every complete picked season with both."""
    known = fair[(fair["crop"] == "picked") & fair["complete"] & fair["tcsa_cm2"].notna()]
    return [
        TrunkPoint(
            tree=row.tree,
            species=row.species,
            cultivar=row.cultivar,
            season=int(row.season),
            tcsa_cm2=float(row.tcsa_cm2),
            weight_kg=float(row.weight_kg),
            girth_date=row.girth_date.date(),
        )
        for row in plain_rows(known)
    ]


def forecast_against_picked(
    records: Records,
    fair: pd.DataFrame,
    seasons: Sequence[int],
    reference: YieldReference,
    frost: pd.Series,
) -> list[ForecastPicked]:
    """What would have been expected at each season's start, and what was picked [kg].

    Only what was on record the day before the season began counts, by `Records.until`. Trees of
    both hemispheres are judged at their own season's start. `frost` as for `crop_estimates`.
    """
    counted = fair[fair["counted"]].sort_values("season").set_index(["tree", "season"])["weight_kg"]
    picked = counted.to_dict()
    own = counted.groupby(level="tree")
    before = own.cumcount()
    usual = ((own.cumsum() - counted) / before.where(before > 0)).to_dict()
    south = dict(zip(records.trees["tree"], records.trees["latitude"] < 0, strict=True))
    rows = []
    for season in seasons:
        for southern in (False, True):
            wanted = {
                tree for tree, there in south.items()
                if there == southern and (tree, season) in picked
            }  # fmt: skip
            if not wanted:
                continue
            start = season_start(season, -1.0 if southern else 1.0)
            estimates = crop_estimates(records.until(start), season, reference, wanted, frost=frost)
            rows += [
                ForecastPicked(
                    tree=row.tree,
                    species=row.species,
                    cultivar=row.cultivar,
                    season=season,
                    as_of=start,
                    kg=row.kg,
                    picked_kg=float(picked[row.tree, season]),
                    own_seasons=row.basis.own_seasons,
                    own_mean_kg=_known(usual[row.tree, season]),
                )
                for row in estimates
            ]
    return rows


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def shares_inside(rows: Sequence[ForecastPicked]) -> tuple[int, int]:
    """How many picked weights lay within the 80 % interval, and of how many."""
    inside = [row.kg[0.1] <= row.picked_kg <= row.kg[0.9] for row in rows]
    return int(np.sum(inside)), len(inside)
