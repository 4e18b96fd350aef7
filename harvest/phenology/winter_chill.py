"""Heat that counts only as far as the winter's chill has released the buds.

Chill is gathered in portions of the Dynamic Model from 1 October (in the south 1 April). Either
heat counts from the day on which the requirement is met (sequential; Ashcroft, Richardson & Seeley
1977, HortScience 12:347-348, from memory), or both go on side by side and heat counts the more,
the more of the requirement is met (parallel; Landsberg 1974; Hänninen 1990, from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from harvest.seasons import is_southern, years_of
from harvest.thermal import chill_portions

Floats = NDArray[np.float64]

# How much heat counts before any chill, where the two go side by side [1] (from memory).
UNCHILLED = 0.1
AUTUMN = {False: 10, True: 4}  # month in which chill begins, by whether it is the south


def chill_by_day(start: np.datetime64, hours_c: Floats, latitude: float) -> Floats:
    """Chill portions since the winter's start by the end of each day, shape (days,).

    Parameters
    ----------
    start : first day. hours_c : hourly temperatures [degC], shape (days, 24), nan where missing.

    A total stays until the next winter begins. nan from a missing hour on to the next winter, and
    in a first winter that began before the record.
    """
    days = start.astype("datetime64[D]") + np.arange(len(hours_c))
    months = days.astype("datetime64[M]").astype(np.int64) % 12 + 1
    winter = years_of(days) + (months >= AUTUMN[is_southern(latitude)])
    total = np.full(len(days), np.nan)
    begins = np.flatnonzero(np.diff(winter)) + 1
    for begin, end in zip(begins, [*begins[1:], len(days)], strict=True):
        total[begin:end] = chill_portions(hours_c[begin:end].ravel(), every=24)
    return total


def released(chill: Floats, need: float, *, sequential: bool) -> Floats:
    """Share of a day's heat that counts, by the chill so far and the requirement [portions]."""
    share = chill / need
    if sequential:
        return np.where(np.isnan(share), np.nan, share >= 1.0)
    return np.asarray(UNCHILLED + (1.0 - UNCHILLED) * np.minimum(share, 1.0))
