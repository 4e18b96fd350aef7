"""The orchard as it stands: each tree in its row and position, with one measure of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from dashboard.data import CropAdvice, EventForecast, GroupSeason, Withholding
from dashboard.measures import kilograms
from dashboard.texts import plan as plan_texts
from dashboard.words import short_day

Measure = str
SOON = timedelta(days=14)
# How each state of each measure is filled and signed: colour never stands alone.
LOOKS: dict[Measure, dict[str, tuple[str, str]]] = {
    "week": {
        "now": ("strong", "●"),
        "soon": ("mid", "◐"),
        "later": ("faint", "○"),
        "over": ("bare", "–"),
        "unknown": ("ask", "?"),
    },
    "may": {"wait": ("alarm", "✕"), "unread": ("alarm-ask", "?"), "clear": ("bare", "○")},
    "kg": {
        "heavy": ("strong", "●"),
        "middle": ("tint", "◐"),
        "light": ("faint", "○"),
        "none": ("bare", "–"),
        "unknown": ("ask", "?"),
    },
    "against": {
        "good": ("mid", "▲"),
        "usual": ("faint", "="),
        "poor": ("strong", "▼"),
        "early": ("bare", "…"),
        "unknown": ("ask", "?"),
    },
    "young": {
        "strip": ("strong", "○"),
        "limit": ("tint", "◐"),
        "carry": ("faint", "●"),
        "unknown": ("ask", "?"),
    },
}
NAMES: dict[Measure, dict[str, str]] = {
    "week": plan_texts.WEEK_NAMES,
    "may": plan_texts.MAY_NAMES,
    "kg": plan_texts.KG_NAMES,
    "against": plan_texts.AGAINST_NAMES,
    "young": plan_texts.YOUNG_NAMES,
}


@dataclass(frozen=True)
class Told:
    """A measure of one tree: its state, and the few words written on it."""

    state: str
    words: str
    kg: float | None = None


@dataclass(frozen=True)
class PlanTree:
    """A tree where it stands; row and position are None where they are not on record."""

    tree: str
    site: str
    species: str
    cultivar: str
    row: int | None
    position: int | None
    told: Told


@dataclass(frozen=True)
class PlanRow:
    """One row of a site: its trees by position."""

    row: int
    trees: Mapping[int, PlanTree]


@dataclass(frozen=True)
class PlanSite:
    """A site's rows, first row first, and the positions they span."""

    site: str
    rows: tuple[PlanRow, ...]
    first: int
    last: int


def plan_trees(trees: Any, told: Mapping[str, Told], missing: Told) -> list[PlanTree]:
    """Standing trees with a measure; `trees` is the overview's frame."""
    standing = trees[trees["removed"].isna()]
    columns = [standing[name] for name in ("tree", "site", "species", "cultivar")]
    places = [[None if each != each else int(each) for each in standing[name]]
              for name in ("row", "position")]  # fmt: skip
    return [
        PlanTree(tree, site, species, cultivar, row, position, told.get(tree, missing))
        for tree, site, species, cultivar, row, position in zip(*columns, *places, strict=True)
    ]


def laid_out(trees: Iterable[PlanTree]) -> tuple[list[PlanSite], list[PlanTree]]:
    """Sites with their rows, and the trees that have no place of their own."""
    placed: dict[str, dict[int, dict[int, PlanTree]]] = {}
    left = []
    for tree in trees:
        if tree.row is None or tree.position is None:
            left.append(tree)
            continue
        row = placed.setdefault(tree.site, {}).setdefault(tree.row, {})
        if tree.position in row:
            left.append(tree)
        else:
            row[tree.position] = tree
    sites = []
    for site, rows in sorted(placed.items()):
        positions = [position for row in rows.values() for position in row]
        sites.append(
            PlanSite(
                site=site,
                rows=tuple(PlanRow(number, rows[number]) for number in sorted(rows)),
                first=min(positions),
                last=max(positions),
            )
        )
    return sites, left


def by_week(events: Sequence[EventForecast], as_of: date) -> dict[str, Told]:
    """When each tree is ripe: the earliest event of its running seasons that is not over."""
    gone = {(each.tree, each.season) for each in events
            if each.event == "last pick" and each.status == "observed"}  # fmt: skip
    found: dict[str, Told] = {}
    order = {"now": 0, "soon": 1, "later": 2, "over": 3, "unknown": 4}
    for each in events:
        if each.event != "ripe":
            continue
        told = _ripe(each, as_of, gone=(each.tree, each.season) in gone)
        known = found.get(each.tree)
        if known is None or order[told.state] < order[known.state]:
            found[each.tree] = told
    return found


def _ripe(each: EventForecast, as_of: date, *, gone: bool) -> Told:
    if gone:
        return Told("over", plan_texts.OVER)
    if each.status == "observed":
        return Told("now", plan_texts.RIPE_SINCE)
    middle = each.quantiles.get(0.5)
    if middle is None:
        return Told("unknown", plan_texts.WEEK_NAMES["unknown"])
    return Told("soon" if middle <= as_of + SOON else "later", short_day(middle))


def by_leave(answers: Sequence[Withholding]) -> dict[str, Told]:
    """May each tree be picked, by the labels as logged."""
    found = {}
    for each in answers:
        if each.status == "clear":
            found[each.tree] = Told("clear", plan_texts.NO_WAIT)
        elif each.status == "wait" and each.earliest_pick is not None:
            until = plan_texts.WAIT_TO.format(date=short_day(each.earliest_pick))
            found[each.tree] = Told("wait", until)
        else:
            found[each.tree] = Told("unread", plan_texts.READ_LABEL)
    return found


def by_weight(seasons: Sequence[GroupSeason]) -> dict[str, Told]:
    """Each tree's latest season with a record, in thirds of the trees that gave something."""
    latest: dict[str, GroupSeason] = {}
    for each in seasons:
        if each.weight_kg is not None or each.trees_stripped:
            latest[each.name] = each
    weights = sorted(each.weight_kg for each in latest.values() if each.weight_kg)
    light, heavy = (weights[len(weights) * third // 3] if weights else 0.0 for third in (1, 2))
    found = {}
    for name, each in latest.items():
        kg = each.weight_kg or 0.0
        state = (
            "none" if kg == 0 else "light" if kg < light else "heavy" if kg >= heavy else "middle"
        )
        words = plan_texts.SEASON_KG.format(season=f"{each.season % 100:02}", kg=kilograms(kg))
        found[name] = Told(state, words, kg)
    return found


def by_verdict(seasons: Sequence[GroupSeason]) -> dict[str, Told]:
    """Each tree's last season that was held against what was to be expected."""
    states = {"good": "good", "usual": "usual", "poor": "poor", "too early to tell": "early"}
    return {
        each.name: Told(states[each.verdict], f"’{each.season % 100:02}: {each.verdict}")
        for each in seasons
        if each.verdict in states
    }


def by_advice(advice: Sequence[CropAdvice]) -> dict[str, Told]:
    """Strip, limit or carry."""
    found = {}
    for each in advice:
        words = plan_texts.YOUNG_NAMES[each.advice]
        if each.advice == "limit" and each.fruit_limit is not None:
            words = plan_texts.AT_MOST.format(limit=each.fruit_limit)
        found[each.tree] = Told(each.advice, words)
    return found


def sentence(measure: Measure, trees: Sequence[PlanTree], counted: str, day: str) -> str:
    """How many trees are in which state; `counted` names how many there are."""
    number = dict.fromkeys(LOOKS[measure], 0)
    for tree in trees:
        number[tree.told.state] += 1
    kg = kilograms(sum(tree.told.kg or 0.0 for tree in trees))
    return plan_texts.ANSWERS[measure].format(trees=counted, date=day, **{"kg": kg, **number})
