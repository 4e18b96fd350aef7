"""The Dynamic Model hour by hour: its coefficients and the step from one hour to the next.

An intermediate product builds up in the cold and decays in the warm; when it reaches 1 a share
of it, xi, is fixed as a portion of chill for good (Fishman, Erez & Couvillon 1987, J. Theor.
Biol. 124:473-483 and 126:309-321; constants as listed for Erez, Fishman, Linsley-Noakes & Allan
1990, Acta Hortic. 276:165-174; recurrences from memory). With S the intermediate at the start of
the hour and xs, k1, xi functions of the hour's temperature:

    E = xs - (xs - S) exp(-k1)  =  S decay + gain,    decay = exp(-k1), gain = xs (1 - decay)
    E <  1:  S = E
    E >= 1:  S = E kept,   portions += E - S,         kept = 1 - xi

Three ways walk through the hours, chosen by what there is to do: one hour at a time for a few
series, all series at once for many, compiled code for very many where numba is installed.
"""

from __future__ import annotations

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

FEW_SERIES = 32
"""Below this many series a plain loop is faster than whole-array steps (measured)."""

WIDEST = 4096
"""Series side by side at most, so that a step stays in the cache."""

COMPILED_FROM = 5_000_000
"""Site-hours from which loading compiled code pays (measured)."""

BLOCK = 2**18
"""Site-hours whose coefficients are held at a time: 6 MB."""


@dataclass(slots=True)
class Walk:
    """Hourly temperatures [degC] of some series and what the model makes of them.

    `temperature` and `totals` have shape (series, hours), the others (series,); `intermediate`
    and `portions` enter as they stand before the first hour and leave as after the last.
    """

    temperature: FloatArray
    kelvin_offset: float
    intermediate: Hours
    portions: Hours
    totals: Hours

    def part(self, series: slice) -> Walk:
        """Return the same walk for some of the series, sharing memory."""
        return Walk(
            self.temperature[series],
            self.kelvin_offset,
            self.intermediate[series],
            self.portions[series],
            self.totals[series],
        )


def walk_through(walk: Walk) -> bool:
    """Fill in the walk's totals; False where a temperature is not plausible."""
    series, hours = walk.temperature.shape
    if series * hours >= COMPILED_FROM:
        try:
            from harvest.thermal._compiled import walk_compiled
        except ImportError:  # numba is optional
            pass
        else:
            return walk_compiled(walk)
    if not plausible(walk.temperature):
        return False
    if series < FEW_SERIES:
        walk_few(walk)
        return True
    for part in equal_parts(series, -(-series // WIDEST)):
        walk_many(walk.part(part))
    return True


def coefficients(kelvin: Hours, decay: Hours, gain: Hours, kept: Hours) -> None:
    """Write decay, gain and kept for temperatures [K]; `kelvin` is used up."""
    inverse = np.divide(1.0, kelvin, out=kelvin)
    np.multiply(inverse, -E1, out=decay)
    np.exp(decay, out=decay)
    decay *= -A1
    np.exp(decay, out=decay)
    np.multiply(inverse, E1 - E0, out=gain)
    np.exp(gain, out=gain)
    np.subtract(A0 / A1, np.multiply(decay, A0 / A1, out=kept), out=kept)
    gain *= kept
    np.multiply(inverse, -SLOPE * TF * TF, out=kept)
    kept += SLOPE * TF
    np.exp(kept, out=kept)
    kept += 1.0
    np.divide(1.0, kept, out=kept)


def walk_few(walk: Walk) -> None:
    """Go through each series hour by hour."""
    for row, temperature in enumerate(walk.temperature):
        intermediate, total = float(walk.intermediate[row]), float(walk.portions[row])
        for start in range(0, temperature.size, CHUNK):
            hours = slice(start, min(start + CHUNK, temperature.size))
            kelvin = temperature[hours].astype(np.float64) + walk.kelvin_offset
            three = np.empty((3, kelvin.size))
            coefficients(kelvin, *three)
            totals = []
            for decay, gain, kept in zip(*three.tolist(), strict=True):
                level = intermediate * decay + gain
                if level < 1.0:
                    intermediate = level
                else:  # reached, or missing
                    intermediate = level * kept
                    total += level - intermediate
                totals.append(total)
            walk.totals[row, hours] = totals
        walk.intermediate[row], walk.portions[row] = intermediate, total


def walk_many(walk: Walk) -> None:
    """Go through the hours with all series side by side, a block of hours at a time."""
    series, hours = walk.temperature.shape
    block_hours = max(1, min(hours, BLOCK // series))
    decay, gain, kept = blocks = np.empty((3, block_hours, series))
    rows = [list(block) for block in blocks]
    below = np.empty(series, dtype=bool)
    with spread_over_cores(series * hours >= BLOCK) as spread:
        for start in range(0, hours, block_hours):
            count = min(block_hours, hours - start)
            source = walk.temperature[:, start : start + count].T
            target = walk.totals[:, start : start + count].T
            parts = equal_parts(count, cores())

            def prepare(part: slice, source: FloatArray = source) -> None:
                step = max(1, CHUNK // series)
                kelvin = np.empty((min(step, part.stop - part.start), series))
                for first in range(part.start, part.stop, step):
                    now = slice(first, min(first + step, part.stop))
                    piece = kelvin[: now.stop - now.start]
                    np.add(source[now], walk.kelvin_offset, out=piece, dtype=np.float64)
                    coefficients(piece, decay[now], gain[now], kept[now])

            def hand_over(part: slice, target: Hours = target) -> None:
                target[part] = kept[part]

            spread(prepare, parts)
            _step(walk, [each[:count] for each in rows], below)
            spread(hand_over, parts)


def _step(walk: Walk, rows: list[list[Hours]], below: npt.NDArray[np.bool_]) -> None:
    """Take the model through prepared hours; their totals are left in the rows of `kept`."""
    intermediate, total = walk.intermediate, walk.portions
    for decay, gain, kept in zip(*rows, strict=True):
        level = np.multiply(intermediate, decay, out=decay)
        level += gain
        intermediate = np.multiply(level, kept, out=gain)
        np.less(level, 1.0, out=below)
        np.putmask(intermediate, below, level)
        fixed = np.subtract(level, intermediate, out=kept)
        total = np.add(total, fixed, out=kept)
    walk.intermediate[:] = intermediate
    walk.portions[:] = total
