"""Bloom and partners as their page shows them: rows for the picture, verdicts, bees."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from dashboard.data import BeeWeather, Pollination

# Verdicts, those that ask for something first.
VERDICTS = (
    "no partner",
    "unknown",
    "partner, but little overlap",
    "partner, but far",
    "partner in bloom",
    "no partner needed",
)
LACKING = ("no partner", "partner, but little overlap", "partner, but far")


@dataclass(frozen=True)
class BloomRow:
    """Trees of one cultivar at a site that bloom alike and fare alike."""

    name: str
    site: str
    species: str
    trees: tuple[str, ...]
    first: date
    last: date
    basis: str
    give_or_take_days: int
    verdict: str


@dataclass(frozen=True)
class Alike:
    """Trees of one cultivar at a site with the same verdict for the same reasons."""

    trees: tuple[str, ...]
    one: Pollination


def rows_of(blooms: Iterable[Pollination], *, each_tree: bool) -> list[BloomRow]:
    """The blooms that are known, by date: a row for each cultivar, or for each tree."""
    groups: dict[tuple[str, ...], list[Pollination]] = {}
    for one in blooms:
        if one.bloom_first is not None and one.bloom_last is not None:
            own = one.tree if each_tree else one.cultivar
            key = (one.site, one.species, own, str(one.bloom_basis), one.verdict)
            groups.setdefault(key, []).append(one)
    rows = [_row(key, own) for key, own in groups.items()]
    return sorted(rows, key=lambda row: (row.first, row.last, row.name))


def _row(key: Sequence[str], own: Sequence[Pollination]) -> BloomRow:
    site, species, name, basis, verdict = key
    starts = [one.bloom_first for one in own if one.bloom_first is not None]
    ends = [one.bloom_last for one in own if one.bloom_last is not None]
    return BloomRow(
        name=name,
        site=site,
        species=species,
        trees=tuple(one.tree for one in own),
        first=min(starts),
        last=max(ends),
        basis=basis,
        give_or_take_days=max(one.give_or_take_days for one in own),
        verdict=verdict,
    )


def by_verdict(blooms: Iterable[Pollination]) -> dict[str, list[Alike]]:
    """Trees by verdict; those of one cultivar that are told the same stand together."""
    found: dict[str, dict[tuple[object, ...], list[Pollination]]] = {}
    for one in blooms:
        key = (one.site, one.species, one.cultivar, one.reasons)
        found.setdefault(one.verdict, {}).setdefault(key, []).append(one)
    return {
        verdict: [
            Alike(tuple(each.tree for each in own), own[0]) for own in found[verdict].values()
        ]
        for verdict in VERDICTS
        if verdict in found
    }


def in_bloom(blooms: Iterable[Pollination], day: date) -> list[Pollination]:
    """Trees in bloom on a day."""
    return [
        one
        for one in blooms
        if one.bloom_first is not None
        and one.bloom_last is not None
        and one.bloom_first <= day <= one.bloom_last
    ]


def next_to_bloom(blooms: Iterable[Pollination], day: date) -> Pollination | None:
    """The tree that blooms next after a day."""
    coming = [
        (one.bloom_first, one.tree, one)
        for one in blooms
        if one.bloom_first is not None and one.bloom_first > day
    ]
    return min(coming, key=lambda each: each[:2])[2] if coming else None


def bees_of(
    blooms: Iterable[Pollination],
) -> tuple[list[tuple[str, str, BeeWeather]], list[str]]:
    """Cultivars with the weather that bees found, by site; and those of which it is unknown."""
    known: dict[tuple[str, str], BeeWeather] = {}
    unknown: dict[str, None] = {}
    for one in blooms:
        if one.bees is not None and one.bees.share is not None:
            known.setdefault((one.cultivar, one.site), one.bees)
        else:
            unknown[one.cultivar] = None
    told = [(name, site, bees) for (name, site), bees in known.items()]
    return sorted(told, key=lambda each: (each[2].share or 0.0, each[0])), list(unknown)
