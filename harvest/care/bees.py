"""The hours bees need in bloom: daylight, warm and dry. Wind is not on record and not counted.

Hours measured at the site count as measured; the others are worked out from minimum and maximum.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from harvest.care.site_days import SiteDays
from harvest.thermal import day_length
from harvest.weather.hours import hours_of

Ints = NDArray[np.int64]

# Honeybees fly from about 13 degC (55 degF) on; wild bees sooner. From memory.
FLYING_C = 13.0
# A day with less than 1 mm is dry: the usual definition of climate indices, from memory.
DRY_MM = 1.0
WIND = "Wind is not on record: calm hours are not known."


@dataclass(frozen=True, slots=True)
class BeeWeather:
    """Warm, dry daylight hours of a bloom period, as far as it is measured."""

    days: int
    """Days of the period that are measured [d]."""
    of_days: int
    hours: float | None
    """Daylight hours at 13 degC and above on days under 1 mm [h]; None where nothing is known."""
    share: float | None
    """Of the daylight hours of the measured days [1]."""
    dry_known: bool
    """Whether rain is on record; where it is not, warm hours alone are counted."""
    says: str


def bee_weather(record: SiteDays | None, first: date, last: date, latitude: float) -> BeeWeather:
    """Hours for bees from the first to the last day of bloom, both counted.

    Parameters
    ----------
    record : the site's weather. latitude : [deg].
    """
    count = (last - first).days + 1
    if record is None or count < 1:
        return BeeWeather(0, max(count, 0), None, None, False, f"Unknown: no weather. {WIND}")
    flying, light, known = _hours(record, first, count, latitude)
    rain = record.values("precip_mm", first, count)
    dry_known = bool((~np.isnan(rain))[known].any())
    if dry_known:
        known &= ~np.isnan(rain)
    if not known.any():
        return BeeWeather(0, count, None, None, False, f"Unknown: no day is measured yet. {WIND}")
    dry = rain < DRY_MM if dry_known else np.ones(count, dtype=bool)
    hours = float((flying[known] * dry[known]).sum())
    share = hours / float(light[known].sum())
    rest = "" if dry_known else " Rain is not on record, so wet hours are among them."
    says = (
        f"{hours:.0f} warm and dry daylight hours ({share:.0%}) in {int(known.sum())} of {count} "
        f"days of bloom.{rest} {WIND}"
    )
    return BeeWeather(int(known.sum()), count, hours, share, dry_known, says)


def _hours(
    record: SiteDays, first: date, count: int, latitude: float
) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """Daylight hours warm enough and all daylight hours of each day, and which days are known."""
    low, high = (record.values(name, first, count) for name in ("tmin_c", "tmax_c"))
    days = np.array([(first + timedelta(days=n)).timetuple().tm_yday for n in range(count)])
    measured = record.measured_hours(first, count)
    hours = hours_of(low, high, latitude, days, measured).reshape(count, 24)
    length = day_length(latitude, days)
    light = np.abs(np.arange(24) - 12.0) <= length[:, None] / 2
    known = ~(np.isnan(hours) & light).any(axis=1)
    return ((hours >= FLYING_C) & light).sum(axis=1), light.sum(axis=1), known
