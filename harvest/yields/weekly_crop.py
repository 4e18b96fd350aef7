"""How much fruit each coming week brings: dates of ripeness times expected crops.

Picking is taken to spread evenly from ripe to the last pick (common practice, no source). Dates
and weights are drawn together many times: a good season is good for all trees of a site more than
by chance, and trees of a cultivar there ripen together. The draws are the same each time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from harvest.seasons import MONDAY, Floats, week_start
from harvest.yields.result import CropEstimate, CropToCome, WeekCrop, WeekLoad

DRAWS = 400
LEVELS = (0.1, 0.5, 0.9)
# How much of a season's luck the trees of a site share (correlation) [judgement].
SHARED_LUCK = 0.5
# A week is called a glut above so many times the middle one of the weeks with fruit, and empty
# below this share of the largest [judgement].
GLUT, EMPTY = 2.0, 0.01
LEAST_KG = 0.5


@dataclass(frozen=True)
class PickingWindow:
    """When one tree is ripe and when picking ends: date by probability, one if it is known."""

    ripe: Mapping[float, date]
    last: Mapping[float, date]


def weekly_crop(
    estimates: Sequence[CropEstimate],
    windows: Mapping[tuple[str, int], PickingWindow],
    as_of: date,
    begins: int = MONDAY,
) -> tuple[list[WeekCrop], list[CropToCome]]:
    """Weeks from the as-of date's to the last with fruit, and all of them.

    Parameters
    ----------
    estimates : of trees whose season is running. windows : by tree and season; a tree without
        one, or with nothing left to pick, is left out.
    begins : the weekday on which weeks begin, as `date.weekday` counts: 0 Monday.

    Returns
    -------
    Per site and week the weight at 10, 50 and 90 % and its mean [kg], the chance of any fruit,
    weight by cultivar, and whether it is a glut, a usual week or an empty one between others; and
    per site and season the weight still to come.
    """
    weeks: list[WeekCrop] = []
    whole: list[CropToCome] = []
    for site in sorted({each.site for each in estimates}):
        here = [
            each for each in estimates if each.site == site and (each.tree, each.season) in windows
        ]
        here = [each for each in here if each.kg[0.9] > each.picked_so_far_kg]
        if here:
            kg, random = _crops_drawn(here)
            whole += _to_come(site, here, kg)
            weeks += _weeks_of(site, here, kg, windows, (as_of, begins, random))
    return weeks, whole


def _crops_drawn(here: list[CropEstimate]) -> tuple[Floats, np.random.Generator]:
    """Weight still to come of each tree in every draw [kg], shape (trees, draws)."""
    from scipy.special import ndtr

    random = np.random.default_rng(0)
    luck = np.sqrt(SHARED_LUCK) * random.standard_normal(DRAWS)
    luck = luck + np.sqrt(1 - SHARED_LUCK) * random.standard_normal((len(here), DRAWS))
    kg = np.array([_drawn(each.kg, share) for each, share in zip(here, ndtr(luck), strict=True)])
    return np.maximum(kg - np.array([[each.picked_so_far_kg] for each in here]), 0.0), random


def _to_come(site: str, here: list[CropEstimate], kg: Floats) -> list[CropToCome]:
    seasons = np.array([each.season for each in here])
    found = []
    for season in sorted(set(seasons.tolist())):
        total = kg[seasons == season].sum(axis=0)
        levels = zip(LEVELS, np.quantile(total, LEVELS), strict=True)
        found.append(
            CropToCome(
                site=site,
                season=season,
                trees=int((seasons == season).sum()),
                kg={level: round(float(at), 2) for level, at in levels},
            )
        )
    return found


def _weeks_of(
    site: str,
    here: list[CropEstimate],
    kg: Floats,
    windows: Mapping[tuple[str, int], PickingWindow],
    drawn: tuple[date, int, np.random.Generator],
) -> list[WeekCrop]:
    as_of, weekday, random = drawn
    start = week_start(as_of, weekday)
    cultivars = sorted({each.cultivar for each in here})
    kind = np.array([cultivars.index(each.cultivar) for each in here])
    own = [windows[each.tree, each.season] for each in here]
    early = random.random((len(cultivars), DRAWS))[kind]
    begins, ends = (
        np.array([_days(dates, share, start) for dates, share in zip(known, early, strict=True)])
        for known in ([each.ripe for each in own], [each.last for each in own])
    )
    today = float((as_of - start).days)
    begins = np.maximum(begins, today)
    ends = np.maximum(ends + 1, begins + 1)
    weeks = int(np.ceil(ends.max() / 7))
    total = np.zeros((weeks, DRAWS))
    of_kind = np.zeros((weeks, len(cultivars)))
    for week in range(weeks):
        inside = np.minimum(ends, 7.0 * week + 7) - np.maximum(begins, 7.0 * week)
        picked = kg * np.clip(inside, 0, None) / (ends - begins)
        total[week] = picked.sum(axis=0)
        of_kind[week] = np.bincount(kind, picked.mean(axis=1), len(cultivars))
    return _rows(site, start, cultivars, total, of_kind)


def _rows(
    site: str, first: date, cultivars: list[str], total: Floats, of_kind: Floats
) -> list[WeekCrop]:
    mean = total.mean(axis=1)
    # A long thin end is told until all but a hundredth of the fruit is in.
    last = int(np.searchsorted(np.cumsum(mean), (1 - EMPTY) * mean.sum()))
    told = (mean > EMPTY * mean.max()) | ((np.arange(len(mean)) == last) & (mean > 0))
    filled = np.flatnonzero(told)
    usual = float(np.median(mean[filled])) if filled.size else 0.0
    rows = []
    for week in range(int(filled.max()) + 1 if filled.size else 0):
        load: WeekLoad = "usual"
        if week not in filled:
            load = "nothing"
        elif mean[week] > GLUT * usual:
            load = "glut"
        parts = {
            name: round(float(part), 2)
            for name, part in zip(cultivars, of_kind[week], strict=True)
            if part >= LEAST_KG / 10
        }
        levels = np.quantile(total[week], LEVELS)
        rows.append(
            WeekCrop(
                site=site,
                start=first + timedelta(weeks=week),
                kg={level: round(float(at), 2) for level, at in zip(LEVELS, levels, strict=True)},
                mean_kg=round(float(mean[week]), 2),
                chance=round(float((total[week] >= LEAST_KG).mean()), 3),
                load=load,
                by_cultivar=parts,
            )
        )
    return rows


def _drawn(kg: Mapping[float, float], share: Floats) -> Floats:
    """Weights at some probabilities, the ends drawn out a little beyond the outermost known."""
    at = np.array(sorted(kg))
    known = np.array([kg[level] for level in at])
    low, high = max(2 * known[0] - known[1], 0.0), 2 * known[-1] - known[-2]
    return np.asarray(np.interp(share, [0.0, *at, 1.0], [low, *known, high]))


def _days(dates: Mapping[float, date], share: Floats, first: date) -> NDArray[np.float64]:
    """Days after the first week's beginning at some probabilities."""
    at = np.array(sorted(dates))
    days = np.array([(dates[level] - first).days for level in at], dtype=float)
    return np.asarray(np.interp(share, at, days))
