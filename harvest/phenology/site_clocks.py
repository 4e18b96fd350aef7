"""The clocks of an orchard's sites, each made once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from harvest.phenology.cells import SiteNow, site_now
from harvest.phenology.clocks import Clock, ClockKind, day_numbers, heat_clocks
from harvest.phenology.site_weather import SiteWeather, site_weather
from harvest.records import Records

# A usual year needs about this much of one on record [d].
LEAST_WEATHER_DAYS = 330


class SiteClocks:
    """Weather and clocks of every site up to the as-of date of some records.

    A weather forecast issued by then carries them some days further.
    """

    def __init__(self, records: Records) -> None:
        self.as_of = np.datetime64(records.as_of, "D")
        self._latitude = dict(
            zip(records.sites["site"], records.sites["latitude"].astype(float), strict=True)
        )
        self._weather: dict[str, SiteWeather] = {}
        issues = dict(tuple(records.weather_ahead.groupby("site")))
        for site, rows in records.weather.groupby("site"):
            series = site_weather(rows, self.as_of, issues.get(site))
            if series is not None and len(series.tmin_c) >= LEAST_WEATHER_DAYS:
                self._weather[str(site)] = series
        self._made: dict[tuple[str, ClockKind, float | None], Clock] = {}

    def now(self, site: str, kinds: list[ClockKind], upper_c: float | None, back: int) -> SiteNow:
        """The site with its clocks of these kinds, in the running season or `back` before it."""
        clocks = tuple(self._clock(site, kind, upper_c) for kind in kinds)
        known = tuple(clock for clock in clocks if clock is not None)
        return site_now(self._latitude[site], known, self._known_to(site), self.as_of, back)

    def filled(self, site: str, since: NDArray[np.datetime64]) -> NDArray[np.int64]:
        """Days after each date without a measured temperature; all of them without weather."""
        until = (self.as_of - np.timedelta64(1, "D")).astype(np.int64)
        begin = day_numbers(since)
        series = self._weather.get(site)
        if series is None:
            return np.asarray(np.maximum(until - begin, 0))
        gaps = np.concatenate([[0], np.cumsum(series.filled)])
        at = begin - int(day_numbers(np.array([series.start]))[0]) + 1
        behind = gaps[np.clip(at, 0, len(gaps) - 1)]
        return np.asarray(gaps[-1] - behind + np.maximum(-at, 0))

    def has_weather(self, site: str) -> bool:
        """Whether there is enough weather at the site to count heat by."""
        return site in self._weather

    def _known_to(self, site: str) -> int:
        series = self._weather.get(site)
        last = self.as_of - np.timedelta64(1, "D") if series is None else series.last_known
        return int(day_numbers(np.array([last]))[0])

    def _clock(self, site: str, kind: ClockKind, upper_c: float | None) -> Clock | None:
        if site not in self._weather:
            return None
        key = (site, kind, upper_c if kind.base_c is not None else None)
        if key not in self._made:
            series = self._weather[site]
            self._made[key] = heat_clocks(series, self._latitude[site], [kind], upper_c)[0]
        return self._made[key]
