"""The hours bees need in bloom: daylight, warm, dry and, where wind is on record, calm.

Hours measured at the site count as measured; the others are worked out from minimum and maximum.
Rain and wind are known by the day alone: an hour counts as its day does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from harvest.thermal import day_length
from harvest.weather.daily import Daily
from harvest.weather.hours import hours_of

Ints = NDArray[np.int64]

# Few honeybees fly below 55 degF (13 degC); wind above 15 mph (24 km/h) slows or stops them:
# Washington State University Extension, WSU Tree Fruit, "Honey Bees". Wild bees fly sooner.
FLYING_C = 13.0
CALM_KMH = 24.0
# A day with less than 1 mm is dry: the usual definition of climate indices, from memory.
DRY_MM = 1.0
NO_WIND = "Wind is not on record: calm hours are not known."
CALM = f"mean wind of the day at most {CALM_KMH:g} km/h; single hours may have been windier"


@dataclass(frozen=True, slots=True)
class BeeWeather:
    """Warm, dry and calm daylight hours of a bloom period, as far as it is measured."""

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
    calm_days: int = 0
    """Days among them whose wind is on record [d]."""
    calm_hours: float | None = None
    """Warm and dry hours of those days that are calm as well [h]; None where no wind is known."""
    calm_share: float | None = None
    """Of the daylight hours of those days [1]."""


def bee_weather(record: Daily | None, first: date, last: date, latitude: float) -> BeeWeather:
    """Hours for bees from the first to the last day of bloom, both counted.

    Parameters
    ----------
    record : the site's weather. latitude : [deg].
    """
    count = (last - first).days + 1
    if record is None or count < 1:
        return BeeWeather(0, max(count, 0), None, None, False, f"Unknown: no weather. {NO_WIND}")
    flying, light, known = _hours(record, first, count, latitude)
    rain = record.values("precip_mm", first, count)
    dry_known = bool((~np.isnan(rain))[known].any())
    if dry_known:
        known &= ~np.isnan(rain)
    if not known.any():
        return BeeWeather(
            0, count, None, None, False, f"Unknown: no day is measured yet. {NO_WIND}"
        )
    dry = rain < DRY_MM if dry_known else np.ones(count, dtype=bool)
    flying *= dry
    hours = float(flying[known].sum())
    share = hours / float(light[known].sum())
    rest = "" if dry_known else " Rain is not on record, so wet hours are among them."
    says = (
        f"{hours:.0f} warm and dry daylight hours ({share:.0%}) in {int(known.sum())} of {count} "
        f"days of bloom.{rest}"
    )
    wind = record.values("wind_kmh", first, count)
    felt = known & ~np.isnan(wind)
    days = int(known.sum())
    if not felt.any():
        return BeeWeather(days, count, hours, share, dry_known, f"{says} {NO_WIND}")
    calm = float(flying[felt & (wind <= CALM_KMH)].sum())
    calm_share = calm / float(light[felt].sum())
    seen = int(felt.sum())
    told = f"{says} {_calm(seen, days, calm, calm_share)}"
    return BeeWeather(days, count, hours, share, dry_known, told, seen, calm, calm_share)


def _calm(seen: int, days: int, hours: float, share: float) -> str:
    """How many of the hours were calm as well, and what that rests on."""
    of = "Of them" if seen == days else f"Of those on the {seen} of {days} days with wind on record"
    return f"{of}, {hours:.0f} hours ({share:.0%} of daylight) were calm as well ({CALM})."


def shares_counted(found: Iterable[BeeWeather | None]) -> str:
    """What the two shares count, and where no wind is on record, that."""
    told = "Bees: share of the daylight of bloom that was warm and dry, and calm as well"
    windy = any(each is not None and each.calm_share is not None for each in found)
    return f"{told} ({CALM})." if windy else f"{told}. {NO_WIND}"


def _hours(
    record: Daily, first: date, count: int, latitude: float
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
