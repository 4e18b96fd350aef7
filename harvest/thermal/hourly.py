"""Temperature through the day from the daily minimum and maximum."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from harvest.errors import QuantityError
from harvest.thermal._checks import FloatArray, as_float, broadcast_leading, daily_pair, within
from harvest.thermal.daylight import day_length

LONGEST_DAY_H = 22.0
SHORTEST_DAY_H = 2.0
"""Beyond these the night curve has no room or no daytime curve to start from [h]."""

WARMEST_HOUR = 14.0
"""Two hours after solar noon [h]: where the daytime curve of Linvill 1990 has its maximum."""

_DAYS_AT_ONCE = 1024


def hourly_temperature(
    tmin: npt.ArrayLike,
    tmax: npt.ArrayLike,
    latitude: npt.ArrayLike,
    day_of_year: npt.ArrayLike,
) -> FloatArray:
    """Return the air temperature at every full hour of local solar time [degC].

    With sunrise and sunset at noon -+ DL / 2, DL the day length [h], and t hours after either:

        day      T = tmin + (tmax - tmin) sin(pi t / (DL + 4))
        night    T = Ts - (Ts - next tmin) ln(t) / ln(length of the night),   t >= 1

    Ts is the temperature at sunset. Hours are 0..23 of each day, midnight first; clock time
    differs by the site's longitude and daylight saving, which shifts hours but no sums of a
    season. Measured hourly temperatures are better wherever there are any.

    Parameters
    ----------
    tmin, tmax : daily minimum and maximum [degC], shape (..., days); nan where missing.
    latitude : [deg], south negative; a number or an array that broadcasts against the axes
        before time.
    day_of_year : 1..366, shape (days,) or (..., days).

    Returns
    -------
    Shape (..., days * 24). float32 in, float32 out; else float64.

    - In the first hour after sunset the temperature stays at Ts (the logarithm would exceed it).
    - The night before the first day is taken as if the day before had been like the first; the
      night after the last day ends at the last day's own minimum. So the last evening changes
      when another day arrives: recompute it with one day of overlap on either side.
    - Where the day is longer than 22 h or shorter than 2 h the day is a cosine of 24 h between
      minimum and maximum, warmest at 14 h (ours; no published source).
    - A missing value makes those hours missing that rest on it: the day itself and, for the
      curve through the night, the hours after sunset before it or before sunrise after it.

    Raises
    ------
    QuantityError
        Wrong shapes, values out of range, tmin above tmax.

    References
    ----------
    Linvill 1990, HortScience 25:14-16 (formula from memory; checked against an independent
    implementation). The length of the night is taken from its own sunset to its own sunrise.
    """
    low, high = daily_pair(tmin, tmax)
    days = low.shape[-1]
    site = within(latitude, "latitude", -90, 90, "degrees")
    day = as_float(day_of_year, "day_of_year")
    if day.ndim == 0 or day.shape[-1] != days:
        raise QuantityError(
            f"day_of_year needs one value for each of the {days} days on its last axis",
            given=f"shape {day.shape}",
            where="day_of_year",
        )
    leading = broadcast_leading(
        {
            "tmin": low.shape[:-1],
            "tmax": high.shape[:-1],
            "latitude": site.shape,
            "day_of_year": day.shape[:-1],
        }
    )
    out = np.empty((*leading, days, 24), dtype=low.dtype)
    if out.size:
        daylight = day_length(site[..., None], day)
        _fill(low, high, daylight, out)
    return out.reshape(*leading, days * 24)


class _Days(NamedTuple):
    """Daily values [degC, h], each of shape (days, 1), that shape the hours of these days."""

    low: FloatArray
    high: FloatArray
    next_low: FloatArray
    daylight: FloatArray
    sunset_temperature: FloatArray
    daylight_before: FloatArray
    sunset_temperature_before: FloatArray
    daylight_after: FloatArray


def _fill(low: FloatArray, high: FloatArray, daylight: FloatArray, out: FloatArray) -> None:
    """Write the hours series by series, some days at a time."""
    whole = out.shape[:-1]
    at_sunset = low + (high - low) * np.sin(math.pi * daylight / (daylight + 4.0))
    low, high = np.broadcast_to(low, whole), np.broadcast_to(high, whole)
    daylight, at_sunset = np.broadcast_to(daylight, whole), np.broadcast_to(at_sunset, whole)
    days = whole[-1]
    for series in np.ndindex(whole[:-1]):
        for start in range(0, days, _DAYS_AT_ONCE):
            stop = min(start + _DAYS_AT_ONCE, days)
            today = np.arange(start, stop)
            before, after = np.maximum(today - 1, 0), np.minimum(today + 1, days - 1)
            picked = _Days(
                *(
                    each[series][index][:, None].astype(np.float64)
                    for each, index in (
                        (low, today),
                        (high, today),
                        (low, after),
                        (daylight, today),
                        (at_sunset, today),
                        (daylight, before),
                        (at_sunset, before),
                        (daylight, after),
                    )
                )
            )
            out[series][start:stop] = _hours(picked)


def _hours(day: _Days) -> FloatArray:
    """Return the 24 hours of each day, shape (days, 24)."""
    hour = np.arange(24.0)
    sunrise, sunset = 12.0 - day.daylight / 2.0, 12.0 + day.daylight / 2.0
    night_before = 24.0 - (day.daylight_before + day.daylight) / 2.0
    night_after = 24.0 - (day.daylight + day.daylight_after) / 2.0
    since_sunset_before = hour + 12.0 - day.daylight_before / 2.0
    morning = _night(day.sunset_temperature_before, day.low, since_sunset_before, night_before)
    evening = _night(day.sunset_temperature, day.next_low, hour - sunset, night_after)
    swing = day.high - day.low
    daytime = day.low + swing * np.sin(math.pi * (hour - sunrise) / (day.daylight + 4.0))
    hours: FloatArray = np.where(hour < sunrise, morning, np.where(hour > sunset, evening, daytime))
    polar = (day.daylight > LONGEST_DAY_H) | (day.daylight < SHORTEST_DAY_H)
    if polar.any():
        wave = np.cos(2.0 * math.pi / 24.0 * (hour - WARMEST_HOUR))
        hours = np.where(polar, day.low + swing * (0.5 + 0.5 * wave), hours)
    hours[np.isnan(swing[:, 0])] = np.nan
    return hours


def _night(
    start: FloatArray, end: FloatArray, hours_since: FloatArray, length: FloatArray
) -> FloatArray:
    """Return the curve from `start` an hour after sunset to `end` at the end of the night."""
    longest = np.maximum(length, 1.0 + 1e-9)
    share = np.log(np.clip(hours_since, 1.0, longest)) / np.log(longest)
    return np.asarray(start - (start - end) * share)
