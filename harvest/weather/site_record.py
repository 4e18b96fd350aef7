"""One site's days made whole, from what was measured there and at the sites around it.

Gaps are filled by the rules that the site's keeper chose (`harvest.weather.gaps`). Before a short
record stands the past of the sites around, brought to the site's level, so that its usual year
rests on more than a few years. Everything is worked out from the days handed in: a record cut off
at a day is made whole by what was known on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.weather.daily import TEMPERATURES, Daily, Floats, on_calendar
from harvest.weather.gaps import fill_gaps
from harvest.weather.neighbours import Neighbour, Weighed, weigh_neighbours

# Ours: how far away another site may lie to lend its weather [km], and how many do.
LENT_WITHIN_KM = 150.0
MOST_LENDERS = 3
# Ours: a record of fewer years than this is short [years].
LEAST_OWN_YEARS = 10.0
YEAR_DAYS = 365.25
EARTH_RADIUS_KM = 6371.0
LENT = "lent"
"""The mark of days before the site's own record that other sites lend."""


@dataclass(frozen=True)
class WholeRecord:
    """A site's days without gaps, as far as its rules fill them.

    `rule` says of each day, shape (days,), what it rests on: "" measured, the name of the rule
    that filled it, "none" still missing, "lent" from before the site's own record.
    """

    days: Daily
    rule: NDArray[np.object_]
    own_years: float
    """Measured days of the site itself [years]."""
    lenders: tuple[str, ...]
    """Sites whose past stands before the site's own, nearest first."""


class SiteRecords:
    """The measured days of all sites, each asked for as a whole.

    Parameters
    ----------
    sites : columns site, latitude, longitude [deg], elevation_m [m].
    weather : columns site, date, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h];
        one row a site and day.
    """

    def __init__(self, sites: pd.DataFrame, weather: pd.DataFrame) -> None:
        self._names = [str(name) for name in sites["site"]]
        named = ("latitude", "longitude", "elevation_m")
        self._places = sites[list(named)].to_numpy(dtype=float).reshape(-1, 3)
        measured = weather[weather[list(TEMPERATURES)].notna().any(axis=1)]
        self._days = {str(site): on_calendar(rows) for site, rows in measured.groupby("site")}
        self._lent: dict[str, Weighed | None] = {}

    def whole(
        self,
        site: str,
        end: np.datetime64,
        rules: Sequence[str],
        forecast: pd.DataFrame | None = None,
    ) -> WholeRecord | None:
        """The site's days up to but without `end`, or further where a forecast goes on.

        Parameters
        ----------
        rules : names out of `harvest.weather.gaps.RULES`, in the order in which they are tried.
        forecast : days after the last measured one (date, tmin_c, tmax_c); they count as known.

        Returns None where neither the site nor, if its rules ask them, its neighbours have a day.
        """
        own = self._days.get(site)
        if own is None:
            return self._of_neighbours(site, end) if "neighbours" in rules else None
        known = own if forecast is None or forecast.empty else _continued(own, forecast)
        days = known.between(known.start, max(known.position(end), len(known)))
        neighbours = None
        lacking = np.isnan(days.columns["tmin_c"] + days.columns["tmax_c"])
        if "neighbours" in rules and lacking.any():
            neighbours = self._neighbours(site)
        filled = fill_gaps(days, rules, None if neighbours is None else neighbours.days)
        whole = WholeRecord(filled.days, filled.rule, _years(own), ())
        return whole if whole.own_years >= LEAST_OWN_YEARS else self._lengthened(site, whole)

    def measured_to(self, site: str) -> np.datetime64 | None:
        """The last day with both temperatures measured; None without one."""
        own = self._days.get(site)
        if own is None:
            return None
        both = np.flatnonzero(~np.isnan(own.columns["tmin_c"] + own.columns["tmax_c"]))
        return own.start + int(both[-1]) if len(both) else None

    def _lengthened(self, site: str, whole: WholeRecord) -> WholeRecord:
        """Put the past that other sites lend before a short record."""
        lent = self._neighbours(site)
        if lent is None:
            return whole
        before = lent.days.between(lent.days.start, max(lent.days.position(whole.days.start), 0))
        if not len(before):
            return whole
        before = fill_gaps(before, ("interpolate", "climate")).days
        columns = {
            name: np.concatenate([before.columns[name], values])
            for name, values in whole.days.columns.items()
        }
        rule = np.concatenate([np.full(len(before), LENT, dtype=object), whole.rule])
        days = Daily(before.start, columns)
        return WholeRecord(days, rule, whole.own_years, tuple(lent.share))

    def _of_neighbours(self, site: str, end: np.datetime64) -> WholeRecord | None:
        """The days of a site that measures nothing itself."""
        lent = self._neighbours(site)
        if lent is None:
            return None
        length = max(lent.days.position(end), len(lent.days))
        days = lent.days.between(lent.days.start, length)
        filled = fill_gaps(days, ("interpolate", "climate"))
        rule = np.where(filled.rule == "", "neighbours", filled.rule).astype(object)
        return WholeRecord(filled.days, rule, 0.0, tuple(lent.share))

    def _neighbours(self, site: str) -> Weighed | None:
        """The days of the nearest other sites with weather, at this site's level."""
        if site not in self._lent:
            near = self._near(site)
            height = self._place(site)[2]
            own = self._days.get(site)
            self._lent[site] = weigh_neighbours(near, height, own) if near else None
        return self._lent[site]

    def _place(self, site: str) -> Floats:
        """Latitude, longitude [deg] and height [m] of a site."""
        return np.asarray(self._places[self._names.index(site)])

    def _near(self, site: str) -> list[Neighbour]:
        others = [name for name in self._names if name != site and name in self._days]
        if not others:
            return []
        there = np.array([self._place(name) for name in others])
        away = _distance_km(self._place(site), there)
        order = np.argsort(away, kind="stable")[:MOST_LENDERS]
        return [
            Neighbour(others[at], self._days[others[at]], float(away[at]), float(there[at, 2]))
            for at in order
            if away[at] <= LENT_WITHIN_KM
        ]


def _continued(own: Daily, forecast: pd.DataFrame) -> Daily:
    """Days with a forecast after them."""
    after = on_calendar(forecast)
    length = max(len(own), own.position(after.start) + len(after))
    days, later = own.between(own.start, length), after.between(own.start, length)
    columns = {
        name: np.where(np.isnan(values), later.columns[name], values)
        for name, values in days.columns.items()
    }
    return Daily(own.start, columns)


def _years(days: Daily) -> float:
    both = ~np.isnan(days.columns["tmin_c"] + days.columns["tmax_c"])
    return float(both.sum() / YEAR_DAYS)


def _distance_km(place: Floats, others: Floats) -> Floats:
    """Great-circle distance by the haversine formula [km]."""
    lat, lon = np.radians(place[:2])
    lats, lons = np.radians(others[:, 0]), np.radians(others[:, 1])
    half = np.sin((lats - lat) / 2) ** 2
    half = half + np.cos(lat) * np.cos(lats) * np.sin((lons - lon) / 2) ** 2
    return np.asarray(2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(half)))
