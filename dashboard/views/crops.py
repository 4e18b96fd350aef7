"""Kilograms per season: by cultivar, by site, and whether a season was better than usual."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from dashboard.data import Crop, SeasonYield

Verdict = Literal["better", "poorer", "about as usual", "too few to say"]
# Fewest past seasons of the same trees before a season is called better or poorer.
LEAST_SEASONS = 3


@dataclass(frozen=True)
class CropCell:
    """One cultivar at a site in one season."""

    site: str
    species: str
    cultivar: str
    season: int
    crop: Crop
    """Picked where any tree was; else stripped, none, or not recorded, in that order."""
    weight_kg: float | None
    trees: int
    """Trees that stood in the season."""
    picked: int
    """Trees with a pick on record."""
    missing: int
    """Trees of which nothing was recorded."""


@dataclass(frozen=True)
class SeasonTotal:
    """A site's season beside what the same trees usually give."""

    site: str
    season: int
    crop: Crop
    """Picked where any tree was; else not recorded where that is so of any tree."""
    weight_kg: float | None
    picked: int
    """Trees with a pick on record."""
    compared: int
    """Trees among them whose picking is over and that have another picked season."""
    missing: int
    against_usual: float | None
    """Share above or below what the compared trees usually give [1]."""
    complete: bool
    """False while more may be picked."""


def crop_cells(yields: Iterable[SeasonYield]) -> list[CropCell]:
    """Crops by site, cultivar and season; seasons oldest first."""
    groups: dict[tuple[str, str, str, int], list[SeasonYield]] = defaultdict(list)
    for item in yields:
        groups[item.site, item.species, item.cultivar, item.season].append(item)
    return [_cell(key, groups[key]) for key in sorted(groups)]


def seasons_shown(yields: Iterable[SeasonYield], most: int) -> list[int]:
    """The latest seasons, from the first of which anything is recorded; at most so many."""
    recorded = [item.season for item in yields if item.crop != "not recorded"]
    if not recorded:
        return []
    return list(range(max(min(recorded), max(recorded) - most + 1), max(recorded) + 1))


def season_totals(yields: Iterable[SeasonYield]) -> list[SeasonTotal]:
    """Each site's seasons, oldest first."""
    groups: dict[tuple[str, int], list[SeasonYield]] = defaultdict(list)
    for item in yields:
        groups[item.site, item.season].append(item)
    return [_total(key, groups[key]) for key in sorted(groups)]


def usual_swing(totals: Sequence[SeasonTotal], season: int) -> float | None:
    """Mean distance of the other seasons from usual [1]; None with too few of them."""
    others = [
        abs(total.against_usual)
        for total in totals
        if total.season != season and total.against_usual is not None
    ]
    return sum(others) / len(others) if len(others) >= LEAST_SEASONS else None


def verdict(total: SeasonTotal, swing: float | None) -> Verdict:
    """Better or poorer only where the season lies further from usual than seasons mostly do."""
    if total.against_usual is None or swing is None:
        return "too few to say"
    if abs(total.against_usual) <= swing:
        return "about as usual"
    return "better" if total.against_usual > 0 else "poorer"


def _cell(key: tuple[str, str, str, int], items: list[SeasonYield]) -> CropCell:
    site, species, cultivar, season = key
    crops = [item.crop for item in items]
    order: tuple[Crop, ...] = ("picked", "stripped", "none", "not recorded")
    crop = next(kind for kind in order if kind in crops)
    weights = [item.weight_kg for item in items if item.weight_kg is not None]
    return CropCell(
        site=site,
        species=species,
        cultivar=cultivar,
        season=season,
        crop=crop,
        weight_kg=sum(weights) if crop == "picked" and weights else None,
        trees=len(items),
        picked=crops.count("picked"),
        missing=crops.count("not recorded"),
    )


def _total(key: tuple[str, int], items: list[SeasonYield]) -> SeasonTotal:
    site, season = key
    picked = [item for item in items if item.crop == "picked" and item.weight_kg is not None]
    compared = [
        (item.weight_kg, item.weight_kg / (1 + item.against_own_mean))
        for item in picked
        if item.weight_kg is not None
        and item.complete
        and item.against_own_mean is not None
        and item.against_own_mean > -1
    ]
    usual = sum(mean for _, mean in compared)
    crops = {item.crop for item in items}
    order: tuple[Crop, ...] = ("picked", "not recorded", "stripped", "none")
    return SeasonTotal(
        site=site,
        season=season,
        crop=next(kind for kind in order if kind in crops),
        weight_kg=sum(item.weight_kg or 0.0 for item in picked) if picked else None,
        picked=len(picked),
        compared=len(compared),
        missing=sum(item.crop == "not recorded" for item in items),
        against_usual=sum(weight for weight, _ in compared) / usual - 1 if usual > 0 else None,
        complete=all(item.complete for item in items),
    )
