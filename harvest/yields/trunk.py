"""Trunk girths: cross-section, and the girth of a trunk on a day between two measurements."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from harvest.errors import QuantityError
from harvest.seasons import Dates, Floats

# A trunk measured every winter always has a measurement within eleven months of a picking.
REACH_DAYS = 330.0
# Room for the days of one tree on the common axis that all trees are searched on.
_SPAN = 1 << 22


def trunk_cross_section(girth_cm: ArrayLike) -> Floats:
    """Cross-section of a trunk from its girth, taken as a circle: girth^2 / (4 pi).

    Parameters
    ----------
    girth_cm : girth [cm], any shape; nan (not measured) stays nan.

    Returns
    -------
    Cross-section [cm2], same shape.

    Raises
    ------
    QuantityError : a girth is zero, negative or infinite.
    """
    girth = np.asarray(girth_cm, dtype=float)
    wrong = (girth <= 0) | np.isinf(girth)
    if wrong.any():
        raise QuantityError(
            "a trunk girth above 0 cm is needed",
            given=f"{girth[wrong].flat[0]:g} cm",
            todo="Measure round the trunk 25 to 30 cm above the graft.",
        )
    area: Floats = np.square(girth) / (4 * np.pi)
    return area


class GirthsOn(NamedTuple):
    """Girths on given days [cm], nan where unknown, and the measurement nearest to each day."""

    girth_cm: Floats
    measured: Dates


def girths_on(
    girths: pd.DataFrame, trees: ArrayLike, days: ArrayLike, *, reach_days: float = REACH_DAYS
) -> GirthsOn:
    """Girth of each tree on its day, on a straight line between the measurements around it.

    Before a tree's first measurement and after its last the nearest one holds for at most
    `reach_days`; beyond that the girth is unknown. Nothing is extended along a slope.

    Parameters
    ----------
    girths : columns tree, date, girth_cm; at most one row per tree and date.
    trees, days : names and dates (datetime64), shape (n,); NaT gives an unknown girth.
    reach_days : how far a single measurement is trusted [d].

    Returns
    -------
    Girths [cm] and dates of the nearest measurement, shape (n,).
    """
    wanted_day = np.asarray(days, dtype="datetime64[D]")
    codes, names = pd.factorize(girths["tree"].to_numpy(dtype=object))
    wanted = pd.Index(names, dtype=object).get_indexer(np.asarray(trees, dtype=object))
    key = codes.astype(np.int64) * _SPAN + _day_numbers(girths["date"].to_numpy())
    order = np.argsort(key, kind="stable")
    key = key[order]
    girth = girths["girth_cm"].to_numpy(dtype=float)[order]
    known = (wanted >= 0) & ~np.isnat(wanted_day)
    sought = wanted.astype(np.int64) * _SPAN + _day_numbers(wanted_day)
    after = np.searchsorted(key, sought, side="right")
    return _between(
        _Side.of(after - 1, key, girth, sought, known),
        _Side.of(after, key, girth, sought, known),
        wanted_day,
        reach_days,
    )


class _Side(NamedTuple):
    """The measurement on one side of each sought day: girth [cm] and distance [d], nan if none."""

    girth_cm: Floats
    distance: Floats

    @classmethod
    def of(
        cls,
        at: NDArray[np.int64],
        key: NDArray[np.int64],
        girth: Floats,
        sought: NDArray[np.int64],
        known: NDArray[np.bool_],
    ) -> _Side:
        inside = known & (at >= 0) & (at < key.size)
        place = np.where(inside, at, 0)
        if key.size == 0:
            nothing = np.full(sought.shape, np.nan)
            return cls(nothing, nothing)
        inside &= key[place] // _SPAN == sought // _SPAN
        return cls(
            np.where(inside, girth[place], np.nan),
            np.where(inside, np.abs(sought - key[place]), np.nan),
        )


def _between(before: _Side, after: _Side, day: Dates, reach_days: float) -> GirthsOn:
    share = before.distance / (before.distance + after.distance)
    girth = before.girth_cm + share * (after.girth_cm - before.girth_cm)
    for side in (before, after):
        alone = np.isnan(girth) & (side.distance <= reach_days)
        girth = np.where(alone, side.girth_cm, girth)
    nearest = np.fmin(before.distance, after.distance)
    earlier = before.distance == nearest
    step = np.where(np.isnan(girth), 0.0, np.where(earlier, -nearest, nearest))
    measured = day + step.astype("timedelta64[D]")
    return GirthsOn(girth, np.where(np.isnan(girth), np.datetime64("NaT", "D"), measured))


def _day_numbers(days: ArrayLike) -> NDArray[np.int64]:
    """Whole days since the year 1, so that none is negative; 0 for NaT."""
    day = np.asarray(days, dtype="datetime64[D]")
    first = np.datetime64("0001-01-01", "D")
    return np.where(np.isnat(day), 0, (day - first).astype(np.int64))
