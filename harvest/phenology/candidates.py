"""Ways to forecast a date, side by side: single clocks, all of them averaged, and plain ones.

All are estimators as scikit-learn has them, on the frames of `pooled_cells.cell_frame`: `fit` on
cells whose days are known, `predict` the days of others, `predict_dates` with their spread.
"""

from __future__ import annotations

from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin

from harvest.phenology.baselines import LAST_SEASON, MEAN_DAY, TREND, baselines
from harvest.phenology.blooming import (
    STARTS_BEFORE,
    blooming_clocks,
    chill_then_heat,
    chill_with_heat,
    clock_from,
)
from harvest.phenology.expectation import AVERAGED, Candidate
from harvest.phenology.pooled import PooledDates, Prediction
from harvest.phenology.pooled_cells import YEAR, Floats
from harvest.phenology.pooled_effects import Priors
from harvest.phenology.result import EventName
from harvest.phenology.ripening import BASES_C, EARLY, other_clocks, ripening_clocks

ALL = "all clocks, averaged"
CHILL_FIRST = "chill, then degree days"
CHILL_BESIDE = "chill and degree days side by side"


class PooledCandidate(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """The pooled model by some clocks (`clocks`, names), or by all of them averaged (None)."""

    def __init__(self, priors: Priors, clocks: tuple[str, ...] | None = None) -> None:
        self.priors = priors
        self.clocks = clocks

    def fit(self, cells: pd.DataFrame, days: ArrayLike) -> Self:
        """Learn from cells and their days [d], shape (n,)."""
        self.model_ = PooledDates(self.priors, self.clocks).fit(cells, days)
        return self

    def predict(self, cells: pd.DataFrame) -> Floats:
        """Expected days [d], shape (n,)."""
        return self.model_.predict(cells)

    def predict_dates(self, cells: pd.DataFrame) -> Prediction:
        """Expected days with their spread."""
        return self.model_.predict_dates(cells)


class PlainCandidate(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """A plain forecast from a cultivar's earlier seasons at its site.

    Parameters
    ----------
    kind : `baselines.MEAN_DAY`, `TREND` or `LAST_SEASON`.

    Where there are too few earlier seasons the prediction is nan.
    """

    def __init__(self, kind: str = MEAN_DAY) -> None:
        self.kind = kind

    def fit(self, cells: pd.DataFrame, days: ArrayLike) -> Self:
        """Keep the days [d] of each cultivar's seasons, shape (n,)."""
        known = cells[["site", "cultivar", YEAR]].assign(days=np.asarray(days, dtype=np.float64))
        self.seasons_ = {
            key: rows[[YEAR, "days"]].to_numpy(dtype=np.float64)
            for key, rows in known.groupby(["site", "cultivar"])
        }
        return self

    def predict(self, cells: pd.DataFrame) -> Floats:
        """Expected days [d], shape (n,)."""
        return self.predict_dates(cells).mean

    def predict_dates(self, cells: pd.DataFrame) -> Prediction:
        """Expected days with the squared scale of their Student distribution."""
        mean, variance = np.full((2, len(cells)), np.nan)
        keys = zip(cells["site"], cells["cultivar"], cells[YEAR], strict=True)
        for at, (site, cultivar, year) in enumerate(keys):
            seasons = self.seasons_.get((site, cultivar))
            if seasons is None:
                continue
            earlier = seasons[seasons[:, 0] < year]
            found = baselines(earlier[:, 0], earlier[:, 1], int(year)).get(self.kind)
            if found is not None:
                mean[at], variance[at] = found.mean, found.scale**2
        none = np.zeros(len(cells))
        return Prediction(mean, variance, season_mean=none, season_variance=none)


def plain_candidates() -> dict[str, PlainCandidate]:
    """The plain ones, by name."""
    return {kind: PlainCandidate(kind) for kind in (MEAN_DAY, TREND, LAST_SEASON)}


def pooled_candidates(event: EventName) -> dict[str, Candidate]:
    """The pooled ones for an event, by name, what forecasts use first.

    Bases of degree days that only some species use are left out. A bloom clock is averaged over
    its starts, one that counts chill over the requirements too.
    """
    if event == "full bloom":
        bloom = {kind.name: [kind] for kind in blooming_clocks()}
        bloom |= {CHILL_FIRST: chill_then_heat(), CHILL_BESIDE: chill_with_heat()}
        starts = {
            name: tuple(clock_from(k.name, before) for k in each for before in STARTS_BEFORE)
            for name, each in bloom.items()
        }
        return {ALL: AVERAGED, **{name: Candidate(bloom=each) for name, each in starts.items()}}
    asked = [kind.name for kind in other_clocks()]
    names = [*(kind.name for kind in ripening_clocks(BASES_C[0], asked)), EARLY]
    return {ALL: AVERAGED, **{name: Candidate(ripe=(name,)) for name in names}}
