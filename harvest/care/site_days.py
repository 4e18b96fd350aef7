"""The daily weather of one site on an unbroken calendar, and what is forecast for it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.records import Records
from harvest.weather.daily import COLUMNS, Daily, on_calendar
from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.hours import DayHours, day_hours
from harvest.weather.site_record import SiteRecords

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SiteDays:
    """Days from `start` on, shape (days,), nan where there is none.

    `tmin_c`, `tmax_c` [degC], `precip_mm` [mm]; `wind_kmh` the day's mean [km/h], if any; `hours`
    measured there, if any.
    """

    start: date
    tmin_c: Floats
    tmax_c: Floats
    precip_mm: Floats
    wind_kmh: Floats | None = None
    hours: DayHours | None = None

    def __len__(self) -> int:
        return len(self.tmin_c)

    def at(self, day: date) -> int:
        """Position of a day; below 0 or past the end where it is outside."""
        return (day - self.start).days

    def values(self, column: str, first: date, count: int) -> Floats:
        """`count` values of a column from a day on, nan outside the record."""
        out = np.full(count, np.nan)
        begin = self.at(first)
        low, high = max(begin, 0), min(begin + count, len(self))
        if high > low:
            held: Floats | None = getattr(self, column)
            if held is not None:
                out[low - begin : high - begin] = held[low:high]
        return out

    def measured_hours(self, first: date, count: int) -> Floats:
        """Measured hours of `count` days from a day on [degC], shape (count, 24); nan: none."""
        if self.hours is None:
            return np.full((count, 24), np.nan)
        return self.hours.between(np.datetime64(first, "D"), count)

    @property
    def years(self) -> list[int]:
        """Calendar years the record touches."""
        end = self.start.toordinal() + len(self) - 1
        return list(range(self.start.year, date.fromordinal(max(end, 1)).year + 1))


def days_of(frame: pd.DataFrame) -> SiteDays | None:
    """One site's rows (date, tmin_c, tmax_c, precip_mm, wind_kmh) on a calendar; None without."""
    if frame.empty:
        return None
    return _of(on_calendar(frame))


def _of(days: Daily) -> SiteDays:
    low, high, rain, wind = (days.columns[name] for name in COLUMNS)
    return SiteDays(days.start.astype(date), low, high, rain, wind)


def measured(records: Records) -> dict[str, SiteDays]:
    """The weather on record of each site that has any, with the hours measured there."""
    found = {}
    for site, rows in records.weather.groupby("site"):
        days = days_of(rows)
        if days is not None:
            found[str(site)] = replace(days, hours=measured_hours(records, str(site)))
    return found


def made_whole(records: Records, site: str) -> SiteDays | None:
    """A site's days with gaps filled by its rules, from its first measured day to the as-of day.

    Rain and wind are never filled. None where nothing is measured at the site.
    """
    rows = records.weather[records.weather["site"] == site]
    own = days_of(rows.dropna(subset=["tmin_c", "tmax_c"]))
    if own is None:
        return None
    rules = records.gap_rules.get(site, DEFAULT_RULES)
    places = SiteRecords(records.sites, records.weather)
    whole = places.whole(site, np.datetime64(records.as_of, "D"), rules)
    if whole is None:
        return own
    start = np.datetime64(own.start, "D")
    end = whole.days.start + np.timedelta64(len(whole.days), "D")
    return _of(whole.days.between(start, int((end - start).astype(np.int64))))


def measured_hours(records: Records, site: str) -> DayHours | None:
    """Temperatures measured every hour at a site; None without any."""
    hours = records.weather_hours
    return None if hours is None else day_hours(hours[hours["site"] == site])


def forecast(records: Records) -> dict[str, SiteDays]:
    """What is forecast from the as-of day on: of each day ahead its latest issue."""
    ahead = records.weather_ahead
    coming = ahead[ahead["date"] >= pd.Timestamp(records.as_of)].sort_values(["date", "issued"])
    latest = coming.drop_duplicates(["site", "date"], keep="last")
    found = {}
    for site, rows in latest.groupby("site"):
        days = days_of(rows)
        if days is not None:
            found[str(site)] = days
    return found
