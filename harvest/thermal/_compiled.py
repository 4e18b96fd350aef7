"""The Dynamic Model in compiled code. Only imported where numba is there and the work is large.

The three coefficients come from a table every hundredth of a degree with a parabola between, so
that temperatures read to 0.1 degC meet the formula itself; elsewhere they differ from it by less
than 1e-8.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numba
import numpy as np

from harvest.thermal._checks import COLDEST_C, WARMEST_C, FloatArray
from harvest.thermal._chunks import cores, equal_parts, spread_over_cores
from harvest.thermal._dynamic_model import Hours, Walk, coefficients

STEPS_PER_DEGREE = 100
HOURS_AT_ONCE = 128


def walk_compiled(walk: Walk) -> bool:
    """Go through each series hour by hour; False, half done, where a value is not plausible."""
    table = _table(walk.kelvin_offset)
    plausible: list[bool] = []

    def go(part: slice) -> None:
        piece = walk.part(part)
        plausible.append(
            _walk(
                piece.temperature,
                table,
                piece.intermediate,
                piece.portions,
                piece.totals,
                np.uint64(piece.every),
            )
        )

    with spread_over_cores(worthwhile=True) as spread:
        spread(go, equal_parts(len(walk.temperature), 4 * cores()))
    return all(plausible)


@lru_cache(maxsize=4)
def _table(kelvin_offset: float) -> Hours:
    """Return rows c0, c1, c2 for decay, gain and xi: c0 + f (c1 + f c2), f = 0..1 in a step."""
    steps = round((WARMEST_C - COLDEST_C) * STEPS_PER_DEGREE)
    nodes = np.arange(2 * steps + 3) / (2 * STEPS_PER_DEGREE) + COLDEST_C  # and halfway
    values = np.empty((3, nodes.size))
    coefficients(nodes + kelvin_offset, *values)
    start, middle, end = values[:, 0:-1:2], values[:, 1::2], values[:, 2::2]
    bend = 2.0 * (start + end - 2.0 * middle)
    table = np.stack([start, end - start - bend, bend], axis=-1)
    return np.ascontiguousarray(table.transpose(1, 0, 2).reshape(-1, 9))


def _compile(function: Callable[..., bool]) -> Callable[..., bool]:
    """Compile, and keep the result on disk where there is a place for it."""
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy", "fastmath": {"contract"}}
    compiled: Callable[..., bool]
    try:
        compiled = numba.njit(cache=True, **options)(function)
    except RuntimeError:
        compiled = numba.njit(**options)(function)
    return compiled


def _walk_in_python(
    temperature: FloatArray,
    table: Hours,
    intermediate: Hours,
    portions: Hours,
    totals: Hours,
    every: np.uint64,
) -> bool:
    # Two passes over some hours at a time: the first has no order to keep, so that the compiler
    # can work on several hours at once. Unsigned indices spare the test for counting from the end.
    series, hours = np.uint64(temperature.shape[0]), np.uint64(temperature.shape[1])
    last = table.shape[0] - 1.0
    at, share = np.empty(HOURS_AT_ONCE, dtype=np.uint64), np.empty(HOURS_AT_ONCE)
    for row in range(series):
        level, total = intermediate[row], portions[row]
        column, left = np.uint64(0), every
        for start in range(np.uint64(0), hours, np.uint64(HOURS_AT_ONCE)):
            count = min(np.uint64(HOURS_AT_ONCE), hours - start)
            outside = 0
            for k in range(count):
                step = (np.float64(temperature[row, start + k]) - COLDEST_C) * STEPS_PER_DEGREE
                outside += (step < 0.0) | (step > last)
                whole = np.int64(step) if step == step else np.int64(0)
                at[k] = whole
                share[k] = step - np.float64(whole)  # nan where missing
            if outside:
                return False
            for k in range(count):
                i, f = at[k], share[k]
                decay = table[i, 0] + f * (table[i, 1] + f * table[i, 2])
                gain = table[i, 3] + f * (table[i, 4] + f * table[i, 5])
                level = level * decay + gain
                if not level < 1.0:  # reached, or missing
                    fixed = level * (table[i, 6] + f * (table[i, 7] + f * table[i, 8]))
                    level -= fixed
                    total += fixed
                left -= np.uint64(1)
                if left == np.uint64(0):
                    totals[row, column] = total
                    column += np.uint64(1)
                    left = every
        intermediate[row], portions[row] = level, total
    return True


_walk = _compile(_walk_in_python)
