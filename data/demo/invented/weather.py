"""Invented daily weather: a yearly cycle, slow spells, day-to-day persistence, wet and dry days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from invented.plan import (
    AS_OF,
    FIRST_DAY,
    PLANNED_DROUGHTS,
    PLANNED_FROSTS,
    PLANNED_GALES,
    WEATHER_GAP,
    Place,
    stream,
)

ORIGIN = date(2013, 1, 1)  # earlier than the log: the first winter chills unseen
END = date(2027, 9, 30)  # later than the log: fruit still hanging needs a future to ripen in
WARMING_C_PER_YEAR = 0.03
PERSISTENCE = 0.72  # of the daily mean, one day to the next
SPELL_DAYS = 40.0  # how long warm and cold spells last
SPELL_SD_C = 0.8


@dataclass(frozen=True)
class Weather:
    """Daily arrays from ORIGIN to END; temperatures in degC, rain in mm, mean wind in km/h."""

    tmin_c: np.ndarray
    tmax_c: np.ndarray
    rain_mm: np.ndarray
    wind_kmh: np.ndarray

    @property
    def mean_c(self) -> np.ndarray:
        return (self.tmin_c + self.tmax_c) / 2


def index_of(day: date) -> int:
    return (day - ORIGIN).days


def day_at(index: int) -> date:
    return ORIGIN + timedelta(days=int(index))


def persistent(rng: np.random.Generator, n: int, memory: float) -> np.ndarray:
    """First-order autoregression of unit variance."""
    out = np.empty(n)
    shocks = rng.standard_normal(n) * np.sqrt(1 - memory**2)
    out[0] = rng.standard_normal()
    for i in range(1, n):
        out[i] = memory * out[i - 1] + shocks[i]
    return out


def between(ends: tuple[float, float], summer: np.ndarray) -> np.ndarray:
    """From the midwinter to the midsummer value, along the year."""
    return ends[0] + (ends[1] - ends[0]) * summer


def wet_days(rng: np.random.Generator, share: np.ndarray) -> np.ndarray:
    """Two-state chain: rain today makes rain tomorrow likelier; `share` is kept on average."""
    draws = rng.random(share.size)
    wet = np.zeros(share.size, dtype=bool)
    for i in range(1, share.size):
        chance = share[i] + 0.28 * ((1 - share[i]) if wet[i - 1] else -share[i])
        wet[i] = draws[i] < chance
    return wet


def invent(place: Place) -> Weather:
    n = index_of(END) + 1
    rng = stream("weather", place.site)
    days = pd.date_range(ORIGIN, periods=n)
    phase = 2 * np.pi * (days.dayofyear.to_numpy() - (18 if not place.south else 200)) / 365.25
    summer = (1 - np.cos(phase)) / 2
    years = np.asarray(days.year) - ORIGIN.year
    warm_year = rng.normal(0, 0.4, years.max() + 1)[years]
    wet = wet_days(rng, between(place.wet_share, summer))
    mean = (
        place.mean_c
        - place.half_swing_c * np.cos(phase)
        + WARMING_C_PER_YEAR * np.arange(n) / 365.25
        + warm_year
        + SPELL_SD_C * persistent(rng, n, float(np.exp(-1 / SPELL_DAYS)))
        + between(place.day_sd_c, summer) * persistent(rng, n, PERSISTENCE)
        + np.where(wet, 1.4 - 2.8 * summer, 0.6 * summer)
    )
    swing = between(place.day_range_c, summer) * np.where(wet, 0.72, 1.15)
    swing = np.maximum(swing * np.exp(rng.normal(0, 0.22, n)), 1.2)
    lean = rng.normal(0, 0.03, n)
    tmin, tmax = mean - swing * (0.5 - lean), mean + swing * (0.5 + lean)
    rain = np.where(wet, rng.gamma(0.75, place.rain_mm / 0.75, n), 0.0)
    for site, first, last in PLANNED_DROUGHTS:
        if site == place.site:
            spell = slice(index_of(first), index_of(last) + 1)
            rain[spell] *= rng.random(rain[spell].size) < 0.25
            tmax[spell] += 1.2
    tmin = milder_spring_nights(place, np.asarray(days.month), tmin)
    tmin, tmax = with_planned_frosts(place, tmin, tmax)
    wind = windy_days(place, wet)
    tmax = np.maximum(tmax, tmin + 0.8)
    return Weather(*(np.round(values, 1) for values in (tmin, tmax, rain, wind)))


def windy_days(place: Place, wet: np.ndarray) -> np.ndarray:
    """Mean wind of each day [km/h]; a stream of its own, so that no other weather moves with it."""
    blows = persistent(stream("wind", place.site), wet.size, 0.5)
    wind = np.asarray(np.where(wet, 17.0, 13.0) * np.exp(0.35 * blows.clip(-3, 3)))
    for site, first, last in PLANNED_GALES:
        if site == place.site:
            wind[index_of(first) : index_of(last) + 1] += 45
    return wind


def milder_spring_nights(place: Place, month: np.ndarray, tmin: np.ndarray) -> np.ndarray:
    """Softens late frosts so that the planned ones stand out."""
    spring = (month >= 8) & (month <= 11) if place.south else (month >= 3) & (month <= 6)
    below = np.minimum(tmin - place.night_floor_c, 0.0)
    return np.where(spring, tmin - 0.92 * below, tmin)


def with_planned_frosts(
    place: Place, tmin: np.ndarray, tmax: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    for site, night, low in PLANNED_FROSTS:
        if site == place.site:
            i = index_of(night)
            tmin[i] = low
            tmax[i] = min(tmax[i], low + 12.5)
    return tmin, tmax


def weather_table(weathers: dict[str, Weather]) -> pd.DataFrame:
    """The weather table as kept: some days missing, rain not read on a few."""
    frames = []
    for site, weather in weathers.items():
        days = pd.date_range(FIRST_DAY, AS_OF - timedelta(days=1))
        part = slice(index_of(FIRST_DAY), index_of(AS_OF))
        rng = stream("missing", site)
        rain = np.where(rng.random(len(days)) < 0.004, np.nan, weather.rain_mm[part])
        frame = pd.DataFrame(
            {
                "site": site,
                "date": days.strftime("%Y-%m-%d"),
                "tmin_c": weather.tmin_c[part],
                "tmax_c": weather.tmax_c[part],
                "precip_mm": rain,
                "wind_kmh": weather.wind_kmh[part],
            }
        )
        keep = single_days_lost(rng, len(days))
        for where, night, _ in PLANNED_FROSTS:
            keep[(night - FIRST_DAY).days] |= where == site
        if site == WEATHER_GAP[0]:
            start = (WEATHER_GAP[1] - FIRST_DAY).days
            keep[start : start + WEATHER_GAP[2]] = False
        frames.append(frame[keep])
    return pd.concat(frames, ignore_index=True)


def single_days_lost(rng: np.random.Generator, n: int) -> np.ndarray:
    """True where a day was kept; never two lost in a row, the last fortnight is whole."""
    lost = rng.random(n) < 0.004
    lost[1:] &= ~lost[:-1]
    lost[-14:] = False
    return ~lost
