"""What the trees truly do: bloom, ripening and crop of every tree in every season.

The responses are the cultivar's own (smooth bells and slopes of the daily mean), with effects of
the season, the cultivar in that season and the tree. They are set so that an average season
meets the plan's dates; they are not the curves a forecast would use.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache

import numpy as np

from invented.plan import (
    AS_OF,
    CULTIVARS,
    HARD_SEASONS,
    PLACES,
    SPECIES,
    Place,
    PlannedTree,
    planned_trees,
    stream,
)
from invented.weather import Weather, index_of, invent

SEASONS = range(2015, 2028)


@dataclass
class Fruiting:
    """One tree in one season: days are indices into the weather, crop in kg and fruit."""

    tree: PlannedTree
    season: int
    leaf: int
    bloom: int
    ripe: int
    kg: float
    fruit_g: float
    load: float  # crop over what a tree of its age carries in an even season
    frost_loss: float
    spoilt: float
    action: str = ""  # strip, thin or nothing


@cache
def weather_of(site: str) -> Weather:
    return invent(PLACES[site])


def target_bloom(place: Place, species: str, cultivar: str, season: int) -> int | None:
    month_day = SPECIES[species].bloom_south if place.south else SPECIES[species].bloom_north
    if month_day is None:
        return None
    year = season - 1 if place.south else season
    return index_of(date(year, *month_day)) + CULTIVARS[species, cultivar][0]


def lead_of(species: str, cultivar: str) -> int:
    """Days of warmth before bloom [d]; low-chill cultivars wake quickly."""
    lead = SPECIES[species].lead
    return lead if CULTIVARS[species, cultivar][0] > -10 else min(lead, 38)


def chill_start(place: Place, season: int) -> int:
    return index_of(date(season - 1, 4, 1) if place.south else date(season - 1, 10, 1))


@dataclass(frozen=True)
class Response:
    """How a cultivar answers warmth and cold, per day."""

    chill: np.ndarray
    forcing: np.ndarray
    growth: np.ndarray


@cache
def response(site: str, species: str, cultivar: str) -> Response:
    rng = stream("response", species, cultivar)
    mean = weather_of(site).mean_c
    cold = rng.uniform(5.0, 7.5)
    chill = np.exp(-0.5 * ((mean - cold) / rng.uniform(4.0, 5.5)) ** 2)
    forcing = 1 / (1 + np.exp(-rng.uniform(0.20, 0.26) * (mean - rng.uniform(9.5, 12.5))))
    best, width = rng.uniform(20, 25), rng.uniform(9.5, 12.0)
    if CULTIVARS[species, cultivar][1] > 140 and not SPECIES[species].evergreen:
        width += 2.5  # late fruit goes on ripening in a cool autumn
    growth = np.exp(-0.5 * ((mean - best) / width) ** 2)
    return Response(chill, forcing, growth)


def seasons_of(place: Place) -> range:
    return range(2015, 2028 if place.south else 2027)


@cache
def bloom_needs(site: str, species: str, cultivar: str) -> tuple[float, float]:
    """Chill and then warmth up to bloom, as an average season reaches them by the plan's dates."""
    place, lead = PLACES[site], lead_of(species, cultivar)
    curves = response(site, species, cultivar)
    chill, warmth = [], []
    for season in seasons_of(place):
        bloom = target_bloom(place, species, cultivar, season)
        assert bloom is not None
        chill.append(curves.chill[chill_start(place, season) : bloom - lead].sum())
        warmth.append(curves.forcing[bloom - lead : bloom].sum())
    return float(np.mean(chill)), float(np.mean(warmth))


@cache
def season_bloom(site: str, species: str, cultivar: str, season: int) -> float:
    """Full bloom of a cultivar in a season, before the tree's own difference."""
    place, curves = PLACES[site], response(site, species, cultivar)
    cold, warmth = bloom_needs(site, species, cultivar)
    bloom = target_bloom(place, species, cultivar, season)
    assert bloom is not None
    begin = bloom - lead_of(species, cultivar)
    if not SPECIES[species].evergreen:
        start = chill_start(place, season)
        begin = start + int(np.searchsorted(np.cumsum(curves.chill[start:]), cold))
    day = begin + int(np.searchsorted(np.cumsum(curves.forcing[begin:]), warmth))
    shared = stream("bloom", site, season).normal(0, 1.0)
    own = stream("bloom", site, cultivar, season).normal(0, 1.3)
    return float(np.clip(day + shared + own, bloom - 20, bloom + 20))


@cache
def growth_need(species: str, cultivar: str) -> float:
    """Growth from bloom to ripe, one need at all sites where the cultivar stands."""
    days, sums = CULTIVARS[species, cultivar][1], []
    homes = {
        t.place.site for t in planned_trees() if (t.species, t.cultivar) == (species, cultivar)
    }
    for site in sorted(homes):
        place = PLACES[site]
        curves = response(site, species, cultivar)
        for season in seasons_of(place)[:-1]:
            bloom = target_bloom(place, species, cultivar, season)
            assert bloom is not None
            sums.append(curves.growth[bloom : bloom + days].sum())
    return float(np.mean(sums))


def ripe_day(tree: PlannedTree, season: int, bloom: int, load: float) -> int:
    site, species, cultivar = tree.place.site, tree.species, tree.cultivar
    curves = response(site, species, cultivar)
    need, days = growth_need(species, cultivar), CULTIVARS[species, cultivar][1]
    reached = bloom + int(np.searchsorted(np.cumsum(curves.growth[bloom:]), need))
    scale = 0.5 + 0.5 * min(days / 110, 1.3)  # short seasons leave less room to differ
    shared = stream("ripe", site, season).normal(0, 1.8 * scale)
    own = stream("ripe", site, cultivar, season).normal(0, 1.9 * scale)
    mine = stream("ripe", tree.tree).normal(0, 1.2 * scale)
    delay = float(np.clip(5.0 * (load - 1.0), -3, 5)) if species != "mandarin" else 0.0
    day = reached + shared + own + mine + delay
    spread = 0.07 if tree.habit.evergreen else 0.12
    late = 0.06 if days > 170 else spread  # picked before the hard frosts, ready or not
    return round(float(np.clip(day, bloom + (1 - spread) * days, bloom + (1 + late) * days)))


def bearing(tree: PlannedTree, leaf: int) -> float:
    """Share of the full crop that a tree of this leaf can carry."""
    first, full = tree.habit.first_leaf[tree.size], tree.habit.full_leaf[tree.size]
    if leaf < first:
        return 0.0
    return min(1.0, 0.16 + 0.84 * (leaf - first) / (full - first))


def frost_loss(tree: PlannedTree, bloom: int) -> float:
    """Share of the flowers or fruitlets killed: hardy before bloom, tender from it on."""
    if tree.habit.evergreen:
        return 0.0
    span = np.arange(bloom - 25, bloom + 30)
    tender = np.where(span < bloom, -2.7 - 0.32 * (bloom - span), -2.5)
    height = 0.25 * (tree.row - 2)  # row 1 lies in the cold air
    lowest = weather_of(tree.place.site).tmin_c[span] + height
    killed = 1 / (1 + np.exp((lowest - tender) / 0.45))
    return float(1 - np.prod(1 - np.where(killed > 0.02, killed, 0.0)))


def intended_action(tree: PlannedTree, leaf: int, load: float, loss: float) -> str:
    rng = stream("action", tree.tree, leaf)
    if tree.tree == "Q3-05" and leaf == 3:
        return ""  # the young tree that was left to carry
    if tree.biennial:
        return ""
    if leaf == 1 or (leaf == 2 and rng.random() < 0.85):
        return "strip"
    if leaf == 3 and tree.size > 0 and rng.random() < 0.6:
        return "strip"
    thinned = tree.species in (
        "apple", "european pear", "asian pear", "peach", "nectarine", "apricot", "japanese plum",
    )  # fmt: skip
    chance = 0.75 if load > 1.25 else 0.4
    if thinned and bearing(tree, leaf) > 0.3 and loss < 0.4 and load > 0.75:
        return "thin" if rng.random() < chance else ""
    return ""


def life_of(tree: PlannedTree) -> list[Fruiting]:
    """All seasons of a tree within the log, each following from the crop of the one before."""
    habit, rng = tree.habit, stream("tree", tree.tree)
    strength = float(np.exp(rng.normal(0, 0.12)))
    mine, swing = rng.normal(0, 0.9), CULTIVARS[tree.species, tree.cultivar][3]
    before = float(rng.uniform(0.55, 1.45)) if swing < 1 else 0.35
    seasons = []
    for season in SEASONS:
        leaf = season - tree.first_season + 1
        if leaf < 1 or season not in seasons_of(tree.place):
            continue
        base = season_bloom(tree.place.site, tree.species, tree.cultivar, season)
        bloom = round(base + mine)
        if bloom < index_of(tree.planted) + 14:
            bloom = index_of(tree.planted) + 14
        if tree.removed and index_of(tree.removed) < bloom + 40:
            break
        one = crop_of(tree, season, leaf, bloom, before, strength, swing)
        before = one.load if bearing(tree, leaf) > 0.5 else 1.0
        seasons.append(one)
    return [one for one in seasons if one.bloom <= index_of(AS_OF) + habit.bloom_days]


def crop_of(
    tree: PlannedTree, season: int, leaf: int, bloom: int, before: float, *tree_traits: float
) -> Fruiting:
    strength, swing = tree_traits
    habit, rng = tree.habit, stream("crop", tree.tree, season)
    left, size, spoilt = HARD_SEASONS.get((tree.place.site, season), (1.0, 1.0, 0.0))
    year = np.exp(stream("crop", tree.place.site, tree.species, season).normal(0, 0.16))
    answer = float(np.clip(1 + swing * (1 - before), 0.12, 1.75))
    if tree.biennial:
        answer = 0.2 + 1.15 / (1 + float(np.exp(7 * (before - 0.9))))
    load = answer * float(year * np.exp(rng.normal(0, 0.11)))
    loss = frost_loss(tree, bloom)
    action = intended_action(tree, leaf, load, loss)
    load *= 1 - loss
    if action == "thin":
        load = 0.35 + 0.55 * load
    kg = habit.mature_kg[tree.size] * bearing(tree, leaf) * strength * load * left
    if tree.tree == "Q3-05" and leaf == 3:
        kg, load = 6.4, 1.6
    if action == "strip":
        kg = 0.0
    grams = habit.fruit_g * CULTIVARS[tree.species, tree.cultivar][2] * size
    grams *= float(np.clip(1.12 - 0.16 * load, 0.8, 1.15) * np.exp(rng.normal(0, 0.05)))
    grams = float(np.clip(grams, *habit.fruit_range_g))
    ripe = ripe_day(tree, season, bloom, load)
    return Fruiting(tree, season, leaf, bloom, ripe, kg, grams, load, loss, spoilt, action)
