"""What a cultivar needs from bloom to ripe, from its own past seasons and what is known of it.

Experimental in its shrinkage: a normal prior pulled towards the cultivar's own mean, with the
season-to-season spread pooled over the cultivars of an orchard (the usual normal-normal model,
for example Gelman et al. 2013, Bayesian Data Analysis, section 2.5; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Spread of one season around a cultivar's mean, as a share of it, before an orchard's own records
# say otherwise: about 5 days in 70 (harvest errors of 2.7 to 5.0 d, Ruml & Milatovic 2021;
# natural spread 5.8 d, Schwartz et al. 1997), and how many seasons that belief is worth.
SEASON_SHARE = 0.075
SEASON_SHARE_WORTH = 6.0


@dataclass(frozen=True)
class Requirement:
    """Requirement of each cultivar asked for, arrays of shape (n,).

    `mean` and `sd` in the unit of progress (degree days [degC d] or days [d]); `sd` covers both
    doubt about the mean and the spread of a season around it; `freedom` are the degrees of
    freedom of the Student distribution; `seasons` and `trees` say what it rests on.
    """

    mean: Floats
    sd: Floats
    freedom: Floats
    seasons: NDArray[np.int64]
    trees: NDArray[np.int64]

    def take(self, at: NDArray[np.int64]) -> Requirement:
        """Those at the positions given."""
        return Requirement(
            self.mean[at], self.sd[at], self.freedom[at], self.seasons[at], self.trees[at]
        )


def season_share(past: pd.DataFrame) -> tuple[float, float]:
    """Spread of seasons around their cultivar's mean [1], and its degrees of freedom.

    Parameters
    ----------
    past : one row per cultivar and season, columns `cultivar_key` and `progress`, the mean
        progress from bloom to ripe that season.
    """
    grouped = past.groupby("cultivar_key")["progress"]
    relative = past["progress"] / grouped.transform("mean") - 1.0
    freedom = float((grouped.size() - 1).sum())
    squares = float((relative**2).sum()) + SEASON_SHARE_WORTH * SEASON_SHARE**2
    return float(np.sqrt(squares / (freedom + SEASON_SHARE_WORTH))), freedom + SEASON_SHARE_WORTH


def requirements(past: pd.DataFrame, priors: pd.DataFrame) -> Requirement:
    """Requirement of each cultivar: its own seasons, drawn towards its prior.

    Parameters
    ----------
    past : one row per tree and season already ripe: `cultivar_key`, `tree`, `season`, `progress`.
    priors : one row per cultivar asked for, columns `cultivar_key`, and `mean` and `sd` of its
        prior in the unit of progress.

    Returns one entry per row of `priors`, in its order.
    """
    by_season = past.groupby(["cultivar_key", "season"], as_index=False)["progress"].mean()
    share, freedom = season_share(by_season)
    grouped = by_season.groupby("cultivar_key")["progress"]
    keys = priors["cultivar_key"]
    seasons = grouped.size().reindex(keys).fillna(0).to_numpy(dtype=np.int64)
    own = grouped.mean().reindex(keys).to_numpy(dtype=float)
    trees = past.groupby("cultivar_key")["tree"].nunique().reindex(keys).fillna(0)
    prior_mean = priors["mean"].to_numpy(dtype=float)
    prior_sd = priors["sd"].to_numpy(dtype=float)
    spread = share * np.where(seasons > 0, own, prior_mean)
    weight = seasons / spread**2
    belief = 1.0 / prior_sd**2
    mean = (weight * np.where(seasons > 0, own, 0.0) + belief * prior_mean) / (weight + belief)
    sd = np.sqrt(1.0 / (weight + belief) + spread**2)
    return Requirement(
        mean=mean,
        sd=sd,
        freedom=np.full(len(priors), freedom),
        seasons=seasons,
        trees=trees.to_numpy(dtype=np.int64),
    )
