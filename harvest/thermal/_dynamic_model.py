"""The Dynamic Model hour by hour: its coefficients and the step from one hour to the next.

An intermediate product builds up in the cold and decays in the warm; when it reaches 1 a share
of it, xi, is fixed as a portion of chill for good (Fishman, Erez & Couvillon 1987, J. Theor.
Biol. 124:473-483 and 126:309-321; constants as listed for Erez, Fishman, Linsley-Noakes & Allan
1990, Acta Hortic. 276:165-174; recurrences from memory). With S the intermediate at the start of
the hour and xs, k1, xi functions of the hour's temperature:

    E = xs - (xs - S) exp(-k1)  =  S decay + gain,    decay = exp(-k1), gain = xs (1 - decay)
    E <  1:  S = E
    E >= 1:  S = E - xi E,    portions += xi E

Three ways walk through the hours, chosen by what there is to do: one hour at a time for a few
series, all series at once for many, compiled code for very many where numba is installed.

For many, a third of the time goes into the four exponentials, a third into the steps and the rest
into the other passes over the hours. Tried, and no faster: steps in one thread while the next
hours are prepared in another (each call hands the interpreter over), smaller pieces, tables in
place of the exponentials (taking a value from a table costs as much), totals left for later.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from harvest.thermal._checks import CHUNK, FloatArray, plausible
from harvest.thermal._chunks import cores, equal_parts, spread_over_cores

Hours = npt.NDArray[np.float64]

E0: Final = 4153.5  # K
E1: Final = 12888.8  # K
A0: Final = 139500.0  # per hour
A1: Final = 2.567e18  # per hour
SLOPE: Final = 1.6
TF: Final = 277.0  # K
LOG2_E: Final = math.log2(math.e)
EXP_SLOPE_TF: Final = math.exp(SLOPE * TF)

FEW_SERIES = 20
"""Below this many series a plain loop is faster than whole-array steps (measured)."""

WIDEST = 4096
"""Series side by side at most, so that a step stays in the cache."""

COMPILED_FROM = 5_000_000
"""Site-hours from which loading compiled code pays (measured)."""

BLOCK = 2**18
"""Site-hours whose coefficients are held at a time: 8 MB."""


@dataclass(slots=True)
class Walk:
    """Hourly temperatures [degC] of some series and what the model makes of them.

    `temperature` has shape (series, hours), `totals`, after each `every` hours, (series, hours //
    every), the others (series,); `intermediate` and `portions` enter as they stand before the
    first hour and leave as after the last.
    """

    temperature: FloatArray
    kelvin_offset: float
    intermediate: Hours
    portions: Hours
    totals: Hours
    every: int = 1

    def part(self, series: slice) -> Walk:
        """Return the same walk for some of the series, sharing memory."""
        return Walk(
            self.temperature[series],
            self.kelvin_offset,
            self.intermediate[series],
            self.portions[series],
            self.totals[series],
            self.every,
        )

    def kept(self, start: int, count: int) -> tuple[slice, slice]:
        """Which of `count` hours from `start` on have their total kept, and its columns."""
        first = -(start + 1) % self.every
        column = (start + first) // self.every
        shown = slice(first, count, self.every)
        return shown, slice(column, column + len(range(first, count, self.every)))


def walk_through(walk: Walk) -> bool:
    """Fill in the walk; False, half done, where a temperature is not plausible."""
    series, hours = walk.temperature.shape
    if series * hours >= COMPILED_FROM:
        try:
            from harvest.thermal._compiled import walk_compiled
        except ImportError:  # numba is optional
            pass
        else:
            return walk_compiled(walk)
    if series < FEW_SERIES:
        return plausible(walk.temperature) and walk_few(walk)
    return all(walk_many(walk.part(part)) for part in equal_parts(series, -(-series // WIDEST)))


def coefficients(kelvin: Hours, decay: Hours, gain: Hours, xi: Hours) -> None:
    """Write decay, gain and xi for temperatures [K]; `kelvin` is used up.

    xi = exp(z) / (1 + exp(z)) with z = SLOPE TF (1 - TF / kelvin). Powers of two are the fastest
    exponential numpy has: exp(x) = exp2(x LOG2_E).
    """
    exponent = np.divide(-E1 * LOG2_E, kelvin, out=kelvin)
    np.multiply(exponent, (E0 - E1) / E1, out=gain)
    np.multiply(exponent, -SLOPE * TF * TF / E1, out=xi)
    np.exp2(exponent, out=decay)
    decay *= -A1 * LOG2_E
    np.exp2(decay, out=decay)
    np.exp2(gain, out=gain)
    gain *= A0 / A1
    gain *= np.subtract(1.0, decay, out=kelvin)
    np.exp2(xi, out=xi)
    xi += EXP_SLOPE_TF
    np.divide(EXP_SLOPE_TF, xi, out=xi)


def walk_few(walk: Walk) -> bool:
    """Go through each series hour by hour."""
    for row, temperature in enumerate(walk.temperature):
        level, total = float(walk.intermediate[row]), float(walk.portions[row])
        for start in range(0, temperature.size, CHUNK):
            hours = slice(start, min(start + CHUNK, temperature.size))
            kelvin = temperature[hours].astype(np.float64) + walk.kelvin_offset
            three = np.empty((3, kelvin.size))
            coefficients(kelvin, *three)
            totals = []
            for decay, gain, xi in zip(*three.tolist(), strict=True):
                level = level * decay + gain
                if not level < 1.0:  # reached, or missing
                    fixed = xi * level
                    level -= fixed
                    total += fixed
                totals.append(total)
            shown, columns = walk.kept(start, len(totals))
            walk.totals[row, columns] = totals[shown]
        walk.intermediate[row], walk.portions[row] = level, total
    return True


def walk_many(walk: Walk) -> bool:
    """Go through the hours with all series side by side, a block of hours at a time."""
    series, hours = walk.temperature.shape
    length = max(1, min(hours, BLOCK // series))
    block = np.empty((4, length, series))  # kelvin, decay, gain, xi
    rows = [list(each) for each in block[1:]]
    parts = equal_parts(length, cores())
    with spread_over_cores(series * hours >= BLOCK) as spread:
        for start in range(0, hours + length, length):  # the last turn only hands over
            plausible_parts: list[bool] = []

            def turn(part: slice, start: int = start, found: list[bool] = plausible_parts) -> None:
                _hand_over(walk, block[:, part], start - length + part.start)
                found.append(_prepare(walk, block[:, part], start + part.start))

            spread(turn, parts)
            if not all(plausible_parts):
                return False
            if start < hours:
                _step(walk, [each[: hours - start] for each in rows])
    return True


def _prepare(walk: Walk, block: Hours, start: int) -> bool:
    """Write the coefficients of hour `start` and after; False if a temperature is not plausible."""
    source = walk.temperature[:, start : start + block.shape[1]].T
    kelvin, decay, gain, xi = block[:, : len(source)]
    kelvin[:] = source  # turned over first: much faster than adding across
    kelvin += walk.kelvin_offset
    if not plausible(kelvin, walk.kelvin_offset):
        return False
    coefficients(kelvin, decay, gain, xi)
    return True


def _hand_over(walk: Walk, block: Hours, start: int) -> None:
    """Copy the finished totals of hour `start` and after."""
    if start >= 0:
        count = max(0, min(block.shape[1], walk.temperature.shape[1] - start))
        shown, columns = walk.kept(start, count)
        walk.totals[:, columns] = block[3, shown].T


def _step(walk: Walk, rows: list[list[Hours]]) -> None:
    """Take the model through prepared hours; their totals are left in the rows of xi."""
    # Output arguments go in by position: at a thousand series a step costs little more than the
    # calls themselves. min(floor(E), xi) is xi where E has reached 1, else 0, nan where missing.
    multiply, add, subtract, minimum, floor = np.multiply, np.add, np.subtract, np.minimum, np.floor
    level, total = walk.intermediate, walk.portions
    for decay, gain, xi in zip(*rows, strict=True):
        multiply(level, decay, decay)
        add(decay, gain, decay)
        floor(decay, gain)
        minimum(gain, xi, out=xi)
        multiply(xi, decay, xi)
        level = subtract(decay, xi, gain)
        total = add(total, xi, xi)
    walk.intermediate[:], walk.portions[:] = level, total
