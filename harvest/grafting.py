"""Trees grafted over to another cultivar: from that day on they count as trees of their own.

What was seen before belongs to the old cultivar and stays with it; what comes after starts anew,
for the new wood has to grow before it bears and nothing of the old crops tells what it will bear
(common practice, no source). The two lives of a tree never mix.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

# Sprays stay with the tree that stands: what its wood or fruit got is never dropped by a graft.
OF_ONE_LIFE = ("stages", "picks", "thinnings", "girths", "events")
DAY = np.timedelta64(1, "D")
Frames = dict[str, pd.DataFrame]


def as_grafted(trees: pd.DataFrame, frames: Frames, grafts: pd.DataFrame, as_of: date) -> Frames:
    """Trees and their records with the grafts of a day, and none of those made later.

    Parameters
    ----------
    trees : trees planted by the day, as in `harvest.records.Records`; of a later day, or none.
    frames : their records, by kind (`OF_ONE_LIFE`), up to the day.
    grafts : columns tree, date, cultivar, species (missing: as before).

    Returns the frames, and `trees`. A grafted tree keeps its name, is `planted` on the day it was
    grafted (also in `grafted`), and has the new cultivar; its pollen group is not known any more.
    Its earlier life stands beside it under a name of its own, removed the day before; `own_name`
    is the tree's in both.
    """
    day = np.datetime64(as_of, "s")
    if "own_name" not in trees:
        trees = trees.assign(own_name=trees["tree"], grafted=np.datetime64("NaT", "s"))
    trees, frames = _ungrafted(trees, frames)
    known = grafts[grafts["date"] <= day]
    while len(known):
        standing = trees[trees["tree"] == trees["own_name"]].set_index("tree")
        since = known["tree"].map(standing["planted"])
        known = known[known["date"] > since].sort_values(["tree", "date"])
        first = known.drop_duplicates("tree").set_index("tree")
        if len(first):
            trees, frames = _grafted(trees, frames, first)
    order = trees.sort_values("tree", kind="stable", ignore_index=True)
    return {**frames, "trees": order}


def _grafted(
    trees: pd.DataFrame, frames: Frames, grafts: pd.DataFrame
) -> tuple[pd.DataFrame, Frames]:
    """One graft of each tree named: its life before, and after."""
    which = trees["tree"].isin(grafts.index) & (trees["tree"] == trees["own_name"])
    before, after = trees[which].copy(), trees[which].copy()
    on = after["tree"].map(grafts["date"])
    before["removed"] = on - DAY
    told = on.dt.strftime("%Y-%m-%d")
    before["tree"] = before["tree"] + " (" + before["cultivar"] + ", until " + told + ")"
    names = dict(zip(after["tree"], before["tree"], strict=True))
    species = after["tree"].map(grafts["species"])
    after["species"] = species.where(species.notna(), after["species"])
    after["cultivar"] = after["tree"].map(grafts["cultivar"])
    after["planted"] = after["grafted"] = on
    after["pollen_group"] = None
    cuts = grafts["date"]
    renamed = {}
    for kind, frame in frames.items():
        early = frame["date"] < frame["tree"].map(cuts)
        renamed[kind] = _renamed(frame, frame["tree"].where(~early, frame["tree"].map(names)))
    return pd.concat([trees[~which], before, after], ignore_index=True), renamed


def _ungrafted(trees: pd.DataFrame, frames: Frames) -> tuple[pd.DataFrame, Frames]:
    """Trees whose life after a graft is not known yet: the one before is again their last."""
    past = trees["tree"] != trees["own_name"]
    last = trees.groupby("own_name")["planted"].transform("max") == trees["planted"]
    back = past & last & ~trees["own_name"].isin(trees.loc[~past, "own_name"])
    if not back.any():
        return trees, frames
    names = dict(zip(trees.loc[back, "tree"], trees.loc[back, "own_name"], strict=True))
    trees = trees.assign(
        tree=trees["tree"].where(~back, trees["own_name"]),
        removed=trees["removed"].where(~back),
    )
    return trees, {kind: _renamed(f, f["tree"].replace(names)) for kind, f in frames.items()}


def _renamed(frame: pd.DataFrame, names: pd.Series) -> pd.DataFrame:
    """Records under other names of their trees, in the order of those."""
    keys = [name for name in ("tree", "site", "date") if name in frame]
    changed = frame.assign(tree=names)
    return changed.sort_values(keys, kind="stable", ignore_index=True)
