"""The rules of the year's calendar, read off the reference table: what, for whom, when, why."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.care import texts
from harvest.care.outlook import HIGH, LOW, MIDDLE, TreeSeason, quantile_days
from harvest.seasons import season_start

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Anchor = Literal["season", "bloom", "ripe", "last pick"]
Per = Literal["site", "species", "cultivar"]
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
LEVELS = (LOW, MIDDLE, HIGH)
# Items that are of no use once the fruit has gone.
WITH_THE_FRUIT = ("thinning", "maturity test")


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
    per: Per
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

    def days(self, trees: RuledTrees) -> Floats:
        """When, in each tree's season, shape (trees, 4): ordinals, columns as `Window`'s fields.

        nan where it is not for a tree of this kind or age, where it has gone with the fruit, and
        where its date is not known.
        """
        first, last = trees.days(self.anchor_from), trees.days(self.anchor_to)
        to_days = trees.days_stored if self.item == "storage check" else self.to_days
        begin, end = first + self.from_days, last + to_days
        found = np.column_stack(
            [
                begin[:, 1],
                np.maximum(end[:, 1], begin[:, 1]),
                begin[:, 0],
                np.maximum(end[:, 2], begin[:, 2]),
            ]
        )
        concerned = trees.are(self.kinds)
        concerned &= (self.leaf_from <= trees.leaf) & (trees.leaf <= self.leaf_to)
        if self.item in WITH_THE_FRUIT:
            concerned &= ~trees.fruit_gone
        found[~concerned] = np.nan
        return found


@dataclass(frozen=True, slots=True)
class Window:
    """Days of an item: likeliest first and last, and the 8-in-10 bounds around them."""

    first: date
    last: date
    earliest: date
    latest: date

    @classmethod
    def around(cls, days: Floats) -> Window:
        """All that some trees' windows cover together; `days` as from `Rule.days`, none unknown."""
        first, _, earliest, _ = days.min(axis=0)
        _, last, _, latest = days.max(axis=0)
        return cls(*(date.fromordinal(int(day)) for day in (first, last, earliest, latest)))


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


class RuledTrees:
    """Tree-seasons as the rules see them: arrays with a row for each."""

    def __init__(self, seasons: Sequence[TreeSeason], kinds: Kinds) -> None:
        self.seasons = seasons
        self._kinds = kinds
        self.leaf = np.array([each.leaf for each in seasons], dtype=np.int64)
        self.fruit_gone = np.array([each.fruit_gone for each in seasons], dtype=bool)
        self._names, self._species = _numbered([each.species for each in seasons])
        self._known: dict[Anchor, Floats] = {}

    @property
    def days_stored(self) -> Floats:
        """Longest keeping time [d], shape (trees, 1); nan where the fruit does not keep."""
        return np.round(7 * self._by_species(self._kinds.stored_weeks))

    def are(self, words: Sequence[str]) -> Bools:
        """Which are of one of the kinds that a rule names."""
        every = [any(_is_kind(word, name, self._kinds) for word in words) for name in self._names]
        return np.array(every, dtype=bool)[self._species]

    def alike(self, per: Per, which: Bools) -> list[Ints]:
        """Which of some trees share an item: rows of each site, season and kind of tree."""
        told = {"site": 0, "species": 1, "cultivar": 2}[per]  # parts of the kind that count
        rows = np.flatnonzero(which)
        some = [self.seasons[row] for row in rows.tolist()]
        _, number = _numbered(
            [(each.site, each.season, *(each.species, each.cultivar)[:told]) for each in some]
        )
        order = np.argsort(number, kind="stable")
        return np.split(rows[order], np.flatnonzero(np.diff(number[order])) + 1) if some else []

    def days(self, anchor: Anchor) -> Floats:
        """The days a rule counts from: earliest, likeliest and latest ordinal, nan if not known."""
        if anchor not in self._known:
            self._known[anchor] = self._days(anchor)
        return self._known[anchor]

    def _days(self, anchor: Anchor) -> Floats:
        if anchor == "season":
            starts = {
                key: season_start(*key).toordinal()
                for key in {(each.season, each.latitude) for each in self.seasons}
            }
            days = np.array([starts[each.season, each.latitude] for each in self.seasons])
            return np.asarray(np.add.outer(days, np.array([-FIXED_DAYS, 0.0, FIXED_DAYS])))
        if anchor != "last pick":
            asked = "bloom" if anchor == "bloom" else "ripe"
            return quantile_days([getattr(each, asked) for each in self.seasons], LEVELS)
        last = quantile_days([each.last_pick for each in self.seasons], LEVELS)
        return np.asarray(last - np.fmax(last - self._no_later, 0.0))

    @property
    def _no_later(self) -> Floats:
        """A last pick that nobody logged is not waited for beyond twice the usual time."""
        longest = np.round(LONGEST_PICKING * self._by_species(self._kinds.picking_days))
        seen = np.array([each.last_pick.status == "observed" for each in self.seasons], dtype=bool)
        return np.where(seen[:, None], np.nan, self.days("ripe") + longest)

    def _by_species(self, of: Mapping[str, float]) -> Floats:
        values = np.array([of.get(name, np.nan) for name in self._names], dtype=np.float64)
        return values[self._species][:, None]


def _numbered(keys: Sequence[Hashable]) -> tuple[list[Any], Ints]:
    """Distinct keys in the order they come, and the number of each one's."""
    number = {key: at for at, key in enumerate(dict.fromkeys(keys))}
    return list(number), np.array([number[key] for key in keys], dtype=np.int64)
