"""Temperatures measured every hour, on the days of a place, and hours worked out where none was.

Hours are kept in UTC. Here they stand on the days of local solar time, to the whole hour: the time
that reconstructed hours have, without summer time, so that every day has 24 of them. No sum of a
season depends on which hour begins a day.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from harvest.thermal import hourly_temperature
from harvest.units import QUANTITIES
from harvest.weather.daily import YEAR_SLOTS, Bools, DayHours, Floats, Ints, as_days

HOURS = tuple(f"h{hour:02d}_c" for hour in range(24))
DEGREES_PER_HOUR = 15.0
# Days to either side over which measured hours are compared with those worked out, and how many
# equal days are added, so that a few days of hours do not say much of the difference.
COMPARED_DAYS, COMPARED_WORTH_DAYS = 30, 10.0


def day_hours(rows: pd.DataFrame) -> DayHours | None:
    """Rows of one place (date and the columns `HOURS`) on a calendar; None without rows."""
    if rows.empty:
        return None
    dates = as_days(rows["date"].to_numpy())
    start = dates.min()
    values = np.full((int((dates.max() - start).astype(np.int64)) + 1, 24), np.nan)
    values[(dates - start).astype(np.int64)] = rows[list(HOURS)].to_numpy(dtype=np.float64)
    return DayHours(start, values)


def as_rows(hours: DayHours) -> pd.DataFrame:
    """Days with any hour, as rows of date and `HOURS`."""
    kept = ~np.isnan(hours.temp_c).all(axis=1)
    rows = pd.DataFrame(hours.temp_c[kept], columns=list(HOURS))
    dates = hours.start + np.flatnonzero(kept)
    rows.insert(0, "date", dates.astype("datetime64[s]"))
    return rows


def solar_days(utc: DayHours, longitude: float) -> DayHours:
    """Hours of days of UTC on the days of local solar time, to the whole hour."""
    later = round(longitude / DEGREES_PER_HOUR)
    flat = np.full((len(utc.temp_c) + 2) * 24, np.nan)
    flat[24 + later : 24 + later + utc.temp_c.size] = utc.temp_c.ravel()
    return DayHours(utc.start - np.timedelta64(1, "D"), flat.reshape(-1, 24))


def hourly_means(seconds: Floats, temperature_c: Floats) -> tuple[Ints, Floats]:
    """Readings as hours: the mean of those within half an hour of each full hour.

    Parameters
    ----------
    seconds : moments of the readings since 1970 UTC [s], any order.

    Returns hours since 1970 UTC and their temperature [degC], one for each hour with a reading.
    """
    hour = np.floor(seconds / 3600 + 0.5).astype(np.int64)
    if not hour.size:
        return hour, temperature_c
    first = int(hour.min())
    count = np.bincount(hour - first)
    total = np.bincount(hour - first, temperature_c)
    there = np.flatnonzero(count)
    return there + first, np.round(total[there] / count[there], 2)


def utc_days(hours: Ints, temperature_c: Floats) -> DayHours | None:
    """Hours since 1970 UTC on the days of UTC; impossible temperatures are left out."""
    limits = QUANTITIES["tmin_c"]
    fine = (temperature_c >= limits.low) & (temperature_c <= limits.high)
    hours, temperature_c = hours[fine], temperature_c[fine]
    if not hours.size:
        return None
    first = int(hours.min()) // 24
    values = np.full((int(hours.max()) // 24 - first + 1, 24), np.nan)
    values.ravel()[hours - first * 24] = temperature_c
    return DayHours(np.datetime64(first, "D"), values)


def within_days(hours: DayHours, low: Floats, high: Floats) -> DayHours:
    """Hours of another place drawn into the minimum and maximum of each day of a site.

    Each day's hours keep their course; their lowest becomes `low` and their highest `high`, shape
    (days,). Days without both, or with an hour missing, are left out.
    """
    least, most = hours.temp_c.min(axis=1), hours.temp_c.max(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        stretch = np.where(most > least, (high - low) / (most - least), 0.0)
    drawn = low[:, None] + (hours.temp_c - least[:, None]) * stretch[:, None]
    return DayHours(hours.start, np.round(drawn, 2))


def hours_of(
    tmin_c: Floats,
    tmax_c: Floats,
    latitude: float,
    day_of_year: Floats | Ints,
    measured: Floats | None = None,
) -> Floats:
    """Hourly temperatures [degC], measured where there are any, else from minimum and maximum.

    Parameters
    ----------
    tmin_c, tmax_c : shape (..., days). day_of_year : as `harvest.thermal.hourly_temperature`.
    measured : shape (..., days, 24), nan where not measured.

    Returns shape (..., days * 24).
    """
    hours = np.asarray(hourly_temperature(tmin_c, tmax_c, latitude, day_of_year), dtype=np.float64)
    return with_measured(hours, measured)


def with_measured(hours: Floats, measured: Floats | None) -> Floats:
    """Hours that were worked out [degC], shape (..., days * 24), under measured ones."""
    if measured is None:
        return hours
    known = measured.reshape(hours.shape)
    return np.where(np.isnan(known), hours, known)


def level_of_hours(worked_out: Floats, measured: Floats, whole: Bools, slot: Ints) -> Floats:
    """How many times as much a day counts by measured hours as by those worked out, shape (366,).

    Seasons with measured hours stand beside others without: to be compared, they have to be
    brought to one level, that of either.

    Parameters
    ----------
    worked_out, measured : what each day counts by the one and by the other, shape (days,), any
        unit, never negative; nan where unknown. whole : days with all hours measured.
    slot : day of the year of each [d, 0 on 1 January].

    Returns for each day of the year the ratio of the sums of both over the days around it, 1 where
    there is nothing to compare.
    """
    both = whole & ~np.isnan(worked_out)
    if not both.any():
        return np.ones(YEAR_SLOTS)
    sums = [
        np.bincount(slot[both], each[both], minlength=YEAR_SLOTS) for each in (worked_out, measured)
    ]
    near = np.ones(2 * COMPARED_DAYS + 1)
    around = [np.concatenate([a[-COMPARED_DAYS:], a, a[:COMPARED_DAYS]]) for a in sums]
    plain, own = (np.convolve(a, near, mode="valid") for a in around)
    worth = COMPARED_WORTH_DAYS * worked_out[both].mean()
    if worth == 0.0:
        return np.ones(YEAR_SLOTS)
    return np.asarray((own + worth) / (plain + worth))


def on_one_level(
    running: Callable[[Floats], Floats], hours: Floats, measured: Floats | None, slot: Ints
) -> Floats:
    """Running totals of years at the end of each day, shape (years, days).

    Measured hours count as measured; what hours worked out make of a day is brought to their level.

    Parameters
    ----------
    running : totals by day of hourly temperatures. hours : worked out [degC], shape (years, days *
        24). measured : shape (years, days, 24), nan where not measured; None: nowhere.
    slot : day of the year of each day [d, 0 on 1 January], shape (days,) or (years, days).
    """
    plain = running(hours)
    if measured is None or np.isnan(measured).all():
        return plain
    own = running(with_measured(hours, measured))
    plain, own = (np.asarray(np.diff(each, axis=1, prepend=0.0)) for each in (plain, own))
    known = ~np.isnan(measured)
    slots = np.broadcast_to(slot, plain.shape)
    level = level_of_hours(plain.ravel(), own.ravel(), known.all(axis=-1).ravel(), slots.ravel())
    return np.cumsum(np.where(known.any(axis=-1), own, plain * level[slots]), axis=1)
