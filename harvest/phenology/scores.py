"""How good forecasts were: scores of points, intervals and whole distributions, all in days.

Formulas after Gneiting & Raftery 2007, Journal of the American Statistical Association
102:359-378 (the continuous ranked probability score, CRPS, and the interval score, eq. 43), and
Ferro et al. 2008, Meteorological Applications 15:19-24 (the fair score of an ensemble). The CRPS
of a single value is its absolute error, so forecasts of both kinds compare directly.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def crps_ensemble(members: ArrayLike, observed: ArrayLike, *, fair: bool = False) -> Floats:
    """CRPS of an ensemble: members shape (..., m), observed shape (...); in the unit of both.

    `fair` scores the distribution the members are drawn from; needs m of at least 2.
    """
    x = np.sort(np.asarray(members, dtype=float), axis=-1)
    y = np.asarray(observed, dtype=float)
    size = x.shape[-1]
    # Half the mean distance of pairs, from the sorted members.
    rank = 2.0 * np.arange(1, size + 1) - size - 1.0
    pairs = (x * rank).sum(axis=-1)
    return np.asarray(
        np.abs(x - y[..., None]).mean(axis=-1) - pairs / (size * (size - 1 if fair else size))
    )


def crps_normal(mean: ArrayLike, sd: ArrayLike, observed: ArrayLike) -> Floats:
    """CRPS of normal distributions; all broadcast, in the unit of the observations."""
    from scipy.special import ndtr

    scale = np.asarray(sd, dtype=float)
    z = (np.asarray(observed, dtype=float) - mean) / scale
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    return np.asarray(scale * (z * (2 * ndtr(z) - 1) + 2 * density - 1 / np.sqrt(np.pi)))


def crps_student(
    mean: ArrayLike, scale: ArrayLike, freedom: ArrayLike, observed: ArrayLike
) -> Floats:
    """CRPS of Student distributions with more than one degree of freedom; all broadcast.

    Jordan, Krueger & Lerch 2019, Journal of Statistical Software 90(12), appendix A (from
    memory; the tests hold it against the integral over quantiles).
    """
    from scipy.special import beta, stdtr
    from scipy.stats import t

    nu, width = np.asarray(freedom, dtype=float), np.asarray(scale, dtype=float)
    z = (np.asarray(observed, dtype=float) - mean) / width
    own = z * (2 * stdtr(nu, z) - 1) + 2 * t.pdf(z, nu) * (nu + z**2) / (nu - 1)
    pairs = 2 * np.sqrt(nu) / (nu - 1) * beta(0.5, nu - 0.5) / beta(0.5, nu / 2) ** 2
    return np.asarray(width * (own - pairs))


def crps_days(probability: ArrayLike, observed: ArrayLike) -> Floats:
    """CRPS [d] of probabilities of whole days, shape (..., days), for the day that came.

    `observed` is its place among the days (0 the first; below 0 or beyond the last is allowed).
    """
    upto = np.cumsum(np.asarray(probability, dtype=float), axis=-1)
    day = np.asarray(observed, dtype=float)[..., None]
    came = np.arange(upto.shape[-1]) >= day
    outside = np.maximum(-day[..., 0], 0.0) + np.maximum(day[..., 0] - upto.shape[-1], 0.0)
    return np.asarray(((upto - came) ** 2).sum(axis=-1) + outside)


def pinball(levels: ArrayLike, quantiles: ArrayLike, observed: ArrayLike) -> Floats:
    """Mean quantile loss over the levels: quantiles shape (..., levels), observed shape (...)."""
    level = np.asarray(levels, dtype=float)
    miss = np.asarray(observed, dtype=float)[..., None] - np.asarray(quantiles, dtype=float)
    return np.asarray(np.maximum(level * miss, (level - 1) * miss).mean(axis=-1))


def crps_quantiles(levels: ArrayLike, quantiles: ArrayLike, observed: ArrayLike) -> Floats:
    """CRPS from quantiles: twice the quantile loss, integrated over the levels.

    Each level stands for the levels nearer to it than to another; the more levels the better.
    """
    level = np.asarray(levels, dtype=float)
    between = np.concatenate([[0.0], (level[1:] + level[:-1]) / 2, [1.0]])
    miss = np.asarray(observed, dtype=float)[..., None] - np.asarray(quantiles, dtype=float)
    loss = np.maximum(level * miss, (level - 1) * miss)
    return np.asarray(2 * (loss * np.diff(between)).sum(axis=-1))


def interval_score(lower: ArrayLike, upper: ArrayLike, observed: ArrayLike, alpha: float) -> Floats:
    """Width of central (1 - alpha) intervals, plus 2 / alpha times what each was missed by."""
    low, high = np.asarray(lower, dtype=float), np.asarray(upper, dtype=float)
    y = np.asarray(observed, dtype=float)
    missed = np.maximum(low - y, 0.0) + np.maximum(y - high, 0.0)
    return np.asarray(high - low + 2.0 / alpha * missed)


def inside(lower: ArrayLike, upper: ArrayLike, observed: ArrayLike) -> Bools:
    """Whether each observation lies within its interval, ends included."""
    y = np.asarray(observed)
    return np.asarray((np.asarray(lower) <= y) & (y <= np.asarray(upper)))


def compatible_hits(number: int, nominal: float, central: float = 0.95) -> tuple[int, int]:
    """Hits out of `number` independent tries that a true share `nominal` would often give.

    The range holds the central 95 % of the binomial distribution: of 20 tries at 80 %, 12 to 19.
    """
    from scipy.stats import binom

    tail = (1 - central) / 2
    return int(binom.ppf(tail, number, nominal)), int(binom.ppf(1 - tail, number, nominal))


def share_within(errors: ArrayLike, days: float) -> float:
    """Share of the errors [d] no larger than so many days; nan without any."""
    size = np.abs(np.asarray(errors, dtype=float))
    return float((size <= days).mean()) if size.size else float("nan")


def skill(score: float, baseline: float) -> float:
    """One minus the score over the baseline's: 1 perfect, 0 no better, below 0 worse; or nan."""
    return 1.0 - score / baseline if baseline > 0 else float("nan")
