"""Next season's crop of every tree: kg with their probabilities, and what they rest on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import Floats, Ints
from harvest.yields.alternation import bearing_index
from harvest.yields.bearing_curve import tree_curves
from harvest.yields.crop_history import SpeciesHistory, known_crops, species_history, species_parts
from harvest.yields.load_rules import YieldReference
from harvest.yields.plain_rows import plain_rows
from harvest.yields.result import CropBasis, CropEstimate
from harvest.yields.season_so_far import GIVEN_WEIGHT_DOUBT, SeasonSoFar, season_so_far
from harvest.yields.swing_model import LEAST_WEIGHT, Mixture, estimate
from harvest.yields.totals import yield_table
from harvest.yields.tree_facts import standing_trees

LEVELS = (0.1, 0.25, 0.5, 0.75, 0.9)
STEPS = np.arange(0.05, 1.0, 0.05)
# Crops on record a bearing index needs, and how many pairs of seasons its pool's is worth.
LEAST_FOR_INDEX, POOL_WORTH = 3, 4.0
# A season that came differently is no more certain than this share of the usual spread.
LEAST_SPREAD = 0.6
FEW_SEASONS = 3
# Spread of z of a tree that has borne nothing yet, falling to none at full bearing [judgement].
YOUNG_DOUBT = 0.4


def crop_estimates(
    records: Records, season: int | None, reference: YieldReference
) -> list[CropEstimate]:
    """The crop of each tree that stands in a season, in the order of the trees.

    Parameters
    ----------
    records : as known on the as-of day, with seasons; crops of the seasons before the one asked
        for count as the past, records of that season itself as what it says so far.
    season : the season to be estimated; None is the one running at each tree's site.
    reference : the reference tables.
    """
    standing = standing_trees(records, season)
    table = yield_table(records)
    curves = tree_curves(records.trees, reference.species, reference.bearing_curves)
    found: dict[str, CropEstimate] = {}
    for year in sorted(set(standing["season"].tolist())):
        known = known_crops(records, table, curves, year)
        so_far = season_so_far(records, year, table, reference.frost_kill)
        wanted = standing[standing["season"] == year]
        for species, trees in wanted.groupby("species"):
            estimates: dict[str, CropEstimate] = {}
            for members in species_parts(records, str(species)):
                histories = species_history(records, known, curves, members, year)
                past = _joined(histories, [estimate(each.crops) for each in histories])
                part = _Part(records, histories, past, year, so_far)
                estimates |= part.estimates(reference)
            found |= {tree: estimates[tree] for tree in trees["tree"]}
    return [found[name] for name in standing["tree"]]


def _joined(histories: Sequence[SpeciesHistory], past: Sequence[Mixture]) -> Mixture:
    """Estimates of sqrt(kg) over the curves of age tried, each by its weight."""
    parts = []
    for each, one, share in zip(histories, past, _weights(histories), strict=True):
        if share < LEAST_WEIGHT:
            continue
        root = np.sqrt(each.expected_kg)
        # When a young tree comes into bearing is less sure than what it then bears.
        doubt = YOUNG_DOUBT * (1 - each.share)
        parts.append((share * one.weight, (1 + one.mean) * root, np.hypot(one.sd, doubt) * root))
    weights, means, sds = (np.concatenate(each) for each in zip(*parts, strict=True))
    return Mixture(weights / weights.sum(), means, sds)


def _weights(histories: Sequence[SpeciesHistory]) -> Floats:
    logs = np.array([each.log_weight for each in histories])
    weight = np.exp(logs - logs.max())
    return np.asarray(weight / weight.sum())


def _younger(histories: Sequence[SpeciesHistory]) -> list[bool]:
    """Trees that are rather younger than they are entered, by their crops."""
    for each, weight in zip(histories, _weights(histories), strict=True):
        if each.younger is not None and weight > 0.5:
            return list(each.younger.tolist())
    return [False] * len(histories[0].trees)


class _Part:
    """Estimates of trees of one species that are worked out together."""

    def __init__(
        self,
        records: Records,
        histories: Sequence[SpeciesHistory],
        past: Mixture,
        season: int,
        so_far: dict[str, SeasonSoFar],
    ) -> None:
        self.history, self.season = histories[0], season
        self.trees = records.trees.iloc[self.history.trees]
        self.younger = _younger(histories)
        self.so_far = [so_far.get(name, SeasonSoFar()) for name in self.trees["tree"]]
        factor = np.array([each.factor for each in self.so_far])
        root = np.sqrt(factor)
        self.past = past._replace(
            mean=past.mean * root,
            sd=past.sd * np.where(factor < 1, np.maximum(root, LEAST_SPREAD), 1.0),
        )

    def kg(self, levels: Floats) -> Floats:
        """Crop at each probability [kg], shape (trees, levels); at least what is picked."""
        picked = np.array([each.picked_kg for each in self.so_far])
        before = np.where(picked > 0, np.minimum(self.past.chance(np.sqrt(picked)), 0.995), 0.0)
        wanted = before[:, None] + (1 - before[:, None]) * levels
        kg = np.maximum(self.past.quantiles(wanted), 0.0) ** 2
        return np.asarray(np.maximum(kg, picked[:, None]))

    def estimates(self, reference: YieldReference) -> dict[str, CropEstimate]:
        """Estimate by tree."""
        fine = _thinned(self.kg(STEPS), self.so_far, _fruit_weights(self.trees, reference))
        counted = self.history.counted
        index = _bearing_indices(counted, self.history.crops.cultivar)
        pools = _pool_counts(counted, self.history.crops.cultivar)
        found = {}
        for at, tree in enumerate(plain_rows(self.trees)):
            so_far = self.so_far[at]
            done = so_far.none or so_far.finished
            certain = 0.0 if so_far.none else so_far.picked_kg
            kg = [certain] * len(STEPS) if done else fine[at].tolist()
            seasons = int((~np.isnan(counted[at])).sum())
            found[tree.tree] = CropEstimate(
                tree=tree.tree,
                site=tree.site,
                species=tree.species,
                cultivar=tree.cultivar,
                season=self.season,
                kg={level: round(float(np.interp(level, STEPS, kg)), 3) for level in LEVELS},
                mean_kg=round(float(np.mean(kg)), 3),
                picked_so_far_kg=so_far.picked_kg,
                basis=CropBasis(pools[0][at], pools[1][at], index[at], seasons),
                warnings=tuple(_warnings(so_far, seasons, pools[0][at], younger=self.younger[at])),
            )
        return found


def _thinned(kg: Floats, so_far: list[SeasonSoFar], fruit_kg: Floats) -> Floats:
    """Estimates drawn towards the fruit left at thinning, where they were counted.

    The two are joined as logarithms, each weighing by its precision.
    """
    left = np.array([np.nan if each.fruit_left is None else each.fruit_left for each in so_far])
    given = left * fruit_kg
    use = given > 0
    if not use.any():
        return kg
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


def _fruit_weights(trees: pd.DataFrame, reference: YieldReference) -> Floats:
    """Usual weight of one fruit of each tree's species [kg]: the middle of the table's range."""
    table = reference.species.set_index("species")
    grams = (table["fruit_weight_g_low"] + table["fruit_weight_g_high"]) / 2
    return trees["species"].map(grams).to_numpy(dtype=float) / 1000


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


def _warnings(so_far: SeasonSoFar, own: int, pooled: int, *, younger: bool) -> list[str]:
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
    if younger:
        said.append(
            "It is entered as full-grown, yet crops of its planting rise like those of young trees:"
            " check its planting date."
        )
    return said
