"""What the growers wrote down: stages and picking passes, with gaps, slips and days off."""

from __future__ import annotations

import numpy as np

from invented.fruiting import Fruiting
from invented.plan import AS_OF, FIRST_DAY, stream
from invented.weather import day_at, index_of

Row = dict[str, object]

FIRST, TODAY = index_of(FIRST_DAY), index_of(AS_OF)
# Seasons of which the book was lost: trees whose name starts so, season.
LOST_BOOKS = (("S3-", 2021), ("Q1-", 2016))
UNRECORDED_SHARE = 0.035
BAD_ROW = ("Q2-06", 2023)  # its first pass was typed again with a minus sign


def iso(day: int) -> str:
    return day_at(day).isoformat()


def unrecorded(one: Fruiting) -> bool:
    """Whether nobody wrote anything about this tree in this season."""
    lost = any(one.tree.tree.startswith(p) and one.season == s for p, s in LOST_BOOKS)
    rng = stream("gap", one.tree.tree, one.season)
    recent = one.season >= 2026
    return lost or (rng.random() < UNRECORDED_SHARE and not recent)


def in_log(day: int, one: Fruiting) -> bool:
    gone = one.tree.removed
    return FIRST <= day <= TODAY and (gone is None or day < index_of(gone))


def misread(rng: np.random.Generator, day: int, sd: float) -> int:
    """The day an observer would put down."""
    return day + int(np.clip(round(rng.normal(0, sd)), -3, 3))


def stage_rows(one: Fruiting) -> list[Row]:
    rng = stream("stages", one.tree.tree, one.season)
    half = one.tree.habit.bloom_days / 2
    chances = (0.72, 0.92, 0.6) if one.leaf > 1 else (0.3, 0.5, 0.2)
    if one.season > AS_OF.year:  # the season just opening is watched closely
        chances = (0.95, 0.95, 0.95)
    truth = (one.bloom - round(0.45 * half), one.bloom, one.bloom + round(1.2 * half))
    seen: list[tuple[int, int]] = []
    for bbch, day, chance in zip((61, 65, 69), truth, chances, strict=True):
        noted = misread(rng, day, 1.1)
        if rng.random() < chance and (not seen or noted > seen[-1][0]):
            seen.append((noted, bbch))
    if seen and rng.random() < 0.012:  # the wrong week of the calendar
        slip = int(rng.choice([-7, 7]))
        seen = [(day + slip, bbch) for day, bbch in seen]
    if one.kg > 0.3 and rng.random() < 0.42:
        seen.append((misread(rng, one.ripe, 1.3), 87))
    observer = str(rng.choice(["A", "B", "C"], p=[0.55, 0.3, 0.15]))
    return [stage_row(one, rng, day, bbch, observer) for day, bbch in seen if in_log(day, one)]


def stage_row(one: Fruiting, rng: np.random.Generator, day: int, bbch: int, observer: str) -> Row:
    share: object = ""
    if bbch == 61:
        share = 10
    elif bbch == 65:
        share = int(rng.choice([50, 60, 70, 80])) if rng.random() < 0.8 else ""
    return {
        "tree": one.tree.tree,
        "date": iso(day),
        "bbch": bbch,
        "percent_open": share,
        "observer": observer,
        "note": "",
    }


def picking_day(rng: np.random.Generator, day: int) -> int:
    """The next day somebody picks: a weekend, now and then a Wednesday."""
    for ahead in range(7):
        weekday = day_at(day + ahead).weekday()
        if weekday >= 5 and (weekday == 6 or rng.random() < 0.7):
            return day + ahead
        if weekday == 2 and rng.random() < 0.3:
            return day + ahead
    return day + 6


def passes_of(one: Fruiting, rng: np.random.Generator) -> list[int]:
    low, high = one.tree.habit.passes
    wanted = int(rng.integers(low, high + 1))
    if one.kg < 2.0:
        wanted = min(wanted, 2)
    gap = one.tree.habit.picking_days / max(wanted - 1, 1)
    days = [picking_day(rng, one.ripe + round(rng.exponential(1.2)))]
    for _ in range(wanted - 1):
        days.append(picking_day(rng, days[-1] + max(3, round(gap * 0.85))))
    return days


def pick_rows(one: Fruiting) -> list[Row]:
    if one.kg < 0.15:
        return []
    rng = stream("picks", one.tree.tree, one.season)
    days = passes_of(one, rng)
    middling = 1.0 + 2.0 * np.exp(-(((np.arange(len(days)) + 0.5) / len(days) - 0.45) ** 2) / 0.09)
    shares = rng.dirichlet(6 * middling)
    rows = []
    for number, (day, share) in enumerate(zip(days, shares, strict=True), start=1):
        if in_log(day, one):
            rows.append(pick_row(one, rng, day, number, float(share), number == len(days)))
    return rows


def pick_row(
    one: Fruiting, rng: np.random.Generator, day: int, number: int, share: float, last: bool
) -> Row:
    habit = one.tree.habit
    fruit = max(1, round(one.kg * share * 1000 / one.fruit_g))
    weight = fruit * one.fruit_g / 1000 * float(np.exp(rng.normal(0, 0.025)))
    spoilt = min(0.7, float(rng.beta(1.6, 18)) + one.spoilt * float(rng.uniform(0.6, 1.2)))
    out = round(weight * spoilt, 1) if rng.random() < 0.75 else None
    cause = ""
    if out:
        hail = one.spoilt > 0 and rng.random() < 0.7
        cause = "hail marks" if hail else str(rng.choice(habit.causes))
    firm = one.tree.species in ("apple", "european pear") and rng.random() < 0.18
    brix = habit.brix + rng.normal(0, 0.7) + 0.3 * (number - 1)
    return {
        "tree": one.tree.tree,
        "date": iso(day),
        "weight_kg": f"{max(weight, 0.1):.1f}",
        "fruit_count": fruit if fruit < 1500 and rng.random() < habit.counted else "",
        "pass": number,
        "graded_out_kg": "" if out is None else f"{min(out, max(weight, 0.1)):.1f}",
        "cause": cause,
        "last": "yes" if last else "no",
        "brix": f"{brix:.1f}" if rng.random() < 0.3 else "",
        "firmness_kg": f"{rng.normal(7.4, 0.5) - 0.3 * number:.1f}" if firm else "",
        "starch": int(rng.integers(3, 7)) if firm and one.tree.species == "apple" else "",
        "note": "",
    }


def wrong_row(picks: list[Row]) -> Row:
    """The one row that import must refuse: a weight below zero."""
    tree, year = BAD_ROW
    model = next(r for r in picks if r["tree"] == tree and str(r["date"]).startswith(str(year)))
    return model | {
        "weight_kg": f"-{model['weight_kg']}",
        "pass": 9,
        "last": "no",
        "note": "typing slip",
    }
