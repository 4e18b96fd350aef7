"""From the probabilities of the coming days to what they mean: later dates, quantiles, weeks."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from harvest.phenology.result import QUANTILES, WeekShare
from harvest.seasons import MONDAY, week_start

Floats = NDArray[np.float64]

LEAST_SHARE = 0.005


def plus_duration(days: Floats, mean: Floats, sd: Floats) -> Floats:
    """Distribution of a date some days after another: a window from first to last pick.

    Parameters
    ----------
    days : probabilities of the first date, shape (n, days).
    mean, sd : duration [d] of each row, taken as normal and not below zero, shape (n,).
    """
    from scipy.special import ndtr

    length = days.shape[1]
    # Trees of one cultivar share their duration.
    (mean, sd), which = np.unique(np.stack([mean, sd]), axis=1, return_inverse=True)
    steps = np.arange(length) + 0.5
    upto = ndtr((steps - mean[:, None]) / np.maximum(sd, 0.3)[:, None])
    upto[:, -1] = 1.0
    lasting = np.diff(upto, axis=1, prepend=0.0)
    size = 2 * length
    product = np.fft.rfft(days, size, axis=1) * np.fft.rfft(lasting, size, axis=1)[which.ravel()]
    result = np.maximum(np.fft.irfft(product, size, axis=1)[:, :length], 0.0)
    result[:, -1] += np.maximum(1.0 - result.sum(axis=1), 0.0)
    return result


def quantile_dates(days: Floats, first: date) -> list[dict[float, date]]:
    """Date by which each row has happened with each probability of `QUANTILES`.

    `days` as from `day_probabilities`; its first column is the day `first`.
    """
    cumulative = np.cumsum(days, axis=1)
    levels = np.array(QUANTILES) - 1e-12
    at = (cumulative[:, None, :] < levels[:, None]).sum(axis=2)
    at = np.minimum(at, days.shape[1] - 1)
    dates = [first + timedelta(days=step) for step in range(days.shape[1])]
    return [
        {level: dates[step] for level, step in zip(QUANTILES, row, strict=True)}
        for row in at.tolist()
    ]


def week_shares(days: Floats, first: date, begins: int = MONDAY) -> list[tuple[WeekShare, ...]]:
    """Probability of each week that holds at least 0.5 %.

    `begins` is the weekday on which weeks begin, as `date.weekday` counts: 0 Monday.
    """
    start = week_start(first, begins)
    lead = (first - start).days
    weeks = -(-(days.shape[1] + lead) // 7)
    padded = np.zeros((len(days), weeks * 7))
    padded[:, lead : lead + days.shape[1]] = days
    shares = padded.reshape(len(days), weeks, 7).sum(axis=2)
    starts = [start + timedelta(weeks=week) for week in range(weeks)]
    told: list[list[WeekShare]] = [[] for _ in days]
    rows, at = np.nonzero(shares >= LEAST_SHARE)
    for row, week, share in zip(rows.tolist(), at.tolist(), shares[rows, at].tolist(), strict=True):
        told[row].append(WeekShare(starts[week], round(share, 4)))
    return [tuple(each) for each in told]
