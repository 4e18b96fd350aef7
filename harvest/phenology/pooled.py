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

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

ROUNDS = 8
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
# A cultivar's own departure at one of its sites: spread [d], and up to how many such departures
# are fitted.
PLACE_SD = 2.0
MOST_PLACES = 800
# Share of a single tree's noise that is shared by all trees of its cultivar that season.
SHARED_NOISE = 0.6


@dataclass(frozen=True)
class Priors:
    """What is believed before any record: means and standard deviations [d]."""

    site_sd: float
    advance: tuple[float, float] = (0.85, 0.25)
    covariates: tuple[tuple[float, float], ...] = ()
    season_variance: float = 10.0
    noise_variance: float = 11.0
    season_worth: float = 4.0
    noise_worth: float = 10.0
    freedom: float = 6.0
    """Degrees of freedom of the noise's Student distribution: the fewer, the heavier its tails."""


@dataclass(frozen=True)
class Panel:
    """Cells of one species: a cultivar at a site in a season. Arrays of n cells.

    `days` is the date or interval to explain [d], nan for cells to be predicted. `advance`, shape
    (clocks, n) [d]. `covariates`, shape (n, q). `trees` behind each known cell. `spread`, the
    size of each cell's noise relative to the others [1]. Cultivars come with their prior mean and
    standard deviation [d], shape (cultivars,).
    """

    days: Floats
    advance: Floats
    covariates: Floats
    cultivar: Ints
    site: Ints
    season: Ints
    trees: Floats
    spread: Floats
    prior_mean: Floats
    prior_sd: Floats

    @property
    def known(self) -> Bools:
        """Cells whose date is on record."""
        return ~np.isnan(self.days)


@dataclass(frozen=True)
class Prediction:
    """Mean and variance [d, d2] of every cell without a date, in their order.

    `season_mean`, `season_variance`: of the season effect in each; `season_pull`: how far a cell
    moves with its season effect. `weights` of the clocks. `left_out`: error of each known cell
    [d] when its season was left out.
    """

    mean: Floats
    variance: Floats
    season_mean: Floats
    season_variance: Floats
    weights: Floats
    left_out: Floats

    def shifted(self, days: Floats) -> Prediction:
        """The same, so many days [d] later."""
        return replace(self, mean=self.mean + days)


@dataclass(frozen=True)
class _Design:
    rows: Floats
    prior_mean: Floats
    precision: Floats
    seasons: slice


@dataclass(frozen=True)
class _Fit:
    effects: Floats
    covariance: Floats
    weight: Floats
    season_variance: float
    noise_variance: float


def predict(panel: Panel, priors: Priors) -> Prediction:
    """Fit a panel's known cells and predict the others.

    Returns the average over clocks, weighted by their errors on left-out seasons.
    """
    known = panel.known
    middle = _design(panel, panel.advance.mean(axis=0), priors)
    spread = _variances(panel, middle, priors)
    fits, errors = [], []
    for advance in panel.advance:
        design = _design(panel, advance, priors)
        fit = _solve(panel, design, spread)
        fits.append((design, fit))
        errors.append(_left_out(panel, design, fit))
    left_out = np.array(errors)
    weights = _clock_weights(left_out, panel.season[known], panel.spread[known])
    averaged = weights @ left_out
    averaged -= _own_departure(panel, averaged, leave_out=True)[known]
    mean = weights @ np.array([d.rows[~known] @ f.effects for d, f in fits])
    mean += _own_departure(panel, averaged, leave_out=False)[~known]
    variance = weights @ np.array(
        [np.einsum("ij,ij->i", d.rows[~known] @ f.covariance, d.rows[~known]) for d, f in fits]
    )
    noise = spread.noise_variance * panel.spread[~known] ** 2
    scale = _calibration(panel, averaged, spread)[panel.site[~known]]
    season = panel.season[~known]
    by_season = [(f.effects[d.seasons], np.diag(f.covariance)[d.seasons]) for d, f in fits]
    return Prediction(
        mean=mean,
        variance=(variance + noise) * scale,
        season_mean=weights @ np.array([effect[season] for effect, _ in by_season]),
        season_variance=weights @ np.array([doubt[season] for _, doubt in by_season]),
        weights=weights,
        left_out=averaged,
    )


def _design(panel: Panel, advance: Floats, priors: Priors) -> _Design:
    """Rows of the model, and the prior mean and precision of every effect but the seasons'."""
    n = len(panel.days)
    cultivars, sites = len(panel.prior_mean), int(panel.site.max()) + 1
    seasons = int(panel.season.max()) + 1
    slopes = [priors.advance, *priors.covariates]
    place, places = _shared_places(panel)
    rows = np.zeros((n, cultivars + sites + len(slopes) + places + seasons))
    every = np.arange(n)
    rows[every, panel.cultivar] = 1.0
    rows[every, cultivars + panel.site] = 1.0
    first = cultivars + sites
    rows[:, first] = advance
    rows[:, first + 1 : first + len(slopes)] = panel.covariates
    start = first + len(slopes)
    rows[place >= 0, start + place[place >= 0]] = 1.0
    start += places
    rows[every, start + panel.season] = 1.0
    slope_means, slope_sds = zip(*slopes, strict=True)
    mean = np.concatenate(
        [panel.prior_mean, np.zeros(sites), slope_means, np.zeros(places + seasons)]
    )
    sd = np.concatenate(
        [
            panel.prior_sd,
            np.full(sites, priors.site_sd),
            slope_sds,
            np.full(places, PLACE_SD),
            np.ones(seasons),
        ]
    )
    return _Design(rows, mean, sd**-2.0, slice(start, start + seasons))


def _shared_places(panel: Panel) -> tuple[Ints, int]:
    """Number of each cell's cultivar at its site, -1 where the cultivar stands at one site only."""
    sites = int(panel.site.max()) + 1
    pairs, at = np.unique(panel.cultivar * sites + panel.site, return_inverse=True)
    shared = np.bincount(pairs // sites, minlength=len(panel.prior_mean))[pairs // sites] > 1
    if shared.sum() > MOST_PLACES:
        shared[:] = False
    number = np.where(shared, np.cumsum(shared) - 1, -1)
    return number[at], int(shared.sum())


def _cell_noise(panel: Panel) -> Floats:
    """Noise variance of each known cell relative to one tree at spread 1."""
    known = panel.known
    shared = SHARED_NOISE + (1 - SHARED_NOISE) / np.maximum(panel.trees[known], 1.0)
    return np.asarray(shared * panel.spread[known] ** 2)


def _variances(panel: Panel, design: _Design, priors: Priors) -> _Fit:
    """Season and noise variance by expectation and maximisation, with heavy-tailed weights."""
    season_variance, noise_variance = priors.season_variance, priors.noise_variance
    known = panel.known
    rows, days, relative = design.rows[known], panel.days[known], _cell_noise(panel)
    count = int(known.sum())
    seen = np.unique(panel.season[known])
    weight = np.ones(count)
    for _ in range(ROUNDS if count else 0):
        fit = _solve(panel, design, _Fit(_NONE, _NONE, weight, season_variance, noise_variance))
        residual = days - rows @ fit.effects
        leverage = np.einsum("ij,ij->i", rows @ fit.covariance, rows)
        effect = fit.effects[design.seasons][seen]
        doubt = np.diag(fit.covariance)[design.seasons][seen]
        season_variance = (
            (effect**2 + doubt).sum() + priors.season_worth * priors.season_variance
        ) / (len(seen) + priors.season_worth)
        noise_variance = (
            (weight * (residual**2 + leverage) / relative).sum()
            + priors.noise_worth * priors.noise_variance
        ) / (count + priors.noise_worth)
        weight = (priors.freedom + 1) / (priors.freedom + residual**2 / (noise_variance * relative))
    return _Fit(_NONE, _NONE, weight, float(season_variance), float(noise_variance))


_NONE: Floats = np.empty(0)


def _solve(panel: Panel, design: _Design, spread: _Fit) -> _Fit:
    """Posterior mean and covariance of every effect, given the variances and weights."""
    known = panel.known
    rows = design.rows[known]
    weight = spread.weight / (spread.noise_variance * _cell_noise(panel))
    precision = design.precision.copy()
    precision[design.seasons] = 1.0 / spread.season_variance
    information = (rows.T * weight) @ rows
    information[np.diag_indices_from(information)] += precision
    covariance = np.linalg.inv(information)
    effects = covariance @ (rows.T @ (weight * panel.days[known]) + precision * design.prior_mean)
    return _Fit(
        effects,
        np.asarray(covariance),
        spread.weight,
        spread.season_variance,
        spread.noise_variance,
    )


def _left_out(panel: Panel, design: _Design, fit: _Fit) -> Floats:
    """Error of each known cell when its whole season at its site is left out of the fit [d].

    Block deletion from the one fit: (I - H W)^-1 times the residuals of the block.
    """
    known = panel.known
    rows = design.rows[known]
    residual = panel.days[known] - rows @ fit.effects
    weight = fit.weight / (fit.noise_variance * _cell_noise(panel))
    season = panel.season[known]
    alone = np.bincount(season)[season] == 1 if len(season) else np.empty(0, dtype=bool)
    leverage = np.einsum("ij,ij->i", rows @ fit.covariance, rows) * weight
    errors = residual / (1.0 - leverage)
    for each in np.unique(season[~alone]):
        block = np.flatnonzero(season == each)
        hat = rows[block] @ fit.covariance @ rows[block].T * weight[block]
        errors[block] = np.linalg.solve(np.eye(len(block)) - hat, residual[block])
    return np.asarray(errors)


def _by_season(squares: Floats, season: Ints) -> Floats:
    """Mean of the squared errors of each season, shape (..., seasons seen)."""
    _, at = np.unique(season, return_inverse=True)
    count = np.bincount(at)
    return np.array([np.bincount(at, row) / count for row in np.atleast_2d(squares)])


def _clock_weights(left_out: Floats, season: Ints, spread: Floats) -> Floats:
    """Weight of each clock from its mean squared error on left-out seasons, tempered."""
    if left_out.shape[1] == 0:
        return np.full(len(left_out), 1.0 / len(left_out))
    squares = _by_season((left_out / spread) ** 2, season)
    evidence = -0.5 * TEMPER * squares.shape[1] * np.log(squares.mean(axis=1) + 1.0)
    weight = np.exp(evidence - evidence.max())
    return np.asarray(weight / weight.sum())


def _own_departure(panel: Panel, errors: Floats, *, leave_out: bool) -> Floats:
    """Shrunken mean error of a cultivar at a site on left-out seasons, for every cell [d].

    What the shared slopes got wrong for this cultivar here. With `leave_out` a cell's own error
    does not count in its departure.
    """
    known = panel.known
    place = panel.cultivar * (int(panel.site.max()) + 1) + panel.site
    total = np.bincount(place[known], errors, minlength=int(place.max()) + 1)[place].astype(float)
    count = np.bincount(place[known], minlength=int(place.max()) + 1)[place].astype(float)
    if leave_out:
        total[known] -= errors
        count[known] -= 1.0
    return np.asarray(total / (count + DEPARTURE_WORTH))


def _calibration(panel: Panel, errors: Floats, spread: _Fit) -> Floats:
    """Factor on each site's variance so that left-out seasons had the spread they were given."""
    known = panel.known
    sites = int(panel.site.max()) + 1
    expected = spread.season_variance + spread.noise_variance + 1.0
    squares = STUDENT_SHARE * (errors / panel.spread[known]) ** 2 / expected
    season, at = np.unique(panel.season[known], return_inverse=True)
    by_season = np.bincount(at, squares) / np.bincount(at) if len(season) else _NONE
    where = np.zeros(len(season), dtype=np.int64)
    where[at] = panel.site[known]
    total = np.bincount(where, by_season, minlength=sites)
    count = np.bincount(where, minlength=sites)
    factor = (total + CALIBRATION_WORTH) / (count + CALIBRATION_WORTH)
    return np.maximum(factor, LEAST_CALIBRATION)
