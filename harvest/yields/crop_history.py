"""Past crops of one species' trees, brought to the scale on which they are compared."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import Floats, Ints
from harvest.yields.age_by_crops import evenness, younger_by_crops
from harvest.yields.bearing_curve import TreeCurves
from harvest.yields.swing_model import Crops
from harvest.yields.tree_seasons import Bools, first_seasons

# Seasons longer ago than this are left out: trees, care and weather change.
SEASONS_BACK = 12
# How many tree-seasons the reference table's mature crop is worth against the orchard's own.
REFERENCE_WORTH = 4.0
USUAL_KG = 20.0
# Trees of a cultivar at a site from which on their common season can be told from one tree's.
LEAST_POOL = 3
# Powers of the curve of age that are tried, and the logarithm of their prior weights [judgement].
BENDS = ((1.0, float(np.log(0.8))), (0.5, float(np.log(0.15))), (0.0, float(np.log(0.05))))
# Shared effects of one part of a species' trees.
MOST_EFFECTS = 160


class Known(NamedTuple):
    """Crops that count as known: numbers of trees, seasons and weights [kg], shape (n,)."""

    tree: Ints
    season: Ints
    weight_kg: Floats


@dataclass(frozen=True)
class SpeciesHistory:
    """Crops of one species: `trees` numbers of its trees, shape (n,), in the orchard's order.

    `expected_kg`, shape (n,): the season's crop expected by age and kind, on the level of the
    orchard's own trees; z is sqrt(kg / expected) - 1.
    """

    trees: Ints
    crops: Crops
    expected_kg: Floats
    share: Floats
    """Share of the mature crop that its age lets one expect of each tree [1], shape (n,)."""
    counted: Floats
    """Crops on record, shape (n, seasons): kg, nan where none."""
    log_weight: float
    """Logarithm of the weight of the curve of age."""
    younger: Bools | None = None
    """Trees that this curve takes for younger than they are entered, shape (n,)."""


def known_crops(records: Records, table: pd.DataFrame, curves: TreeCurves, season: int) -> Known:
    """Crops of the seasons before one: picked to the end, or none on a tree of an age to bear."""
    tree = pd.Index(records.trees["tree"]).get_indexer(table["tree"])
    counts = (table["crop"] == "picked") & table["complete"]
    barren = (table["crop"] == "none") & curves.bearing(tree, table["leaf"])
    seasons = table["season"].to_numpy(dtype=np.int64)
    use = (counts | barren).to_numpy() & (seasons < season) & (seasons >= season - SEASONS_BACK)
    return Known(tree[use], seasons[use], table["weight_kg"].to_numpy(dtype=float)[use])


def species_parts(records: Records, species: str) -> list[Ints]:
    """Numbers of a species' trees, in parts that are worked out by themselves.

    A part holds whole cultivars, and as many as keep its shared effects few enough to be worked
    out in moderate time; a species of some dozens of cultivars has more than one.
    """
    members = np.flatnonzero((records.trees["species"] == species).to_numpy())
    _, cultivar, pool, planting = _numbers(records.trees.iloc[members])
    size = int(cultivar.max(initial=-1)) + 1
    blocks = pd.DataFrame({"cultivar": cultivar, "pool": pool, "planting": planting})
    pools = blocks[blocks["pool"] >= 0].groupby("cultivar")["pool"].nunique()
    plantings = blocks.groupby("cultivar")["planting"].nunique()
    shared = pools.mul(SEASONS_BACK + 1).add(plantings + 1, fill_value=0)
    effects = shared.reindex(range(size)).to_numpy(dtype=float)
    part = np.zeros(size, dtype=np.int64)
    full = 0.0
    for at in range(1, size):
        full += effects[at - 1]
        over = full + effects[at] > MOST_EFFECTS
        part[at] = part[at - 1] + over
        full = 0.0 if over else full
    return [members[part[cultivar] == each] for each in range(int(part.max(initial=0)) + 1)]


def species_history(
    records: Records, known: Known, curves: TreeCurves, members: Ints, season: int
) -> tuple[SpeciesHistory, ...]:
    """Crops of some trees of one species as the model takes them, once for each curve of age tried.

    Parameters
    ----------
    known : as from `known_crops`, all before `season`.
    members : numbers of the trees, in the orchard's order.
    season : the season to be estimated.

    Trees come into bearing sooner or later than the tables say, and planting dates are not always
    known: the curve is tried as it is, flatter, and flat, and where grown trees' crops rise at a
    younger age, and the crops on record decide.
    """
    trees = records.trees
    own = trees.iloc[members]
    place = np.full(len(trees), -1)
    place[members] = np.arange(len(members))
    of_kind = place[known.tree] >= 0
    row, at = place[known.tree[of_kind]], known.season[of_kind]
    start = min(int(at.min()), season - 1) if at.size else season - 1
    width = season - start + 1
    kg = np.full((len(members), width), np.nan)
    kg[row, at - start] = known.weight_kg[of_kind]
    leaf = np.arange(start, season + 1) - first_seasons(own)[:, None] + 1
    share = curves.share(np.repeat(members, width).reshape(kg.shape), leaf)
    mature = np.where(np.isnan(curves.mature_kg), USUAL_KG, curves.mature_kg)[members]
    numbers = _numbers(own)
    young = bool(((share < 1) & ~np.isnan(kg)).any())
    found = [
        _on_curve(members, kg, share**bend, mature, (log_prior, numbers))
        for bend, log_prior in (BENDS if young else BENDS[:1])
    ]
    younger = younger_by_crops(kg, share, numbers[-1])
    if younger is not None:
        other = _on_curve(members, kg, younger.share, mature, (0.0, numbers))
        weight = found[0].log_weight + younger.log_odds
        changed = (younger.share != share).any(axis=1)
        found.append(replace(other, log_weight=weight, younger=changed))
    return tuple(found)


def _on_curve(
    members: Ints,
    kg: Floats,
    share: Floats,
    mature: Floats,
    given: tuple[float, tuple[Ints, Ints, Ints, Ints]],
) -> SpeciesHistory:
    expected = share * mature[:, None]
    expected = expected * _own_level(kg, expected)
    log_prior, numbers = given
    crops = Crops(np.sqrt(kg / expected) - 1, *numbers)
    return SpeciesHistory(
        trees=members,
        crops=crops,
        expected_kg=expected[:, -1],
        share=share[:, -1],
        counted=kg[:, :-1],
        log_weight=log_prior + evenness(kg, expected),
    )


def _own_level(kg: Floats, expected: Floats) -> float:
    """How far the orchard's own crops lie from the reference, drawn towards it (a factor)."""
    seen = ~np.isnan(kg)
    if not seen.any() or np.nansum(kg) <= 0:
        return 1.0
    ratio = np.log(kg[seen].sum() / expected[seen].sum())
    count = float(seen.sum())
    return float(np.exp(ratio * count / (count + REFERENCE_WORTH)))


def _numbers(own: pd.DataFrame) -> tuple[Ints, Ints, Ints, Ints]:
    """Site, cultivar, cultivar at a site, and planting of each tree, numbered from 0.

    A planting is the trees of a cultivar set out on like roots in the same season at a site.
    """
    cultivar = own["cultivar"].str.casefold()
    roots = own["rootstock"].fillna("").astype(str).str.casefold() + "|" + own["vigour"].fillna("")
    planted = pd.Series(first_seasons(own), index=own.index).astype(str)
    pool = own["site"] + "|" + cultivar
    planting = pool + "|" + roots + "|" + planted
    site, kind, there, stand = (
        pd.factorize(each)[0].astype(np.int64) for each in (own["site"], cultivar, pool, planting)
    )
    several = np.bincount(there)[there] >= LEAST_POOL
    shared = np.full(len(own), -1)
    shared[several] = pd.factorize(there[several])[0]
    return site, kind, shared, stand
