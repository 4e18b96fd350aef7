"""Thinning a tree that keeps a crop: to how many fruit, how far apart, when, and what comes of it.

The target is the crop load of the reference tables on the tree's trunk; without a girth, the crop
that its age and kind usually bear. Fruit weigh less the more there are: by the cube root of the
load, which is how Honeycrisp went from 300 g at a very low load to 175 g at 7 and 150 g at 10
fruit per cm2 (Robinson 2008, New York Fruit Quarterly 16(2)); that other kinds do likewise is a
judgement.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import is_southern
from harvest.yields.act_by import WINDOWS
from harvest.yields.advice import crop_advice
from harvest.yields.bearing_curve import tree_curves
from harvest.yields.fruit_limit import THICKEST_CM2
from harvest.yields.load_rules import COMMON, MEMORY, CropReference, CropRules, SpeciesCare
from harvest.yields.result import (
    CropAdvice,
    CropEstimate,
    FruitWeight,
    ReturnBloom,
    ThinningPlan,
)
from harvest.yields.totals import yield_table
from harvest.yields.tree_facts import TreeFacts, tree_facts
from harvest.yields.wording import named, on, spacing

ROBINSON = "Robinson 2008, New York Fruit Quarterly 16(2)"
HOME_RULE = "extension home-orchard pages (thin when the fruit are about 19 mm through)"
# Days from full bloom at which the natural drop has mostly passed and the fruit are some 19 mm
# through; before it, whatever is left may still fall. From memory.
START_DAYS = {"pome": 30, "stone": 28, "citrus": 50, "other": 35}
WEIGHT_BY_LOAD = -1 / 3
LEAST_FACTOR, MOST_FACTOR = 0.7, 1.4
# Fruit weight is known to about this share either way, eight times in ten [judgement].
WEIGHT_DOUBT = 0.2
LEAST_OWN_SEASONS = 2
# Fruit to come, by the target: few, and above which next season's bloom is at risk [judgement].
FEW, HEAVY, VERY_HEAVY = 0.8, 1.2, 1.6
ALTERNATES = 0.45


class _Weights(NamedTuple):
    """Usual fruit weight [g] by tree, whose it is, and the load it was borne at [fruit cm-2]."""

    grams: float
    whose: str
    load: float | None


def thinning_plans(
    records: Records,
    season: int | None,
    reference: CropReference,
    bearing_curves: pd.DataFrame,
    estimates: Mapping[str, CropEstimate],
    bloom: Mapping[str, Mapping[float, date]],
) -> list[ThinningPlan]:
    """A plan for each standing tree of a thinned species that is to keep a crop.

    Parameters
    ----------
    records : with seasons. season : the season asked for; None is the one running at each site.
    reference, bearing_curves : the reference tables.
    estimates : crop to expect of each tree this season, by tree; it may lack some.
    bloom : forecast dates of full bloom by tree and probability, where it is not logged yet.
    """
    rules = CropRules(reference)
    advised = {row.tree: row for row in crop_advice(records, season, reference)}
    facts = tree_facts(records, season, reference.usual["usual_bloom"])
    weights = _usual_weights(records, reference)
    mature = _mature_kg(records, reference, bearing_curves, facts)
    southern = set(records.sites.loc[records.sites["latitude"].map(is_southern), "site"])
    plans = []
    for tree in facts:
        care, advice = rules.species(tree.species), advised[tree.tree]
        if care is None or not care.thinned or advice.advice not in ("limit", "carry"):
            continue
        plan = _Plan(tree, care, advice, weights.get(tree.tree), estimates.get(tree.tree))
        plan.target(mature.get(tree.tree))
        plan.window(bloom.get(tree.tree, {}), southern=tree.site in southern)
        plan.outcome(rules.habit(tree.species, tree.cultivar))
        plans.append(plan.told())
    return plans


class _Plan:
    """One tree's plan while it is worked out."""

    def __init__(
        self,
        tree: TreeFacts,
        care: SpeciesCare,
        advice: CropAdvice,
        weight: _Weights | None,
        estimate: CropEstimate | None,
    ) -> None:
        self.tree, self.care, self.advice = tree, care, advice
        self.weight, self.estimate = weight, estimate
        self.fruit = advice.fruit_limit
        self.start: date | None = None
        self.end: date | None = None
        self.fruit_g: FruitWeight | None = None
        self.kg: FruitWeight | None = None
        self.to_come: int | None = None
        self.risk: ReturnBloom = "unknown"
        self.said: list[str] = []
        self.sources = dict.fromkeys(advice.sources)

    def say(self, text: str, source: str) -> None:
        """Add a sentence and what it rests on."""
        self.said.append(text)
        self.sources[source] = None

    def target(self, mature_kg: float | None) -> None:
        """How many fruit: by the trunk, else by the size that such a tree usually has."""
        by_size = None
        if mature_kg is not None and self.weight is not None:
            by_size = int(1000 * mature_kg / self.weight.grams)
        beyond = self._at_thickest()
        if self.fruit is not None and beyond is not None and by_size is not None:
            # Never below what the thickest trunk of the tables may carry.
            self.fruit = min(self.fruit, max(by_size, beyond))
            self.say(
                "The trunk is thicker than the published tables go, so the number goes by what"
                f" {named(self.tree.species)} of this age and kind usually bears, about"
                f" {mature_kg:.0f} kg: leave at most {self.fruit} fruit.",
                MEMORY,
            )
        elif self.fruit is not None:
            self.say(f"Leave at most {self.fruit} fruit, by the trunk.", COMMON)
        elif by_size is not None:
            self.fruit = by_size
            self.say(
                f"No girth to go by: {named(self.tree.species)} of this age and kind usually bears"
                f" about {mature_kg:.0f} kg, some {self.fruit} fruit; measure the trunk for a"
                " better number.",
                MEMORY,
            )
        if self.care.spacing_cm is not None:
            self.say(spacing(*self.care.spacing_cm), self.care.spacing_source)
        if self.care.group == "pome":
            self.say("Leave one fruit to a cluster.", COMMON)

    def _at_thickest(self) -> int | None:
        """Fruit of the thickest trunk of the tables, for a tree whose own is thicker."""
        area = self.tree.trunk.tcsa_cm2 if self.tree.trunk else None
        if area is None or area <= THICKEST_CM2 or self.fruit is None:
            return None
        return int(self.fruit * THICKEST_CM2 / area)

    def window(self, forecast: Mapping[float, date], *, southern: bool) -> None:
        """From when to when, by days from full bloom: logged, forecast, or the usual."""
        limit = WINDOWS.get(self.care.group)
        bloom = self.tree.bloom
        usual = bloom.day if bloom else None
        day = usual if bloom and bloom.logged else forecast.get(0.5, usual)
        if limit is None or day is None:
            return
        first = START_DAYS[self.care.group]
        start, end = day + timedelta(days=first), day + timedelta(days=limit.days)
        self.start, self.end = start, end
        known = "logged" if bloom and bloom.logged else "forecast" if forecast else "usual here"
        span = ""
        if known == "forecast" and {0.1, 0.9} <= set(forecast):
            span = f" (8 in 10: {on(forecast[0.1])} to {on(forecast[0.9])})"
        drop = "December" if southern else "June"
        self.say(
            f"Thin from {on(start)} to {on(end)}, {first} to {limit.days} days after full bloom on"
            f" {on(day)}, {known}{span}: once the natural drop ({drop} drop) has passed and the"
            f" fruit are about 19 mm through; {limit.why}.",
            HOME_RULE,
        )

    def outcome(self, habit: str) -> None:
        """Fruit weight and crop at that load, and what it means for next season's bloom."""
        if self.fruit is None or self.weight is None:
            return
        if self.estimate is not None and self.tree.crop.fruit_left is None:
            self.to_come = int(1000 * self.estimate.kg[0.5] / self.weight.grams)
            self._risk(habit, self.to_come / max(self.fruit, 1))
        fruit = self.fruit if self.to_come is None else min(self.fruit, self.to_come)
        grams = self.weight.grams * self._by_load(fruit)
        low, high = 1 - WEIGHT_DOUBT, 1 + WEIGHT_DOUBT
        self.fruit_g = FruitWeight(*(round(grams * share) for share in (low, 1.0, high)))
        kg = grams * fruit / 1000
        self.kg = FruitWeight(*(round(kg * share, 1) for share in (low, 1.0, high)))
        self.say(
            f"With {fruit} fruit one should weigh about {grams:.0f} g ({self.fruit_g.low} to"
            f" {self.fruit_g.high} g), {kg:.1f} kg in all, going by {self.weight.whose}.",
            ROBINSON if self.weight.load else MEMORY,
        )

    def _by_load(self, fruit: int) -> float:
        area = self.tree.trunk.tcsa_cm2 if self.tree.trunk else None
        if area is None or self.weight is None or not self.weight.load or not fruit:
            return 1.0
        relative = (fruit / area) / self.weight.load
        return float(np.clip(relative**WEIGHT_BY_LOAD, LEAST_FACTOR, MOST_FACTOR))

    def _risk(self, habit: str, load: float) -> None:
        index = self.estimate.basis.alternation if self.estimate else None
        swings = habit == "yes" or (index is not None and index >= ALTERNATES)
        if load < FEW:
            self.risk = "low"
            self.say(
                f"Only some {self.to_come} fruit are to be expected, fewer than the target: little"
                " is to be thinned but clusters and crowded branches, and the risk of little bloom"
                " next season is low.",
                COMMON,
            )
            return
        if load >= VERY_HEAVY or (swings and load >= HEAVY):
            self.risk = "high"
        else:
            self.risk = "raised" if load >= HEAVY or swings else "low"
        why = "it alternates" if swings else "it is not known to alternate"
        self.say(
            f"Without thinning some {self.to_come} fruit are to be expected, {load:.1f} times the"
            f" target, and {why}: the risk of little bloom next season is {self.risk}.",
            COMMON,
        )

    def told(self) -> ThinningPlan:
        """The plan."""
        tree = self.tree
        return ThinningPlan(
            tree=tree.tree,
            site=tree.site,
            species=tree.species,
            cultivar=tree.cultivar,
            season=tree.season,
            leaf=tree.leaf,
            target_fruit=self.fruit,
            spacing_cm=self.care.spacing_cm,
            start=self.start,
            end=self.end,
            fruit_g=self.fruit_g,
            kg=self.kg,
            fruit_to_come=self.to_come,
            return_bloom_risk=self.risk,
            done=tree.crop.thinned or tree.crop.picked or tree.crop.stripped or tree.crop.no_crop,
            reasons=tuple(self.said),
            sources=tuple(self.sources),
        )


def _usual_weights(records: Records, reference: CropReference) -> dict[str, _Weights]:
    """Usual fruit weight of each tree: its own, its cultivar's, else the middle of the table's."""
    table = yield_table(records)
    seen = table[(table["crop"] == "picked") & table["mean_fruit_g"].notna() & table["complete"]]
    load = seen["weight_kg"] * 1000 / seen["mean_fruit_g"] / seen["tcsa_cm2"]
    seen = seen.assign(load=load, kind=seen["species"] + "|" + seen["cultivar"].str.casefold())
    species = reference.species.set_index("species")
    middle = (species["fruit_weight_g_low"] + species["fruit_weight_g_high"]) / 2
    known: dict[str, dict[str, tuple[int, float, float]]] = {}
    for by in ("tree", "kind"):
        grouped = seen.groupby(by)
        parts = zip(grouped["season"].nunique().items(), grouped["mean_fruit_g"].mean(),
                    grouped["load"].mean(), strict=True)  # fmt: skip
        known[by] = {
            str(name): (int(seasons), grams, loads) for (name, seasons), grams, loads in parts
        }
    found = {}
    trees = records.trees
    for tree, kind, cultivar in zip(
        trees["tree"], trees["species"], trees["cultivar"], strict=True
    ):
        for by, key, whose in (
            ("tree", tree, "its own fruit of past seasons"),
            ("kind", f"{kind}|{cultivar.casefold()}", f"fruit of {cultivar} here"),
        ):
            seasons, grams, borne = known[by].get(key, (0, np.nan, np.nan))
            if seasons >= LEAST_OWN_SEASONS:
                found[tree] = _Weights(grams, whose, None if np.isnan(borne) else borne)
                break
        else:
            grams = middle.get(kind, np.nan)
            if not np.isnan(grams):
                found[tree] = _Weights(float(grams), f"what {named(kind)} usually weighs", None)
    return found


def _mature_kg(
    records: Records, reference: CropReference, curves: pd.DataFrame, facts: list[TreeFacts]
) -> dict[str, float]:
    """Crop that each tree's age and kind usually bear [kg], where the tables say."""
    known = tree_curves(records.trees, reference.species, curves)
    at = pd.Index(records.trees["tree"]).get_indexer([tree.tree for tree in facts])
    kg = known.share(at, np.array([tree.leaf for tree in facts])) * known.mature_kg[at]
    return {
        tree.tree: float(value)
        for tree, value in zip(facts, kg, strict=True)
        if not np.isnan(value)
    }
