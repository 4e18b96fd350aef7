"""A small invented orchard whose parts can be taken away, for tests of thin records."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta
from functools import cache

import numpy as np
import pandas as pd

from harvest.phenology.result import EventForecast
from tests.phenology.made_records import forecast_at, made_records

FIRST, LAST = date(2009, 7, 1), date(2020, 12, 31)
SEASONS = range(2010, 2020)
NOW = 2020
COLUMNS = {
    "sites": ["site", "latitude", "longitude"],
    "trees": ["tree", "site", "species", "cultivar", "planted"],
    "stages": ["tree", "date", "bbch"],
    "weather": ["site", "date", "tmin_c", "tmax_c"],
}


def weather(site: str = "A", seed: int = 5, warmer: float = 0.0) -> pd.DataFrame:
    """A yearly cycle with spells, 4 degC in January to 21 degC in July, and warm or cold years."""
    random = np.random.default_rng(seed)
    count = (LAST - FIRST).days + 1
    days = [FIRST + timedelta(days=n) for n in range(count)]
    angle = 2 * np.pi * (np.array([d.timetuple().tm_yday for d in days]) - 20) / 365.25
    spell = np.zeros(count)
    for n in range(1, count):
        spell[n] = 0.85 * spell[n - 1] + random.normal(0, 1.6)
    mean = 12.5 - 8.5 * np.cos(angle) + spell + warmer
    return pd.DataFrame(
        {"site": site, "date": days, "tmin_c": mean - 5.0, "tmax_c": mean + 6.0}
    ).round(1)


@cache
def dates(seed: int = 9, warmer: float = 0.0) -> dict[int, tuple[date, date]]:
    """Full bloom and ripe of each year: warmth since 1 February, then warmth since bloom.

    Each is a day or two off, and no clock of the program runs quite like these.
    """
    random = np.random.default_rng(seed)
    rows = weather(warmer=warmer)
    mean = (rows["tmin_c"] + rows["tmax_c"]).to_numpy() / 2
    found = {}
    for year in range(SEASONS[0], NOW + 1):
        start = (date(year, 2, 1) - FIRST).days
        spring = np.cumsum(np.maximum(mean[start:] - 3.0, 0.0) ** 1.1)
        bloom = start + int(np.searchsorted(spring, 420.0)) + int(random.integers(-1, 2))
        summer = np.cumsum(1.07 ** (mean[bloom:] - 15.0))
        ripe = bloom + int(np.searchsorted(summer, 105.0)) + int(random.integers(-2, 3))
        found[year] = FIRST + timedelta(days=bloom), FIRST + timedelta(days=ripe)
    return found


def seasons(tree: str, years: range = SEASONS) -> pd.DataFrame:
    """Full bloom and ripe of a tree in each year."""
    rows = [
        (tree, day, code)
        for year in years
        for day, code in zip(dates()[year], (65, 87), strict=True)
    ]
    return pd.DataFrame(rows, columns=COLUMNS["stages"])


def orchard(**parts: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """One peach of a cultivar no one knows, ten seasons on record, in bloom in 2020."""
    now = pd.DataFrame([("P1", dates()[NOW][0], 65)], columns=COLUMNS["stages"])
    whole = {
        "sites": pd.DataFrame([("A", 44.0, 5.0)], columns=COLUMNS["sites"]),
        "trees": pd.DataFrame(
            [("P1", "A", "peach", "of the house", "2001-11-20")], columns=COLUMNS["trees"]
        ),
        "weather": weather(),
        "stages": pd.concat([seasons("P1"), now]),
    }
    return whole | parts


def empty(kind: str) -> pd.DataFrame:
    """No rows of a kind."""
    return pd.DataFrame(columns=COLUMNS[kind])


def told(frames: dict[str, pd.DataFrame], as_of: date, **known: object) -> dict[str, EventForecast]:
    """Events of tree P1 in the season of the as-of date's year; `known`: other parts of Records."""
    records = dataclasses.replace(made_records(LAST, frames), **known)
    events = forecast_at(records, as_of)
    return {e.event: e for e in events if e.tree == "P1" and e.season == as_of.year}


def width(event: EventForecast) -> int:
    """Days between the 10 % and the 90 % date [d]."""
    return (event.quantiles[0.9] - event.quantiles[0.1]).days


def after(frame: pd.DataFrame, day: date) -> pd.Series:
    """Which rows are dated after a day."""
    return pd.to_datetime(frame["date"]) > pd.Timestamp(day)
