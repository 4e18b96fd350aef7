"""Ways to count the time a tree needs: plain days, degree days from several bases, degree hours.

A clock runs on a site's weather. Its reading between two days is the progress made; its usual
year, the mean of the past ones, says what the days ahead are likely to add. A very low base
counts almost plain days, so the choice of the base is also one between heat and days.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from harvest.phenology.site_weather import SiteWeather
from harvest.phenology.winter_chill import chill_by_day, released
from harvest.seasons import Dates
from harvest.thermal import degree_days, growing_degree_hours
from harvest.thermal.degree_hours import (
    ASYMMETRIC_BASE_C,
    ASYMMETRIC_CRITICAL_C,
    ASYMMETRIC_OPTIMUM_C,
)
from harvest.weather.hours import hours_of, level_of_hours, with_measured

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SLOTS = 366
SMOOTHED_DAYS = 10
# Keeps a clock from standing quite still in a frost, so that a date can always be read [per day].
LEAST_PROGRESS = 0.01
GROWTH_RANGE_C = (-10.0, 40.0)


@dataclass(frozen=True)
class HeatResponse:
    """What an hour's warmth counts: nothing up to the base, most at the optimum [degC].

    Linear, and level beyond the optimum (Richardson et al. 1975); where `critical_c` is given, the
    curve of Anderson et al. 1986, which falls from the optimum to nothing at that temperature.
    """

    base_c: float
    optimum_c: float
    critical_c: float | None = None

    def of(self, hours_c: Floats) -> Floats:
        """Growing degree hours of each hour [degC h], the shape of `hours_c` [degC]."""
        heat = growing_degree_hours(
            hours_c,
            curve="linear" if self.critical_c is None else "asymmetric",
            base=self.base_c,
            optimum=self.optimum_c,
            critical=self.critical_c,
        )
        return np.asarray(heat, dtype=np.float64)


@dataclass(frozen=True)
class GrowingResponse:
    """What an hour's warmth counts: exp(growth * (T - 10)), growth [1/degC]."""

    growth: float

    def of(self, hours_c: Floats) -> Floats:
        """Hours at 10 degC that each hour is worth [h], the shape of `hours_c` [degC]."""
        return np.exp(self.growth * (np.clip(hours_c, *GROWTH_RANGE_C) - 10.0))


@dataclass(frozen=True)
class ClockKind:
    """Which clock: degree days above `base_c`, hours counted by a `response`, or else plain days.

    Where `chill_need` is given [chill portion], degree days count once it is met (`sequential`) or
    as far as it is met. `upper_c`: an upper cut-off of its own in place of the species' [degC];
    infinite: none.
    """

    name: str
    base_c: float | None = None
    response: HeatResponse | GrowingResponse | None = None
    chill_need: float | None = None
    sequential: bool = True
    upper_c: float | None = None


DAYS = ClockKind("days")
DEGREE_HOURS = ClockKind(
    "growing degree hours (Anderson et al. 1986)",
    response=HeatResponse(ASYMMETRIC_BASE_C, ASYMMETRIC_OPTIMUM_C, ASYMMETRIC_CRITICAL_C),
)


def degree_day_clock(base_c: float, upper_c: float | None = None) -> ClockKind:
    """Degree days by the single sine above a base [degC] (Baskerville & Emin 1969).

    `upper_c`: the cut-off [degC], infinite for none; None: the species'.
    """
    name = f"degree days above {base_c:g} degC"
    if upper_c is not None:
        name += f", cut off at {upper_c:g} degC" if np.isfinite(upper_c) else ", without cut-off"
    return ClockKind(name, base_c=base_c, upper_c=upper_c)


def degree_hour_clock(
    base_c: float, optimum_c: float, critical_c: float | None = None
) -> ClockKind:
    """Growing degree hours by a base, an optimum and a critical temperature [degC].

    The curves are published (`HeatResponse`); other temperatures than theirs are experimental.
    """
    name = f"growing degree hours above {base_c:g} degC, "
    if critical_c is None:
        name += f"most from {optimum_c:g} degC"
    else:
        name += f"most at {optimum_c:g} degC, none from {critical_c:g} degC"
    return ClockKind(name, response=HeatResponse(base_c, optimum_c, critical_c))


def exponential_clock(growth: float) -> ClockKind:
    """Days at 10 degC: every hour counts exp(growth * (T - 10)), growth [1/degC].

    The temperature-transformed days used for Japanese cherry, an Arrhenius rate of 50 to 95 kJ/mol
    over spring temperatures (Konno & Sugihara 1986; Aono & Kazui 2008, International Journal of
    Climatology 28:905-914; both from memory).
    """
    name = f"days at 10 degC, growing by {growth:.0%} per degC"
    return ClockKind(name, response=GrowingResponse(growth))


def chill_then_heat_clock(need: float, base_c: float) -> ClockKind:
    """Degree days once a chill requirement [chill portion] is met (`winter_chill`)."""
    name = f"{degree_day_clock(base_c).name} after {need:g} chill portions"
    return ClockKind(name, base_c=base_c, chill_need=need)


def chill_with_heat_clock(need: float, base_c: float) -> ClockKind:
    """Degree days that count as far as a chill requirement [chill portion] is met."""
    name = f"{degree_day_clock(base_c).name} as {need:g} chill portions gather"
    return ClockKind(name, base_c=base_c, chill_need=need, sequential=False)


@dataclass(frozen=True)
class Clock:
    """One clock on one site's weather, `past` and `usual` in the clock's own unit.

    `past`, shape (days + 1,): reading at the start of each day of the series that begins on day
    number `origin`, days without a temperature counted as usual. `gaps`, of the same shape: how
    many such days lie before each. `usual`, shape (3 * 366 + 1,): reading of the usual year, three
    times over, at the start of each day of the year.
    """

    kind: ClockKind
    origin: int
    past: Floats
    usual: Floats
    gaps: Ints

    def reading(self, day: Ints) -> Floats:
        """Reading at the end of each day (day numbers since 1970); nan outside the series."""
        return self._at(self.past, day)

    def progress(self, begin: Ints, end: Ints) -> Floats:
        """Progress from the end of one day to that of another; nan where a day is missing."""
        whole = self._at(self.gaps, begin) == self._at(self.gaps, end)
        return np.where(whole, self.reading(end) - self.reading(begin), np.nan)

    def _at(self, values: Floats | Ints, day: Ints) -> Floats:
        at = day - self.origin + 1
        inside = (at >= 0) & (at < len(values))
        return np.where(inside, values[np.where(inside, at, 0)], np.nan)

    def usual_reading(self, slot: ArrayLike) -> Floats:
        """Reading of the usual year at the end of a day of the year [d, 0 on 1 January]."""
        return np.interp(np.asarray(slot) + 1.0, np.arange(len(self.usual)), self.usual)

    def usual_days(self, slot: Floats, need: Floats) -> Floats:
        """Days [d] the usual year takes to make the progress `need` after a day of the year."""
        target = self.usual_reading(slot) + need
        return np.asarray(np.interp(target, self.usual, np.arange(len(self.usual))) - slot - 1.0)

    def due(self, begin: Ints, need: Floats, known_to: Ints) -> Floats:
        """Day number by which progress after day `begin` reaches `need`.

        The weather is known up to and including day `known_to`; after it the usual year is
        taken. nan where the weather since `begin` is not on record.
        """
        known = np.maximum(known_to, begin)
        done = self.progress(begin, known)
        slot = day_slots(known)
        ahead = known + self.usual_days(slot, need - done)
        start = self.reading(begin)
        within = np.interp(start + need, self.past, np.arange(len(self.past))) + self.origin - 1
        return np.where(need > done, ahead, np.where(np.isnan(done), np.nan, within))


def names_of(clocks: Sequence[Clock]) -> tuple[str, ...]:
    """Names of some clocks' kinds, in their order."""
    return tuple(clock.kind.name for clock in clocks)


def day_numbers(days: Dates) -> Ints:
    """Days since 1 January 1970; the least integer for NaT."""
    return days.astype("datetime64[D]").astype(np.int64)


def day_slots(numbers: Ints) -> Floats:
    """Day of the year of each day number [d, 0 on 1 January]."""
    days = numbers.astype("datetime64[D]")
    new_year = days.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray((days - new_year).astype(np.float64))


def day_clock(first: int, last: int) -> Clock:
    """Plain days between two day numbers, for a site without weather."""
    past = np.arange(last - first + 2.0)
    whole = np.zeros(len(past), dtype=np.int64)
    return Clock(DAYS, first, past, np.arange(3.0 * SLOTS + 1), whole)


def heat_clocks(
    weather: SiteWeather, latitude: float, kinds: list[ClockKind], upper_c: float | None
) -> list[Clock]:
    """One clock for each kind on a site's weather; all but days run on heat.

    Parameters
    ----------
    latitude : [deg], for the hours between a day's minimum and maximum.
    upper_c : upper cut-off of degree days, horizontal [degC], where a kind has none of its own.
    """
    origin = int(day_numbers(np.array([weather.start]))[0])
    slot = day_slots(origin + np.arange(len(weather.tmin_c))).astype(np.int64)
    rates = _Rates(weather, latitude, slot)
    found = []
    for kind in kinds:
        daily = rates.daily(kind, upper_c)
        lacking = np.isnan(daily)
        mean = _usual_days(daily[~lacking], slot[~lacking])
        past: Floats = np.cumsum(np.append(0.0, np.where(lacking, mean[slot], daily)))
        usual: Floats = np.cumsum(np.append(0.0, np.tile(mean, 3)))
        gaps = np.append(0, np.cumsum(lacking))
        found.append(Clock(kind, origin, past, usual, gaps))
    return found


class _Rates:
    """Progress of each day of a series by any kind of clock; hours and chill are made once."""

    def __init__(self, weather: SiteWeather, latitude: float, slot: Ints) -> None:
        self._weather, self._latitude, self._slot = weather, latitude, slot

    @cached_property
    def _worked_out(self) -> Floats:
        """Hourly temperatures from minimum and maximum [degC]."""
        weather = self._weather
        return hours_of(weather.tmin_c, weather.tmax_c, self._latitude, self._slot + 1)

    @cached_property
    def _measured(self) -> Floats:
        """The same, measured where there are any."""
        weather = self._weather
        return with_measured(self._worked_out, weather.hours)

    @cached_property
    def _chill(self) -> Floats:
        """Chill portions since the winter's start by the end of each day."""
        hours = self._measured.reshape(-1, 24)
        return chill_by_day(self._weather.start, hours, self._latitude)

    def daily(self, kind: ClockKind, upper_c: float | None) -> Floats:
        """Progress of each day in the clock's unit; nan where it is missing."""
        weather = self._weather
        if kind.base_c is not None:
            upper = upper_c if kind.upper_c is None else kind.upper_c
            upper = None if upper is None or np.isinf(upper) else upper
            heat = degree_days(weather.tmin_c, weather.tmax_c, base=kind.base_c, upper=upper)
            if kind.chill_need is not None:
                share = released(self._chill, kind.chill_need, sequential=kind.sequential)
                heat = heat * share
            return np.asarray(heat + LEAST_PROGRESS, dtype=np.float64)
        response = kind.response
        if response is None:
            return np.ones(len(self._slot))
        worked_out = _by_day(response.of(self._worked_out))
        if weather.hours is None:
            return worked_out
        whole = np.asarray(~np.isnan(weather.hours).any(axis=1))
        return _comparable(worked_out, _by_day(response.of(self._measured)), whole, self._slot)


def _by_day(hourly: Floats) -> Floats:
    """Progress of each day by what its 24 hours count."""
    return np.asarray(hourly.reshape(-1, 24).mean(axis=1) + LEAST_PROGRESS)


def _comparable(worked_out: Floats, measured: Floats, whole: Bools, slot: Ints) -> Floats:
    """Progress by measured hours, brought to the level of hours that were worked out.

    By how much the two differ at that time of the year is taken out; what is left is what the
    hours tell beyond minimum and maximum.
    """
    level = level_of_hours(worked_out, measured, whole, slot)
    return np.where(whole, measured / level[slot], measured)


def _usual_days(daily: Floats, slot: Ints) -> Floats:
    """Mean progress of each day of the year, smoothed, shape (366,)."""
    total = np.bincount(slot, daily, minlength=SLOTS)
    count = np.bincount(slot, minlength=SLOTS)
    known = count > 0
    mean = np.interp(
        np.arange(SLOTS), np.flatnonzero(known), total[known] / count[known], period=SLOTS
    )
    near = np.full(2 * SMOOTHED_DAYS + 1, 1.0 / (2 * SMOOTHED_DAYS + 1))
    around = np.concatenate([mean[-SMOOTHED_DAYS:], mean, mean[:SMOOTHED_DAYS]])
    return np.asarray(np.convolve(around, near, mode="valid"), dtype=np.float64)
