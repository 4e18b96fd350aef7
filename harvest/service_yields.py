"""The use cases about crops: what to expect, how seasons compare and why, what thinning leaves."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import date
from threading import RLock
from typing import Any, TypeVar, cast
from weakref import WeakKeyDictionary

import pandas as pd

from harvest.errors import InputError
from harvest.phenology.result import EventForecast
from harvest.seasons import MONDAY
from harvest.service_known import Known, known_on
from harvest.store.history import Signature
from harvest.store.logging_records import LogReport, Subject, log_records
from harvest.store.orchard import Orchard
from harvest.store.reference import (
    bearing_curve_table,
    cultivar_table,
    frost_kill_table,
    pollination_table,
    species_table,
)
from harvest.yields.asked_for import SIGNS, sign_cells
from harvest.yields.comparison import GROUPINGS, names_by, season_groups, seasons_compared
from harvest.yields.crop_estimate import crop_estimates
from harvest.yields.curves import (
    cumulative_by_rootstock,
    forecast_against_picked,
    yield_by_trunk,
)
from harvest.yields.did_it_pay import did_it_pay
from harvest.yields.expectation import fair_table
from harvest.yields.frost_damage import crops_left
from harvest.yields.load_rules import YieldReference
from harvest.yields.overrules import overrule_note, overrules
from harvest.yields.reasons import season_reasons
from harvest.yields.result import (
    CropEstimate,
    CropToCome,
    CumulativePoint,
    ForecastPicked,
    GroupSeason,
    Overrule,
    SeasonReasons,
    SeasonsCompared,
    StripPaid,
    ThinningPlan,
    TrunkPoint,
    WeekCrop,
)
from harvest.yields.thinning import thinning_plans
from harvest.yields.weekly_crop import PickingWindow, weekly_crop

__all__ = [
    "GROUPINGS",
    "SIGNS",
    "CropEstimate",
    "CropToCome",
    "CropsAhead",
    "CumulativePoint",
    "Decided",
    "ForecastPicked",
    "GroupSeason",
    "Overrule",
    "SeasonReasons",
    "SeasonsCompared",
    "StripPaid",
    "ThinningPlan",
    "TrunkPoint",
    "WeekCrop",
    "YieldPictures",
    "compare_seasons",
    "crop_estimate",
    "crops_ahead",
    "forecasts_and_picked",
    "group_names",
    "log_sign",
    "overrule",
    "overrules_on_record",
    "reasons",
    "stripping_paid",
    "thinning",
    "yield_pictures",
    "yields_by",
]


Result = TypeVar("Result")


@dataclass(frozen=True)
class YieldPictures:
    """What the pictures of yields show."""

    cumulative: tuple[CumulativePoint, ...]
    by_trunk: tuple[TrunkPoint, ...]


@dataclass(frozen=True)
class CropsAhead:
    """What is still to come of the seasons that are running."""

    trees: tuple[CropEstimate, ...]
    """Of trees whose picking window is known."""
    weeks: tuple[WeekCrop, ...]
    sites: tuple[CropToCome, ...]


def crop_estimate(
    orchard: Orchard, as_of: date, season: int | None = None, *, known: Known | None = None
) -> list[CropEstimate]:
    """The crop of each standing tree in one season (default: the running one) [kg]."""
    known = known or known_on(orchard, as_of)
    return _estimates(known, season)


def crops_ahead(
    orchard: Orchard,
    as_of: date,
    of: frozenset[str] | None = None,
    weeks_begin: int = MONDAY,
    *,
    known: Known | None = None,
) -> CropsAhead:
    """The crops of the running seasons: forecast dates times expected crops [kg].

    `of` names the trees that are added up, all when left out; `weeks_begin` is the weekday on
    which weeks begin, 0 Monday to 6 Sunday.
    """
    known = known or known_on(orchard, as_of)
    windows = _windows(known.forecast)
    estimates = [
        row
        for season in sorted({season for _, season in windows})
        for row in _estimates(known, season)
        if (row.tree, season) in windows and (of is None or row.tree in of)
    ]
    weeks, sites = weekly_crop(estimates, windows, as_of, weeks_begin)
    return CropsAhead(tuple(estimates), tuple(weeks), tuple(sites))


def yields_by(
    orchard: Orchard,
    as_of: date,
    by: str,
    of: frozenset[str] | None = None,
    *,
    known: Known | None = None,
) -> list[GroupSeason]:
    """What each tree, cultivar, species, site, row or the orchard gave in each season.

    `by` is one of `GROUPINGS`; `of` names the trees that are added up, all when left out.
    """
    known = known or known_on(orchard, as_of)
    return season_groups(known.records, _fair_of(known, of), by)


def group_names(trees: pd.DataFrame, by: str) -> dict[str, str]:
    """Name of the group of each tree; `by` is one of `GROUPINGS`."""
    return dict(zip(trees["tree"], names_by(trees, by), strict=True))


def compare_seasons(
    orchard: Orchard,
    as_of: date,
    seasons: tuple[int, int],
    by: str,
    of: frozenset[str] | None = None,
    *,
    known: Known | None = None,
) -> list[SeasonsCompared]:
    """Two seasons side by side, and like with like for the trees that count in both."""
    known = known or known_on(orchard, as_of)
    fair = _fair_of(known, of)
    groups = season_groups(known.records, fair, by, seasons)
    return seasons_compared(fair, groups, by, seasons)


def reasons(
    orchard: Orchard,
    as_of: date,
    season: int | None = None,
    tree: str | None = None,
    *,
    known: Known | None = None,
) -> list[SeasonReasons]:
    """Why each tree's good and poor seasons may have come out so, strongest evidence first."""
    known = known or known_on(orchard, as_of)
    fair = _fair(known)
    if season is not None:
        fair = fair[fair["season"] == season]
    if tree is not None:
        fair = fair[fair["tree"].str.casefold() == tree.casefold()]
    return season_reasons(known.records, fair, yield_reference())


def thinning(
    orchard: Orchard, as_of: date, season: int | None = None, *, known: Known | None = None
) -> list[ThinningPlan]:
    """To how many fruit each tree that keeps a crop is thinned, how far apart, when; and why."""
    known = known or known_on(orchard, as_of)
    estimates = _estimates(known, season)
    trees = known.records.trees
    logged = trees[trees["tree"].isin(known.records.stages["tree"])]
    kinds = set(zip(logged["site"], logged["species"], strict=True))
    bloom = {  # where nobody logs a stage, the forecast of a bloom only moves with the day
        row.tree: row.quantiles
        for row in known.forecast
        if row.event == "full bloom"
        and row.quantiles
        and season in (None, row.season)
        and (row.site, row.species) in kinds
    }
    return thinning_plans(
        known.records,
        season,
        known.crop_reference,
        bearing_curve_table(),
        {row.tree: row for row in estimates},
        bloom,
    )


def stripping_paid(orchard: Orchard, as_of: date, *, known: Known | None = None) -> list[StripPaid]:
    """Growth and crops of stripped against unstripped trees of each planting."""
    return did_it_pay((known or known_on(orchard, as_of)).records)


@dataclass(frozen=True)
class Decided:
    """An overrule that was put on record, and the number of the change that takes it back."""

    overrule: Overrule
    batch: int | None


def overrule(
    orchard: Orchard,
    tree: str,
    decision: str,
    *,
    why: str | None,
    today: date,
    signed: Signature,
) -> Decided:
    """Keep on record that the grower decides otherwise than advised, for the running season.

    Raises InputError for a tree without advice, or a decision that the advice agrees with.
    """
    known = known_on(orchard, today)
    advised = {row.tree: row for row in known.crop_advice}
    found = next((row for name, row in advised.items() if name.casefold() == tree.casefold()), None)
    if found is None:
        raise InputError(
            "a tree that stands and has advice this season is needed",
            given=tree,
            todo="'harvest crop-load' lists them.",
        )
    cells = {
        "event": "other",
        "date": today.isoformat(),
        "note": overrule_note(decision, found.advice, why),
    }
    # A second decision of the same day takes the place of the first.
    report = log_records(
        orchard, "events", Subject(tree=found.tree), cells, today=today, signed=signed, replace=True
    )
    kept = overrules_on_record(orchard, today)
    made = next(
        row for row in reversed(kept) if (row.tree, row.season) == (found.tree, found.season)
    )
    return Decided(made, report.batch)


def log_sign(
    orchard: Orchard,
    tree: str,
    sign: str,
    shoot_cm: float | None,
    *,
    today: date,
    signed: Signature,
) -> LogReport:
    """Keep on record how a tree stands or grows: one of `SIGNS`, or its shoots' length [cm]."""
    cells = {"date": today.isoformat(), **sign_cells(sign, shoot_cm)}
    return log_records(orchard, "events", Subject(tree=tree), cells, today=today, signed=signed)


def overrules_on_record(
    orchard: Orchard, as_of: date, *, known: Known | None = None
) -> list[Overrule]:
    """Advice that was overruled, and the crops and the growth that followed."""
    known = known or known_on(orchard, as_of)
    return overrules(known.records, _fair(known))


def yield_pictures(
    orchard: Orchard,
    as_of: date,
    of: frozenset[str] | None = None,
    *,
    known: Known | None = None,
) -> YieldPictures:
    """Running totals by rootstock and leaf, and yield against trunk cross-section."""
    known = known or known_on(orchard, as_of)
    fair = _fair_of(known, of)
    return YieldPictures(
        cumulative=tuple(cumulative_by_rootstock(fair)), by_trunk=tuple(yield_by_trunk(fair))
    )


def forecasts_and_picked(
    orchard: Orchard, as_of: date, seasons: Sequence[int], *, known: Known | None = None
) -> list[ForecastPicked]:
    """What would have been expected at the start of some past seasons, and what was picked."""
    known = known or known_on(orchard, as_of)
    return forecast_against_picked(
        known.records, _fair(known), seasons, yield_reference(), _frost(known)
    )


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
        pollination=pollination_table(),
    )


_KEPT: WeakKeyDictionary[Known, dict[Hashable, Any]] = WeakKeyDictionary()
_KEPT_LOCK = RLock()


def _once(known: Known, key: Hashable, make: Callable[[], Result]) -> Result:
    """What follows from what was known, worked out once as long as that is kept."""
    with _KEPT_LOCK:
        results = _KEPT.setdefault(known, {})
        if key not in results:
            results[key] = make()
        return cast(Result, results[key])


def _fair(known: Known) -> pd.DataFrame:
    return _once(known, "fair", lambda: fair_table(known.records, yield_reference()))


def _estimates(known: Known, season: int | None) -> list[CropEstimate]:
    return _once(
        known,
        season,
        lambda: crop_estimates(known.records, season, yield_reference(), frost=_frost(known)),
    )


def _frost(known: Known) -> pd.Series:
    return _once(known, crops_left, lambda: crops_left(known.records, yield_reference().frost_kill))


def _fair_of(known: Known, trees: frozenset[str] | None) -> pd.DataFrame:
    """The fair comparison of some trees, each still held against all of its like."""
    fair = _fair(known)
    return fair if trees is None else fair[fair["tree"].isin(trees)].reset_index(drop=True)
