"""The effects of the pooled model: their posterior by every clock, and what they leave out.

The clocks share all columns but their own. So one inverse of the shared normal equations serves
them all, and each clock's slope is a border to it (the inverse of a bordered matrix; Sherman &
Morrison 1950, Annals of Mathematical Statistics 21:124-127, where a season is left out; both from
memory, and checked against whole refits in tests/phenology/test_pooled.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvest.phenology.pooled_cells import CellColumns, CellPanel, Floats, Rows

ROUNDS = 8
# Share of a single tree's noise that is shared by all trees of its cultivar that season.
SHARED_NOISE = 0.6


@dataclass(frozen=True)
class Priors:
    """What is believed before any record: means and standard deviations [d].

    `covariates` hold one (mean, spread) for each covariate of the cells, in their order.
    """

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
class Variances:
    """Weight of each cell's noise [1], variance of seasons and of noise [d2]."""

    weight: Floats
    season: float
    noise: float


@dataclass(frozen=True)
class Effects:
    """Posterior of every effect by each of some clocks.

    `centre` (effects,) [d] and `covariance` (effects, effects) [d2] are those without a clock;
    `lean` (effects, clocks) is by how much a day of a clock's slope moves each effect; `slope`
    (clocks,) and `slope_variance` are the slope's own.
    """

    centre: Floats
    covariance: Floats
    lean: Floats
    slope: Floats
    slope_variance: Floats

    def beside(self, rows: Rows, advance: Floats) -> Floats:
        """What of each clock's `advance` (clocks, n) the other effects do not tell [d]."""
        return np.asarray(advance - (rows @ self.lean).T)

    def mean(self, rows: Rows, advance: Floats) -> Floats:
        """Expected value of rows (n, effects) by each clock [d], shape (clocks, n)."""
        return np.asarray(rows @ self.centre + self.slope[:, None] * self.beside(rows, advance))

    def variance(self, rows: Rows, advance: Floats) -> Floats:
        """Variance of that [d2], shape (clocks, n)."""
        shared = np.einsum("ij,ij->i", rows @ self.covariance, rows)
        return np.asarray(shared + self.slope_variance[:, None] * self.beside(rows, advance) ** 2)

    def of_columns(self, columns: slice) -> tuple[Floats, Floats]:
        """Mean [d] and variance [d2] of some effects by each clock, shape (clocks, effects)."""
        lean = self.lean[columns].T
        return (
            self.centre[columns] - self.slope[:, None] * lean,
            np.diag(self.covariance)[columns] + self.slope_variance[:, None] * lean**2,
        )


class KnownCells:
    """Cells whose dates or intervals are known: what they say of every effect.

    Parameters
    ----------
    columns : which effects there are. panel : the n cells.
    days : their dates or intervals [d], shape (n,).
    """

    def __init__(
        self, columns: CellColumns, panel: CellPanel, days: Floats, priors: Priors
    ) -> None:
        self._columns, self._panel, self._days, self._priors = columns, panel, days, priors
        self._rows = columns.rows(panel)
        shared = SHARED_NOISE + (1 - SHARED_NOISE) / np.maximum(panel.trees, 1.0)
        self._relative = shared * panel.spread**2

    def effects(self, variances: Variances, advance: Floats) -> Effects:
        """Posterior by each clock's `advance` [d], shape (clocks, n), given the variances."""
        rows, days, priors = self._rows, self._days, self._priors
        prior_mean, precision = self._columns.priors(
            priors.site_sd, priors.covariates, variances.season
        )
        slope_mean, slope_sd = priors.advance
        weight = self._weight(variances)
        weighted = rows.T * weight
        information = weighted @ rows
        information[np.diag_indices_from(information)] += precision
        covariance = np.asarray(np.linalg.inv(information))
        told = weighted @ days + precision * prior_mean
        border = weighted @ advance.T
        lean = covariance @ border
        corner = (advance**2) @ weight + slope_sd**-2.0
        slope_variance = 1.0 / (corner - np.einsum("ij,ij->j", border, lean))
        slope_told = advance @ (weight * days) + slope_sd**-2.0 * slope_mean
        slope = slope_variance * (slope_told - told @ lean)
        return Effects(covariance @ told, covariance, lean, slope, slope_variance)

    def variances(self) -> Variances:
        """Season and noise variance by expectation and maximisation, with heavy-tailed weights.

        By the mean of the clocks.
        """
        rows, days, priors = self._rows, self._days, self._priors
        advance = self._panel.advance.mean(axis=0)[None]
        count, seasons = len(days), len(self._columns.seasons)
        found = Variances(np.ones(count), priors.season_variance, priors.noise_variance)
        for _ in range(ROUNDS if count else 0):
            fit = self.effects(found, advance)
            residual = days - fit.mean(rows, advance)[0]
            leverage = fit.variance(rows, advance)[0]
            effect, doubt = fit.of_columns(self._columns.season_slice)
            season = ((effect**2 + doubt).sum() + priors.season_worth * priors.season_variance) / (
                seasons + priors.season_worth
            )
            noise = (
                (found.weight * (residual**2 + leverage) / self._relative).sum()
                + priors.noise_worth * priors.noise_variance
            ) / (count + priors.noise_worth)
            weight = (priors.freedom + 1) / (
                priors.freedom + residual**2 / (noise * self._relative)
            )
            found = Variances(weight, float(season), float(noise))
        return found

    def left_out(self, fit: Effects, variances: Variances) -> Floats:
        """Error of each cell by each clock when its whole season at its site is left out.

        Shape (clocks, n) [d]. Block deletion from the one fit: (I - H W)^-1 times the residuals of
        the block.
        """
        rows, advance = self._rows, self._panel.advance
        residual = self._days - fit.mean(rows, advance)
        weight = self._weight(variances)
        errors = residual / (1.0 - fit.variance(rows, advance) * weight)
        beside = fit.beside(rows, advance)
        _, season, size = np.unique(self._panel.season, return_inverse=True, return_counts=True)
        blocks = np.split(np.argsort(season, kind="stable"), np.cumsum(size)[:-1])
        for block in (each for each in blocks if len(each) > 1):
            own = rows[block]
            shared = np.eye(len(block)) - own @ fit.covariance @ own.T * weight[block]
            apart = beside[:, block]
            both = np.linalg.solve(shared, np.concatenate([residual[:, block], apart]).T).T
            plain, moved = both[: len(apart)], both[len(apart) :]
            pull = fit.slope_variance[:, None] * apart * weight[block]
            share = (pull * plain).sum(axis=1) / (1.0 - (pull * moved).sum(axis=1))
            errors[:, block] = plain + share[:, None] * moved
        return np.asarray(errors)

    def _weight(self, variances: Variances) -> Floats:
        return np.asarray(variances.weight / (variances.noise * self._relative))
