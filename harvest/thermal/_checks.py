"""What every thermal function asks of its input: shape, unit, order, plausible range."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from harvest.errors import QuantityError

FloatArray = npt.NDArray[np.floating[Any]]

COLDEST_C = -90.0
WARMEST_C = 65.0
"""Plausible air temperature [degC]: the records of the World Meteorological Organization's
archive of weather and climate extremes (-89.2 at Vostok, 56.7 at Furnace Creek; from memory)
lie inside."""

CHUNK = 2**15
"""Elements worked on at a time: the scratch arrays then stay in the processor's cache."""

_UNIT_HINT = (
    "Check the unit (convert degrees Fahrenheit first) and missing-value codes such as -9999: "
    "a missing value is nan."
)


def as_float(values: npt.ArrayLike, name: str) -> FloatArray:
    """Return `values` as a float32 or float64 array; float32 stays float32."""
    try:
        array = np.asarray(values)
        if array.dtype == object:
            array = array.astype(np.float64)
    except (TypeError, ValueError) as error:
        raise QuantityError(
            "numbers in a rectangular array are needed", given=str(error), where=name
        ) from error
    if array.dtype.kind not in "fiu":
        raise QuantityError("numbers are needed", given=f"type {array.dtype}", where=name)
    keep = array.dtype in (np.float32, np.float64)
    return array if keep else array.astype(np.result_type(array.dtype, np.float32))


def as_series(values: npt.ArrayLike, name: str) -> FloatArray:
    """Return `values` as a float array with time on its last axis."""
    array = as_float(values, name)
    if array.ndim == 0:
        raise QuantityError(
            "an array with time on the last axis is needed",
            given=f"the single number {array.item():g}",
            where=name,
            todo="Put a single day or hour in a list.",
        )
    return array


def broadcast_leading(
    shapes: dict[str, tuple[int, ...]], what: str = "the axes before time"
) -> tuple[int, ...]:
    """Return the shapes' common shape, or say which do not fit."""
    try:
        return np.broadcast_shapes(*shapes.values())
    except ValueError as error:
        given = ", ".join(f"{name} {shape}" for name, shape in shapes.items())
        raise QuantityError(
            f"{what} must fit each other by the broadcasting rules of numpy",
            given=given,
        ) from error


def temperature_series(values: npt.ArrayLike, name: str) -> FloatArray:
    """Return a series of temperatures [degC], checked to be plausible; nan means missing."""
    series = as_series(values, name)
    _require_plausible(series, name)
    return series


def temperatures(values: npt.ArrayLike, name: str) -> FloatArray:
    """Return temperatures [degC] of any shape, checked to be plausible; nan means missing."""
    array = as_float(values, name)
    _require_plausible(array, name)
    return array


def daily_pair(tmin: npt.ArrayLike, tmax: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return daily minimum and maximum [degC] of one dtype, checked against each other."""
    low, high = as_series(tmin, "tmin"), as_series(tmax, "tmax")
    if low.shape[-1] != high.shape[-1]:
        raise QuantityError(
            "tmin and tmax must have the same number of days on their last axis",
            given=f"tmin {low.shape}, tmax {high.shape}",
        )
    broadcast_leading({"tmin": low.shape[:-1], "tmax": high.shape[:-1]})
    dtype = np.result_type(low, high)
    low, high = low.astype(dtype, copy=False), high.astype(dtype, copy=False)
    if not _fine_pair(low, high):
        _require_plausible(low, "tmin")
        _require_plausible(high, "tmax")
        _raise_order(low, high)
    return low, high


def within(values: npt.ArrayLike, name: str, low: float, high: float, unit: str) -> FloatArray:
    """Return `values` as a float array if all lie in low..high; nan is refused too."""
    array = as_float(values, name)
    bad = ~((array >= low) & (array <= high))
    if bad.any():
        index = first_index(bad)
        raise QuantityError(
            f"a value within {low:g}..{high:g} {unit} is needed",
            given=f"{array[index]:g}",
            where=located(name, index),
        )
    return array


def plausible(series: FloatArray, offset: float = 0.0) -> bool:
    """Return whether every temperature that is there [degC + offset] lies in the range."""
    if series.size == 0:
        return True
    lowest, highest = np.fmin.reduce(series, axis=None), np.fmax.reduce(series, axis=None)
    return not (lowest < COLDEST_C + offset or highest > WARMEST_C + offset)


def first_index(bad: npt.NDArray[np.bool_]) -> tuple[int, ...]:
    """Return the index of the first true element."""
    return tuple(int(i) for i in np.unravel_index(int(np.argmax(bad)), bad.shape))


def located(name: str, index: tuple[int, ...]) -> str:
    """Return e.g. 'tmax at index (3, 17)'."""
    if not index:
        return name
    inside = ", ".join(map(str, index))
    return f"{name} at index {inside}" if len(index) == 1 else f"{name} at index ({inside})"


def _require_plausible(series: FloatArray, name: str) -> None:
    if plausible(series):
        return
    index = first_index((series < COLDEST_C) | (series > WARMEST_C))
    raise QuantityError(
        f"a temperature within {COLDEST_C:g}..{WARMEST_C:g} degC is needed",
        given=f"{series[index]:g}",
        where=located(name, index),
        todo=_UNIT_HINT,
    )


def _fine_pair(low: FloatArray, high: FloatArray) -> bool:
    """Return whether all days are plausible and in order, looking at each but once."""
    swapped = np.empty(CHUNK, dtype=bool)
    flags: Any = ["external_loop", "buffered", "zerosize_ok"]
    with np.nditer([low, high], flags=flags, buffersize=CHUNK) as chunks:
        return all(
            plausible(lows)
            and plausible(highs)
            and not np.greater(lows, highs, out=swapped[: lows.size]).any()
            for lows, highs in chunks
        )


def _raise_order(low: FloatArray, high: FloatArray) -> None:
    index = first_index(np.greater(low, high))
    lows, highs = np.broadcast_arrays(low, high)
    raise QuantityError(
        "the day's minimum must not lie above its maximum",
        given=f"tmin {lows[index]:g}, tmax {highs[index]:g} degC",
        where=located("tmin, tmax", index),
        todo="Correct the day, or mark both as missing with nan.",
    )
