"""Winter chill from hourly temperature: four published measures as running totals.

The four measures are different units and their ratios differ between climates: a requirement
found in one of them cannot be converted to another (Luedeling & Brown 2011, Int. J.
Biometeorol. 55:411-421).

Every function returns the total after each hour since the first. A missing hour (nan) makes the
total missing from that hour on, never zero: what the season has gathered is then unknown. Fill
short gaps first, and say so beside the sum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from harvest.errors import QuantityError
from harvest.thermal._checks import FloatArray, as_series, temperature_series, within
from harvest.thermal._chunks import Kernel, in_chunks
from harvest.thermal._dynamic_model import Hours, Walk, walk_through

CHILL_HOUR_LOW_C = 0.0
CHILL_HOUR_HIGH_C = 7.2
"""45 degF. Bennett 1949, Calif. Agric. 3(11):9-15; Weinberger 1950, Proc. Am. Soc. Hortic. Sci.
56:122-128."""

UTAH_STEPS = ((1.4, 0.5), (2.4, 0.5), (9.1, -0.5), (12.4, -0.5), (15.9, -0.5), (18.0, -0.5))
"""Above each temperature [degC] an hour counts by so much more [chill unit]: the table in degrees
Celsius of Richardson, Seeley & Walker 1974, HortScience 9:331-332. Its edges in degrees
Fahrenheit differ a little."""

KELVIN_OFFSET = 273.0
"""Added to degrees Celsius by the published Dynamic Model [K]; 273.15 lowers sums by up to 5 %."""
LOW_CHILL_HOURS = 400.0
"""A cultivar that asks for no more hours of chill is called low-chill (common practice, no source):
its species' portions are not its own, and would rule it out where it is grown."""


_TOTALS = (
    "chill_hours",
    "utah_units",
    "positive_utah_units",
    "chill_portions",
    "intermediate",
)


@dataclass(frozen=True, slots=True, eq=False)
class ChillState:
    """Where the four running totals stand after an hour, and all that is needed to go on.

    Each total is a number or an array of the shape of the axes before time, kept as float64.
    """

    hours: int
    """hours since the start, gone into the totals [h]"""
    chill_hours: Hours
    utah_units: Hours
    positive_utah_units: Hours
    chill_portions: Hours
    intermediate: Hours
    """intermediate product of the Dynamic Model [-]"""
    kelvin_offset: float = KELVIN_OFFSET

    def __post_init__(self) -> None:
        _require_offset(self.kelvin_offset)
        shapes = {}
        for name in _TOTALS:
            total = np.asarray(getattr(self, name), dtype=np.float64)
            object.__setattr__(self, name, total)
            shapes[name] = total.shape
        if len(set(shapes.values())) > 1:
            given = ", ".join(f"{name} {shape}" for name, shape in shapes.items())
            raise QuantityError("the totals of a state must have one shape", given=given)

    @classmethod
    def at_start(
        cls, shape: tuple[int, ...] = (), *, kelvin_offset: float = KELVIN_OFFSET
    ) -> ChillState:
        """Return the state before the first hour of a season: nothing gathered."""
        nothing = np.zeros(shape)
        return cls(0, nothing, nothing, nothing, nothing, nothing, kelvin_offset)


@dataclass(frozen=True, slots=True, eq=False)
class ChillTotals:
    """The four running totals, each of shape (..., hours), and the state after the last hour."""

    chill_hours: Hours
    utah_units: Hours
    positive_utah_units: Hours
    chill_portions: Hours
    state: ChillState


def chill_hours(temperature: npt.ArrayLike, *, count_frost: bool = False) -> Hours:
    """Return the running number of hours above 0 and up to 7.2 degC [h].

    Parameters
    ----------
    temperature : hourly [degC], shape (..., hours); nan where missing.
    count_frost : also count hours at or below 0 degC, as some handbooks do. Say which was used.

    Returns
    -------
    Totals after each hour, the shape of `temperature`; nan from the first missing hour on.

    Raises
    ------
    QuantityError
        Temperatures outside -90..65 degC, no time axis.

    References
    ----------
    Bennett 1949, Calif. Agric. 3(11):9-15; Weinberger 1950, Proc. Am. Soc. Hortic. Sci.
    56:122-128.
    """
    hours = temperature_series(temperature, "temperature")
    return _summed(hours, _chill_hour_kernel(count_frost), None)


def utah_units(temperature: npt.ArrayLike, *, positive: bool = False) -> Hours:
    """Return the running total of Utah chill units [chill unit].

    | T [degC] | up to 1.4 | to 2.4 | to 9.1 | to 12.4 | to 15.9 | to 18 | above |
    |---|---|---|---|---|---|---|---|
    | units per hour | 0 | 0.5 | 1 | 0.5 | 0 | -0.5 | -1 |

    Parameters
    ----------
    temperature : hourly [degC], shape (..., hours); nan where missing.
    positive : count negative hours as zero (the Positive Utah model). In warm winters the plain
        sum turns negative and tells nothing.

    Returns
    -------
    Totals after each hour, the shape of `temperature`; nan from the first missing hour on.

    Raises
    ------
    QuantityError
        Temperatures outside -90..65 degC, no time axis.

    References
    ----------
    Richardson, Seeley & Walker 1974, HortScience 9:331-332; positive: Linsley-Noakes & Allan
    1994, Scientia Hortic. 59:107-117 (from memory).
    """
    hours = temperature_series(temperature, "temperature")
    return _summed(hours, _utah_kernel(positive), None)


def chill_portions(
    temperature: npt.ArrayLike, *, kelvin_offset: float = KELVIN_OFFSET, every: int = 1
) -> Hours:
    """Return the running total of chill portions of the Dynamic Model [chill portion].

    The total is used as a real number. It depends on the empty start through the first 30 hours
    or so; begin at a fixed date in autumn. Every hour must be there: the model steps by hours.

    Parameters
    ----------
    temperature : hourly [degC], shape (..., hours); nan where missing.
    kelvin_offset : added to give kelvin, 273 as published; 273.15 is used by some programs.
    every : give the total after each so many hours only, 24 for the end of each day [h]: the same
        numbers, faster and in less memory.

    Returns
    -------
    Totals after each hour, the shape of `temperature` (or (..., hours // every)), never falling;
    nan from the first missing hour on. To go on from where a series ended, see `chill_totals`.

    Raises
    ------
    QuantityError
        Temperatures outside -90..65 degC, no time axis, an offset outside 273..273.16, `every` no
        whole number from 1 on.

    References
    ----------
    Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473-483 and 126:309-321; Erez, Fishman,
    Linsley-Noakes & Allan 1990, Acta Hortic. 276:165-174 (constants; recurrences from memory).
    """
    if every != int(every) or every < 1:
        raise QuantityError("a whole number from 1 on is needed", given=f"{every}", where="every")
    hours = as_series(temperature, "temperature")
    start = ChillState.at_start(hours.shape[:-1], kelvin_offset=kelvin_offset)
    return _portions(hours, start, int(every))[0]


def chill_totals(
    temperature: npt.ArrayLike,
    *,
    after: ChillState | None = None,
    kelvin_offset: float = KELVIN_OFFSET,
) -> ChillTotals:
    """Return all four running totals, going on from an earlier state where one is given.

    `chill_totals(rest, after=chill_totals(first).state)` gives the same numbers, to the last
    bit, as the end of `chill_totals(first + rest)`: a new day costs one day's work. (Beyond 5
    million site-hours in one call, with numba, portions agree to 1e-9 instead.)

    Parameters
    ----------
    temperature : hourly [degC], shape (..., hours); nan where missing.
    after : the state that the hours before these ended in; None at the start of a season.
    kelvin_offset : for chill portions, see there; an earlier state keeps its own.

    Returns
    -------
    Totals after each hour since the start of the season, and the state to go on from.

    Raises
    ------
    QuantityError
        As the single measures; a state of another shape than the axes before time.
    """
    hours = temperature_series(temperature, "temperature")
    leading = hours.shape[:-1]
    before = after or ChillState.at_start(leading, kelvin_offset=kelvin_offset)
    if before.chill_portions.shape != leading:
        raise QuantityError(
            f"the earlier state must have the shape of the axes before time, {leading}",
            given=f"{before.chill_portions.shape}",
            where="after",
        )
    counted = _summed(hours, _chill_hour_kernel(count_frost=False), before.chill_hours)
    utah = _summed(hours, _utah_kernel(positive=False), before.utah_units)
    positive = _summed(hours, _utah_kernel(positive=True), before.positive_utah_units)
    portions, intermediate = _portions(hours, before)
    state = ChillState(
        before.hours + hours.shape[-1],
        _last(counted, before.chill_hours),
        _last(utah, before.utah_units),
        _last(positive, before.positive_utah_units),
        _last(portions, before.chill_portions),
        intermediate,
        before.kelvin_offset,
    )
    return ChillTotals(counted, utah, positive, portions, state)


def running_total(values: npt.ArrayLike, *, after: npt.ArrayLike = 0.0) -> FloatArray:
    """Return running totals over the last axis, going on from an earlier total.

    For degree days, growing degree hours and anything else that simply adds up. Going on from
    the last total of a first part gives the same numbers, to the last bit, as the whole.

    Parameters
    ----------
    values : shape (..., time), any unit; nan where missing.
    after : total before the first of them, broadcast against the axes before time.

    Returns
    -------
    Totals after each step, shape (..., time), float64; nan from the first missing value on.

    Raises
    ------
    QuantityError
        No time axis, or an earlier total of another shape.
    """
    steps = as_series(values, "values")
    earlier = np.asarray(after, dtype=np.float64)
    try:
        earlier = np.broadcast_to(earlier, steps.shape[:-1])
    except ValueError as error:
        raise QuantityError(
            f"the earlier total must fit the axes before time, {steps.shape[:-1]}",
            given=f"{earlier.shape}",
            where="after",
        ) from error
    totals = np.empty(steps.shape)
    totals[...] = steps
    return _added_up(totals, earlier)


def _require_offset(kelvin_offset: float) -> None:
    within(kelvin_offset, "kelvin_offset", 273.0, 273.16, "K")


def _added_up(values: Hours, earlier: Hours) -> Hours:
    """Replace values by their running totals, strictly one after the other."""
    if values.shape[-1]:
        values[..., 0] += earlier
        np.add.accumulate(values, axis=-1, out=values)
    return values


def _last(totals: Hours, earlier: Hours) -> Hours:
    return totals[..., -1].copy() if totals.shape[-1] else earlier


def _summed(hours: FloatArray, kernel: Kernel, earlier: Hours | None) -> Hours:
    totals = np.empty(hours.shape)
    in_chunks(kernel, [hours], totals, scratch=1)
    return _added_up(totals, np.zeros(hours.shape[:-1]) if earlier is None else earlier)


def _chill_hour_kernel(count_frost: bool) -> Kernel:
    def kernel(inputs: list[FloatArray], units: FloatArray, _: FloatArray) -> None:
        hours = inputs[0]
        chilled = hours <= CHILL_HOUR_HIGH_C
        if not count_frost:
            chilled &= hours > CHILL_HOUR_LOW_C
        units[:] = chilled
        units[np.isnan(hours)] = np.nan

    return kernel


def _utah_kernel(positive: bool) -> Kernel:
    def kernel(inputs: list[FloatArray], units: FloatArray, scratch: FloatArray) -> None:
        hours, part = inputs[0], scratch[0]
        units[:] = 0.0
        for edge, more in UTAH_STEPS:
            np.multiply(hours > edge, more, out=part)
            units += part
        if positive:
            np.maximum(units, 0.0, out=units)
        units[np.isnan(hours)] = np.nan

    return kernel


def _portions(hours: FloatArray, before: ChillState, every: int = 1) -> tuple[Hours, Hours]:
    """Return portions after each `every` hours and the intermediate product after the last."""
    leading = hours.shape[:-1]
    flat = hours.reshape(math.prod(leading), hours.shape[-1])
    walk = Walk(
        flat,
        before.kelvin_offset,
        before.intermediate.reshape(-1).copy(),
        before.chill_portions.reshape(-1).copy(),
        np.empty((len(flat), flat.shape[1] // every)),
        every,
    )
    if not walk_through(walk):
        temperature_series(hours, "temperature")
    return walk.totals.reshape(*leading, walk.totals.shape[1]), walk.intermediate.reshape(leading)
