"""When a tree will bloom: the date of full bloom, pooled over the cultivars and sites of a species.

Thermal time is summed from several start dates and bases (for apple, cherry and the like the
best of them differ by place: Ruml et al. 2012; Drepper et al. 2020); by the as-of date each pair
says how many days the bloom is running ahead of the usual. A linear trend over the years stands
for what no clock knows.

Tried on two long cherry series, strictly forward, and left out because scores were the same or
worse: chill so far as a further term; chill then heat (30, 45 or 60 chill portions, then degree
days; pinball 0.80 instead of 0.76 of the better baseline on 15 March in Washington, 0.58 instead
of 0.56 in Basel; also beside the clocks below); sigmoid responses; a usual year that leans on
recent years; spread that follows the days left; a curved answer to the clocks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harvest.phenology.cells import Cells, SiteNow, renumbered, season_slot
from harvest.phenology.clocks import Clock, ClockKind, degree_day_clock, exponential_clock
from harvest.phenology.pooled import Panel, Prediction, Priors, predict

Floats = NDArray[np.float64]

BASES_C = (0.0, 4.0, 8.0)
GROWTHS = (0.07, 0.105, 0.14)
# Start of the sums, days before the usual bloom of the species at the site [d].
STARTS_BEFORE = (95.0, 65.0)
CULTIVAR_SD = 5.0
TREND = (-1.0, 1.5)
"""Shift of bloom per ten years: prior mean and spread [d per decade]. Spring came 2.5 days a
decade sooner in Europe, 1971-2000 (Menzel et al. 2006, Global Change Biology 12:1969-1976, from
memory); less is taken, since not every place warms as fast."""
SEASON_VARIANCE, NOISE_VARIANCE = 25.0, 4.0
FREEDOM = 12.0
USUAL_WORTH = 1.0


def blooming_clocks() -> list[ClockKind]:
    """Clocks that thermal time before bloom is counted by."""
    return [*map(degree_day_clock, BASES_C), *map(exponential_clock, GROWTHS)]


@dataclass(frozen=True)
class UsualBloom:
    """Usual day of season of full bloom of a species at each site, and its spread [d]."""

    day: dict[int, float]
    sd: float


def predict_blooms(cells: Cells, usual: UsualBloom, sites: dict[int, SiteNow]) -> Prediction:
    """Day of season of full bloom of the cells without a value [d]."""
    prior = np.array([usual.day[int(site)] for site in cells.site])
    cultivar = renumbered(cells.cultivar)
    panel = Panel(
        days=cells.value - prior,
        advance=_advance(cells, prior, sites),
        covariates=((cells.season - cells.season.max()) / 10.0)[:, None],
        cultivar=cultivar,
        site=renumbered(cells.site),
        season=renumbered(cells.site, cells.season),
        trees=cells.trees,
        spread=np.ones(len(cells)),
        prior_mean=np.zeros(int(cultivar.max()) + 1),
        prior_sd=np.full(int(cultivar.max()) + 1, CULTIVAR_SD),
    )
    priors = Priors(
        site_sd=usual.sd,
        covariates=(TREND,),
        season_variance=SEASON_VARIANCE,
        noise_variance=NOISE_VARIANCE,
        freedom=FREEDOM,
    )
    return predict(panel, priors).shifted(prior[np.isnan(cells.value)])


def _advance(cells: Cells, prior: Floats, sites: dict[int, SiteNow]) -> Floats:
    """Days by which each clock and start date puts each cell's bloom after the usual one."""
    clocks = max((len(now.clocks) for now in sites.values()), default=0) or 1
    advance = np.zeros((clocks * len(STARTS_BEFORE), len(cells)))
    for site in np.unique(cells.site):
        at = np.flatnonzero(cells.site == site)
        now = sites[int(site)]
        if not now.clocks:
            continue
        local = cells.take(at)
        known = local.value[~np.isnan(local.value)]
        usual = (known.sum() + USUAL_WORTH * prior[at[0]]) / (len(known) + USUAL_WORTH)
        lines = [
            _one_advance(clock, now, local, usual, usual - before)
            for clock in now.clocks
            for before in STARTS_BEFORE
        ]
        advance[:, at] = np.nan_to_num(lines, nan=0.0)
    return advance


def _one_advance(clock: Clock, now: SiteNow, cells: Cells, usual: float, begin: float) -> Floats:
    """Days after the usual bloom by one clock summed from day of season `begin` [d]."""
    first = now.starts(cells.season)
    start = first + round(begin) - 2
    seen = ~np.isnan(cells.value)
    bloom = first[seen] + np.floor(cells.value[seen]).astype(np.int64) - 1
    done = clock.reading(bloom) - clock.reading(start[seen])
    slot = season_slot(np.array([round(begin) - 1.0]), now.latitude)
    prior = clock.usual_reading(slot + (usual - begin + 1.0)) - clock.usual_reading(slot)
    good = ~np.isnan(done)
    need = (done[good].sum() + USUAL_WORTH * prior[0]) / (good.sum() + USUAL_WORTH)
    length = clock.usual_days(slot, np.array([need]))
    due = clock.due(start, np.full(len(start), need), now.known_in(cells.season))
    return np.asarray(due - start - length)
