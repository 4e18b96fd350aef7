"""Cells as plain frames, and the columns of effects that a pooled model gives them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.errors import QuantityError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Rows = NDArray[np.float64]

LABELS = ("cultivar", "site", "season")
NUMBERS = ("trees", "spread", "prior_mean", "prior_sd")
YEAR = "year"
CLOCK, COVARIATE = "clock: ", "covariate: "
# A cultivar's own departure at one of its sites: spread [d], and up to how many such departures
# are fitted.
PLACE_SD = 2.0
MOST_PLACES = 800


def cell_frame(
    labels: Mapping[str, Ints],
    numbers: Mapping[str, Floats],
    clocks: Mapping[str, Floats],
    covariates: Mapping[str, Floats],
) -> pd.DataFrame:
    """One row a cell, a cultivar at a site in a season.

    Parameters
    ----------
    labels : numbers of `cultivar`, `site` and `season`, a season being one site's own, and the
        `year` it is called by.
    numbers : `trees` behind the cell; `spread`, the size of its noise relative to the others [1];
        `prior_mean` and `prior_sd` of its cultivar [d].
    clocks : by name, days [d] by which the clock puts the cell after the usual.
    covariates : by name, in the order of their priors.
    """
    columns: dict[str, Ints | Floats] = {name: labels[name] for name in (*LABELS, YEAR)}
    columns |= {name: numbers[name] for name in NUMBERS}
    columns |= {CLOCK + name: days for name, days in clocks.items()}
    columns |= {COVARIATE + name: values for name, values in covariates.items()}
    # One matrix, so that rows are taken and read at once.
    matrix = np.array(list(columns.values()), dtype=np.float64)
    return pd.DataFrame(matrix.T, columns=list(columns))


@dataclass(frozen=True)
class CellPanel:
    """A frame's cells as arrays of shape (n,); `advance` (clocks, n) and `covariates` (n, q)."""

    cultivar: Ints
    site: Ints
    season: Ints
    trees: Floats
    spread: Floats
    prior_mean: Floats
    prior_sd: Floats
    advance: Floats
    covariates: Floats
    clocks: tuple[str, ...]

    @classmethod
    def of(cls, cells: pd.DataFrame, clocks: Sequence[str] | None) -> CellPanel:
        """Read a frame; `clocks` None takes all it has."""
        has = [str(name) for name in cells.columns]
        known = tuple(name.removeprefix(CLOCK) for name in has if name.startswith(CLOCK))
        chosen = known if clocks is None else tuple(clocks)
        lacking = [name for name in (*LABELS, *NUMBERS) if name not in has]
        lacking += [CLOCK + name for name in chosen if name not in known]
        if lacking or not chosen:
            raise QuantityError(
                "cells need the columns of cell_frame and at least one clock",
                given=f"columns {', '.join(has)}",
                todo=f"Missing: {', '.join(lacking) or 'a clock'}.",
            )
        matrix = cells.to_numpy(dtype=np.float64).T
        place = {name: at for at, name in enumerate(has)}
        cultivar, site, season = (matrix[place[name]].astype(np.int64) for name in LABELS)
        trees, spread, mean, sd = (matrix[place[name]] for name in NUMBERS)
        advance = matrix[[place[CLOCK + name] for name in chosen]]
        values = matrix[[at for name, at in place.items() if name.startswith(COVARIATE)]].T
        return cls(cultivar, site, season, trees, spread, mean, sd, advance, values, chosen)


class Labels:
    """Labels met in a fit, numbered 0, 1, …; -1 for any other."""

    def __init__(self, met: Ints) -> None:
        self._known = np.unique(met)

    def __len__(self) -> int:
        return len(self._known)

    def numbers(self, labels: Ints) -> Ints:
        """Number of each label."""
        at = np.searchsorted(self._known, labels)
        at = np.minimum(at, max(len(self._known) - 1, 0))
        if not len(self._known):
            return np.full(len(labels), -1)
        return np.asarray(np.where(self._known[at] == labels, at, -1))


class CellColumns:
    """Which column of the model stands for which effect.

    In this order: cultivars, sites, the slopes of the covariates, departures of cultivars that
    stand at several sites, seasons. The slope of the clock stands beside them (`pooled`).
    """

    def __init__(self, panel: CellPanel) -> None:
        self.cultivars, self.sites = Labels(panel.cultivar), Labels(panel.site)
        self.seasons = Labels(panel.season)
        self._slopes = panel.covariates.shape[1]
        self._prior_mean = np.zeros(len(self.cultivars))
        self._prior_sd = np.ones(len(self.cultivars))
        number = self.cultivars.numbers(panel.cultivar)
        self._prior_mean[number], self._prior_sd[number] = panel.prior_mean, panel.prior_sd
        self.places = len(self.cultivars) * len(self.sites)
        met = np.unique(self.place(panel))
        self._met = Labels(met)
        of_cultivar = met // max(len(self.sites), 1)
        shared = np.bincount(of_cultivar, minlength=len(self.cultivars))[of_cultivar] > 1
        if shared.sum() > MOST_PLACES:
            shared[:] = False
        self._departing = Labels(met[shared])
        start = len(self.cultivars) + len(self.sites) + self._slopes + len(self._departing)
        self.season_slice = slice(start, start + len(self.seasons))

    def place(self, panel: CellPanel) -> Ints:
        """Number of each cell's cultivar at its site; `places` where either was never met."""
        cultivar = self.cultivars.numbers(panel.cultivar)
        site = self.sites.numbers(panel.site)
        known = (cultivar >= 0) & (site >= 0)
        return np.where(known, cultivar * len(self.sites) + site, self.places)

    def rows(self, panel: CellPanel) -> Rows:
        """Rows of the model, shape (n, effects)."""
        rows = np.zeros((len(panel.cultivar), self.season_slice.stop))
        first = 0
        for labels, met in ((self.cultivars, panel.cultivar), (self.sites, panel.site)):
            _mark(rows, first, labels.numbers(met))
            first += len(labels)
        rows[:, first : first + self._slopes] = panel.covariates
        _mark(rows, first + self._slopes, self._departing.numbers(self.place(panel)))
        _mark(rows, self.season_slice.start, self.seasons.numbers(panel.season))
        return rows

    def priors(
        self, site_sd: float, slopes: Sequence[tuple[float, float]], season_variance: float
    ) -> tuple[Floats, Floats]:
        """Prior mean [d] and precision [1/d2] of every effect."""
        slope_mean, slope_sd = np.array(slopes, dtype=np.float64).reshape(-1, 2).T
        none = np.zeros(len(self._departing) + len(self.seasons))
        sites = len(self.sites)
        mean = np.concatenate([self._prior_mean, np.zeros(sites), slope_mean, none])
        sd = np.concatenate(
            [
                self._prior_sd,
                np.full(sites, site_sd),
                slope_sd,
                np.full(len(self._departing), PLACE_SD),
                np.full(len(self.seasons), np.sqrt(season_variance)),
            ]
        )
        return mean, sd**-2.0

    def unseen(self, panel: CellPanel, site_sd: float) -> tuple[Floats, Floats]:
        """Prior mean and variance [d, d2] of what no column stands for: new cultivars and sites."""
        cultivar = self.cultivars.numbers(panel.cultivar)
        new_cultivar, new_site = cultivar < 0, self.sites.numbers(panel.site) < 0
        mean = np.where(new_cultivar, panel.prior_mean, 0.0)
        variance = np.where(new_cultivar, panel.prior_sd**2, 0.0)
        variance += np.where(new_site, site_sd**2, 0.0)
        met_elsewhere = ~new_cultivar & self._new_place(panel)
        return mean, variance + np.where(met_elsewhere, PLACE_SD**2, 0.0)

    def _new_place(self, panel: CellPanel) -> Bools:
        return self._met.numbers(self.place(panel)) < 0


def _mark(rows: Rows, first: int, numbers: Ints) -> None:
    """Put a one where each row's number points, counted from a column."""
    has = np.flatnonzero(numbers >= 0)
    rows[has, first + numbers[has]] = 1.0
