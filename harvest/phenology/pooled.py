"""Partial pooling: what trees, cultivars, sites and seasons say of each other's dates.

A linear model with normal priors on everything (Gelman et al. 2013, Bayesian Data Analysis,
chapters 14 and 15; from memory):

    date = cultivar + site + a * advance + covariates + season + noise

`advance` is what a clock says of the season by the as-of date: how many days sooner or later
than usual the date falls if the usual weather follows. The slope `a` is learned and drawn towards
a value below 1, because a clock is never quite right. `season` is shared by all cultivars of a
site and season; once the early ones are in, it moves the later ones. Noise has heavy tails
(Student, fitted by reweighting), since single records are off by a week now and then.

Several clocks are fitted side by side and averaged, each weighted by its error on seasons left
out of the fit; the spread is set by the errors of that average on the left-out seasons. Everything
is in days, so clocks can be compared. Experimental as a whole; each part is textbook.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from harvest.errors import QuantityError
from harvest.phenology.pooled_cells import CellColumns, CellPanel, Floats, Ints
from harvest.phenology.pooled_effects import KnownCells, Priors, Variances

# How much a season's mean squared error counts in choosing clocks; below 1, since the seasons
# are few and the clocks alike.
TEMPER = 0.2
# Seasons that the belief "the spread is right as fitted" is worth, and how far it may shrink.
CALIBRATION_WORTH = 3.0
LEAST_CALIBRATION = 0.6
# Square of a Student scale for errors of variance 1. With 6 degrees of freedom 0.79 would give
# the middle 80 % a normal one's width, (1.2816 / 1.4398)^2; this errs to the wide side.
STUDENT_SHARE = 0.9
# Seasons it takes to believe half of a cultivar's own mean error.
DEPARTURE_WORTH = 4.0


@dataclass(frozen=True)
class Prediction:
    """Mean and variance [d, d2] of n cells.

    `season_mean`, `season_variance`: of the season effect in each, to be moved while its dates
    are waited for.
    """

    mean: Floats
    variance: Floats
    season_mean: Floats
    season_variance: Floats

    def shifted(self, days: Floats) -> Prediction:
        """The same, so many days [d] later."""
        return replace(self, mean=self.mean + days)


class PooledDates:
    """The model as an estimator: `fit` on cells whose date is known, `predict` others.

    Cells are frames made by `harvest.phenology.pooled_cells.cell_frame`, one row a cultivar at a
    site in a season.

    Parameters
    ----------
    priors : what is believed before any record.
    clocks : names of the clocks to use of those the cells have; None for all, averaged. One
        alone is a candidate of its own.

    Attributes after `fit`: `clocks_`, their names; `weights_` of the clocks in the average;
    `left_out_`, error of each cell [d] when its season was left out.
    """

    def __init__(self, priors: Priors, clocks: tuple[str, ...] | None = None) -> None:
        self.priors = priors
        self.clocks = clocks

    def fit(self, cells: pd.DataFrame, days: ArrayLike) -> Self:
        """Learn from cells and their dates or intervals [d], shape (n,); n may be 0.

        Raises QuantityError where a clock is asked for that the cells do not have, or the days
        are not one finite number for each cell.
        """
        panel = CellPanel.of(cells, self.clocks)
        value = _checked(days, len(cells))
        columns = CellColumns(panel)
        known = KnownCells(columns, panel, value, self.priors)
        middle = known.variances()
        effects = known.effects(middle, panel.advance)
        left_out = known.left_out(effects, middle)
        weights = _clock_weights(left_out, columns.seasons.numbers(panel.season), panel.spread)
        averaged = weights @ left_out
        departures = _Departures(columns, panel, averaged)
        averaged = averaged - departures.of_others(panel, averaged)
        self.clocks_ = panel.clocks
        self.weights_ = weights
        self.left_out_ = averaged
        self._columns, self._effects, self._middle = columns, effects, middle
        self._departures = _Departures(columns, panel, averaged)
        self._calibration = _calibration(columns, panel, averaged, middle)
        return self

    def predict(self, cells: pd.DataFrame) -> Floats:
        """Expected dates or intervals [d] of cells, shape (n,)."""
        return self.predict_dates(cells).mean

    def predict_dates(self, cells: pd.DataFrame) -> Prediction:
        """Expected dates or intervals of cells with their spread."""
        panel = CellPanel.of(cells, self.clocks_)
        columns, priors = self._columns, self.priors
        unseen_mean, unseen_variance = columns.unseen(panel, priors.site_sd)
        season_number = columns.seasons.numbers(panel.season)
        new_season = season_number < 0
        rows, effects = columns.rows(panel), self._effects
        own, doubt = effects.of_columns(columns.season_slice)
        beyond = np.zeros((len(own), 1)), np.full((len(own), 1), self._middle.season)
        season_mean, season_variance = (
            np.append(known, unknown, axis=1)[:, season_number]
            for known, unknown in zip((own, doubt), beyond, strict=True)
        )
        new = np.where(new_season, self._middle.season, 0.0)
        noise = self._middle.noise * panel.spread**2
        weights = self.weights_
        factor = np.append(self._calibration, 1.0)[columns.sites.numbers(panel.site)]
        return Prediction(
            mean=weights @ effects.mean(rows, panel.advance)
            + unseen_mean
            + self._departures.of(panel),
            variance=(
                weights @ effects.variance(rows, panel.advance) + unseen_variance + new + noise
            )
            * factor,
            season_mean=weights @ season_mean,
            season_variance=weights @ season_variance,
        )


def _checked(days: ArrayLike, count: int) -> Floats:
    value = np.asarray(days, dtype=np.float64)
    if value.shape != (count,) or not np.isfinite(value).all():
        raise QuantityError(
            "PooledDates.fit takes one finite number of days for each cell",
            given=f"{count} cells and days of shape {value.shape}",
            todo="Leave cells without a known date out of the fit and predict them.",
        )
    return value


def _season_means(squares: Floats, season: Ints) -> Floats:
    """Mean of the values of each season, shape (..., seasons)."""
    count = np.bincount(season)
    return np.array([np.bincount(season, row) / count for row in np.atleast_2d(squares)])


def _clock_weights(left_out: Floats, season: Ints, spread: Floats) -> Floats:
    """Weight of each clock from its mean squared error on left-out seasons, tempered."""
    if left_out.shape[1] == 0:
        return np.full(len(left_out), 1.0 / len(left_out))
    squares = _season_means((left_out / spread) ** 2, season)
    evidence = -0.5 * TEMPER * squares.shape[1] * np.log(squares.mean(axis=1) + 1.0)
    weight = np.exp(evidence - evidence.max())
    return np.asarray(weight / weight.sum())


class _Departures:
    """Shrunken mean error of each cultivar at each site on left-out seasons [d].

    What the shared slopes got wrong for this cultivar here.
    """

    def __init__(self, columns: CellColumns, panel: CellPanel, errors: Floats) -> None:
        self._columns = columns
        place, size = columns.place(panel), columns.places
        # The last number is that of places never seen.
        self._total = np.bincount(place, errors, minlength=size + 1).astype(np.float64)
        self._count = np.bincount(place, minlength=size + 1).astype(np.float64)

    def of(self, panel: CellPanel) -> Floats:
        """Of each cell's cultivar at its site."""
        place = self._columns.place(panel)
        return np.asarray(self._total[place] / (self._count[place] + DEPARTURE_WORTH))

    def of_others(self, panel: CellPanel, errors: Floats) -> Floats:
        """The same without each cell's own error."""
        place = self._columns.place(panel)
        total, count = self._total[place] - errors, self._count[place] - 1.0
        return np.asarray(total / (count + DEPARTURE_WORTH))


def _calibration(
    columns: CellColumns, panel: CellPanel, errors: Floats, variances: Variances
) -> Floats:
    """Factor on each site's variance so that left-out seasons had the spread they were given."""
    sites = len(columns.sites)
    expected = variances.season + variances.noise + 1.0
    squares = STUDENT_SHARE * (errors / panel.spread) ** 2 / expected
    _, first, season = np.unique(panel.season, return_index=True, return_inverse=True)
    by_season = _season_means(squares, season)[0] if len(errors) else np.empty(0)
    where = columns.sites.numbers(panel.site)[first]
    total = np.bincount(where, by_season, minlength=sites)
    count = np.bincount(where, minlength=sites)
    factor = (total + CALIBRATION_WORTH) / (count + CALIBRATION_WORTH)
    return np.maximum(factor, LEAST_CALIBRATION)
