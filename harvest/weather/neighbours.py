"""Records of other places brought to the level of one site, and weighed into one.

The height correction is the standard atmosphere's 6.5 degC per km (ICAO Doc 7488) on the
maximum. On the minimum half of it: on clear nights cold air lies in the valleys and the lapse
fails or turns round (common practice, no source for the half). Where two records overlap, the
mean difference of the days they share is preferred to any height.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from harvest.weather.daily import TEMPERATURES, Daily, Floats, Ints, month_of

LAPSE_C_PER_M = {"tmin_c": 0.5 * 6.5 / 1000, "tmax_c": 6.5 / 1000}
# Ours: days two records must share before their mean difference is believed, and how many days
# a month's own difference needs to count as much as the year's.
LEAST_SHARED_DAYS = 60
MONTH_PRIOR_DAYS = 60
# Ours: the distance at which a station counts half, and the height that is as bad as one km.
HALF_KM = 10.0
METRES_LIKE_A_KM = 20.0


@dataclass(frozen=True)
class Neighbour:
    """One record near a site; heights [m] may be unknown (nan)."""

    name: str
    days: Daily
    distance_km: float
    elevation_m: float = np.nan


@dataclass(frozen=True)
class Weighed:
    """Neighbours made into one record at a site's level; `share` of each in it, adding up to 1."""

    days: Daily
    share: dict[str, float]


def brought_to(target: Daily, other: Daily, rise_m: float = 0.0) -> Daily:
    """The other record at the level of the target.

    Parameters
    ----------
    target, other : records; where they share enough days the mean difference of each month is
        added (pulled towards that of the whole year where the month has few shared days).
    rise_m : how much higher the target lies [m], used where they share too few days; nan: unknown,
        no correction.
    """
    columns = dict(other.columns)
    shared = target.between(other.start, len(other))
    month = month_of(other.dates) - 1
    for name in TEMPERATURES:
        difference = shared.columns[name] - other.columns[name]
        if (~np.isnan(difference)).sum() >= LEAST_SHARED_DAYS:
            columns[name] = other.columns[name] + _by_month(difference, month)[month]
        else:
            columns[name] = other.columns[name] - LAPSE_C_PER_M[name] * np.nan_to_num(rise_m)
    return _uncrossed(Daily(other.start, columns))


def _by_month(difference: Floats, month: Ints) -> Floats:
    """Mean difference of each month, smoothed over its neighbours, shape (12,)."""
    known = ~np.isnan(difference)
    total = np.bincount(month[known], difference[known], minlength=12)
    count = np.bincount(month[known], minlength=12).astype(float)
    total, count = (np.roll(a, 1) + a + np.roll(a, -1) for a in (total, count))
    mean = float(difference[known].mean())
    return np.asarray((total + MONTH_PRIOR_DAYS * mean) / (count + MONTH_PRIOR_DAYS))


def _uncrossed(days: Daily) -> Daily:
    """Where a correction put the minimum above the maximum, both at their middle."""
    low, high = days.columns["tmin_c"], days.columns["tmax_c"]
    crossed = low > high
    if not crossed.any():
        return days
    middle = (low + high) / 2
    columns = {
        **days.columns,
        "tmin_c": np.where(crossed, middle, low),
        "tmax_c": np.where(crossed, middle, high),
    }
    return Daily(days.start, columns)


def weigh_neighbours(
    neighbours: Sequence[Neighbour], elevation_m: float, own: Daily | None = None
) -> Weighed:
    """One record for a site from those around it.

    Every neighbour is first brought to the level of the one that counts most, by the days they
    share, so that the record does not jump on a day when one of them is missing; that level is
    brought to the site by the site's own measured days where there are enough, else by height.
    Each day is the mean of the neighbours that have it, weighed by 1 / (1 + (d / 10 km)^2) with
    the distance d lengthened by the difference in height (20 m as 1 km); rain is that of the
    neighbour that weighs most. Wind is weighed as it was measured, never corrected for height.

    Parameters
    ----------
    neighbours : at least one.
    elevation_m : height of the site [m]; nan: unknown, no correction for height.
    own : the site's own measured days, if any.
    """
    weights = np.array([_weight(one, elevation_m) for one in neighbours])
    lengths = np.array([np.isfinite(one.days.columns["tmax_c"]).sum() for one in neighbours])
    first = neighbours[int(np.argmax(weights * lengths))]
    levelled = [
        first.days
        if one is first
        else brought_to(first.days, one.days, _rise(one, first.elevation_m))
        for one in neighbours
    ]
    mean, share = _mean(levelled, weights)
    at_site = brought_to(own or _nothing(mean), mean, _rise(first, elevation_m))
    return Weighed(at_site, {n.name: float(s) for n, s in zip(neighbours, share, strict=True)})


def _weight(one: Neighbour, elevation_m: float) -> float:
    apart_m = 0.0 if np.isnan(one.elevation_m - elevation_m) else one.elevation_m - elevation_m
    away = one.distance_km + abs(apart_m) / METRES_LIKE_A_KM
    return 1 / (1 + (away / HALF_KM) ** 2)


def _rise(one: Neighbour, elevation_m: float) -> float:
    """How much higher a place lies than a neighbour [m]."""
    return elevation_m - one.elevation_m


def _nothing(like: Daily) -> Daily:
    """A record without a single value."""
    return like.between(like.start - len(like), len(like))


def _mean(records: Sequence[Daily], weights: Floats) -> tuple[Daily, Floats]:
    """Weighted mean of the records that have each day; the share of each in the whole."""
    start = min(record.start for record in records)
    end = max(record.start + len(record) for record in records)
    length = int((end - start).astype(np.int64))
    spread = [record.between(start, length) for record in records]
    columns: dict[str, Floats] = {}
    share = np.zeros(len(records))
    for name in spread[0].columns:
        values = np.stack([record.columns[name] for record in spread])
        counts = np.where(np.isnan(values), 0.0, weights[:, None])
        total = counts.sum(axis=0)
        known = total > 0
        counts[:, known] /= total[known]
        summed = (counts * np.nan_to_num(values)).sum(axis=0)
        columns[name] = np.where(known, summed, np.nan)
        if name == "precip_mm":  # a mean of two showers is drizzle: one neighbour's rain
            columns[name] = values[counts.argmax(axis=0), np.arange(length)]
        if name in TEMPERATURES and known.any():
            share += counts[:, known].mean(axis=1) / len(TEMPERATURES)
    # A day counts only as a pair: both its temperatures, of whichever neighbours.
    whole = ~np.isnan(columns["tmin_c"]) & ~np.isnan(columns["tmax_c"])
    for name in TEMPERATURES:
        columns[name] = np.where(whole, columns[name], np.nan)
    total_share = share.sum()
    return Daily(start, columns), share / total_share if total_share > 0 else share
