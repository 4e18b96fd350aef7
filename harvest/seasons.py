"""Which season a date belongs to, in both hemispheres, and days counted from the season's start.

A season is an integer. North of the equator it is the year of the bloom; south of it, the year
after a bloom in July to December (bloom October 2025, pick February 2026: season 2026, shown as
2025/26). A pick belongs to the bloom before it, whatever the calendar says.

Day of season is 1 on the season's first day: 1 January in the north (so it equals the day of
the year), 1 July of the year before in the south. Averages of dates are taken in these days.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

Dates = NDArray[np.datetime64]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

MONDAY = 0
ONE_DAY = np.timedelta64(1, "D")
# A species whose usual bloom lies this close to the season's end blooms across it (loquat).
WRAP_DAY = 300.0
# One whose usual bloom lies this close to the season's start may bloom so many days before it
# (almond at Christmas, low-chill peach in a southern June).
EARLY_DAY = 65.0
EARLY_LEAD_DAYS = 45.0


def is_southern(latitude: float) -> bool:
    """Whether a latitude [deg] lies south of the equator; the equator itself counts as north."""
    return latitude < 0


def calendar_season(day: date, latitude: float) -> int:
    """Season that the calendar alone gives a date: that of a bloom on this day."""
    return day.year + 1 if is_southern(latitude) and day.month >= 7 else day.year


def season_start(season: int, latitude: float) -> date:
    """First day of a season: 1 January in the north, 1 July of the year before in the south."""
    return date(season - 1, 7, 1) if is_southern(latitude) else date(season, 1, 1)


def season_label(season: int, latitude: float) -> str:
    """How a season is shown: `2026` in the north, `2025/26` in the south."""
    return f"{season - 1}/{season % 100:02d}" if is_southern(latitude) else str(season)


def day_of_season(day: date, season: int, latitude: float) -> int:
    """Days from the season's start [d], 1 on its first day; may pass 366 or be below 1."""
    return (day - season_start(season, latitude)).days + 1


def week_start(day: date, begins: int = MONDAY) -> date:
    """First day of the week that a date lies in; `begins` as `date.weekday` counts, 0 Monday."""
    return day - timedelta(days=(day.weekday() - begins) % 7)


def date_of(day: float, season: int, latitude: float) -> date:
    """Calendar date of a day of season [d], rounded to the nearest whole day."""
    return season_start(season, latitude) + timedelta(days=round(day) - 1)


def days_between(first: ArrayLike, second: ArrayLike) -> Floats:
    """Days from the first dates to the second [d], broadcast; nan where either is NaT."""
    begin = np.asarray(first, dtype="datetime64[D]")
    return np.asarray((np.asarray(second, dtype="datetime64[D]") - begin) / ONE_DAY, dtype=float)


def years_of(days: ArrayLike) -> Ints:
    """Calendar year of each date; shape of the input (datetime64)."""
    return np.asarray(days, dtype="datetime64[Y]").astype(np.int64) + 1970


def calendar_seasons(days: ArrayLike, latitude: ArrayLike) -> Ints:
    """Array form of `calendar_season`: dates (datetime64) and latitudes [deg] broadcast."""
    months = np.asarray(days, dtype="datetime64[M]").astype(np.int64) % 12 + 1
    south = np.asarray(latitude, dtype=float) < 0
    return years_of(days) + (south & (months >= 7))


def season_starts(seasons: ArrayLike, latitude: ArrayLike) -> Dates:
    """Array form of `season_start`: datetime64[D], seasons and latitudes [deg] broadcast."""
    season = np.asarray(seasons, dtype=np.int64)
    south = np.asarray(latitude, dtype=float) < 0
    months = np.where(south, (season - 1971) * 12 + 6, (season - 1970) * 12)
    return months.astype("datetime64[M]").astype("datetime64[D]")


def days_of_season(days: ArrayLike, seasons: ArrayLike, latitude: ArrayLike) -> Floats:
    """Array form of `day_of_season` [d]."""
    since = np.asarray(days, dtype="datetime64[D]") - season_starts(seasons, latitude)
    return since / ONE_DAY + 1.0


def bloom_seasons(days: ArrayLike, latitude: ArrayLike, usual_bloom: ArrayLike) -> Ints:
    """Season of blooms on these days.

    Parameters
    ----------
    days : dates of bloom, datetime64.
    latitude : latitude of each [deg].
    usual_bloom : usual day of season of full bloom of the species there [d]; for a species that
        blooms across the season's end (loquat, October to January in the north) a bloom just
        after the boundary belongs to the season that began before it; for one that blooms at its
        start, a bloom shortly before the boundary belongs to the season that follows.

    Returns
    -------
    Seasons, int64, of the broadcast shape.
    """
    season = calendar_seasons(days, latitude)
    usual = np.asarray(usual_bloom, dtype=float)
    into = days_of_season(days, season, latitude)
    late = (usual > WRAP_DAY) & (into < usual - 182.0)
    early = (usual < EARLY_DAY) & (into > 365.0 - EARLY_LEAD_DAYS)
    moved: Ints = early.astype(np.int64) - late
    return season + moved


def pick_seasons(
    days: ArrayLike,
    latitude: ArrayLike,
    usual_bloom: ArrayLike,
    least_days: ArrayLike,
    logged_bloom: Dates | None = None,
) -> Ints:
    """Season of picks: that of the last bloom far enough before them.

    Parameters
    ----------
    days : dates of the picks, datetime64, shape (n,).
    latitude : latitude of each [deg].
    usual_bloom : usual day of season of full bloom [d], used where no bloom was logged.
    least_days : days [d] from full bloom below which no fruit of the species can be ripe; a pick
        sooner after a bloom (a late orange beside open flowers) is of the bloom before.
    logged_bloom : logged full bloom of the calendar season before, of, and after each pick,
        datetime64, shape (n, 3), NaT where none was logged.

    Returns
    -------
    Seasons, int64, shape (n,).
    """
    day = np.asarray(days, dtype="datetime64[D]")
    latitude = np.broadcast_to(np.asarray(latitude, dtype=float), day.shape)
    usual = np.broadcast_to(np.asarray(usual_bloom, dtype=float), day.shape)
    least = np.broadcast_to(np.asarray(least_days, dtype=float), day.shape)
    candidates = calendar_seasons(day, latitude)[:, None] + np.array([-1, 0, 1])
    shift = np.round(usual - 1).astype("timedelta64[D]")
    blooms = season_starts(candidates, latitude[:, None]) + shift[:, None]
    if logged_bloom is not None:
        blooms = np.where(np.isnat(logged_bloom), blooms, logged_bloom)
    since = (day[:, None] - blooms) / ONE_DAY
    follows = since >= least[:, None]
    last = 2 - np.argmax(follows[:, ::-1], axis=1)
    chosen: Ints = candidates[np.arange(day.size), np.where(follows.any(axis=1), last, 0)]
    return chosen


def first_leaf_season(planted: date, latitude: float) -> int:
    """Season of a tree's first leaf.

    A tree planted while dormant has its first leaf in the spring that follows, one planted during
    spring in that same season (to the end of June in the north, of December in the south); a
    tree set out in summer counts from the next spring.
    """
    if is_southern(latitude):
        return planted.year + 1
    return planted.year if planted.month <= 6 else planted.year + 1


def leaf(planted: date, season: int, latitude: float) -> int:
    """Which growing season since planting this is: 1 is the first; below 1 is before planting."""
    return season - first_leaf_season(planted, latitude) + 1
