"""The use cases: records from the store, through the calculations, to results.

The command line and the dashboard call these functions and nothing else. Each takes the as-of
date as an argument; nothing dated after it can influence a result.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import pandas as pd

from harvest.phenology.backtest import Backtest, LeadScores, parse_lead
from harvest.phenology.backtest import backtest as backtest_records
from harvest.phenology.explain import explained
from harvest.phenology.hindcast import Lead
from harvest.phenology.hindcast import Progress as ScoringProgress
from harvest.phenology.hindcast import past_forecasts as hindcast
from harvest.phenology.result import EventForecast, EventName, PastForecast
from harvest.records import KINDS, Records
from harvest.seasons import MONDAY
from harvest.service_known import Known, known_on
from harvest.store.about import About, read_about
from harvest.store.demo import create_demo
from harvest.store.importing import ImportReport
from harvest.store.orchard import Orchard, create_orchard, open_orchard
from harvest.yields import CropAdvice, SeasonYield, crop_advice, season_yields

__all__ = [
    "About",
    "Backtest",
    "CropAdvice",
    "EventForecast",
    "EventName",
    "ImportReport",
    "Lead",
    "LeadScores",
    "Orchard",
    "Overview",
    "PastForecast",
    "ScoringProgress",
    "SeasonYield",
    "about",
    "backtest",
    "backtest_candidates",
    "build_demo",
    "create_orchard",
    "crop_load",
    "forecast",
    "open_orchard",
    "overview",
    "parse_lead",
    "past_forecasts",
    "record_kinds",
    "records",
    "yields",
]


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


def build_demo(address: str, at: datetime | None = None) -> Orchard:
    """Build the invented demo orchard at an address, or open it when it is there.

    `at` is the moment (UTC), for the history.
    """
    return create_demo(address, at)[0]


def record_kinds() -> tuple[str, ...]:
    """Kinds of record a file can hold."""
    return tuple(KINDS)


def about(orchard: Orchard) -> About:
    """What the orchard is called, and of a demo the date its clock stands at."""
    return read_about(orchard)


def records(orchard: Orchard, as_of: date) -> Records:
    """All records known on the day, with the season of each."""
    return known_on(orchard, as_of).records


def overview(orchard: Orchard, as_of: date, *, known: Known | None = None) -> Overview:
    """Name, sites, trees and seasons of the orchard."""
    told = read_about(orchard)
    seen = (known or known_on(orchard, as_of)).records
    seasons = {
        int(season)
        for frame in (seen.stages, seen.picks, seen.thinnings)
        for season in frame["season"].unique()
    }
    return Overview(
        name=told.name,
        is_demo=told.demo_as_of is not None,
        demo_as_of=told.demo_as_of,
        note=told.note,
        sites=seen.sites,
        trees=seen.trees,
        seasons=tuple(sorted(seasons)),
    )


def forecast(
    orchard: Orchard,
    as_of: date,
    weeks_begin: int = MONDAY,
    *,
    with_reasons: bool = False,
    known: Known | None = None,
) -> list[EventForecast]:
    """Full bloom, ripe and last pick of every tree in the season that is running.

    `weeks_begin` is the weekday on which the weeks told begin, 0 Monday to 6 Sunday.
    `with_reasons` fills each forecast's explanation, at twice the time, of weeks from Monday.
    """
    known = known or known_on(orchard, as_of)
    if with_reasons:
        return explained(known.records, known.traits)
    return known.forecast_by_weeks(weeks_begin)


def past_forecasts(
    orchard: Orchard, as_of: date, lead_days: int = 30, *, known: Known | None = None
) -> list[PastForecast]:
    """Ripe dates of past seasons as they would have been forecast `lead_days` after full bloom."""
    known = known or known_on(orchard, as_of)
    return hindcast(known.records, known.own_traits, lead_days)


def backtest(
    orchard: Orchard,
    as_of: date,
    event: EventName = "ripe",
    leads: Sequence[Lead] = (),
    progress: ScoringProgress | None = None,
    *,
    known: Known | None = None,
) -> Backtest:
    """How good the forecasts of past seasons would have been, strictly forward in time."""
    known = known or known_on(orchard, as_of)
    return backtest_records(known.records, known.own_traits, event, leads, progress)


def backtest_candidates(
    orchard: Orchard,
    as_of: date,
    event: EventName = "ripe",
    leads: Sequence[Lead] = (),
    progress: ScoringProgress | None = None,
) -> dict[str, Backtest]:
    """The same past forecasts by each single clock, and by all averaged, by the candidate's name.

    `progress` is told of all the candidates' as-of dates together.
    """
    # Its estimators are scikit-learn's, which take longer to load than a forecast to make.
    from harvest.phenology.candidates import pooled_candidates

    known = known_on(orchard, as_of)
    candidates = pooled_candidates(event)
    found = {}
    for number, (name, candidate) in enumerate(candidates.items()):

        def told(done: int, of: int, number: int = number) -> None:
            if progress is not None:
                progress(number * of + done, len(candidates) * of)

        found[name] = backtest_records(
            known.records, known.own_traits, event, leads, told, candidate=candidate
        )
    return found


def yields(orchard: Orchard, as_of: date, *, known: Known | None = None) -> list[SeasonYield]:
    """What each tree gave in each season it stood, oldest first."""
    return season_yields((known or known_on(orchard, as_of)).records)


def crop_load(
    orchard: Orchard, as_of: date, season: int | None = None, *, known: Known | None = None
) -> list[CropAdvice]:
    """Strip, limit or carry: each standing tree in one season (default: the running one)."""
    known = known or known_on(orchard, as_of)
    if season is None:
        return known.crop_advice
    return crop_advice(known.records, season, known.crop_reference)
