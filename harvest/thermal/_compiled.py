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


def walk_compiled(walk: Walk) -> bool:
    """Go through each series hour by hour; False, half done, where a value is not plausible."""
    table = _table(walk.kelvin_offset)
    plausible: list[bool] = []

    def go(part: slice) -> None:
        piece = walk.part(part)
        plausible.append(
            _walk(piece.temperature, table, piece.intermediate, piece.portions, piece.totals)
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
    temperature: FloatArray, table: Hours, intermediate: Hours, portions: Hours, totals: Hours
) -> bool:
    # Unsigned indices spare the test for indices that count from the end.
    series, hours = np.uint64(temperature.shape[0]), np.uint64(temperature.shape[1])
    last = np.float64(table.shape[0] - 1)
    for row in range(series):
        level, total = intermediate[row], portions[row]
        for hour in range(hours):
            step = (np.float64(temperature[row, hour]) - COLDEST_C) * STEPS_PER_DEGREE
            if not 0.0 <= step <= last:
                if step == step:
                    return False
                level = total = np.nan  # missing, and so is everything after
                step = np.float64(0.0)
            at = np.uint64(step)
            f = step - np.float64(np.int64(at))
            decay = table[at, 0] + f * (table[at, 1] + f * table[at, 2])
            gain = table[at, 3] + f * (table[at, 4] + f * table[at, 5])
            level = level * decay + gain
            if level >= 1.0:
                fixed = level * (table[at, 6] + f * (table[at, 7] + f * table[at, 8]))
                level -= fixed
                total += fixed
            totals[row, hour] = total
        intermediate[row], portions[row] = level, total
    return True


_walk = _compile(_walk_in_python)
