"""Dates as probabilities of the days ahead, and what is left of them as days pass without news."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

HORIZON_DAYS = 450


@dataclass(frozen=True)
class DateSpread:
    """Student distributions of n dates: `mean` [day number], `sd` scale [d], degrees of freedom."""

    mean: Floats
    sd: Floats
    freedom: float

    def before(self, day: Floats | float) -> Floats:
        """Probability that the date lies before the start of a day (day number)."""
        from scipy.special import stdtr

        return np.asarray(stdtr(self.freedom, (day - 0.5 - self.mean) / self.sd))

    def days(self, first: int) -> tuple[Floats, Floats]:
        """Probability of each day from `first` on, given that it has not happened before.

        Returns shape (n, HORIZON_DAYS), summing to 1 (what lies beyond is put on the last day),
        and the share that should have happened before `first`, shape (n,).
        """
        from scipy.special import stdtr

        edges = first + np.arange(HORIZON_DAYS + 1) - 0.5
        upto: Floats = np.asarray(
            stdtr(self.freedom, (edges - self.mean[:, None]) / self.sd[:, None]), dtype=float
        )
        left = np.maximum(1.0 - upto[:, :1], 1e-12)
        days = np.diff(upto, axis=1) / left
        days[:, -1] += np.maximum(1.0 - days.sum(axis=1), 0.0)
        return np.asarray(days), np.asarray(upto[:, 0])


def not_yet(spread: DateSpread, shared_variance: Floats, group: Ints, first: int) -> Floats:
    """How far the shared season effect moves because none of its dates has come by `first` [d].

    Parameters
    ----------
    spread : the dates of n cases that have not happened before the day `first`.
    shared_variance : of the season effect each shares with its group [d2].
    group : number of each case's group.

    Returns the shift of each case's mean [d], never below 0. The effect's posterior is taken on a
    grid, each case weighing what its own spread allows (a censored observation; Tobin 1958).
    """
    from scipy.special import ndtr, stdtr

    shift = np.zeros(len(spread.mean))
    grid = np.linspace(-4.0, 4.0, 81)
    for each in np.unique(group):
        at = np.flatnonzero(group == each)
        sd = float(np.sqrt(shared_variance[at].mean()))
        if sd < 1e-6:
            continue
        own = np.sqrt(np.maximum(spread.sd[at] ** 2 - sd**2, 1.0))
        late = (spread.mean[at][:, None] + grid * sd - first + 0.5) / own[:, None]
        log_seen = np.log(np.maximum(stdtr(spread.freedom, late), 1e-12)).sum(axis=0)
        edge = np.diff(ndtr(np.append(grid - 0.05, grid[-1] + 0.05)))
        weight = edge * np.exp(log_seen - log_seen.max())
        shift[at] = sd * float((weight * grid).sum() / weight.sum())
    return np.maximum(shift, 0.0)
