"""The use case about a season's weather: warmth and chill so far, frost at bloom, the last days.

The dashboard calls it. It takes the as-of date as an argument; nothing dated after it can
influence a result.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Literal

import numpy as np
import pandas as pd

from harvest.care.season_course import Course, chill_course, heat_between, heat_course
from harvest.care.site_days import forecast, measured
from harvest.care.spells import FROST_C, KillTemperature, kill_at
from harvest.phenology.result import EventForecast
from harvest.records import FULL_BLOOM
from harvest.seasons import calendar_season, season_label
from harvest.service_known import Known, known_on
from harvest.store.orchard import Orchard
from harvest.store.reference import cultivar_table, frost_kill_table, species_table
from harvest.store.weather_status import WeatherStatus, read_status
from harvest.thermal import LOW_CHILL_HOURS
from harvest.weather.daily import Daily

__all__ = ["Bloom", "Course", "Day", "FrostNight", "HeatNeed", "SiteSeason", "site_season"]

# Past seasons with bloom and ripe dates from which a cultivar's need of heat is told.
LEAST_SEASONS = 3
# Days of weather shown one by one.
SHOWN_DAYS = 60
# Days around full bloom whose nights are looked at: common practice, no source.
AROUND_BLOOM_DAYS = 10

DayKind = Literal["measured", "suspect", "missing", "forecast"]


@dataclass(frozen=True, slots=True)
class Day:
    """One day's weather: `tmin_c`, `tmax_c` [degC], None where there is none."""

    date: date
    kind: DayKind
    tmin_c: float | None
    tmax_c: float | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Bloom:
    """Full bloom of a cultivar this season: as seen, or the middle of its forecast."""

    date: date
    seen: bool


@dataclass(frozen=True, slots=True)
class HeatNeed:
    """Degree days from full bloom to ripe that a cultivar took in past seasons [degC d].

    `low` and `high` leave out one season in ten at either end.
    """

    low: float
    middle: float
    high: float
    seasons: int


@dataclass(frozen=True, slots=True)
class FrostNight:
    """A night at or below 0 degC around full bloom."""

    date: date
    tmin_c: float
    foretold: bool


@dataclass(frozen=True)
class SiteSeason:
    """A site's season so far, as it bears on one cultivar."""

    site: str
    species: str
    cultivar: str
    season: str
    """How the season is shown."""
    base_c: float
    upper_c: float | None
    heat: Course | None
    chill: Course | None
    bloom: Bloom | None
    heat_need: HeatNeed | None
    chill_need: tuple[float, float] | None
    """Chill portions, as listed for the cultivar or its species."""
    chill_need_of: str
    frosts: tuple[FrostNight, ...]
    frost_days: tuple[date, date] | None
    """The days around full bloom that were looked at."""
    frost_days_known: int
    """How many of them have a lowest temperature, on record or forecast."""
    kill: KillTemperature | None
    days: tuple[Day, ...]
    status: WeatherStatus


def site_season(
    orchard: Orchard,
    as_of: date,
    kind: tuple[str, str, str],
    *,
    status: WeatherStatus | None = None,
    known: Known | None = None,
) -> SiteSeason:
    """How far the season has come at a site.

    Parameters
    ----------
    kind : site, species and cultivar, all of them on record.
    status : the site's weather, where it has been read already.

    Raises UnknownNameError for a site not on record.
    """
    known = known or known_on(orchard, as_of)
    site, species, cultivar = kind
    if status is None:
        with orchard.reading() as connection:
            status = read_status(connection, as_of, site)[0]
    latitude = float(known.records.sites.set_index("site")["latitude"][site])
    table = species_table()
    row = table[table["species"] == species].to_dict("records")[0]
    base, upper = float(row["heat_base_c"]), row["heat_upper_c"]
    limits = (base, None if pd.isna(upper) else float(upper))
    record = measured(known.records).get(site)
    ahead = forecast(known.records).get(site)
    bloom = _bloom(known.forecast, kind)
    around = None if bloom is None else _around(bloom.date)
    chill_need, chill_need_of = _chill_need(species, cultivar, row)
    frosts, nights = ((), 0) if around is None else _frosts(around, record, ahead)
    return SiteSeason(
        site=site,
        species=species,
        cultivar=cultivar,
        season=season_label(calendar_season(as_of, latitude), latitude),
        base_c=base,
        upper_c=limits[1],
        heat=None if record is None else heat_course(record, ahead, as_of, latitude, limits),
        chill=None if record is None else chill_course(record, ahead, as_of, latitude),
        bloom=bloom,
        heat_need=None if record is None else _heat_need(known, kind, record, limits),
        chill_need=chill_need,
        chill_need_of=chill_need_of,
        frosts=frosts,
        frost_days=around,
        frost_days_known=nights,
        kill=kill_at(frost_kill_table(), species, FULL_BLOOM),
        days=_days(as_of, record, ahead, status),
        status=status,
    )


def _bloom(events: list[EventForecast], kind: tuple[str, str, str]) -> Bloom | None:
    """The middle of the trees' full blooms: seen where any was, else forecast."""
    own = [
        each
        for each in events
        if each.event == "full bloom" and (each.site, each.species, each.cultivar) == kind
    ]
    latest = max((each.season for each in own), default=None)
    seen = [each.observed for each in own if each.season == latest and each.observed is not None]
    if seen:
        return Bloom(sorted(seen)[(len(seen) - 1) // 2], seen=True)
    middles = sorted(each.quantiles[0.5] for each in own if each.quantiles)
    return Bloom(middles[(len(middles) - 1) // 2], seen=False) if middles else None


def _around(bloom: date) -> tuple[date, date]:
    reach = timedelta(days=AROUND_BLOOM_DAYS)
    return bloom - reach, bloom + reach


def _heat_need(
    known: Known,
    kind: tuple[str, str, str],
    record: Daily,
    limits: tuple[float, float | None],
) -> HeatNeed | None:
    """What past seasons of the cultivar at the site took; None where they are too few."""
    past = known.past_seasons
    site, species, cultivar = kind
    own = past[
        (past["site"] == site)
        & (past["species"] == species)
        & (past["cultivar"] == cultivar)
        & past["interval"].notna()
    ]
    spans = [
        (date.fromordinal(date(1970, 1, 1).toordinal() + int(bloom)), ripe.date())
        for bloom, ripe in zip(own["bloom_number"], own["ripe"], strict=True)
    ]
    sums = pd.Series(heat_between(record, spans, limits), index=own["season"]).dropna()
    seasons = sums.groupby(level=0).mean()
    if len(seasons) < LEAST_SEASONS:
        return None
    low, middle, high = np.quantile(seasons.to_numpy(), [0.1, 0.5, 0.9])
    return HeatNeed(float(low), float(middle), float(high), len(seasons))


def _chill_need(
    species: str, cultivar: str, row: Mapping[Hashable, Any]
) -> tuple[tuple[float, float] | None, str]:
    """Chill portions of the cultivar, else of the species, and which of the two.

    Those of its species say nothing of a low-chill cultivar.
    """
    table = cultivar_table()
    own = table[(table["species"] == species) & (table["cultivar"] == cultivar)]
    levels = [(cultivar, each) for each in own.to_dict("records")]
    if not (own["chill_hours_high"] <= LOW_CHILL_HOURS).any():
        levels.append((species, dict(row)))
    for name, found in levels:
        ends = [found["chill_portions_low"], found["chill_portions_high"]]
        told = [float(end) for end in ends if not pd.isna(end)]
        if told:
            return (min(told), max(told)), name
    return None, ""


def _frosts(
    days: tuple[date, date], record: Daily | None, ahead: Daily | None
) -> tuple[tuple[FrostNight, ...], int]:
    """Nights of frost within the days, and how many of the days have a temperature."""
    found = []
    known = np.zeros((days[1] - days[0]).days + 1, dtype=bool)
    for series, foretold in ((record, False), (ahead, True)):
        if series is None:
            continue
        low = series.values("tmin_c", days[0], len(known))
        known |= ~np.isnan(low)
        found += [
            FrostNight(days[0] + timedelta(days=int(at)), float(low[at]), foretold)
            for at in np.flatnonzero(low <= FROST_C)
        ]
    return tuple(found), int(known.sum())


def _days(
    as_of: date, record: Daily | None, ahead: Daily | None, status: WeatherStatus
) -> tuple[Day, ...]:
    """The last days, what is wrong with them, and what is forecast."""
    doubts: dict[date, list[str]] = {}
    said: dict[date, dict[str, float]] = {}
    for each in status.suspect:
        doubts.setdefault(each.date, []).append(each.rule)
        said.setdefault(each.date, {})[each.column] = each.value
    out = []
    for series, first, count in (
        (record, as_of - timedelta(days=SHOWN_DAYS), SHOWN_DAYS),
        (ahead, as_of, 0 if ahead is None else len(ahead) - ahead.position(as_of)),
    ):
        if series is None:
            continue
        low, high = (series.values(name, first, count) for name in ("tmin_c", "tmax_c"))
        for at in range(count):
            day = first + timedelta(days=at)
            whole = not np.isnan(low[at] + high[at])
            kind: DayKind = "measured" if whole else "missing"
            if series is ahead:
                if not whole:
                    continue
                kind = "forecast"
            elif not whole and day in doubts:
                kind = "suspect"
            values = (_number(low[at]), _number(high[at]))
            if kind == "suspect":
                values = (said[day].get("tmin_c"), said[day].get("tmax_c"))
            rules = "; ".join(dict.fromkeys(doubts.get(day, ()))) if kind == "suspect" else ""
            out.append(Day(day, kind, *values, rules))
    return tuple(out)


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
