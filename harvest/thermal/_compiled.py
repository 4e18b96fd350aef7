"""The Dynamic Model in compiled code. Only imported where numba is there and the work is large.

The three coefficients come from polynomials between the tenths of a degree, so that temperatures
read to 0.1 degC meet the formula itself; elsewhere they differ from it by less than 3e-9, which
leaves sums the same to 1e-10. Tried, and no faster: exponentials in vector code instead of tables,
several series hand in hand, no branch where a portion is fixed (all take 24 to 35 ms of processor
time for a thousand sites and a year).
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

STEPS_PER_DEGREE = 10
ORDER, XI_ORDER = 3, 5
"""Of the polynomials for decay and gain; xi bends more sharply."""

HOURS_AT_ONCE = 32

PARTS_PER_CORE = 16
"""Many, so that a core held up by other work does not keep the rest waiting."""


def walk_compiled(walk: Walk) -> bool:
    """Go through each series hour by hour; False, half done, where a value is not plausible."""
    tables = _tables(walk.kelvin_offset)
    plausible: list[bool] = []

    def go(part: slice) -> None:
        piece = walk.part(part)
        plausible.append(
            _walk(
                piece.temperature,
                tables,
                piece.intermediate,
                piece.portions,
                piece.totals,
                None if piece.every == 1 else np.uint64(piece.every),
            )
        )

    with spread_over_cores(worthwhile=True) as spread:
        spread(go, equal_parts(len(walk.temperature), PARTS_PER_CORE * cores()))
    return all(plausible)


@lru_cache(maxsize=4)
def _tables(kelvin_offset: float) -> tuple[Hours, Hours]:
    """Return, for each step, decay's coefficients and then gain's, and those of xi."""
    decay, gain, _ = _polynomials(kelvin_offset, ORDER)
    xi = _polynomials(kelvin_offset, XI_ORDER)[2]
    return np.concatenate([decay, gain], axis=1), np.ascontiguousarray(xi)


def _polynomials(kelvin_offset: float, order: int) -> Hours:
    """Return coefficients c0, c1, ... of f = 0..1 in a step, shape (3, steps, order + 1)."""
    steps = round((WARMEST_C - COLDEST_C) * STEPS_PER_DEGREE) + 1
    nodes = np.arange(steps * order + 1) / (order * STEPS_PER_DEGREE) + COLDEST_C
    values = np.empty((3, nodes.size))
    coefficients(nodes + kelvin_offset, *values)
    through = np.arange(steps)[:, np.newaxis] * order + np.arange(order + 1)
    fitted = np.linalg.inv(np.vander(np.linspace(0.0, 1.0, order + 1), increasing=True))
    fitted[0] = np.eye(order + 1)[0]  # at the start of a step the value itself
    polynomials: Hours = values[:, through] @ fitted.T
    return polynomials


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
    tables: tuple[Hours, Hours],
    intermediate: Hours,
    portions: Hours,
    totals: Hours,
    every: np.uint64 | None,
) -> bool:
    # Two passes over some hours at a time: the first has no order to keep, so that the compiler
    # can work on several hours at once. Unsigned indices need no test for counting from the end;
    # every hour (`every` None) is compiled apart and counts no hours.
    series, hours = np.uint64(temperature.shape[0]), np.uint64(temperature.shape[1])
    table, xi_table = tables
    last = table.shape[0] - 1.0
    at, share = np.empty(HOURS_AT_ONCE, dtype=np.uint64), np.empty(HOURS_AT_ONCE)
    for row in range(series):
        level, total = intermediate[row], portions[row]
        column, left = np.uint64(0), np.uint64(1) if every is None else every
        for start in range(np.uint64(0), hours, np.uint64(HOURS_AT_ONCE)):
            count, outside = min(np.uint64(HOURS_AT_ONCE), hours - start), 0
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
                decay = table[i, 0] + f * (table[i, 1] + f * (table[i, 2] + f * table[i, 3]))
                gain = table[i, 4] + f * (table[i, 5] + f * (table[i, 6] + f * table[i, 7]))
                level = level * decay + gain
                if not level < 1.0:  # reached, or missing
                    xi = xi_table[i, 4] + f * xi_table[i, 5]
                    xi = xi_table[i, 2] + f * (xi_table[i, 3] + f * xi)
                    xi = xi_table[i, 0] + f * (xi_table[i, 1] + f * xi)
                    fixed = level * xi
                    level -= fixed
                    total += fixed
                if every is None:
                    totals[row, start + k] = total
                else:
                    left -= np.uint64(1)
                    if left == np.uint64(0):
                        totals[row, column] = total
                        column += np.uint64(1)
                        left = every
        intermediate[row], portions[row] = level, total
    return True


_walk = _compile(_walk_in_python)
