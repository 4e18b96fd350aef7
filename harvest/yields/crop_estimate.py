"""Next season's crop of every tree: kg with their probabilities, and what they rest on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import Floats, Ints
from harvest.yields.alternation import bearing_index
from harvest.yields.bearing_curve import tree_curves
from harvest.yields.crop_history import PastCrops, SpeciesHistory
from harvest.yields.frost_damage import crops_left
from harvest.yields.load_rules import YieldReference
from harvest.yields.plain_rows import plain_rows
from harvest.yields.result import CropBasis, CropEstimate
from harvest.yields.season_so_far import GIVEN_WEIGHT_DOUBT, SeasonSoFar, season_so_far
from harvest.yields.swing_model import Mixture, estimate
from harvest.yields.totals import yield_table
from harvest.yields.tree_facts import standing_trees

LEVELS = (0.1, 0.25, 0.5, 0.75, 0.9)
STEPS = np.arange(0.05, 1.0, 0.05)
# What the crop at each of the steps counts for that at each level, as between them in a line.
AT_LEVELS = np.array([np.interp(LEVELS, STEPS, one) for one in np.eye(len(STEPS))])
# Crops on record a bearing index needs, and how many pairs of seasons its pool's is worth.
LEAST_FOR_INDEX, POOL_WORTH = 3, 4.0
# A season that came differently is no more certain than this share of the usual spread.
LEAST_SPREAD = 0.6
FEW_SEASONS = 3
# Spread of z of a tree that has borne nothing yet, falling to none at full bearing [judgement].
YOUNG_DOUBT = 0.4


def crop_estimates(
    records: Records,
    season: int | None,
    reference: YieldReference,
    of: Collection[str] | None = None,
    *,
    frost: pd.Series | None = None,
) -> list[CropEstimate]:
    """The crop of each tree that stands in a season, in the order of the trees.

    Parameters
    ----------
    records : as known on the as-of day, with seasons; crops of the seasons before the one asked
        for count as the past, records of that season itself as what it says so far.
    season : the season to be estimated; None is the one running at each tree's site.
    reference : the reference tables.
    of : names of the trees that are wanted, all when left out; the others' past counts as well.
    frost : as from `crops_left`, where it has been worked out already.
    """
    standing = standing_trees(records, season)
    if of is not None:
        standing = standing[standing["tree"].isin(list(of))]
    table = yield_table(records)
    curves = tree_curves(records.trees, reference.species, reference.bearing_curves)
    frost = crops_left(records, reference.frost_kill) if frost is None else frost
    number = pd.Index(records.trees["tree"]).get_indexer(standing["tree"])
    found: dict[int, CropEstimate] = {}
    for year in sorted(set(standing["season"].tolist())):
        past = PastCrops(records, table, curves, frost, year)
        own = (standing["season"] == year).to_numpy()
        so_far = season_so_far(records, year, standing["tree"][own], table, reference.frost_kill)
        rows = dict(zip(number[own].tolist(), plain_rows(standing[own]), strict=True))
        for members in past.parts(number[own]):
            wanted = np.flatnonzero(np.isin(members, number[own]))
            part = _Part(past.of(members), wanted, [rows[at] for at in members[wanted]], so_far)
            found |= zip(members[wanted].tolist(), part.estimates(reference), strict=True)
    return [found[at] for at in number.tolist()]


def _joined(history: SpeciesHistory) -> Mixture:
    """Estimates of sqrt(kg) over the curves of age tried, each by its weight."""
    parts = []
    for curve, one in zip(history.curves, estimate(history.crops), strict=True):
        root = np.sqrt(curve.expected_kg)
        # When a young tree comes into bearing is less sure than what it then bears.
        doubt = YOUNG_DOUBT * (1 - curve.share)
        weight = curve.weight * one.weight
        parts.append((weight, (1 + one.mean) * root, np.hypot(one.sd, doubt) * root))
    weights, means, sds = (np.concatenate(each) for each in zip(*parts, strict=True))
    return Mixture(weights / weights.sum(), means, sds)


class _Part:
    """Estimates of trees of one species that are worked out together.

    Parameters
    ----------
    history : crops of all trees of the part.
    wanted : numbers of the trees in it that are asked for, shape (n,), and their `rows`.
    so_far : what the running season says, by tree.
    """

    def __init__(
        self,
        history: SpeciesHistory,
        wanted: Ints,
        rows: Sequence[Any],
        so_far: dict[str, SeasonSoFar],
    ) -> None:
        self.history, self.wanted, self.rows = history, wanted, rows
        self.so_far = [so_far.get(row.tree, SeasonSoFar()) for row in rows]
        factor = np.array([each.factor for each in self.so_far])
        root = np.sqrt(factor)
        past = _joined(history)
        less_sure = np.where(factor < 1, np.maximum(root, LEAST_SPREAD), 1.0)
        self.past = Mixture(
            past.weight, past.mean[:, wanted] * root, past.sd[:, wanted] * less_sure
        )

    def kg(self, levels: Floats) -> Floats:
        """Crop at each probability [kg], shape (n, levels); at least what is picked."""
        picked = np.array([each.picked_kg for each in self.so_far])
        before = np.where(picked > 0, np.minimum(self.past.chance(np.sqrt(picked)), 0.995), 0.0)
        wanted = before[:, None] + (1 - before[:, None]) * levels
        kg = np.maximum(self.past.quantiles(wanted), 0.0) ** 2
        return np.asarray(np.maximum(kg, picked[:, None]))

    def estimates(self, reference: YieldReference) -> list[CropEstimate]:
        """One of each tree asked for."""
        kg = _thinned(self.kg(STEPS), self.so_far, self.rows[0].species, reference)
        for at, so_far in enumerate(self.so_far):
            if so_far.none or so_far.finished:
                kg[at] = 0.0 if so_far.none else so_far.picked_kg
        levels = (kg @ AT_LEVELS).round(3).tolist()
        means = kg.mean(axis=1).round(3).tolist()
        counted, cultivar = self.history.counted, self.history.crops.cultivar
        index = _bearing_indices(counted, cultivar)
        seasons, trees = _pool_counts(counted, cultivar)
        own = (~np.isnan(counted)).sum(axis=1).tolist()
        likeliest = max(self.history.curves, key=lambda curve: curve.weight)
        younger = (likeliest.younger & (likeliest.weight > 0.5)).tolist()
        frosted = self.history.frosted.tolist()
        return [
            CropEstimate(
                tree=tree.tree,
                site=tree.site,
                species=tree.species,
                cultivar=tree.cultivar,
                season=tree.season,
                kg=dict(zip(LEVELS, levels[row], strict=True)),
                mean_kg=means[row],
                picked_so_far_kg=so_far.picked_kg,
                basis=CropBasis(seasons[at], trees[at], index[at], own[at]),
                warnings=tuple(
                    _warnings(so_far, own[at], seasons[at], frosted[at], younger=younger[at])
                ),
            )
            for row, (tree, so_far, at) in enumerate(
                zip(self.rows, self.so_far, self.wanted.tolist(), strict=True)
            )
        ]


def _thinned(
    kg: Floats, so_far: Sequence[SeasonSoFar], species: str, reference: YieldReference
) -> Floats:
    """Estimates drawn towards the fruit left at thinning, where they were counted.

    The two are joined as logarithms, each weighing by its precision.
    """
    left = np.array([np.nan if each.fruit_left is None else each.fruit_left for each in so_far])
    if np.isnan(left).all():
        return kg
    given = left * _fruit_weight(species, reference)
    use = given > 0
    log = np.log(np.maximum(kg[use], 1e-3))
    middle, spread = log.mean(axis=1), np.maximum(log.std(axis=1), 0.05)
    weight = (1 / GIVEN_WEIGHT_DOUBT**2) / (1 / GIVEN_WEIGHT_DOUBT**2 + 1 / spread**2)
    joined = (1 - weight) * middle + weight * np.log(given[use])
    doubt = np.sqrt(1 / (1 / GIVEN_WEIGHT_DOUBT**2 + 1 / spread**2))
    kg = kg.copy()
    picked = np.array([each.picked_kg for each in so_far])[use]
    scaled = (log - middle[:, None]) / spread[:, None] * doubt[:, None]
    kg[use] = np.maximum(np.exp(joined[:, None] + scaled), picked[:, None])
    return kg


def _fruit_weight(species: str, reference: YieldReference) -> float:
    """Usual weight of one fruit [kg]: the middle of the table's range, nan where it has none."""
    row = reference.species[reference.species["species"] == species]
    grams = row[["fruit_weight_g_low", "fruit_weight_g_high"]].to_numpy(dtype=float)
    return float(grams[0].mean()) / 1000 if len(grams) else np.nan


def _bearing_indices(kg: Floats, cultivar: Ints) -> list[float | None]:
    """Bearing index of each tree's past crops, drawn towards its cultivar's trees'."""
    index = bearing_index(kg) if kg.shape[1] > 1 else np.full(len(kg), np.nan)
    enough = (~np.isnan(kg)).sum(axis=1) >= LEAST_FOR_INDEX
    index = np.where(enough, index, np.nan)
    pairs = np.maximum((~np.isnan(kg)).sum(axis=1) - 1, 0) * ~np.isnan(index)
    filled = np.where(np.isnan(index), 0.0, index)
    total = np.bincount(cultivar, pairs * filled)[cultivar]
    weight = np.bincount(cultivar, pairs)[cultivar]
    mean = np.divide(total, weight, out=np.full(len(kg), np.nan), where=weight > 0)
    drawn = (pairs * filled + POOL_WORTH * mean) / (pairs + POOL_WORTH)
    return [None if np.isnan(value) else round(float(value), 3) for value in drawn]


def _pool_counts(kg: Floats, cultivar: Ints) -> tuple[list[int], list[int]]:
    """Seasons with a crop on record, and trees they were seen on, of each tree's cultivar."""
    seen = ~np.isnan(kg)
    seasons = np.zeros((int(cultivar.max(initial=0)) + 1, kg.shape[1]), dtype=bool)
    np.logical_or.at(seasons, cultivar, seen)
    trees = np.bincount(cultivar, seen.any(axis=1))
    return seasons.sum(axis=1)[cultivar].tolist(), trees.astype(int)[cultivar].tolist()


def _warnings(
    so_far: SeasonSoFar, own: int, pooled: int, frosted: int, *, younger: bool
) -> list[str]:
    said = list(so_far.said)
    if so_far.none:
        return [*said, so_far.none]
    if so_far.finished:
        return [*said, "Picking is over: this is what was picked."]
    if pooled == 0:
        said.append(
            "No crop of this cultivar is on record, so this rests on what trees of its kind and"
            " age usually bear, and the span is wide."
        )
    elif own == 0:
        said.append("No crop of this tree is on record; it is taken to bear like its cultivar.")
    elif pooled < FEW_SEASONS:
        said.append("Only one or two seasons are on record: how its crops swing is hardly known.")
    if frosted:
        said.append(
            f"{frosted} season{'s' if frosted > 1 else ''} in which frost took much of the crop"
            f" {'are' if frosted > 1 else 'is'} left out: this is for a season without."
        )
    if younger:
        said.append(
            "It is entered as full-grown, yet crops of its planting rise like those of young trees:"
            " check its planting date."
        )
    return said
