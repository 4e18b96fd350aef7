"""Does each tree get pollen: partners in bloom with it, near it, and of a kind that serves.

There is no standard index of overlap; days both between BBCH 61 and 67, and their share of the
tree's own days, are counted here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from harvest.care.bees import BeeWeather, bee_weather
from harvest.care.bloom_windows import FADES_AFTER, OPENS_BEFORE, BloomWindow, bloom_window
from harvest.care.outlook import TreeSeason
from harvest.care.site_days import SiteDays
from harvest.care.tree_distance import Spot
from harvest.compatibility import Kind, Match, Parents, Serves
from harvest.records import Records
from harvest.tree_years import full_blooms

Verdict = Literal["no partner needed", "partner in bloom", "partner, but far",
                  "partner, but little overlap", "no partner", "unknown"]  # fmt: skip
# Flowers take pollen for two to five days after opening, by species: from memory. An overlap
# shorter than this is called little.
LITTLE_DAYS = 3


@dataclass(frozen=True, slots=True)
class Partner:
    """Another tree of the site as a source of pollen."""

    tree: str
    cultivar: str
    serves: Serves
    why: str
    overlap_days: int | None
    """Days in bloom together this season [d]; None where either bloom is not known."""
    overlap_share: float | None
    """Of the tree's own days in bloom [1]."""
    give_or_take_days: int
    """How far the less sure of the two blooms may be off, 8 in 10 [d]; 0 where both are logged.
    A forward or late spring moves both, so the overlap is surer than either date."""
    past_overlap_days: float | None
    """Mean over past seasons in which both full blooms were logged [d]."""
    past_seasons: int
    rows_apart: int | None
    places_apart: int | None
    """Places along the row; None where a row or position is not recorded."""
    distance_m: float | None
    """None where a row, a place or the site's spacing is not on record [m]."""
    far: bool
    """Further than handbooks let a partner stand."""


@dataclass(frozen=True, slots=True)
class Pollination:
    """Whether one tree has a partner this season, and why."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    need: str
    verdict: Verdict
    reasons: tuple[str, ...]
    bloom_first: date | None
    bloom_last: date | None
    bloom_basis: str | None
    give_or_take_days: int
    """How far its bloom may be off, 8 in 10 [d]; 0 where it is logged or not known."""
    partners: tuple[Partner, ...]
    """Trees whose pollen serves or may, the longest overlap first; then those that do not."""
    bees: BeeWeather | None


@dataclass(frozen=True, slots=True)
class _Standing:
    season: TreeSeason
    kind: Kind
    window: BloomWindow | None
    spot: Spot
    blooms: Mapping[int, int]


def pollination(
    records: Records,
    seasons: Sequence[TreeSeason],
    parents: Parents,
    weather: Mapping[str, SiteDays],
) -> list[Pollination]:
    """The verdict for each standing tree in the season the calendar gives.

    Parameters
    ----------
    records : with seasons. seasons : running tree-seasons; of each tree the latest counts.
    parents : the reference tables. weather : the record of each site.
    """
    latest = {each.tree: each for each in sorted(seasons, key=lambda each: each.season)}
    standing = _standing(records, latest, parents)
    by_site: dict[str, list[_Standing]] = {}
    for each in standing:
        by_site.setdefault(each.season.site, []).append(each)
    return [
        _judged(each, by_site[each.season.site], parents, weather.get(each.season.site))
        for each in standing
    ]


def _standing(
    records: Records, latest: Mapping[str, TreeSeason], parents: Parents
) -> list[_Standing]:
    stages = dict(tuple(records.stages.groupby(["tree", "season"])))
    blooms: dict[str, dict[int, int]] = {}
    known = full_blooms(records.stages)
    for tree, season, bloom in zip(known["tree"], known["season"], known["bloom"], strict=True):
        blooms.setdefault(str(tree), {})[int(season)] = bloom.date().toordinal()
    none = records.stages[:0]
    spacing = records.sites.set_index("site")[["row_spacing_m", "tree_spacing_m"]].astype(float)
    spacings = dict(zip(spacing.index, spacing.itertuples(index=False, name=None), strict=True))
    out = []
    for row in records.trees.to_dict("records"):
        season = latest.get(str(row["tree"]))
        if season is None:
            continue
        mine = stages.get((season.tree, season.season), none)
        out.append(
            _Standing(
                season=season,
                kind=parents.kind(season.species, season.cultivar),
                window=bloom_window(season, mine),
                spot=Spot(float(row["row"]), float(row["position"]), *spacings[season.site]),
                blooms=blooms.get(season.tree, {}),
            )
        )
    return out


def _judged(
    tree: _Standing, neighbours: Sequence[_Standing], parents: Parents, record: SiteDays | None
) -> Pollination:
    partners = []
    near_m = parents.distance_m(tree.season.species)
    for other in neighbours:
        match = parents.match(tree.kind, other.kind)
        if other is not tree and match is not None:
            partners.append(_partner(tree, other, match, near_m))
    partners.sort(key=_usefulness)
    verdict, reasons = _verdict(tree, partners, near_m)
    window, season = tree.window, tree.season
    return Pollination(
        tree=season.tree,
        site=season.site,
        species=season.species,
        cultivar=season.cultivar,
        season=season.season,
        need=tree.kind.need or "unknown",
        verdict=verdict,
        reasons=tuple(reasons),
        bloom_first=window.first if window else None,
        bloom_last=window.last if window else None,
        bloom_basis=window.basis if window else None,
        give_or_take_days=window.give_or_take_days if window else 0,
        partners=tuple(partners),
        bees=bee_weather(record, window.first, window.last, season.latitude) if window else None,
    )


def _partner(tree: _Standing, other: _Standing, match: Match, near_m: float | None) -> Partner:
    days = share = None
    give = 0
    if tree.window and other.window:
        days = tree.window.overlap(other.window)
        share = days / tree.window.days
        give = max(tree.window.give_or_take_days, other.window.give_or_take_days)
    length = OPENS_BEFORE + FADES_AFTER + 1
    past = [
        max(0, length - abs(day - other.blooms[season]))
        for season, day in tree.blooms.items()
        if season in other.blooms and season != tree.season.season
    ]
    metres = tree.spot.metres_from(other.spot)
    return Partner(
        tree=other.season.tree,
        cultivar=other.season.cultivar,
        serves=match.serves,
        why=match.why,
        overlap_days=days,
        overlap_share=share,
        give_or_take_days=give,
        past_overlap_days=float(np.mean(past)) if past else None,
        past_seasons=len(past),
        rows_apart=tree.spot.rows_from(other.spot),
        places_apart=tree.spot.places_from(other.spot),
        distance_m=metres,
        far=metres is not None and near_m is not None and metres > near_m,
    )


def _usefulness(partner: Partner) -> tuple[int, int, bool, int, float]:
    """How partners are listed: those that serve, in bloom together, near, longest, nearest."""
    serves = {"yes": 0, "unknown": 1, "no": 2}[partner.serves]
    days = partner.overlap_days
    together = 1 if days is None else 0 if days else 2
    apart = (partner.rows_apart or 0) * 100 + (partner.places_apart or 0)
    distance = float(apart) if partner.distance_m is None else partner.distance_m
    return serves, together, partner.far, -(days or 0), distance


def _verdict(
    tree: _Standing, partners: Sequence[Partner], near_m: float | None
) -> tuple[Verdict, list[str]]:
    kind = tree.kind
    need = f"{kind.cultivar}: {kind.need or 'whether it needs a partner is not known'}" + (
        f" ({kind.need_from})." if kind.need else "."
    )
    reasons = [need]
    serving = [each for each in partners if each.serves == "yes"]
    maybe = [each for each in partners if each.serves == "unknown"]
    best = serving[0] if serving else None
    if kind.need == "self-fruitful":
        return "no partner needed", reasons
    verdict: Verdict
    if best is not None and best.overlap_days is None:
        verdict = "unknown"
        reasons.append(f"{best.tree} ({best.cultivar}) would serve, but the blooms are not known.")
    elif best is not None and (best.overlap_days or 0) > 0:
        little = (best.overlap_days or 0) < LITTLE_DAYS
        near: Verdict = "partner, but far" if best.far else "partner in bloom"
        verdict = "partner, but little overlap" if little else near
        reasons += [_told(best), *_how_far(best, tree.spot, near_m)]
    elif maybe and any(each.overlap_days is None or each.overlap_days > 0 for each in maybe):
        verdict = "unknown"
        reasons.append(f"{maybe[0].tree} ({maybe[0].cultivar}): {maybe[0].why}.")
    elif kind.need:
        verdict = "no partner"
        reasons.append(_why_none(partners))
    else:
        verdict = "unknown"
    return verdict, reasons


def _told(best: Partner) -> str:
    give = f", give or take {best.give_or_take_days}" if best.give_or_take_days else ""
    share = "" if best.overlap_share is None else f" ({best.overlap_share:.0%} of its own bloom)"
    return (
        f"{best.tree} ({best.cultivar}) is in bloom with it for {best.overlap_days} days"
        f"{give}{share}; {best.why}."
    )


def _how_far(best: Partner, spot: Spot, near_m: float | None) -> list[str]:
    """How far away it stands beside what handbooks ask, or what is to be entered to know it."""
    if near_m is None:
        return []
    asked = f"handbooks ask for about {near_m:g} m or less (common practice, no source)"
    if best.distance_m is not None:
        where = f"{best.tree} stands about {best.distance_m:.0f} m away"
        return [f"{where}: too far, {asked}." if best.far else f"{where}; {asked}."]
    lacking = "each tree's row and position"
    if best.rows_apart is not None and best.places_apart is not None:
        named = {"row_spacing_m": spot.row_spacing_m, "tree_spacing_m": spot.tree_spacing_m}
        lacking = "the site's " + " and ".join(n for n, value in named.items() if np.isnan(value))
    return [f"How far away it stands is unknown: enter {lacking}; {asked}."]


def _why_none(partners: Sequence[Partner]) -> str:
    if not partners:
        return "No other tree of a kind that could serve stands at this site."
    apart = [each for each in partners if each.serves == "yes"]
    if apart:
        return f"{apart[0].tree} ({apart[0].cultivar}) would serve, but blooms at another time."
    return "; ".join(dict.fromkeys(f"{each.cultivar}: {each.why}" for each in partners)) + "."
