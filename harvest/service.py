"""The use cases: records from the store, through the calculations, to results.

The command line and the dashboard call these functions and nothing else. Each takes the as-of
date as an argument; nothing dated after it can influence a result.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from harvest.phenology.result import EventForecast, PastForecast
from harvest.records import Records
from harvest.store.orchard import Orchard
from harvest.yields.result import CropAdvice, SeasonYield


@dataclass(frozen=True)
class Overview:
    """An orchard at a glance, for headers and filters."""

    name: str
    is_demo: bool
    demo_as_of: date | None
    note: str
    sites: pd.DataFrame
    trees: pd.DataFrame
    """Trees with site, species, cultivar, planted, removed, row, position, latitude."""
    seasons: tuple[int, ...]
    """Seasons with any record, oldest first."""


def overview(orchard: Orchard, as_of: date) -> Overview:
    """Name, sites, trees and seasons of the orchard."""
    raise NotImplementedError


def records(orchard: Orchard, as_of: date) -> Records:
    """All records known on the day, with the season of each."""
    raise NotImplementedError


def forecast(orchard: Orchard, as_of: date) -> list[EventForecast]:
    """Full bloom, ripe and last pick of every tree in the season that is running."""
    raise NotImplementedError


def past_forecasts(orchard: Orchard, as_of: date, lead_days: int = 30) -> list[PastForecast]:
    """Ripe dates of past seasons as they would have been forecast `lead_days` after full bloom."""
    raise NotImplementedError


def yields(orchard: Orchard, as_of: date) -> list[SeasonYield]:
    """What each tree gave in each season it stood, oldest first."""
    raise NotImplementedError


def crop_load(orchard: Orchard, as_of: date, season: int | None = None) -> list[CropAdvice]:
    """Strip, limit or carry: each standing tree in one season (default: the running one)."""
    raise NotImplementedError
