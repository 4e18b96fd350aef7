"""The model of crops that the estimate rests on: level, trees, seasons, and swings between them.

Each crop is brought to z = sqrt(kg / (expected by age and kind)) - 1, where a good and a poor
season lie about as far from the usual one as each other. Then, for the trees of one species,

    z = level + cultivar + planting + season of the site + season of the cultivar there
        + tree + tree's season

and both the seasons and the trees' seasons are of two kinds: scatter without memory, and a swing
that changes its sign every season and slowly fades, its correlation over k seasons (-0.9)^k. A
site may also drift from one season to the next. How much of each there is, is not assumed: the
model is worked out for a grid of proportions, each is weighted by the likelihood of the crops on
record and a weak prior, and the estimates are averaged over those around the likeliest (Bayesian
linear model, normal-inverse-gamma; Gelman et al., Bayesian Data Analysis, from memory). With few
seasons the prior holds, with many the orchard's own trees do. `nested_effects` solves it for many
proportions, and all curves of age, at once. Experimental: our own combination, no published source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import numpy as np

from harvest.seasons import Floats, Ints
from harvest.yields.nested_effects import Level, Solved, tree_sums

FADING = 0.9
# Variances as multiples of the scatter of one tree in one season.
TREE = (0.15, 0.5, 1.5)
TREE_SWING = (0.0, 0.15, 0.5, 1.2)
SEASON = (0.1, 0.4, 1.5, 10.0)
SEASON_SWING = (0.0, 0.3, 1.2, 6.0)
DRIFT = (0.0, 0.5, 5.0)
CULTIVAR_SEASON = 0.3
LEVEL, CULTIVAR, PLANTING = 4.0, 0.3, 0.3
# Prior: chance of no swing at all, of one tree and of all trees of a site in step, and of no
# drift; the usual size of the seasons' scatter, how well it is known (natural log) [judgement].
NO_TREE_SWING, NO_SEASON_SWING, NO_DRIFT = 0.3, 0.1, 0.8
USUAL_SEASON, SEASON_DOUBT = 0.5, 1.2
# Prior of the scatter's variance in z: that of a crop that differs by about 45 % (shape, rate).
SHAPE, RATE = 1.0, 0.05
# Proportions below this share of the likeliest one's weight are left out, and at most so many.
LEAST_WEIGHT, MOST_KEPT = 1e-3, 24
# Logarithms of weights as near as this are equal; sets of proportions whose estimates are worked
# out at the same time.
EQUAL, AT_ONCE = 1e-9, 8


class Shares(NamedTuple):
    """Proportions of variance, as multiples of the scatter of one tree in one season."""

    tree: float
    tree_swing: float
    season: float
    season_swing: float
    drift: float

    def log_prior(self) -> float:
        """Logarithm of the prior weight."""
        swings = ((self.tree_swing, NO_TREE_SWING), (self.season_swing, NO_SEASON_SWING))
        chance = [none if size == 0 else (1 - none) / 3 for size, none in swings]
        chance.append(NO_DRIFT if self.drift == 0 else (1 - NO_DRIFT) / 2)
        doubt = (np.log(self.season / USUAL_SEASON) / SEASON_DOUBT) ** 2 / 2
        return float(np.log(chance).sum() - doubt)


GRID = {
    "tree": TREE,
    "tree_swing": TREE_SWING,
    "season": SEASON,
    "season_swing": SEASON_SWING,
    "drift": DRIFT,
}
PAIRS = (("tree", "tree_swing"), ("season", "season_swing"), ("season", "drift"))
OF_TREES = tuple(product(TREE, TREE_SWING))
START = Shares(0.5, 0.15, 0.4, 0.3, 0.0)


@dataclass(frozen=True)
class Crops:
    """Crops of one species' trees on the scale of z, and what the trees share.

    `z`, shape (curves, trees, seasons), by each of the curves of age that are tried: the last
    season is the one to be estimated, nan there and wherever no crop is on record. `site`,
    `cultivar`, `pool` (cultivar at a site), `planting`, shape (trees,): numbers from 0; pool -1
    for a tree with too few like it to tell their common season from its own.
    """

    z: Floats
    site: Ints
    cultivar: Ints
    pool: Ints
    planting: Ints

    @property
    def seasons(self) -> int:
        """Seasons of `z`."""
        return int(self.z.shape[2])


class Mixture(NamedTuple):
    """Estimates for each tree: normal ones of weight, mean and spread (kept, trees)."""

    weight: Floats
    mean: Floats
    sd: Floats

    def chance(self, z: Floats) -> Floats:
        """Probability of at most this, shape (trees,) or (trees, levels)."""
        from scipy.special import ndtr

        mean, sd = self.mean, self.sd
        if z.ndim == 2:
            mean, sd = mean[:, :, None], sd[:, :, None]
        return np.asarray(np.einsum("k,k...->...", self.weight, ndtr((z - mean) / sd)))

    def quantiles(self, levels: Floats) -> Floats:
        """Value at each level, shape (trees, levels), by halving the interval."""
        low = (self.mean - 6 * self.sd).min(axis=0)[:, None] + np.zeros(levels.shape)
        high = (self.mean + 6 * self.sd).max(axis=0)[:, None] + np.zeros(levels.shape)
        for _ in range(30):
            middle = (low + high) / 2
            over = self.chance(middle) > levels
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        return np.asarray((low + high) / 2)


def estimate(crops: Crops) -> tuple[Mixture, ...]:
    """The crop of each tree in the season ahead, averaged over how crops may swing, by curve."""
    fits = Fits(crops)
    kept = [fits.likeliest(curve, tried) for curve, tried in enumerate(_walked(fits))]
    each = list(dict.fromkeys(shares for weights in kept for shares in weights))
    mean, sd = fits.ahead(each)
    mixtures = []
    for curve, weights in enumerate(kept):
        at = [each.index(shares) for shares in weights]
        weight = np.array(list(weights.values()))
        mixtures.append(Mixture(weight / weight.sum(), mean[at, curve], sd[at, curve]))
    return tuple(mixtures)


def _walked(fits: Fits) -> list[list[Shares]]:
    """The proportions that each curve tries.

    From the usual ones it goes along two of them after two others, until none is likelier. All
    curves go at the same time, since what one of them tries is known for the others as well.
    """
    curves = range(fits.curves)
    best, tried = [START for _ in curves], [[START] for _ in curves]
    while True:
        start = list(best)
        for names in PAIRS:
            steps = [dict(zip(names, choice, strict=True)) for choice in
                     product(*(GRID[name] for name in names))]  # fmt: skip
            around = [[shares._replace(**step) for step in steps] for shares in best]
            fits.make(shares for own in around for shares in own)
            best = [fits.best(curve, around[curve]) for curve in curves]
            for curve in curves:
                tried[curve] += around[curve]
        if best == start:
            return tried


class Fits:
    """The model for proportions as they are asked for, for all curves at once."""

    def __init__(self, crops: Crops, of_trees: Sequence[tuple[float, float]] = OF_TREES) -> None:
        self.curves, self._crops, self._of_trees = len(crops.z), crops, of_trees
        kinds = np.column_stack([crops.site, crops.cultivar, crops.pool, crops.planting])
        stands, stand = np.unique(kinds, axis=0, return_inverse=True)
        self._site, cultivar, self._pool, planting = stands.T
        self._constants = (
            LEVEL
            + CULTIVAR * np.equal.outer(cultivar, cultivar)
            + PLANTING * np.equal.outer(planting, planting)
        )
        own = [tree + swing * fading(crops.seasons) + np.eye(crops.seasons)
               for tree, swing in of_trees]  # fmt: skip
        self._sums = tree_sums(crops.z, stand.ravel(), np.array(own))
        self._shape = SHAPE + int((~np.isnan(crops.z[0])).sum()) / 2
        self._made: dict[Shares, tuple[Floats, Floats]] = {}

    def make(self, tried: Iterable[Shares]) -> None:
        """Work out the weights of those that are not known yet."""
        new = [shares for shares in dict.fromkeys(tried) if shares not in self._made]
        if not new:
            return
        solved = self._solved(new)
        rate = RATE + np.maximum(solved.square, 0.0) / 2
        prior = np.array([shares.log_prior() for shares in new])
        log_weight = (prior - solved.log_det / 2)[:, None] - self._shape * np.log(rate)
        self._made |= dict(zip(new, zip(log_weight, rate / self._shape, strict=True), strict=True))

    def log_weights(self, curve: int, tried: Iterable[Shares]) -> Floats:
        """Logarithm of the weight of each of those tried, as one curve has it."""
        return np.array([self._made[shares][0][curve] for shares in tried])

    def best(self, curve: int, tried: Sequence[Shares]) -> Shares:
        """The likeliest, the first of those that are as likely."""
        logs = self.log_weights(curve, tried)
        return tried[int(np.argmax(logs >= logs.max() - EQUAL))]

    def likeliest(self, curve: int, tried: Iterable[Shares]) -> dict[Shares, float]:
        """Weights of those worth keeping, as shares of the greatest."""
        tried = list(dict.fromkeys(tried))
        logs = self.log_weights(curve, tried)
        weight = np.exp(logs - logs.max())
        order = np.argsort(-weight, kind="stable")[:MOST_KEPT]
        return {tried[at]: float(weight[at]) for at in order if weight[at] >= LEAST_WEIGHT}

    def ahead(self, kept: Sequence[Shares]) -> tuple[Floats, Floats]:
        """Mean and spread of z of each tree in the season ahead, shape (kept, curves, trees)."""
        sums, z = self._sums, np.nan_to_num(self._crops.z)
        means, spreads = [], []
        for at in range(0, len(kept), AT_ONCE):
            some = kept[at : at + AT_ONCE]
            shared, variance = self._solved(some).ahead()
            carried = sums.carried[self._own(some)][:, sums.pattern[sums.case]]
            apart = np.einsum("kts,cts->kct", carried, z)
            means.append(apart + shared.transpose(0, 2, 1)[:, :, sums.case])
            scatter = np.array([self._made[shares][1] for shares in some])
            spreads.append(np.sqrt(scatter[:, :, None] * variance[:, None, sums.case]))
        return np.concatenate(means), np.concatenate(spreads)

    def _own(self, some: Sequence[Shares]) -> Ints:
        return np.array([self._of_trees.index((each.tree, each.tree_swing)) for each in some])

    def _solved(self, some: Sequence[Shares]) -> Solved:
        seasons, swing = np.arange(self._crops.seasons), fading(self._crops.seasons)
        season, in_step, drift = (
            np.array([getattr(each, name) for each in some])[:, None, None]
            for name in ("season", "season_swing", "drift")
        )
        block = season * np.eye(len(seasons)) + in_step * swing
        at_site = block + drift * np.minimum.outer(seasons, seasons)
        levels = [Level(CULTIVAR_SEASON * block, self._pool), Level(at_site, self._site)]
        return Solved(self._sums, self._own(some), levels, self._constants)


def fading(seasons: int) -> Floats:
    """Correlation of a swing between seasons: (-0.9)^k over k of them."""
    apart = np.abs(np.subtract.outer(np.arange(seasons), np.arange(seasons)))
    return np.asarray((-FADING) ** apart, dtype=float)
