"""What a planting's crops say of its age, where it is on record as grown.

Trees are entered as older than they are when nobody remembers their planting, or when they were
worked over to another cultivar: on paper they bear in full, yet their crops rise year by year.
Straight rises from the first crop to the full one are tried, of several lengths and with the
record beginning at their start or later, beside the age as entered; how evenly the planting's
seasons lie on either decides. Experimental:
our own, no published source.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from harvest.seasons import Floats, Ints

# A planting counts as entered grown from this share of the mature crop on.
GROWN = 0.95
# Prior chance that a planting entered as grown is young [judgement]; seasons from the first crop to
# the full one, and how many of them may have passed when the record begins.
ENTERED_TOO_OLD = 0.1
LENGTHS, PASSED = (4, 7, 10), (0, 1, 2)
# Seasons, and evidence (natural logarithm), that a younger age needs to be thought of.
LEAST_SEASONS, LEAST_GAIN = 3, 1.0
# Prior of the variance of the seasons' logarithms around the curve (shape, rate) [judgement].
EVEN_SHAPE, EVEN_RATE = 1.0, 0.1


class Younger(NamedTuple):
    """Shares of the mature crop at the age that the crops speak for, and the odds of it."""

    share: Floats
    """Shape (trees, seasons) [1]; as entered where the crops do not speak against it."""
    log_odds: float
    """Natural logarithm of the odds of this against the age as entered."""


def younger_by_crops(kg: Floats, share: Floats, planting: Ints) -> Younger | None:
    """The age that plantings entered as grown rather have, going by how their crops rise.

    Parameters
    ----------
    kg : crops on record [kg], shape (trees, seasons), nan where none.
    share : what the age as entered lets one expect [1], same shape.
    planting : number of each tree's planting, shape (trees,).

    Returns None where no planting's crops speak for a younger age.
    """
    found, most = share.copy(), 0.0
    for each in range(int(planting.max(initial=-1)) + 1):
        own = np.flatnonzero(planting == each)
        seasons = np.flatnonzero((~np.isnan(kg[own])).any(axis=0))
        if seasons.size < LEAST_SEASONS or (share[np.ix_(own, seasons)] < GROWN).any():
            continue
        tried = _rises(int(seasons[0]), kg.shape[1])
        logs = np.array([evenness(kg[own], rise + np.zeros(kg[own].shape)) for rise in tried])
        weight = np.exp(logs - logs.max())
        gain = float(logs.max() + np.log(weight.mean())) - evenness(kg[own], share[own])
        if gain >= LEAST_GAIN:
            found[own] = weight @ tried / weight.sum()
            most = max(most, gain)
    if most == 0.0:
        return None
    return Younger(found, most + float(np.log(ENTERED_TOO_OLD / (1 - ENTERED_TOO_OLD))))


def _rises(start: int, width: int) -> Floats:
    """Shares of the full crop by season from the first on record, shape (rises, seasons)."""
    season = np.arange(width) - start
    return np.array(
        [
            np.clip((season + 1 + passed) / length, 1 / length, 1.0)
            for length in LENGTHS
            for passed in PASSED
        ]
    )


def evenness(kg: Floats, expected: Floats) -> float:
    """How well a curve takes the rise out of the seasons: logarithm of its likelihood.

    Seasons' logarithms of weight by expected weight, as normal with an unknown mean and variance
    (inverse gamma prior). Only all trees together count, not how they scatter.

    Parameters
    ----------
    kg, expected : crops on record, nan where none, and expected ones, shape (trees, seasons).
    """
    seen = ~np.isnan(kg)
    total = np.where(seen, kg, 0.0).sum(axis=0)
    counted = total > 0
    apart = np.log(total[counted] / np.where(seen, expected, 0.0).sum(axis=0)[counted])
    square = float(((apart - apart.mean()) ** 2).sum()) if apart.size else 0.0
    freedom = EVEN_SHAPE + max(int(apart.size) - 1, 0) / 2
    return -freedom * float(np.log(EVEN_RATE + square / 2))
