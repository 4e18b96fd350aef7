"""The use cases about crops: what to expect, how seasons compare and why, what thinning leaves."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from harvest.phenology.forecast import forecast
from harvest.phenology.result import EventForecast
from harvest.records import Records
from harvest.store.orchard import Orchard
from harvest.store.reading import read_records
from harvest.store.reference import (
    bearing_curve_table,
    cultivar_table,
    frost_kill_table,
    species_table,
)
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons
from harvest.yields.comparison import GROUPINGS, season_groups, seasons_compared
from harvest.yields.crop_estimate import crop_estimates
from harvest.yields.expectation import fair_table
from harvest.yields.load_rules import YieldReference
from harvest.yields.reasons import season_reasons
from harvest.yields.result import (
    CropEstimate,
    GroupSeason,
    SeasonReasons,
    SeasonsCompared,
    WeekCrop,
)
from harvest.yields.weekly_crop import PickingWindow, weekly_crop

__all__ = [
    "GROUPINGS",
    "CropEstimate",
    "GroupSeason",
    "SeasonReasons",
    "SeasonsCompared",
    "WeekCrop",
    "compare_seasons",
    "crop_estimate",
    "reasons",
    "weekly_crops",
    "yields_by",
]


def crop_estimate(orchard: Orchard, as_of: date, season: int | None = None) -> list[CropEstimate]:
    """The crop of each standing tree in one season (default: the running one) [kg]."""
    known = _known(orchard, as_of)
    return crop_estimates(known, season, yield_reference())


def weekly_crops(orchard: Orchard, as_of: date) -> list[WeekCrop]:
    """What each coming week brings at each site: forecast dates times expected crops [kg]."""
    known = _known(orchard, as_of)
    windows = _windows(forecast(known, tree_traits(known)))
    estimates = [
        row
        for season in sorted({season for _, season in windows})
        for row in crop_estimates(known, season, yield_reference())
        if (row.tree, season) in windows
    ]
    return weekly_crop(estimates, windows, as_of)


def yields_by(orchard: Orchard, as_of: date, by: str) -> list[GroupSeason]:
    """What each tree, cultivar, species, site, row or the orchard gave in each season.

    `by` is one of `GROUPINGS`.
    """
    known = _known(orchard, as_of)
    return season_groups(known, fair_table(known, yield_reference()), by)


def compare_seasons(
    orchard: Orchard, as_of: date, seasons: tuple[int, int], by: str
) -> list[SeasonsCompared]:
    """Two seasons side by side, and like with like for the trees that count in both."""
    known = _known(orchard, as_of)
    fair = fair_table(known, yield_reference())
    groups = season_groups(known, fair, by, seasons)
    return seasons_compared(fair, groups, by, seasons)


def reasons(
    orchard: Orchard, as_of: date, season: int | None = None, tree: str | None = None
) -> list[SeasonReasons]:
    """Why each tree's good and poor seasons may have come out so, strongest evidence first."""
    known = _known(orchard, as_of)
    fair = fair_table(known, yield_reference())
    if season is not None:
        fair = fair[fair["season"] == season]
    if tree is not None:
        fair = fair[fair["tree"].str.casefold() == tree.casefold()]
    return season_reasons(known, fair, yield_reference())


def _windows(forecasts: Sequence[EventForecast]) -> dict[tuple[str, int], PickingWindow]:
    """When each tree is ripe and last picked, where both are forecast or seen."""
    dates: dict[tuple[str, int], dict[str, dict[float, date]]] = {}
    for row in forecasts:
        at = {0.5: row.observed} if row.observed else dict(row.quantiles)
        if at:
            dates.setdefault((row.tree, row.season), {})[row.event] = at
    return {
        key: PickingWindow(found["ripe"], found["last pick"])
        for key, found in dates.items()
        if "ripe" in found and "last pick" in found
    }


def yield_reference() -> YieldReference:
    """The reference tables that comparison and estimate rest on."""
    return YieldReference(
        species=species_table(),
        cultivars=cultivar_table(),
        bearing_curves=bearing_curve_table(),
        frost_kill=frost_kill_table(),
    )


def _known(orchard: Orchard, as_of: date) -> Records:
    known = read_records(orchard, as_of)
    return with_seasons(known, tree_traits(known))
