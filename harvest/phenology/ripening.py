"""From full bloom to ripe: the interval of every tree's cultivar, pooled over the species.

What each clock says by the as-of date enters as the days by which the interval is running ahead
of or behind the usual; in past seasons it is read on the same day of the season, so that the
spread fits the time that is left. The interval may also lean on how early the bloom was: in a
large apple population harvest moved only 0.35 day per day of bloom (541 genotypes, six countries,
2018-2023, worked out from the open tree records).

One candidate counts the warmth of the first month after bloom only and plain days from then on:
in peaches and plums it tells most of how long a fruit takes (Ben Mimoun & DeJong 1999, Acta
Horticulturae 499:107-114).

Clocks were chosen by scores on two open cherry records, strictly forward (mean pinball over both
sites as of 10 and 25 May):

    alone    degree hours most at 20 degC, none from 45 degC, above 0, 4 degC    1.017, 1.022 d
             first month by the curve above 4, 20 and 45 degC, then days                1.025 d
                         by the published one (4, 25 and 36 degC), then days            1.044 d
             degree hours most at 25 degC, none from 36: above 0, 4, 7  1.033, 1.040, 1.047 d
             degree hours linear from 4.5 to 25 degC, to 20 degC                 1.049, 1.042 d
             degree hours of peach fruit (7.5, 26 and 38.5 degC)                        1.051 d
             degree days above 4.5 degC, cut off at 20, 25 degC, not    1.041, 1.048, 1.052 d
             plain days                                                                 1.053 d
    average  with the two curves that are most at 20 degC                               1.031 d
             without them, degree days above -5 degC beside the others                  1.040 d

The average keeps clocks that scored less, for other places. On invented dates that followed degree
days above 10 degC through the hot summers of Washington it lost 1 % by the new curves (4 % without
the degree days above 7 degC and those cut off); on dates that followed the published curve, or
plain days, it gained 1 and 2 %. With curves that fall to nothing at 36 degC it came to 1.028 d, but
a week of 36 degC no longer brought a date forward. Other clocks can be scored alone
(`other_clocks`).

With few seasons the average is no worse than plain days: on Balandran's open records (every sixth
cultivar, 15 and 45 days after bloom, CRPS) a cultivar's first three forecasts had 5.1 d against
5.3 d, the next three 2.5 d against 2.6 d, the later ones 2.63 d against 2.86 d.

A heavy crop ripens later, but neither the fruit left on a tree for its trunk (51 seasons,
correlation with the error 0.00) nor even the season's whole weight against the tree's mean (281
dates, mean error 4.40 d with and without) made forecasts of the demo orchard better, whose trees
do answer to it. So crop load is not used.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.phenology.cells import Cells, SiteNow, renumbered, season_slot, shrunk_means
from harvest.phenology.clocks import (
    DAYS,
    DEGREE_HOURS,
    Clock,
    ClockKind,
    degree_day_clock,
    degree_hour_clock,
    names_of,
)
from harvest.phenology.kept_fits import fit_and_predict
from harvest.phenology.pooled import PooledDates, Prediction
from harvest.phenology.pooled_cells import cell_frame
from harvest.phenology.pooled_effects import Priors
from harvest.phenology.weather_ahead import ahead_variance, relative_spread
from harvest.thermal.degree_hours import LINEAR_BASE_C, LINEAR_OPTIMUM_C, PEACH_FRUIT_C

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BASES_C = (0.0, 4.5, 7.0)
CUT_OFF = degree_day_clock(4.5, 20.0)
# Base, optimum and critical temperature of degree hours [degC]; the early candidate's is the last.
CURVES_C = ((0.0, 20.0, 45.0), (4.0, 20.0, 45.0))
# Slope of the interval on days of earlier or later bloom: prior mean and spread [d d-1].
BLOOM_SLOPE = (-0.15, 0.2)
SITE_SD = 5.0
EARLY = "degree hours of the first month, then days (Ben Mimoun & DeJong 1999)"
# Days after bloom whose warmth the early candidate counts [d].
EARLY_DAYS = 30
# Seasons that the usual heat of the prior's days is worth in a cultivar's requirement.
REQUIREMENT_WORTH = 0.5
BLOOM_WORTH = 1.0
# Where no clock knows how far off a date is [d].
UNKNOWN_AHEAD_DAYS = 60.0


def ripening_clocks(base_c: float, asked: Collection[str] = ()) -> list[ClockKind]:
    """Clocks for a species whose usual base is `base_c` [degC], and others asked for by name.

    The last is the one that the early candidate counts the first month by.
    """
    bases = sorted({*BASES_C, base_c})
    wanted = [kind for kind in other_clocks() if kind.name in asked]
    curves = [degree_hour_clock(*curve) for curve in CURVES_C]
    return [DAYS, *map(degree_day_clock, bases), CUT_OFF, *wanted, DEGREE_HOURS, *curves]


def other_clocks() -> list[ClockKind]:
    """Clocks by other temperatures, to be scored alone: a very low base, cut-offs, curves.

    Degree hours: linear as published (Richardson et al. 1975) and level from 20 degC, the curve
    of peach fruit (Marra et al. 2002), and that of Anderson et al. 1986 with other bases.
    """
    linear = [(LINEAR_BASE_C, LINEAR_OPTIMUM_C), (LINEAR_BASE_C, 20.0)]
    curves = [tuple(PEACH_FRUIT_C.values()), (0.0, 25.0, 36.0), (7.0, 25.0, 36.0)]
    return [
        degree_day_clock(-5.0),
        *(degree_day_clock(4.5, upper_c) for upper_c in (25.0, math.inf)),
        *(degree_hour_clock(*each) for each in [*linear, *curves]),
    ]


@dataclass(frozen=True)
class CultivarPriors:
    """Days from full bloom to ripe by cultivar number: mean and spread [d]."""

    mean: Floats
    sd: Floats


def ripening_model(clocks: tuple[str, ...] | None = None) -> PooledDates:
    """The model of days from bloom to ripe; by all clocks, or by those named."""
    return PooledDates(Priors(site_sd=SITE_SD, covariates=(BLOOM_SLOPE,)), clocks)


def predict_intervals(
    cells: Cells, priors: CultivarPriors, sites: dict[int, SiteNow], model: PooledDates
) -> Prediction:
    """Days from full bloom to ripe of the cells without a value [d]."""
    return fit_and_predict(model, interval_cells(cells, priors, sites), cells.value)


def interval_cells(cells: Cells, priors: CultivarPriors, sites: dict[int, SiteNow]) -> pd.DataFrame:
    """What is known of each cell by its day of the season, as `PooledDates` takes it."""
    clocks, bloom_ahead, spread = _site_by_site(cells, priors, sites)
    return cell_frame(
        labels={
            "cultivar": cells.cultivar,
            "site": cells.site,
            "season": renumbered(cells.site, cells.season),
            "year": cells.season,
        },
        numbers={
            "trees": cells.trees,
            "spread": spread,
            "prior_mean": priors.mean[cells.cultivar],
            "prior_sd": priors.sd[cells.cultivar],
        },
        clocks=clocks,
        covariates={"earliness of bloom": bloom_ahead},
    )


def _site_by_site(
    cells: Cells, priors: CultivarPriors, sites: dict[int, SiteNow]
) -> tuple[dict[str, Floats], Floats, Floats]:
    """Advance by each clock [d], earliness of bloom [d] and relative spread of every cell."""
    names = next((names_of(now.clocks) for now in sites.values() if now.clocks), (DAYS.name,))
    advance = {name: np.zeros(len(cells)) for name in (*names, EARLY)}
    bloom_ahead = np.zeros(len(cells))
    spread = np.ones(len(cells))
    for site in np.unique(cells.site):
        at = np.flatnonzero(cells.site == site)
        now = sites[int(site)]
        local = _LocalCells(cells.take(at), priors, now)
        bloom_ahead[at] = local.bloom_ahead
        if not now.clocks:
            continue
        both = [local.advance(clock, local.known_to) for clock in now.clocks]
        early, _ = local.advance(now.clocks[-1], local.early())
        for name, days in zip(advance, [*(ahead for ahead, _ in both), early], strict=True):
            advance[name][at] = np.nan_to_num(days, nan=0.0)
        due = np.mean([ahead + usual for ahead, usual in both], axis=0)
        left = np.nan_to_num(local.bloom + due - local.known_to, nan=UNKNOWN_AHEAD_DAYS)
        reference = now.clocks[len(now.clocks) // 2]
        spread[at] = relative_spread(left, ahead_variance(reference, now.known_to))
    return advance, bloom_ahead, spread


class _LocalCells:
    """Cells of one species at one site."""

    def __init__(self, cells: Cells, priors: CultivarPriors, now: SiteNow) -> None:
        self.bloom = cells.bloom
        self.known_to = now.known_in(cells.season)
        self._whole = np.floor(cells.bloom).astype(np.int64)
        self._ripe = cells.bloom + cells.value
        self._prior_days = priors.mean[cells.cultivar]
        self._cultivar = renumbered(cells.cultivar)
        day = self.bloom - now.starts(cells.season) + 1.0
        usual = shrunk_means(day, self._cultivar, BLOOM_WORTH)
        self.bloom_ahead = day - usual
        self._slot = season_slot(usual, now.latitude)

    def early(self) -> Ints:
        """Last day of weather that the early candidate looks at, for each cell."""
        return np.minimum(self.known_to, self._whole + EARLY_DAYS)

    def advance(self, clock: Clock, known_to: Ints) -> tuple[Floats, Floats]:
        """Days by which each interval runs longer than usual by one clock, and the usual ones.

        The usual year follows after the day `known_to` of each cell.
        """
        known = ~np.isnan(self._ripe)
        done = np.full(len(self.bloom), np.nan)
        ripe = np.floor(self._ripe[known]).astype(np.int64)
        done[known] = clock.progress(self._whole[known], ripe)
        start = clock.usual_reading(self._slot)
        prior = clock.usual_reading(self._slot + self._prior_days) - start
        need = self._requirement(done, prior)
        usual = clock.usual_days(self._slot, need)
        return clock.due(self._whole, need, known_to) - self._whole - usual, usual

    def _requirement(self, done: Floats, prior: Floats) -> Floats:
        """Progress a cultivar needs: the mean of its seasons and a little of its prior."""
        good = ~np.isnan(done)
        size = int(self._cultivar.max()) + 1
        total = np.bincount(self._cultivar[good], done[good], minlength=size)[self._cultivar]
        count = np.bincount(self._cultivar[good], minlength=size)[self._cultivar]
        return np.asarray((total + REQUIREMENT_WORTH * prior) / (count + REQUIREMENT_WORTH))
