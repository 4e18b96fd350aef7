"""Two ways to count the time from bloom to ripe: in degree days, or in plain days."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from harvest.phenology.site_weather import HORIZON_DAYS, SiteWeather, heat_ahead
from harvest.seasons import ONE_DAY

Floats = NDArray[np.float64]
Dates = NDArray[np.datetime64]

# A past interval counts when no more than this share of its days was filled.
MOST_FILLED = 0.2


class Clock(Protocol):
    """Progress towards ripeness at one site for one species."""

    name: str
    ahead: Floats
    """Progress from the as-of date to the end of each day ahead, shape (members, days)."""

    def between(self, bloom: Dates, day: Dates) -> Floats:
        """Progress of the days after `bloom` up to and including `day`; nan where not known."""
        ...

    def usual(self, bloom: Dates, days: Floats, spread: Floats) -> tuple[Floats, Floats]:
        """Usual progress in so many days [d] from bloom, and in the `spread` [d] at their end."""
        ...

    def filled(self, bloom: Dates) -> NDArray[np.int64]:
        """Days since bloom whose temperature was filled in."""
        ...


class DayClock:
    """Counts days: for sites without weather to count."""

    name = "days from bloom"

    def __init__(self) -> None:
        self.ahead: Floats = np.arange(1.0, HORIZON_DAYS + 1)[None, :]

    def between(self, bloom: Dates, day: Dates) -> Floats:
        """Days after `bloom` up to and including `day` [d]."""
        return np.asarray((day - bloom) / ONE_DAY, dtype=float)

    def usual(self, _bloom: Dates, days: Floats, spread: Floats) -> tuple[Floats, Floats]:
        """The days themselves."""
        return days, spread

    def filled(self, bloom: Dates) -> NDArray[np.int64]:
        """None: nothing was counted that could be missing."""
        return np.zeros(len(bloom), dtype=np.int64)


class HeatClock:
    """Counts degree days at one site with one species' base and upper cut-off [degC]."""

    def __init__(self, weather: SiteWeather, base_c: float, upper_c: float | None) -> None:
        heat = heat_ahead(weather, base_c, upper_c)
        upper = "" if upper_c is None else f", cut-off {upper_c:g} degC"
        self.name = f"degree days (single sine, base {base_c:g} degC{upper})"
        self.ahead = heat.ahead
        self._weather = weather
        self._past = heat.past
        self._gaps = np.concatenate([[0], np.cumsum(weather.filled)])
        self._year = _usual_year(weather.start, heat.past)

    def knows(self, bloom: Dates) -> NDArray[np.bool_]:
        """Whether the weather since bloom is on record and there are past years to go on."""
        at = self._weather.position(bloom)
        return (at >= 0) & (len(self.ahead) > 0)

    def between(self, bloom: Dates, day: Dates) -> Floats:
        """Degree days of the days after `bloom` up to and including `day` [degC d].

        nan where the interval is not on record, or more than a fifth of it was filled.
        """
        begin, end = self._weather.position(bloom), self._weather.position(day)
        inside = (begin >= 0) & (end < len(self._weather.filled)) & (end >= begin)
        low, high = np.where(inside, begin + 1, 0), np.where(inside, end + 1, 0)
        gaps = self._gaps[high] - self._gaps[low]
        good = inside & (gaps <= MOST_FILLED * np.maximum(high - low, 1))
        return np.where(good, self._past[high] - self._past[low], np.nan)

    def so_far(self, bloom: Dates) -> Floats:
        """Degree days from bloom to the end of the series, the day before the as-of date."""
        begin = np.minimum(self._weather.position(bloom) + 1, len(self._past) - 1)
        return np.asarray(self._past[-1] - self._past[begin])

    def usual(self, bloom: Dates, days: Floats, spread: Floats) -> tuple[Floats, Floats]:
        """Degree days of the site's mean year [degC d] in these days from bloom."""
        slot = (bloom - bloom.astype("datetime64[Y]").astype("datetime64[D]")) / ONE_DAY
        grid = np.arange(len(self._year))
        begin = np.interp(slot + 1, grid, self._year)
        mean = np.interp(slot + 1 + days, grid, self._year) - begin
        early = np.interp(slot + 1 + np.maximum(days - spread, 0), grid, self._year)
        late = np.interp(slot + 1 + days + spread, grid, self._year)
        return mean, np.maximum((late - early) / 2, 1e-6)

    def filled(self, bloom: Dates) -> NDArray[np.int64]:
        """Days since bloom whose temperature was filled in."""
        begin = np.clip(self._weather.position(bloom) + 1, 0, len(self._gaps) - 1)
        return np.asarray(self._gaps[-1] - self._gaps[begin])


def _usual_year(start: np.datetime64, past: Floats) -> Floats:
    """Running sum of the mean daily heat over three mean years, from 1 January [degC d]."""
    days = start + np.arange(len(past) - 1)
    slot = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64)
    slot = np.minimum(slot, 364)
    total = np.bincount(slot, np.diff(past), minlength=365)
    count = np.bincount(slot, minlength=365)
    known = count > 0
    mean = np.interp(np.arange(365), np.flatnonzero(known), total[known] / count[known], period=365)
    return np.concatenate([[0.0], np.cumsum(np.tile(mean, 3))])
