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
seasons the prior holds, with many the orchard's own trees do. Experimental: our own combination,
no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from harvest.seasons import Floats, Ints

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
START = Shares(0.5, 0.15, 0.4, 0.3, 0.0)


@dataclass(frozen=True)
class Crops:
    """Crops of one species' trees on the scale of z, and what the trees share.

    `z`, shape (trees, seasons + 1): the last column is the season to be estimated, nan there and
    wherever no crop is on record. `site`, `cultivar`, `pool` (cultivar at a site), `planting`,
    shape (trees,): numbers from 0; pool -1 for a tree with too few like it to tell their common
    season from its own.
    """

    z: Floats
    site: Ints
    cultivar: Ints
    pool: Ints
    planting: Ints

    @property
    def seasons(self) -> int:
        """Columns of `z`."""
        return int(self.z.shape[1])

    @cached_property
    def starts(self) -> tuple[int, int, int, int]:
        """First column of plantings, seasons of sites and of pools, and the number of all.

        The level has column 0, cultivars follow from column 1.
        """
        cultivars, plantings = (int(each.max()) + 1 for each in (self.cultivar, self.planting))
        sites, pools = (int(each.max()) + 1 for each in (self.site, self.pool))
        seasons = 1 + cultivars + plantings
        in_pools = seasons + sites * self.seasons
        return 1 + cultivars, seasons, in_pools, in_pools + pools * self.seasons


class _Like(NamedTuple):
    """Trees that share every effect and the seasons on record: their crops are added up."""

    trees: Ints
    seen: Ints
    columns: Ints
    """Shared effects of the seasons seen, shape (effects,)."""
    effects: Floats
    """What each season seen has of them, shape (seen, effects)."""
    ahead_columns: Ints
    ahead: Floats


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


def estimate(crops: Crops) -> Mixture:
    """The crop of each tree in the season ahead, averaged over how crops may swing."""
    fits = _Fits(crops)
    fits.walk()
    found = list(fits.made.values())
    logs = np.array([fit.log_weight for fit in found])
    weight = np.exp(logs - logs.max())
    order = [at for at in np.argsort(-weight)[:MOST_KEPT] if weight[at] >= LEAST_WEIGHT]
    kept = [found[at].ahead() for at in order]
    return Mixture(
        weight=weight[order] / weight[order].sum(),
        mean=np.array([mean for mean, _ in kept]),
        sd=np.array([sd for _, sd in kept]),
    )


class _Fits:
    """Fits of the grid, each made once; only those around the likeliest are."""

    def __init__(self, crops: Crops) -> None:
        self.made: dict[Shares, _Fit] = {}
        self._crops, self._alike = crops, list(_alike(crops))
        self._within: dict[tuple[float, float], _Within] = {}

    def of(self, shares: Shares) -> _Fit:
        """The fit for some proportions."""
        if shares not in self.made:
            key = (shares.tree, shares.tree_swing)
            if key not in self._within:
                self._within[key] = _Within(self._crops, self._alike, *key)
            self.made[shares] = _Fit(self._within[key], shares)
        return self.made[shares]

    def walk(self) -> None:
        """From the usual proportions along two of them after two others, until none is likelier."""
        best = START
        while True:
            start = best
            for names in PAIRS:
                tried = [
                    self.of(best._replace(**dict(zip(names, choice, strict=True))))
                    for choice in product(*(GRID[name] for name in names))
                ]
                best = max(tried, key=lambda fit: fit.log_weight).shares
            if best == start:
                return


def _alike(crops: Crops) -> Iterator[_Like]:
    seen = ~np.isnan(crops.z)
    kinds = np.column_stack([crops.site, crops.cultivar, crops.pool, crops.planting, seen])
    _, kind = np.unique(kinds, axis=0, return_inverse=True)
    kind = kind.ravel()
    order = np.argsort(kind, kind="stable")
    for trees in np.split(order, np.flatnonzero(np.diff(kind[order])) + 1):
        tree = int(trees[0])
        at = np.flatnonzero(seen[tree])
        last = np.array([crops.seasons - 1])
        yield _Like(trees, at, *_effects(crops, tree, at), *_effects(crops, tree, last))


def _effects(crops: Crops, tree: int, at: Ints) -> tuple[Ints, Floats]:
    """Columns of a tree's shared effects in some seasons, and what each season has of them."""
    planting, site, pool, _ = crops.starts
    lasting = np.array([0, 1 + crops.cultivar[tree], planting + crops.planting[tree]])
    columns = [lasting, site + crops.site[tree] * crops.seasons + at]
    if crops.pool[tree] >= 0:
        columns.append(pool + crops.pool[tree] * crops.seasons + at)
    each = [np.eye(len(at))] * (len(columns) - 1)
    return np.concatenate(columns), np.hstack([np.ones((len(at), 3)), *each])


class _Within:
    """Sums over the trees for one pair of proportions between and within trees."""

    def __init__(self, crops: Crops, alike: list[_Like], tree: float, swing: float) -> None:
        self.crops, self.alike = crops, alike
        self.cov = tree + swing * fading(crops.seasons) + np.eye(crops.seasons)
        size = crops.starts[-1]
        self.gram, self.right = np.zeros((size, size)), np.zeros(size)
        self.square, self.log_det, self.count = 0.0, 0.0, 0
        self.inverse: list[NDArray[np.float64]] = []
        for like in alike:
            own = self.cov[np.ix_(like.seen, like.seen)]
            inverse = np.linalg.inv(own)
            self.inverse.append(np.asarray(inverse, dtype=float))
            z = crops.z[np.ix_(like.trees, like.seen)]
            side = like.effects.T @ inverse
            self.gram[np.ix_(like.columns, like.columns)] += len(z) * side @ like.effects
            np.add.at(self.right, like.columns, side @ z.sum(axis=0))
            self.square += float(np.einsum("ij,jk,ik->", z, inverse, z))
            self.log_det += len(z) * float(np.linalg.slogdet(own)[1])
            self.count += z.size


class _Fit:
    """The model for one set of proportions."""

    def __init__(self, within: _Within, shares: Shares) -> None:
        self.within, self.shares = within, shares
        root = _prior_root(within.crops, shares)
        self._root = root
        inner = root.T @ within.gram @ root
        inner[np.diag_indices_from(inner)] += 1.0
        self._inner = np.linalg.cholesky(inner)
        right = root.T @ within.right
        half = np.linalg.solve(self._inner, right)
        square = max(within.square - float(half @ half), 0.0)
        shape, rate = SHAPE + within.count / 2, RATE + square / 2
        self._half, self._scatter = half, rate / shape
        log_det = within.log_det / 2 + float(np.log(np.diag(self._inner)).sum())
        self.log_weight = shares.log_prior() - log_det - shape * float(np.log(rate))

    def ahead(self) -> tuple[Floats, Floats]:
        """Mean and spread of z of each tree in the season ahead."""
        within, crops = self.within, self.within.crops
        spread_root = np.linalg.solve(self._inner, self._root.T)
        effects = spread_root.T @ self._half
        mean, variance = np.zeros(len(crops.z)), np.zeros(len(crops.z))
        last = crops.seasons - 1
        for like, inverse in zip(within.alike, within.inverse, strict=True):
            weight = within.cov[last, like.seen] @ inverse
            apart = crops.z[np.ix_(like.trees, like.seen)]
            apart = apart - like.effects @ effects[like.columns]
            shared = float(like.ahead[0] @ effects[like.ahead_columns])
            mean[like.trees] = shared + apart @ weight
            left = spread_root[:, like.ahead_columns] @ like.ahead[0]
            left = left - spread_root[:, like.columns] @ (weight @ like.effects)
            own = within.cov[last, last] - weight @ within.cov[like.seen, last]
            variance[like.trees] = float(left @ left) + float(own)
        return mean, np.sqrt(self._scatter * variance)


def fading(seasons: int) -> Floats:
    """Correlation of a swing between seasons: (-0.9)^k over k of them."""
    apart = np.abs(np.subtract.outer(np.arange(seasons), np.arange(seasons)))
    return np.asarray((-FADING) ** apart, dtype=float)


def _prior_root(crops: Crops, shares: Shares) -> Floats:
    """Lower root of the prior covariance of the shared effects."""
    planting, site, pool, size = crops.starts
    seasons = crops.seasons
    root = np.zeros((size, size))
    diagonal = np.empty(site)
    diagonal[0] = LEVEL
    diagonal[1:planting], diagonal[planting:site] = CULTIVAR, PLANTING
    root[np.arange(site), np.arange(site)] = np.sqrt(diagonal)
    block = shares.season * np.eye(seasons) + shares.season_swing * fading(seasons)
    lasting = shares.drift * np.minimum.outer(np.arange(seasons), np.arange(seasons))
    at_site = np.linalg.cholesky(block + lasting)
    in_pool = np.linalg.cholesky(CULTIVAR_SEASON * block)
    for start in range(site, size, seasons):
        at = slice(start, start + seasons)
        root[at, at] = at_site if start < pool else in_pool
    return root
