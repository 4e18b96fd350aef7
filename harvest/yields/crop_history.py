"""Past crops of one species' trees, brought to the scale on which they are compared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import Floats, Ints
from harvest.yields.age_by_crops import evenness, younger_by_crops
from harvest.yields.bearing_curve import TreeCurves
from harvest.yields.swing_model import LEAST_WEIGHT, Crops
from harvest.yields.tree_seasons import Bools, first_seasons

# A season in which frost left less than this share of a crop tells little of what a tree bears
# without one [judgement]; the estimate is for a season without, until its own frost is known.
LEAST_LEFT = 0.75
# Seasons longer ago than this are left out: trees, care and weather change.
SEASONS_BACK = 12
# How many tree-seasons the reference table's mature crop is worth against the orchard's own.
REFERENCE_WORTH = 4.0
USUAL_KG = 20.0
# Trees of a cultivar at a site from which on their common season can be told from one tree's.
LEAST_POOL = 3
KIND = ["species", "cultivar"]
# Powers of the curve of age that are tried, and the logarithm of their prior weights [judgement].
BENDS = ((1.0, float(np.log(0.8))), (0.5, float(np.log(0.15))), (0.0, float(np.log(0.05))))
# Shared effects of one part of a species' trees.
MOST_EFFECTS = 160


class Kinds(NamedTuple):
    """What trees share, shape (trees,): numbers in the order in which they first come.

    `pool` is a cultivar at a site, -1 for a tree with too few like it to tell their common season
    from its own. A planting is the trees of a cultivar set out on like roots in the same season at
    a site.
    """

    site: Ints
    cultivar: Ints
    pool: Ints
    planting: Ints

    def of(self, members: Ints) -> Kinds:
        """Those of some trees, numbered anew from 0."""
        return Kinds(*(_renumbered(each[members]) for each in self))


@dataclass(frozen=True)
class AgeCurve:
    """A curve of age that was tried, and what it lets one expect of each tree, shape (n,)."""

    weight: float
    """How likely it is, among those tried [1]."""
    expected_kg: Floats
    """The season's crop by age and kind, on the level of the orchard's own trees."""
    share: Floats
    """Share of the mature crop [1]."""
    younger: Bools
    """Trees that it takes for younger than they are entered."""


@dataclass(frozen=True)
class SpeciesHistory:
    """Crops of some trees of one species, by each curve of age that may be (axis 0 of `crops.z`).

    z is sqrt(kg / expected) - 1.
    """

    curves: tuple[AgeCurve, ...]
    crops: Crops
    counted: Floats
    """Crops on record, shape (n, seasons): kg, nan where none."""
    frosted: Ints
    """Seasons left out for frost, shape (n,)."""


class PastCrops:
    """Crops of the seasons before one: picked to the end, or none on a tree of an age to bear.

    Parameters
    ----------
    records, table : as known, with seasons, and their `yield_table`.
    curves : as from `tree_curves`, of all trees.
    frost : as from `harvest.yields.frost_damage.crops_left`: seasons that it took are left out,
        but for trees that it took more than half of their crops of.
    season : the season to be estimated.
    """

    def __init__(
        self,
        records: Records,
        table: pd.DataFrame,
        curves: TreeCurves,
        frost: pd.Series,
        season: int,
    ) -> None:
        trees = records.trees
        tree = pd.Index(trees["tree"]).get_indexer(table["tree"])
        counts = (table["crop"] == "picked") & table["complete"]
        barren = (table["crop"] == "none") & curves.bearing(tree, table["leaf"])
        back = season - table["season"].to_numpy(dtype=np.int64)
        use = (counts | barren).to_numpy() & (back > 0) & (back <= SEASONS_BACK)
        cells = pd.MultiIndex.from_frame(table[["tree", "season"]])
        taken = use & (frost.reindex(cells).to_numpy(dtype=float) < LEAST_LEFT)
        seasons, lost = (np.bincount(tree[which], minlength=len(trees)) for which in (use, taken))
        self._frosted = np.where(2 * lost > seasons, 0, lost)
        use &= ~(taken & (self._frosted > 0)[tree])
        self._kg = np.full((len(trees), SEASONS_BACK + 1), np.nan)
        self._kg[tree[use], SEASONS_BACK - back[use]] = table["weight_kg"].to_numpy()[use]
        leaf = np.arange(season - SEASONS_BACK, season + 1) - first_seasons(trees)[:, None] + 1
        number = np.arange(len(trees))[:, None] + np.zeros(leaf.shape, dtype=np.int64)
        self._share = curves.share(number, leaf)
        self._mature = np.where(np.isnan(curves.mature_kg), USUAL_KG, curves.mature_kg)
        self._species, self._kinds = trees["species"].to_numpy(dtype=object), _kinds(trees)

    def parts(self, wanted: Ints) -> list[Ints]:
        """Numbers of the trees that are worked out together, in parts with any of those wanted.

        A part holds whole cultivars of one species, and as many as keep its shared effects few; a
        species of some dozens of cultivars has more than one.
        """
        kinds = dict.fromkeys(self._species[wanted])
        parts = (
            each for kind in kinds for each in self._parts(np.flatnonzero(self._species == kind))
        )
        return [part for part in parts if np.isin(part, wanted).any()]

    def _parts(self, members: Ints) -> list[Ints]:
        own = self._kinds.of(members)
        size = int(own.cultivar.max()) + 1
        pools, plantings = (_count(own.cultivar, each, size) for each in (own.pool, own.planting))
        effects = pools * (SEASONS_BACK + 1) + plantings + 1
        part = np.zeros(size, dtype=np.int64)
        full = 0
        for at in range(1, size):
            full += int(effects[at - 1])
            over = full + effects[at] > MOST_EFFECTS
            part[at] = part[at - 1] + over
            full = 0 if over else full
        return [members[part[own.cultivar] == at] for at in range(int(part[-1]) + 1)]

    def of(self, members: Ints) -> SpeciesHistory:
        """Crops of some trees of one species as the model takes them.

        Trees come into bearing sooner or later than the tables say, and planting dates are not
        always known: the curve of age is tried as it is, flatter, and flat, and where grown trees'
        crops rise at a younger age, and the crops on record decide.
        """
        seen = (~np.isnan(self._kg[members])).any(axis=0)
        start = min(int(seen.argmax()), SEASONS_BACK - 1) if seen.any() else SEASONS_BACK - 1
        kg, share = self._kg[members, start:], self._share[members, start:]
        kinds = self._kinds.of(members)
        young = bool(((share < 1) & ~np.isnan(kg)).any())
        bends = BENDS if young else BENDS[:1]
        shares = [share**bend for bend, _ in bends]
        expected = [self._expected(members, kg, each) for each in shares]
        logs = [
            prior + evenness(kg, each) for each, (_, prior) in zip(expected, bends, strict=True)
        ]
        changed = np.zeros((len(bends), len(members)), dtype=bool)
        younger = younger_by_crops(kg, share, kinds.planting)
        if younger is not None:
            shares.append(younger.share)
            expected.append(self._expected(members, kg, younger.share))
            logs.append(logs[0] + younger.log_odds)
            changed = np.vstack([changed, (younger.share != share).any(axis=1)])
        weight = np.exp(np.array(logs) - max(logs))
        weight = weight / weight.sum()
        kept = np.flatnonzero(weight >= LEAST_WEIGHT)
        return SpeciesHistory(
            curves=tuple(
                AgeCurve(float(weight[at]), expected[at][:, -1], shares[at][:, -1], changed[at])
                for at in kept
            ),
            crops=Crops(np.array([np.sqrt(kg / expected[at]) - 1 for at in kept]), *kinds),
            counted=kg[:, :-1],
            frosted=self._frosted[members],
        )

    def _expected(self, members: Ints, kg: Floats, share: Floats) -> Floats:
        expected = share * self._mature[members, None]
        return expected * _own_level(kg, expected)


def _own_level(kg: Floats, expected: Floats) -> float:
    """How far the orchard's own crops lie from the reference, drawn towards it (a factor)."""
    seen = ~np.isnan(kg)
    if not seen.any() or np.nansum(kg) <= 0:
        return 1.0
    ratio = np.log(kg[seen].sum() / expected[seen].sum())
    count = float(seen.sum())
    return float(np.exp(ratio * count / (count + REFERENCE_WORTH)))


def _kinds(trees: pd.DataFrame) -> Kinds:
    names = pd.DataFrame(
        {
            "site": trees["site"],
            "species": trees["species"],
            "cultivar": trees["cultivar"].str.casefold(),
            "roots": trees["rootstock"].fillna("").astype(str).str.casefold(),
            "vigour": trees["vigour"].fillna(""),
            "planted": first_seasons(trees),
        }
    )
    site, cultivar, there, planting = (
        np.asarray(names.groupby(columns, sort=False, dropna=False).ngroup(), dtype=np.int64)
        for columns in (["site"], KIND, ["site", *KIND], [*names])
    )
    several = np.bincount(there, minlength=1)[there] >= LEAST_POOL
    pool: Ints = np.where(several, there, -1)
    return Kinds(site, cultivar, pool, planting)


def _renumbered(numbers: Ints) -> Ints:
    """From 0 without gaps, in the same order; -1 stays."""
    found, at = np.unique(numbers, return_inverse=True)
    return np.asarray(at.ravel() - (found[:1] < 0).sum(), dtype=np.int64)


def _count(kind: Ints, within: Ints, size: int) -> Ints:
    """How many different groups `within` lie in each of `size` kinds."""
    first = np.unique(within, return_index=True)[1]
    return np.bincount(kind[first[within[first] >= 0]], minlength=size)
