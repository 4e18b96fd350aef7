"""A site's weather worked out from the stations around it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from harvest.errors import NoStationError, WeatherSourceError
from harvest.weather.checks import find_suspect
from harvest.weather.daily import COLUMNS, TEMPERATURES, Daily, as_days, on_calendar
from harvest.weather.neighbours import (
    HALF_KM,
    METRES_LIKE_A_KM,
    Neighbour,
    weigh_neighbours,
)
from harvest.weather.station_list import Station
from harvest.weather.stations import StationService, Terms

# Ours: how far to look [km], how many stations to use, and the fewest days a station must give.
RADIUS_KM = 75.0
MOST_STATIONS = 5
LEAST_DAYS = 365
HOURS_OF_A_DAY = 22
DAYS_AHEAD = 14
# Coverage assumed of a station of which the service states none.
UNSTATED_COVER = 0.3

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Place:
    """Where the weather is wanted; height [m] and time zone may be unknown."""

    latitude: float
    longitude: float
    elevation_m: float | None = None
    timezone: str | None = None


@dataclass(frozen=True)
class StationUse:
    """A station as it went into a site's weather: how near, how high, how fresh, what share."""

    station: str
    name: str
    distance_km: float
    elevation_m: float | None
    first_day: date
    last_day: date
    days: int
    share: float


@dataclass(frozen=True)
class Fetched:
    """A site's weather from stations.

    `days`: measured; `modelled`: past days for which a weather model stands in; `ahead`: days from
    the day of fetching on. All have the columns date, tmin_c, tmax_c [degC], precip_mm [mm],
    wind_kmh [km/h].
    """

    days: pd.DataFrame
    modelled: pd.DataFrame
    ahead: pd.DataFrame
    stations: tuple[StationUse, ...]
    terms: Terms
    notes: tuple[str, ...] = ()


@dataclass
class _Gathered:
    """One station's rows so far, and what came of asking."""

    station: Station
    parts: list[pd.DataFrame] = field(default_factory=list)
    problems: dict[str, list[int]] = field(default_factory=dict)

    def rows(self) -> pd.DataFrame:
        return pd.concat(self.parts, ignore_index=True).drop_duplicates("date", keep="first")


def fetch_nearby(
    service: StationService,
    place: Place,
    *,
    since: date,
    today: date,
    own: Daily | None = None,
    radius_km: float = RADIUS_KM,
    most: int = MOST_STATIONS,
    progress: Progress | None = None,
) -> Fetched:
    """Ask the stations around a place for their days and weigh them into one record.

    Parameters
    ----------
    since, today : first day wanted; today at the place, from which on days are still to come.
    own : days measured at the place itself, to which the stations are levelled.
    progress : told what is being asked, how much is done, how much there is.

    Raises WeatherSourceError when the service does not answer, NoStationError when there is no
    station with enough minimum and maximum near by, or none gives any day.
    """
    listed = service.nearest(place.latitude, place.longitude, radius_km=radius_km)
    chosen = choose_stations(listed, place.elevation_m, since=since, today=today, most=most)
    if not chosen:
        raise NoStationError(
            f"a station with minimum and maximum within {radius_km:g} km is needed",
            given=f"{len(listed)} stations, none with days since {since}",
            where=f"{place.latitude:g}, {place.longitude:g}",
            todo="Look further with --radius, or bring your own file: harvest import weather FILE.",
        )
    gathered, terms = _gather(service, chosen, since, today, progress)
    notes = [*service.notes, *_told(gathered)]
    try:
        _add_hours(service, gathered, place, today)
    except WeatherSourceError as error:  # the measured days are there; they go in without it
        notes.append(f"No days ahead: {error}")
    useful = [one for one in gathered if one.parts and _measured(one.rows(), today) >= LEAST_DAYS]
    useful = useful or [one for one in gathered if one.parts and _measured(one.rows(), today) > 0]
    if not useful:
        raise NoStationError(
            "one of the stations near by must have days",
            given="; ".join(note.rstrip(".") for note in notes) or "no values",
            where=", ".join(station.name for station in chosen),
            todo="Look further with --radius, or bring your own file: harvest import weather FILE.",
        )
    return _weighed(useful, place, today, own, terms, notes)


def choose_stations(
    listed: Sequence[Station],
    elevation_m: float | None,
    *,
    since: date,
    today: date,
    most: int = MOST_STATIONS,
) -> list[Station]:
    """The stations that promise most: near, of a like height, and with days in the time wanted."""
    worth = []
    for station in listed:
        cover = _cover(station, since, today)
        apart_m = 0.0
        if elevation_m is not None and station.elevation_m is not None:
            apart_m = abs(elevation_m - station.elevation_m)
        away = station.distance_km + apart_m / METRES_LIKE_A_KM
        worth.append(cover / (1 + (away / HALF_KM) ** 2))
    order = sorted(range(len(listed)), key=lambda at: (-worth[at], listed[at].distance_km))
    return [listed[at] for at in order if worth[at] > 0][:most]


def _cover(station: Station, since: date, today: date) -> float:
    """Share of the days wanted that a station promises."""
    if station.first_day is None or station.last_day is None:
        return UNSTATED_COVER
    days = (min(station.last_day, today) - max(station.first_day, since)).days
    share = max(days, 0) / max((today - since).days, 1)
    return share * (1.0 if station.completeness is None else _as_share(station.completeness))


def _as_share(completeness: float) -> float:
    """The service states completeness as a share or in per cent."""
    return completeness / 100 if completeness > 1 else completeness


def _gather(
    service: StationService,
    chosen: Sequence[Station],
    since: date,
    today: date,
    progress: Progress | None,
) -> tuple[list[_Gathered], Terms]:
    """Every year of every station that may have it, newest first."""
    terms = Terms()
    gathered = [_Gathered(station) for station in chosen]
    wanted = []
    for one in gathered:
        first = max(since, one.station.first_day or since).year
        wanted += [(one, year) for year in range(today.year, first - 1, -1)]
    for done, (one, year) in enumerate(wanted):
        if progress is not None:
            progress(f"{one.station.name} {year}", done, len(wanted))
        answer = service.year(one.station, year, today=today)
        if answer.rows is None:
            one.problems.setdefault(answer.problem, []).append(year)
            continue
        late = as_days(answer.rows["date"].to_numpy()) >= np.datetime64(since)
        one.parts.append(answer.rows[late])
        terms |= answer.terms
    if progress is not None:
        progress("done", len(wanted), len(wanted))
    return gathered, terms


def _told(gathered: Sequence[_Gathered]) -> list[str]:
    """What went amiss, a line for each station and kind of trouble; single missing years are not
    told, stations without any are."""
    lines = []
    for one in gathered:
        for problem, years in one.problems.items():
            if problem.startswith("damaged") or not one.parts:
                span = f"{min(years)}-{max(years)}" if len(years) > 1 else f"{years[0]}"
                lines.append(f"{one.station.name} ({one.station.id}), {span}: {problem}.")
    return lines


def _measured(rows: pd.DataFrame, today: date) -> int:
    whole = rows[list(TEMPERATURES)].notna().all(axis=1) & ~rows["modelled"]
    return int((whole & (rows["date"] < pd.Timestamp(today))).sum())


def _add_hours(
    service: StationService, gathered: Sequence[_Gathered], place: Place, today: date
) -> None:
    """Days of the last week and ahead from hourly values, where the daily files have none yet."""
    first, last = today - timedelta(days=8), today + timedelta(days=DAYS_AHEAD)
    for one in gathered:
        known = one.rows()["date"].max() if one.parts else None
        if known is not None and known > pd.Timestamp(today):
            continue
        answer = service.hours(one.station, first, last)
        if answer.rows is not None:
            days = days_from_hours(answer.rows, place.timezone or one.station.timezone)
            if not days.empty:
                one.parts.append(days)


def days_from_hours(hours: pd.DataFrame, timezone: str | None) -> pd.DataFrame:
    """Daily minimum, maximum, rain and mean wind of the local day from hourly values.

    Parameters
    ----------
    hours : columns time (UTC), temp_c [degC], precip_mm [mm], wind_kmh [km/h], modelled.
    timezone : IANA name; None: UTC.

    Returns columns date, tmin_c, tmax_c, precip_mm, wind_kmh, modelled; only days with at least 22
    hours.
    """
    local = (
        pd.DatetimeIndex(hours["time"]).tz_localize("UTC").tz_convert(ZoneInfo(timezone or "UTC"))
    )
    day = local.tz_localize(None).normalize().as_unit("s")
    by_day = hours[hours["temp_c"].notna()].groupby(day[hours["temp_c"].notna()])
    count = by_day["temp_c"].count()
    rain, wind = (hours.groupby(day)[name] for name in ("precip_mm", "wind_kmh"))
    days = pd.DataFrame(
        {
            "tmin_c": by_day["temp_c"].min(),
            "tmax_c": by_day["temp_c"].max(),
            "precip_mm": rain.sum().where(rain.count() >= HOURS_OF_A_DAY),
            "wind_kmh": wind.mean().where(wind.count() >= HOURS_OF_A_DAY),
            "modelled": by_day["modelled"].any(),
        }
    ).loc[lambda frame: count.reindex(frame.index).fillna(0) >= HOURS_OF_A_DAY]
    days.index.name = "date"
    return days.reset_index()


def _weighed(
    useful: Sequence[_Gathered],
    place: Place,
    today: date,
    own: Daily | None,
    terms: Terms,
    notes: Sequence[str],
) -> Fetched:
    """Measured days first; what a model or a forecast says is levelled to them."""
    height = np.nan if place.elevation_m is None else place.elevation_m
    now = pd.Timestamp(today)
    measured, everything, uses = [], [], []
    for one, rows in zip(useful, _without_doubtful(useful), strict=True):
        past = rows[~rows["modelled"] & (rows["date"] < now)]
        station_height = np.nan if one.station.elevation_m is None else one.station.elevation_m
        about: dict[str, Any] = {
            "name": one.station.id,
            "distance_km": one.station.distance_km,
            "elevation_m": station_height,
        }
        measured.append(Neighbour(days=on_calendar(past), **about))
        everything.append(Neighbour(days=on_calendar(rows), **about))
        uses.append((one.station, past))
    site = weigh_neighbours(measured, height, own)
    rest = weigh_neighbours(everything, height, site.days)
    days = _as_rows(site.days)
    other = _as_rows(rest.days)
    other = other[~other["date"].isin(days["date"])]
    return Fetched(
        days=days,
        modelled=other[other["date"] < now].reset_index(drop=True),
        ahead=other[other["date"] >= now].reset_index(drop=True),
        stations=tuple(_use(station, past, site.share[station.id]) for station, past in uses),
        terms=terms,
        notes=(*notes, *(() if place.elevation_m is not None else (_NO_HEIGHT,))),
    )


def _without_doubtful(useful: Sequence[_Gathered]) -> list[pd.DataFrame]:
    """Each station's rows; a suspect day is left to the other stations where one has a sound one.

    Where none has, it goes on into the site's record, which shows it as suspect.
    """
    rows = [one.rows().astype({"modelled": bool}) for one in useful]
    doubtful = [find_suspect(own)["date"] for own in rows]
    sound = [
        set(own.loc[~own["date"].isin(bad), "date"])
        for own, bad in zip(rows, doubtful, strict=True)
    ]
    out = []
    for place, (own, bad) in enumerate(zip(rows, doubtful, strict=True)):
        elsewhere = set().union(*sound[:place], *sound[place + 1 :])
        out.append(own[~(own["date"].isin(bad) & own["date"].isin(elsewhere))])
    return out


_NO_HEIGHT = (
    "The site's height is not on record, so nothing was corrected for height: add elevation_m to "
    "the sites file."
)


def _use(station: Station, past: pd.DataFrame, share: float) -> StationUse:
    whole = past[past[list(TEMPERATURES)].notna().all(axis=1)]
    return StationUse(
        station=station.id,
        name=station.name,
        distance_km=round(station.distance_km, 1),
        elevation_m=station.elevation_m,
        first_day=whole["date"].min().date(),
        last_day=whole["date"].max().date(),
        days=len(whole),
        share=round(share, 3),
    )


def _as_rows(days: Daily) -> pd.DataFrame:
    """Days with both temperatures, to a tenth as they are measured."""
    rows = pd.DataFrame({"date": days.dates.astype("datetime64[s]")})
    for name in COLUMNS:
        rows[name] = np.round(days.columns[name], 1)
    whole = rows[list(TEMPERATURES)].notna().all(axis=1)
    return rows[whole].reset_index(drop=True)
