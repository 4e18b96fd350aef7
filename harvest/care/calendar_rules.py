"""The rules of the year's calendar, read off the reference table: what, for whom, when, why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np
import pandas as pd

from harvest.care import texts
from harvest.care.outlook import HIGH, LOW, MIDDLE, TreeSeason
from harvest.seasons import season_start

Anchor = Literal["season", "bloom", "ripe", "last pick"]
CAUTIONS = {
    "ladder": (texts.LADDER,),
    "weight": (texts.WEIGHT,),
    "tools": (texts.TOOLS,),
    "frost": (texts.FROST_WORK,),
    "spray": (texts.DECIDE, texts.OPEN_FLOWERS, texts.KEEP_AWAY, texts.CLOTHING),
}
# Dates fixed by the calendar alone are this uncertain [d]: from memory.
FIXED_DAYS = 14
# A last pick is not waited for longer than this many times the usual picking window: ours.
LONGEST_PICKING = 2.0


@dataclass(frozen=True, slots=True)
class Kinds:
    """What the reference tables say of each species, as far as the calendar asks for it."""

    group: dict[str, str]
    evergreen: frozenset[str]
    thinned: frozenset[str]
    frost_table: frozenset[str]
    stored_weeks: dict[str, float]
    """Longest keeping time [weeks] of species that keep two weeks and longer."""
    picking_days: dict[str, float]
    """Longest usual time from first to last pick [d]."""


def kinds_of(species: pd.DataFrame, frost_kill: pd.DataFrame) -> Kinds:
    """Gather the kinds from the species and frost tables."""
    weeks = species.set_index("species")["storage_weeks_high"]
    return Kinds(
        group=dict(zip(species["species"], species["group"], strict=True)),
        evergreen=frozenset(species.loc[species["evergreen"], "species"]),
        thinned=frozenset(species.loc[species["thinned"], "species"]),
        frost_table=frozenset(frost_kill["species"]),
        stored_weeks={str(name): float(most) for name, most in weeks.items() if most >= 2},
        picking_days={
            str(name): float(most)
            for name, most in zip(
                species["species"], species["picking_window_days_high"], strict=True
            )
            if most > 0
        },
    )


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the calendar table."""

    item: str
    title: str
    kinds: tuple[str, ...]
    per: Literal["site", "species", "cultivar"]
    anchor_from: Anchor
    from_days: int
    anchor_to: Anchor
    to_days: int
    leaf_from: int
    leaf_to: int
    urgency: int
    todo: str
    why: str
    cautions: tuple[str, ...]
    source: str

    def concerns(self, tree: TreeSeason) -> bool:
        """Whether the item is for a tree of this age, and not gone with its fruit."""
        if not self.leaf_from <= tree.leaf <= self.leaf_to:
            return False
        return not (tree.fruit_gone and self.item in ("thinning", "maturity test"))

    def window(self, days: AnchorDays, kinds: Kinds) -> Window | None:
        """When, for one tree; None where its date is not known."""
        first, last = days.of(self.anchor_from), days.of(self.anchor_to)
        if first is None or last is None:
            return None
        to_days = self.to_days
        if self.item == "storage check":
            to_days = round(7 * kinds.stored_weeks[days.tree.species])
        begin, end = timedelta(days=self.from_days), timedelta(days=to_days)
        return Window(
            first[1] + begin,
            max(last[1] + end, first[1] + begin),
            first[0] + begin,
            max(last[2] + end, first[2] + begin),
        )


@dataclass(frozen=True, slots=True)
class Window:
    """Days of an item: likeliest first and last, and the 8-in-10 bounds around them."""

    first: date
    last: date
    earliest: date
    latest: date

    def joined(self, other: Window) -> Window:
        """The days that either covers."""
        return Window(
            min(self.first, other.first),
            max(self.last, other.last),
            min(self.earliest, other.earliest),
            max(self.latest, other.latest),
        )


def rules_from(table: pd.DataFrame) -> list[Rule]:
    """The rules of the calendar table, in its order."""
    return [
        Rule(
            item=row["item"],
            title=row["title"],
            kinds=tuple(word.strip() for word in row["kinds"].split(";")),
            per=row["per"],
            anchor_from=row["anchor_from"],
            from_days=int(row["from_days"]),
            anchor_to=row["anchor_to"],
            to_days=int(row["to_days"]),
            leaf_from=1 if np.isnan(row["leaf_from"]) else int(row["leaf_from"]),
            leaf_to=10_000 if np.isnan(row["leaf_to"]) else int(row["leaf_to"]),
            urgency=int(row["urgency"]),
            todo=row["todo"],
            why=row["why"],
            cautions=tuple(
                text
                for word in row["caution"].split(";")
                for text in CAUTIONS.get(word.strip(), ())
            ),
            source=row["source"],
        )
        for row in table.to_dict("records")
    ]


def rules_for(species: str, rules: Sequence[Rule], kinds: Kinds) -> list[Rule]:
    """Those of the rules that are for a species."""
    return [rule for rule in rules if any(_is_kind(word, species, kinds) for word in rule.kinds)]


def _is_kind(word: str, species: str, kinds: Kinds) -> bool:
    if word.startswith("thinned"):
        group = word.removeprefix("thinned").strip()
        return species in kinds.thinned and (not group or kinds.group.get(species) == group)
    tests = {
        "all": True,
        "deciduous": species not in kinds.evergreen,
        "evergreen": species in kinds.evergreen,
        "frost table": species in kinds.frost_table,
        "stored": species in kinds.stored_weeks,
    }
    return tests.get(word, word in (species, kinds.group.get(species)))


Days = tuple[date, date, date]
"""Earliest, likeliest and latest day."""


class AnchorDays:
    """The days that rules count from in one tree's season, each worked out once."""

    def __init__(self, tree: TreeSeason, kinds: Kinds) -> None:
        self.tree = tree
        self._kinds = kinds
        self._known: dict[Anchor, Days | None] = {}

    def of(self, anchor: Anchor) -> Days | None:
        """The days of an anchor; None where they are not known."""
        if anchor not in self._known:
            self._known[anchor] = self._days(anchor)
        return self._known[anchor]

    def _days(self, anchor: Anchor) -> Days | None:
        tree = self.tree
        if anchor == "season":
            day = season_start(tree.season, tree.latitude)
            spread = timedelta(days=FIXED_DAYS)
            return day - spread, day, day + spread
        outlook = {"bloom": tree.bloom, "ripe": tree.ripe, "last pick": tree.last_pick}[anchor]
        found = []
        for level in (LOW, MIDDLE, HIGH):
            day_of = outlook.quantile(level)
            if day_of is None:
                return None
            found.append(self._no_later(day_of, level) if anchor == "last pick" else day_of)
        return found[0], found[1], found[2]

    def _no_later(self, last: date, level: float) -> date:
        """A last pick that nobody logged is not waited for beyond twice the usual time."""
        ripe = self.tree.ripe.quantile(level)
        most = self._kinds.picking_days.get(self.tree.species)
        if ripe is None or most is None or self.tree.last_pick.status == "observed":
            return last
        return min(last, ripe + timedelta(days=round(LONGEST_PICKING * most)))
