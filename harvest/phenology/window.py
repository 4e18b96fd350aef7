"""How long picking lasts: from ripe to the last pick, by a cultivar's own seasons and a prior."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# The species' range is read as the central 90 % of a normal distribution.
Z90 = 1.645
# How many seasons the species' range is worth against a cultivar's own.
PRIOR_WORTH = 3.0
# Common practice, no source: the weight is about evenly spread over the window.
HALF_SHARE = 0.5


def window_lengths(past: pd.DataFrame, cases: pd.DataFrame) -> tuple[Floats, Floats]:
    """Days [d] from ripe to the last pick expected of each case, mean and spread, shape (n,).

    Parameters
    ----------
    past : finished tree-seasons, columns `cultivar_key` and `window_days` (ripe to last pick).
    cases : columns `cultivar_key`, `window_days_low`, `window_days_high` (the species' range).

    The mean is drawn from the species' towards the cultivar's own as seasons come, the spread
    likewise (a weighted mean of variances). Experimental: no published source.
    """
    grouped = past.groupby("cultivar_key")["window_days"]
    keys = cases["cultivar_key"]
    count = grouped.size().reindex(keys).fillna(0).to_numpy(dtype=float)
    own = grouped.mean().reindex(keys).fillna(0).to_numpy(dtype=float)
    square = (past["window_days"] - grouped.transform("mean")) ** 2
    squares = square.groupby(past["cultivar_key"]).sum().reindex(keys).fillna(0).to_numpy()
    low = cases["window_days_low"].to_numpy(dtype=float)
    high = cases["window_days_high"].to_numpy(dtype=float)
    usual, spread = (low + high) / 2, (high - low) / (2 * Z90)
    mean = (count * own + PRIOR_WORTH * usual) / (count + PRIOR_WORTH)
    doubt = (own - usual) ** 2 * count * PRIOR_WORTH / (count + PRIOR_WORTH)
    variance = (squares + doubt + PRIOR_WORTH * spread**2) / (count + PRIOR_WORTH)
    return mean, np.sqrt(variance * (1 + 1 / (count + PRIOR_WORTH)))


def half_shares(past: pd.DataFrame, cases: pd.DataFrame) -> Floats:
    """Share of the window [1] after which half of the weight is in, of each case, shape (n,).

    The mean of the cultivar's finished seasons (columns `half_days`, `window_days`), drawn towards
    HALF_SHARE; nothing is known of it beforehand but that picking is heaviest about the middle.
    """
    known = past[past["window_days"] > 0]
    grouped = (known["half_days"] / known["window_days"]).groupby(known["cultivar_key"])
    keys = cases["cultivar_key"]
    total = grouped.sum().reindex(keys).fillna(0).to_numpy(dtype=float)
    count = grouped.count().reindex(keys).fillna(0).to_numpy(dtype=float)
    return np.asarray((total + PRIOR_WORTH * HALF_SHARE) / (count + PRIOR_WORTH))


def remaining_window(since: Floats, mean: Floats, sd: Floats, days: int) -> Floats:
    """Day probabilities of the last pick, given that picking began `since` days ago [d].

    `mean`, `sd` of the window's length [d], shape (n,); returns shape (n, days), from today on.
    """
    from scipy.special import ndtr

    steps = since[:, None] + np.arange(-1, days) + 0.5
    upto = ndtr((steps - mean[:, None]) / np.maximum(sd, 0.3)[:, None])
    left = np.maximum(1.0 - upto[:, :1], 1e-12)
    found = np.clip(np.diff(upto, axis=1) / left, 0.0, 1.0)
    found[:, -1] += np.maximum(1.0 - found.sum(axis=1), 0.0)
    return found
