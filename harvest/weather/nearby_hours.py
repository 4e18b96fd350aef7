"""Hourly temperatures of a site from the best station near by."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from harvest.errors import WeatherSourceError
from harvest.weather.daily import Daily, DayHours, on_calendar
from harvest.weather.hours import solar_days, utc_days, within_days
from harvest.weather.nearby import RADIUS_KM, Place, choose_stations
from harvest.weather.neighbours import brought_to
from harvest.weather.station_list import Station
from harvest.weather.stations import StationDays, StationService, Terms

# Years, newest first, after which a station without any hours is asked no further.
ASKED_FOR_HOURS = 2


def hours_nearby(
    service: StationService,
    place: Place,
    first: date,
    last: date,
    *,
    today: date,
    radius_km: float = RADIUS_KM,
) -> tuple[pd.DataFrame, Station, Terms]:
    """Hourly temperatures of the best station near by that has any, as they were measured there.

    Returns rows with the columns time (UTC), temp_c [degC], precip_mm [mm], wind_kmh [km/h],
    modelled; the station they are from; whom to name.

    Raises WeatherSourceError when the service does not answer or no station has hours.
    """
    listed = service.nearest(place.latitude, place.longitude, radius_km=radius_km)
    for station in choose_stations(listed, place.elevation_m, since=first, today=today):
        answers: list[StationDays] = []
        for year in range(last.year, first.year - 1, -1):  # newest first: a file tells of others
            begin, end = max(first, date(year, 1, 1)), min(last, date(year, 12, 31))
            answers.append(service.hours(station, begin, end))
            if len(answers) == ASKED_FOR_HOURS and all(each.rows is None for each in answers):
                break
        parts = [answer.rows for answer in answers if answer.rows is not None]
        if parts:
            terms = Terms()
            for answer in answers:
                terms |= answer.terms
            rows = pd.concat(parts, ignore_index=True).sort_values("time", ignore_index=True)
            return rows, station, terms
    raise WeatherSourceError(
        f"a station with hourly temperatures within {radius_km:g} km is needed",
        given=f"{len(listed)} stations, none with hours from {first} to {last}",
        todo="Hours can be worked out from the daily minimum and maximum instead.",
    )


def hours_at_site(
    rows: pd.DataFrame, station: Station, place: Place, days: pd.DataFrame
) -> DayHours | None:
    """A station's measured hours brought to the level of a site, on days of UTC.

    Each day keeps its course; its lowest and highest hour are moved as the station's days are to
    the site's (`brought_to`). Days with an hour missing are left out.

    Parameters
    ----------
    rows : as from `hours_nearby`. days : the site's own record (date, tmin_c, tmax_c).
    """
    known = rows[~rows["modelled"].astype(bool) & rows["temp_c"].notna()]
    hour = known["time"].to_numpy().astype("datetime64[h]").astype(np.int64)
    utc = utc_days(hour, known["temp_c"].to_numpy(dtype=np.float64))
    if utc is None:
        return None
    there = solar_days(utc, place.longitude)
    low, high = there.temp_c.min(axis=1), there.temp_c.max(axis=1)
    measured = Daily(there.start, {"tmin_c": low, "tmax_c": high, "precip_mm": low * np.nan})
    heights = place.elevation_m, station.elevation_m
    rise_m = np.nan if None in heights else heights[0] - heights[1]  # type: ignore[operator]
    here = brought_to(on_calendar(days), measured, rise_m).columns
    return solar_days(within_days(there, here["tmin_c"], here["tmax_c"]), -place.longitude)
