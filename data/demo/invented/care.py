"""What the growers did and suffered: thinning, trunk girths, sprays, frost, hail and drought."""

from __future__ import annotations

from datetime import date

import numpy as np

from invented.fruiting import Fruiting
from invented.logbook import FIRST, TODAY, Row, in_log, iso, picking_day
from invented.plan import AS_OF, FIRST_DAY, NORTH, SOUTH, PlannedTree, stream
from invented.weather import index_of

GIRTH_CM = (27.0, 50.0, 92.0)  # full-grown: dwarf, semi-dwarf, standard
GIRTH_LEAVES = (9.0, 12.0, 17.0)  # leaves to about two thirds of it


def thinning_rows(one: Fruiting) -> list[Row]:
    rng = stream("thinning", one.tree.tree, one.season)
    if not one.action:
        return []
    after = 38 if one.action == "thin" else 24
    day = picking_day(rng, one.bloom + after + int(rng.integers(0, 12)))
    if not in_log(day, one):
        return []
    if one.action == "strip":
        if one.leaf == 1 and rng.random() < 0.35:
            return []  # it did not flower
        removed, left, note = int(rng.integers(2, 14 * one.leaf)), 0, f"leaf {one.leaf}"
    else:
        fruit = one.kg * 1000 / one.fruit_g
        removed, left, note = round(fruit * rng.uniform(0.5, 1.3)), round(fruit), ""
    told = one.action == "strip" or rng.random() < 0.6
    return [
        {
            "tree": one.tree.tree,
            "date": iso(day),
            "action": one.action,
            "fruit_removed": removed if told else "",
            "fruit_left": left if told and (one.action == "strip" or fruit < 900) else "",
            "note": note,
        }
    ]


def overladen_row() -> Row:
    """The young tree that was left to carry far more than its trunk can feed."""
    return {
        "tree": "Q3-05",
        "date": "2026-06-13",
        "action": "thin",
        "fruit_removed": 14,
        "fruit_left": 58,
        "note": "leaf 3, left to carry",
    }


def girth_rows(tree: PlannedTree) -> list[Row]:
    rng = stream("girth", tree.tree)
    final = GIRTH_CM[tree.size] * float(np.exp(rng.normal(0, 0.1)))
    start, pace = float(rng.uniform(4.2, 6.2)), GIRTH_LEAVES[tree.size]
    if tree.species == "feijoa":
        final *= 0.8
    rows: list[Row] = []
    largest = start
    for season in range(2014, 2027):
        leaf = season - tree.first_season + 1
        day = index_of(date(season, 6, 14) if tree.place.south else date(season, 12, 6))
        day += int(rng.integers(0, 22))
        if leaf < 1:
            continue
        size = start + (final - start) * (1 - np.exp(-leaf / pace)) + rng.normal(0, 0.15)
        largest = max(largest + 0.1, float(size))
        gone = tree.removed and day >= index_of(tree.removed)
        if FIRST <= day <= TODAY and not gone and (leaf <= 4 or rng.random() < 0.85):
            rows.append({"tree": tree.tree, "date": iso(day), "girth_cm": f"{largest:.1f}"})
    return rows + girth_at_planting(tree, start)


def girth_at_planting(tree: PlannedTree, start: float) -> list[Row]:
    if not FIRST_DAY <= tree.planted <= AS_OF:
        return []
    return [{"tree": tree.tree, "date": tree.planted.isoformat(), "girth_cm": f"{start:.1f}"}]


def spray(day: date, product: str, wait: int | None, crop: str, reason: str, **owner: str) -> Row:
    return {
        "tree": owner.get("tree", ""),
        "site": owner.get("site", ""),
        "date": day.isoformat(),
        "product": product,
        "withholding_days": "" if wait is None else wait,
        "crop": crop,
        "reason": reason,
        "note": owner.get("note", ""),
    }


def site_sprays() -> list[Row]:
    """Winter sprays over a whole site, while nothing hangs there."""
    rng, rows = stream("site sprays"), []
    for year in range(2015, 2027):
        day = date(year, 3, int(rng.integers(1, 15)))
        rows.append(spray(day, "Copper spray A", 28 if year % 4 else None, "all",
                          "leaf curl, canker", site=NORTH.site))  # fmt: skip
        if year % 3 == 0:
            rows.append(spray(date(year, 2, 20), "Winter oil D", 0, "all", "scale, mites",
                              site=NORTH.site))  # fmt: skip
    return rows


def tree_sprays(lives: list[Fruiting]) -> list[Row]:
    """Growing-season sprays; the growers kept to the label, so none covers a logged pick."""
    rows = []
    for one in lives:
        rng = stream("spray", one.tree.tree, one.season)
        plans = (
            ("Sulphur spray B", 14, "scab, mildew", one.bloom + int(rng.integers(10, 20)), 0.35),
            ("Moth spray C", 28, "codling moth", one.bloom + int(rng.integers(38, 55)), 0.45),
            ("Copper spray A", 28, "leaf curl", one.bloom - int(rng.integers(18, 30)), 0.5),
        )
        pome = one.tree.species in ("apple", "european pear")
        curled = one.tree.species in ("peach", "nectarine") and one.tree.place is SOUTH
        for product, wait, reason, day, chance in plans[:2] if pome else plans[2:] * curled:
            fits = in_log(day, one) and one.ripe - day > wait + 12 and one.leaf > 1
            if rng.random() < chance and fits:
                typed = None if rng.random() < 0.08 else wait
                rows.append(spray(date.fromisoformat(iso(day)), product, typed, one.tree.species,
                                  reason, tree=one.tree.tree))  # fmt: skip
    return rows


def late_sprays() -> list[Row]:
    """Sprays whose period runs into the picking expected at the as-of date."""
    return [
        spray(date(2026, 8, 3), "Moth spray C", 28, "apple", "codling moth", tree="Q2-02"),
        spray(date(2026, 8, 3), "Moth spray C", 28, "apple", "codling moth", tree="Q3-01"),
        spray(date(2026, 8, 5), "Fruit rot spray E", None, "european pear", "brown rot",
              tree="Q2-06", note="label lost, waiting time not known"),
        spray(date(2026, 8, 1), "Fruit rot spray E", 7, "peach", "brown rot", tree="Q4-02"),
    ]  # fmt: skip


def event(day: str, name: str, severity: int | str, note: str, **owner: str) -> Row:
    return {
        "tree": owner.get("tree", ""),
        "site": owner.get("site", ""),
        "date": day,
        "event": name,
        "severity": severity,
        "note": note,
    }


def site_events() -> list[Row]:
    north, south = {"site": NORTH.site}, {"site": SOUTH.site}
    return [
        event("2018-06-16", "hail", 2, "fruit marked in all rows", **north),
        event("2021-04-20", "frost", 3, "three nights below zero in bloom", **north),
        event("2022-08-07", "drought", 2, "no rain to speak of since June, fruit small", **north),
        event("2019-09-16", "frost", 1, "ground frost, peaches in bloom browned", **south),
        event("2020-02-02", "drought", 2, "tank empty, no watering", **south),
        event("2022-12-11", "hail", 2, "short and heavy", **south),
        event("2024-05-17", "wind", 3, "two days of gale", **south),
    ]


def tree_events(lives: list[Fruiting]) -> list[Row]:
    rows = [
        event("2020-05-24", "disease", 3, "branches dying back", tree="Q4-06"),
        event("2022-07-10", "disease", 3, "canker round the trunk", tree="Q3-03"),
        event("2025-02-15", "animal", 2, "bark gnawed by hares", tree="Q3-06"),
        event("2023-06-18", "pest", 1, "aphids on the tips", tree="Q2-08"),
        event("2026-07-04", "animal", 1, "birds in the cherries", tree="Q4-07"),
    ]
    for one in lives:
        day = one.bloom + 45
        if one.frost_loss > 0.85 and one.kg < 2.5 and one.leaf > 3 and in_log(day, one):
            rows.append(event(iso(day), "no crop", "", "frost in bloom", tree=one.tree.tree))
    return rows
