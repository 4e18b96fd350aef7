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
    """Return rows c0, c1, c2 for decay, gain and kept: c0 + f (c1 + f c2), f = 0..1 in a step."""
    steps = round((WARMEST_C - COLDEST_C) * STEPS_PER_DEGREE)
    nodes = np.arange(2 * steps + 3) / (2 * STEPS_PER_DEGREE) + COLDEST_C  # and halfway
    values = np.empty((3, nodes.size))
    coefficients(nodes + kelvin_offset, *values)
    start, middle, end = values[:, 0:-1:2], values[:, 1::2], values[:, 2::2]
    bend = 2.0 * (start + end - 2.0 * middle)
    table = np.stack([start, end - start - bend, bend], axis=-1)
    return np.ascontiguousarray(table.transpose(1, 0, 2).reshape(-1, 9))


def _compile(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile, and keep the result on disk where there is a place for it."""
    options = {"nogil": True, "error_model": "numpy", "fastmath": {"contract"}}
    try:
        return numba.njit(cache=True, **options)(function)  # type: ignore[no-any-return]
    except RuntimeError:
        return numba.njit(**options)(function)  # type: ignore[no-any-return]


def _walk_in_python(
    temperature: FloatArray, table: Hours, intermediate: Hours, portions: Hours, totals: Hours
) -> bool:
    last = np.float64(table.shape[0] - 1)
    for row in _unsigned(temperature.shape[0]):
        level, total = intermediate[row], portions[row]
        for hour in _unsigned(temperature.shape[1]):
