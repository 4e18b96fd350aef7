"""Alternate bearing: how far a tree's crops swing between one season and the next."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from harvest.errors import QuantityError
from harvest.seasons import Floats

# Fewer trees than this say too little about what a season did to all of them [judgement].
LEAST_TREES = 5


def bearing_index(yields: ArrayLike, *, detrended: bool = False) -> Floats:
    """Biennial bearing index: mean of |y[i] - y[i-1]| / (y[i] + y[i-1]) over the seasons.

    0 is even bearing, 1 a full crop every other season. A pair of seasons with a missing yield is
    left out, and so is a pair without any fruit (0/0). Young trees that grow into bearing score
    high without alternating: start at full bearing, or give the orchard and ask for `detrended`.

    Parameters
    ----------
    yields : yields [kg, or any unit], seasons on the last axis, nan where not recorded; a
        stripped season is not a yield and is given as nan.
    detrended : compare each tree with what the season gave all trees (see `without_trend`).

    Returns
    -------
    Index [1], shape of the input without its last axis; nan without one usable pair.

    Raises
    ------
    QuantityError : a yield is negative or infinite, or there is no season axis.

    References
    ----------
    Hoblyn, Grubb, Painter and Wates 1936, J. Pomol. Hort. Sci. 14; Wilcox 1944, Sci. Agric. 25.
    """
    values = _checked(yields)
    if detrended:
        values = without_trend(values)
    total, pairs = _swing(values, 1)
    return _mean(total, pairs)


def chance_bearing_index(yields: ArrayLike, *, detrended: bool = False) -> Floats:
    """Bearing index that the same yields would have, on average, in a random order of seasons.

    It is the mean over all pairs of seasons. Yields that only scatter have a bearing index near
    it, alternating ones lie above it, steadily rising ones below it.

    Experimental: our own yardstick, no published source. Parameters, result and errors as in
    `bearing_index`.
    """
    values = _checked(yields)
    if detrended:
        values = without_trend(values)
    swings = [_swing(values, lag) for lag in range(1, values.shape[-1])]
    shape = values.shape[:-1]
    total = sum((swing for swing, _ in swings), np.zeros(shape))
    pairs = sum((count for _, count in swings), np.zeros(shape))
    return _mean(total, pairs)


def without_trend(yields: ArrayLike) -> Floats:
    """Yields relative to the orchard's mean of each season, each tree weighing alike.

    Takes out what all trees share: growth into bearing, a frost, a good summer. An orchard whose
    trees all alternate in step loses that too, so look at the plain index beside it.

    Parameters
    ----------
    yields : shape (trees, seasons), trees of like age; nan where not recorded.

    Returns
    -------
    Ratios [1], same shape; nan where fewer than five trees have a yield in the season.

    Raises
    ------
    QuantityError : the array is not trees by seasons, or a yield is negative or infinite.
    """
    values = _checked(yields)
    if values.ndim != 2:
        raise QuantityError(
            "yields of several trees, one row per tree and one column per season, are needed",
            given=f"an array of {values.ndim} dimension(s)",
            todo="A single tree cannot be compared with its orchard; use the plain index.",
        )
    own = _mean(np.nansum(values, axis=1), (~np.isnan(values)).sum(axis=1))
    share = np.divide(
        values, own[:, None], out=np.full_like(values, np.nan), where=own[:, None] > 0
    )
    trees = (~np.isnan(share)).sum(axis=0)
    season = np.where(trees >= LEAST_TREES, _mean(np.nansum(share, axis=0), trees), np.nan)
    return np.divide(values, season, out=np.full_like(values, np.nan), where=season > 0)


def _checked(yields: ArrayLike) -> Floats:
    values = np.asarray(yields, dtype=float)
    if values.ndim == 0:
        raise QuantityError("yields of several seasons are needed", given="a single number")
    wrong = (values < 0) | np.isinf(values)
    if wrong.any():
        raise QuantityError(
            "a yield of 0 or more is needed",
            given=f"{values[wrong].flat[0]:g}",
            todo="Give nan for a season that was not recorded.",
        )
    return values


def _swing(values: Floats, lag: int) -> tuple[Floats, Floats]:
    """Sum of relative differences between seasons `lag` apart, and the number of usable pairs."""
    later, sooner = values[..., lag:], values[..., :-lag]
    both = later + sooner
    usable = both > 0
    ratio = np.divide(np.abs(later - sooner), both, out=np.zeros_like(both), where=usable)
    return ratio.sum(axis=-1), usable.sum(axis=-1).astype(float)


def _mean(total: Floats, count: ArrayLike) -> Floats:
    number = np.asarray(count, dtype=float)
    empty = np.full(np.shape(total), np.nan)
    mean: Floats = np.divide(total, number, out=empty, where=number > 0)
    return mean
