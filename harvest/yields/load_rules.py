"""The reference tables as rules: strip, limit or carry by leaf, and fruit per cm2 of trunk."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isnan
from typing import Any, Literal, NamedTuple

import pandas as pd

Habit = Literal["yes", "no", "unknown"]
Step = Literal["strip", "limit", "carry"]

MEMORY = "from memory (general extension advice)"
COMMON = "common practice, no source"


@dataclass(frozen=True)
class CropReference:
    """The tables that the advice rests on, as the store hands them out.

    `species`, `cultivars`, `crop_load` and `young_trees` are those of data/reference; `usual` has
    one row per tree (index: tree) with `usual_bloom`, the usual day of season of full bloom of its
    species there [d].
    """

    species: pd.DataFrame
    cultivars: pd.DataFrame
    crop_load: pd.DataFrame
    young_trees: pd.DataFrame
    usual: pd.DataFrame


@dataclass(frozen=True)
class YieldReference:
    """The tables that comparison and estimate rest on, of data/reference.

    `species`, `cultivars`, `bearing_curves` (full bearing by species and vigour), `frost_kill`
    (temperatures that kill flowers, by stage) and `pollination` (whose pollen serves whom).
    """

    species: pd.DataFrame
    cultivars: pd.DataFrame
    bearing_curves: pd.DataFrame
    frost_kill: pd.DataFrame
    pollination: pd.DataFrame


class SpeciesCare(NamedTuple):
    """What the tables say of a species: its group, whether it is thinned, how far apart [cm]."""

    group: str
    thinned: bool
    spacing_cm: tuple[float, float] | None
    spacing_source: str


class YoungRule(NamedTuple):
    """Advice for a group of species, a vigour and a span of leaves; fruit per cm2 [1/cm2]."""

    group: str
    vigour: str
    leaf_low: float
    leaf_high: float
    advice: Step
    density: tuple[float, float] | None
    weak_shoot_cm: float | None
    strong_shoot_cm: float | None
    source: str


class LoadRule(NamedTuple):
    """Fruit per cm2 of trunk cross-section [1/cm2] for a species, a habit and a span of leaves."""

    species: str
    habit: str
    leaf_low: float
    leaf_high: float
    low: float
    target: float
    source: str
    published: bool


class CropRules:
    """Rules looked up by what is known of a tree."""

    def __init__(self, reference: CropReference) -> None:
        self._species = {row["species"]: _species(row) for row in _rows(reference.species)}
        self._young = [_young(row) for row in _rows(reference.young_trees)]
        self._load = [_load(row) for row in _rows(reference.crop_load)]
        self._habits: dict[tuple[str, str], Habit] = {}
        for row in _rows(reference.cultivars):
            for name in (row["cultivar"], *str(row["also_called"]).split(";")):
                key = (row["species"].casefold(), name.strip().casefold())
                self._habits.setdefault(key, row["alternates"] or "unknown")

    def species(self, species: str) -> SpeciesCare | None:
        """What is known of a species, None where the tables do not hold it."""
        return self._species.get(species)

    def habit(self, species: str, cultivar: str) -> Habit:
        """Whether a cultivar is known to alternate."""
        return self._habits.get((species.casefold(), cultivar.casefold()), "unknown")

    def young(self, group: str, vigour: str | None, leaf: int) -> list[YoungRule]:
        """Rules for a leaf: one where the vigour is known, else one for each vigour."""
        return [
            rule
            for rule in self._young
            if rule.group == group
            and (vigour is None or rule.vigour == vigour)
            and rule.leaf_low <= leaf <= rule.leaf_high
        ]

    def load(self, species: str, habit: Habit, leaf: int) -> LoadRule | None:
        """Fruit per cm2 for a species; where the habit is not known, the lowest number."""
        wanted = {"yes": {"any", "biennial"}, "no": {"any", "annual"}}.get(habit)
        fitting = [
            rule
            for rule in self._load
            if rule.species == species
            and (wanted is None or rule.habit in wanted)
            and rule.leaf_low <= leaf <= rule.leaf_high
        ]
        return min(fitting, key=lambda rule: rule.target, default=None)


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]


def _number(value: float) -> float | None:
    return None if isnan(value) else float(value)


def _range(low: float, high: float) -> tuple[float, float] | None:
    return None if isnan(low) or isnan(high) else (float(low), float(high))


def _open_ended(value: float) -> float:
    return inf if isnan(value) else float(value)


def _species(row: dict[str, Any]) -> SpeciesCare:
    spacing = _range(row["spacing_cm_low"], row["spacing_cm_high"])
    read = [part for part in str(row["source"]).split("; ") if "thinning" in part]
    # The table lets mandarins be thinned, as packers do; in an orchard of all kinds citrus is not
    # (common practice, no source).
    thinned = bool(row["thinned"]) and row["group"] != "citrus"
    return SpeciesCare(row["group"], thinned, spacing, read[0] if read else MEMORY)


def _young(row: dict[str, Any]) -> YoungRule:
    return YoungRule(
        group=row["species_group"],
        vigour=row["vigour"],
        leaf_low=row["leaf_low"],
        leaf_high=_open_ended(row["leaf_high"]),
        advice=row["advice"],
        density=_range(row["fruit_per_cm2_low"], row["fruit_per_cm2_high"]),
        weak_shoot_cm=_number(row["shoot_below_cm"]),
        strong_shoot_cm=_number(row["shoot_vigorous_cm"]),
        source=row["source"],
    )


def _load(row: dict[str, Any]) -> LoadRule:
    return LoadRule(
        species=row["species"],
        habit=row["habit"],
        leaf_low=row["leaf_low"],
        leaf_high=_open_ended(row["leaf_high"]),
        low=float(row["fruit_per_cm2_low"]),
        target=float(row["fruit_per_cm2"]),
        source=row["source"],
        published=row["basis"] == "read",
    )
