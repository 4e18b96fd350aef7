"""The clocks of an orchard's sites, each made once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harvest.phenology.cells import SiteNow, site_now
from harvest.phenology.clocks import Clock, ClockKind, day_numbers, heat_clocks
from harvest.phenology.site_weather import SiteWeather, site_weather
from harvest.records import Records
from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.hours import day_hours
from harvest.weather.site_record import LEAST_OWN_YEARS, SiteRecords

Ints = NDArray[np.int64]

# A usual year needs about this much of one on record [d].
LEAST_WEATHER_DAYS = 330


@dataclass(frozen=True)
class Unmeasured:
    """Days without a temperature measured at the site: filled by a rule, or left missing."""

    filled: Ints
    missing: Ints


class SiteClocks:
    """Weather and clocks of every site up to the as-of date of some records.

    A weather forecast issued by then carries them some days further.
    """

    def __init__(self, records: Records) -> None:
        self.as_of = np.datetime64(records.as_of, "D")
        self._records = records
        self._latitude = dict(
            zip(records.sites["site"], records.sites["latitude"].astype(float), strict=True)
        )
        self._places = SiteRecords(records.sites, records.weather)
        self._issues = dict(tuple(records.weather_ahead.groupby("site")))
        hours = records.weather_hours
        self._hours = {} if hours is None else dict(tuple(hours.groupby("site")))
        self._series: dict[str, SiteWeather | None] = {}
        self._made: dict[tuple[str, ClockKind, float | None], Clock] = {}

    def now(self, site: str, kinds: list[ClockKind], upper_c: float | None, back: int) -> SiteNow:
        """The site with its clocks of these kinds, in the running season or `back` before it."""
        clocks = self._clocks(site, kinds, upper_c)
        return site_now(self._latitude[site], clocks, self._known_to(site), self.as_of, back)

    def unmeasured(self, site: str, since: NDArray[np.datetime64]) -> Unmeasured:
        """Days after each date without a measured temperature; without weather all of them."""
        until = (self.as_of - np.timedelta64(1, "D")).astype(np.int64)
        begin = day_numbers(since)
        series = self._weather(site)
        if series is None:
            return Unmeasured(np.asarray(np.maximum(until - begin, 0)), np.zeros_like(begin))
        first = int(day_numbers(np.array([series.start]))[0])
        last = first + len(series.rule) - 1
        at = np.clip(begin - first + 1, 0, len(series.rule))
        filled, missing = (
            (whole := np.concatenate([[0], np.cumsum(each)]))[-1] - whole[at]
            for each in (series.filled, series.missing)
        )
        outside = np.maximum(first - begin - 1, 0) + np.maximum(until - np.maximum(last, begin), 0)
        return Unmeasured(np.asarray(filled + outside), np.asarray(missing))

    def has_weather(self, site: str) -> bool:
        """Whether there is enough weather at the site to count heat by."""
        return self._weather(site) is not None

    def short_record(self, site: str) -> str:
        """What is to be said of a site whose own record is short; blank where it is not."""
        series = self._weather(site)
        if series is None or series.own_years >= LEAST_OWN_YEARS:
            return ""
        lenders = " and ".join(series.lenders)
        if series.own_years == 0:
            return (
                f"No weather is on record at this site; that of {lenders} is used, brought to its "
                "level."
            )
        own = f"Only {series.own_years:.1f} years of weather are on record at this site"
        if lenders:
            return f"{own}; its usual year rests on {lenders} too, brought to its level."
        return f"{own}, so its usual year is uncertain."

    def _weather(self, site: str) -> SiteWeather | None:
        if site not in self._series:
            rules = self._records.gap_rules.get(site, DEFAULT_RULES)
            issues = self._issues.get(site)
            hours = day_hours(self._hours[site]) if site in self._hours else None
            series = site_weather(self._places, site, self.as_of, issues, rules, hours)
            enough = series is not None and len(series.rule) >= LEAST_WEATHER_DAYS
            self._series[site] = series if enough else None
        return self._series[site]

    def _known_to(self, site: str) -> int:
        series = self._weather(site)
        last = self.as_of - np.timedelta64(1, "D") if series is None else series.last_known
        return int(day_numbers(np.array([last]))[0])

    def _clocks(
        self, site: str, kinds: list[ClockKind], upper_c: float | None
    ) -> tuple[Clock, ...]:
        """The clocks of these kinds, none without weather; only degree days have a cut-off."""
        series = self._weather(site)
        if series is None:
            return ()
        keys = [(site, kind, upper_c if kind.base_c is not None else None) for kind in kinds]
        new = [key for key in keys if key not in self._made]
        made = heat_clocks(series, self._latitude[site], [kind for _, kind, _ in new], upper_c)
        self._made |= dict(zip(new, made, strict=True))
        return tuple(self._made[key] for key in keys)
