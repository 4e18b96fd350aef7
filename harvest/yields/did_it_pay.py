"""Did stripping young trees pay: growth and crops of stripped against unstripped trees.

Only trees of one planting are compared (a cultivar on like roots, set out in one season at one
site). Trees were not drawn by lot: whoever strips the weaker ones sees them behind for that
reason alone, and the interval does not know it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import Floats
from harvest.yields.expectation import plantings
from harvest.yields.result import PayMeasure, PayVerdict, StripPaid
from harvest.yields.totals import yield_table
from harvest.yields.tree_seasons import first_seasons
from harvest.yields.trunk import girths_on, trunk_cross_section

# Leaves in which stripping is the question, and trees on each side that an interval needs.
YOUNG_LEAVES = 4
LEAST_TREES = 3
CONFIDENCE = 0.95


def did_it_pay(records: Records) -> list[StripPaid]:
    """Stripped against unstripped trees of each planting, by trunk and by weight since planting.

    Parameters
    ----------
    records : with seasons. A tree counts as stripped when all its fruit were taken off in one of
    its first four leaves; as kept when it has come through them without. Its weight is the sum of
    all seasons on record, its trunk that of the latest winter [cm2].

    Returns
    -------
    One row per planting that has both kinds, and measure. With fewer than three trees on either
    side there is no interval and the verdict is "too few trees to tell".
    """
    trees = _young_trees(records)
    rows = []
    for _, group in trees.groupby("planting"):
        if group["stripped"].nunique() < 2:
            continue
        first = group.iloc[0]
        for measure in _MEASURES:
            values = [
                group.loc[group["stripped"] == kind, measure].dropna().to_numpy(dtype=float)
                for kind in (True, False)
            ]
            rows.append(_compared(first, measure, *values))
    return rows


_MEASURES: tuple[PayMeasure, ...] = ("trunk_cm2", "weight_kg")


def _young_trees(records: Records) -> pd.DataFrame:
    """Trees past the question, with their planting, whether stripped, trunk and weight."""
    trees = records.trees
    first = first_seasons(trees)
    leaf_of = pd.Series(first, index=trees["tree"].to_numpy())
    table = yield_table(records)
    reached = table.groupby("tree")["leaf"].max().reindex(trees["tree"]).to_numpy(dtype=float)
    strips = records.thinnings[records.thinnings["action"] == "strip"]
    leaf = strips["season"] - strips["tree"].map(leaf_of) + 1
    stripped = set(strips.loc[leaf <= YOUNG_LEAVES, "tree"])
    weight = table.groupby("tree")["weight_kg"].sum().reindex(trees["tree"]).to_numpy(dtype=float)
    as_of = np.full(len(trees), np.datetime64(records.as_of, "D"))
    girth = girths_on(records.girths, trees["tree"], as_of).girth_cm
    frame = pd.DataFrame(
        {
            "tree": trees["tree"],
            "site": trees["site"],
            "cultivar": trees["cultivar"],
            "rootstock": trees["rootstock"],
            "planted": first,
            "planting": plantings(trees),
            "stripped": trees["tree"].isin(stripped),
            "trunk_cm2": trunk_cross_section(girth),
            "weight_kg": weight,
        }
    )
    standing = trees["removed"].isna().to_numpy()
    return frame[(reached > YOUNG_LEAVES) & standing]


def _compared(first: pd.Series, measure: PayMeasure, stripped: Floats, kept: Floats) -> StripPaid:
    low = high = None
    verdict: PayVerdict = "too few trees to tell"
    difference = float(stripped.mean() - kept.mean()) if stripped.size and kept.size else None
    if min(stripped.size, kept.size) >= LEAST_TREES:
        low, high = welch_interval(stripped, kept)
        verdict = (
            "stripped ahead" if low > 0 else "kept ahead" if high < 0 else "no clear difference"
        )
    root = first["rootstock"]
    return StripPaid(
        site=str(first["site"]),
        cultivar=str(first["cultivar"]),
        rootstock=root if isinstance(root, str) else None,
        first_season=int(first["planted"]),
        measure=measure,
        stripped_trees=stripped.size,
        kept_trees=kept.size,
        stripped_mean=float(stripped.mean()) if stripped.size else None,
        kept_mean=float(kept.mean()) if kept.size else None,
        difference=difference,
        low=low,
        high=high,
        verdict=verdict,
    )


def welch_interval(one: Floats, other: Floats) -> tuple[float, float]:
    """95 % interval of the difference of two means, unequal variances (Welch 1947, Biometrika 34).

    Each side needs at least two values.
    """
    from scipy.special import stdtrit

    parts = [each.var(ddof=1) / each.size for each in (one, other)]
    total = sum(parts)
    difference = float(one.mean() - other.mean())
    if total == 0:
        return difference, difference
    freedom = total**2 / sum(
        part**2 / (each.size - 1) for part, each in zip(parts, (one, other), strict=True)
    )
    half = float(stdtrit(freedom, (1 + CONFIDENCE) / 2) * np.sqrt(total))
    return difference - half, difference + half
