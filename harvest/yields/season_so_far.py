"""What the running season says of its crop: bloom and set as noted, frost, thinning, losses.

Each finding multiplies the crop that past seasons lead one to expect. The factors are judgements
(common practice, no source) but for frost (`harvest.yields.frost_damage`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.yields.frost_damage import (
    LEAST_SHARE,
    NEEDED,
    USUALLY_NEEDED,
    bloom_days,
    crop_left,
    frost_damage,
)
from harvest.yields.plain_rows import plain_rows
from harvest.yields.tree_seasons import first_seasons
from harvest.yields.wording import named, on

# What notes call a bloom or a set, and what is made of it.
NOTED = {
    r"\bno (?:bloom|blossom|flowers)\b": 0.03,
    r"\b(?:sparse|scant|weak|poor|light|few) (?:bloom|blossom|flowers|fruit set|set)\b": 0.5,
    r"\b(?:medium|moderate|fair|usual) (?:bloom|blossom|flowers|fruit set|set)\b": 0.9,
    r"\b(?:heavy|full|rich|strong|good) (?:bloom|blossom|flowering|fruit set|set)\b": 1.15,
}
GIVEN_WEIGHT_DOUBT = 0.3


@dataclass
class SeasonSoFar:
    """What changes one tree's estimate this season."""

    factor: float = 1.0
    fruit_left: int | None = None
    none: str = ""
    """Why there is no crop at all; empty where there may be one."""
    picked_kg: float = 0.0
    finished: bool = False
    said: list[str] = field(default_factory=list)


def season_so_far(
    records: Records, season: int, trees: pd.Series, table: pd.DataFrame, kill: pd.DataFrame
) -> dict[str, SeasonSoFar]:
    """Findings by tree, only of trees with any.

    Parameters
    ----------
    records : with seasons. season : the season that is estimated. trees : names of those wanted.
    table : `yield_table` of the records. kill : the table frost_kill.csv.
    """
    found: dict[str, SeasonSoFar] = {}
    _frost(found, records, season, trees, kill)
    _notes(found, records, season)
    _thinnings(found, records, season)
    _new_grafts(found, records, season)
    own = table[table["season"] == season]
    for row in plain_rows(own[own["crop"] != "not recorded"]):
        so_far = found.setdefault(str(row.tree), SeasonSoFar())
        if row.crop == "none":
            so_far.none = "No crop was logged for this season."
        elif row.crop == "stripped":
            so_far.none = "All fruit were stripped this season."
        else:
            so_far.none = ""
            so_far.picked_kg = float(row.weight_kg)
            so_far.finished = bool(row.complete)
    return found


def _new_grafts(found: dict[str, SeasonSoFar], records: Records, season: int) -> None:
    """A graft bears nothing in its first leaf (common practice, no source)."""
    trees = records.trees
    if "grafted" not in trees:
        return
    trees = trees[trees["grafted"].notna()]
    for row in plain_rows(trees[first_seasons(trees) >= season]):
        so_far = found.setdefault(str(row.tree), SeasonSoFar())
        day = on(row.grafted.date())
        so_far.none = f"Grafted over on {day}: the new wood bears no fruit in its first season."


def _frost(
    found: dict[str, SeasonSoFar],
    records: Records,
    season: int,
    trees: pd.Series,
    kill: pd.DataFrame,
) -> None:
    if records.weather.empty or not (records.stages["season"] == season).any():
        return
    blooms = bloom_days(records, season)
    blooms = blooms[blooms["tree"].isin(trees)]
    damage = blooms.join(frost_damage(records, blooms, kill))
    damage = damage.assign(left=crop_left(damage))
    for row in plain_rows(damage[damage["share"] >= LEAST_SHARE]):
        need = NEEDED.get(row.species, USUALLY_NEEDED)
        so_far = found.setdefault(row.tree, SeasonSoFar())
        so_far.factor *= row.left
        so_far.said.append(
            f"Frost on {on(row.night.date())}, {row.tmin_c:.1f} °C at {row.stage}, would kill"
            f" about {row.share:.0%} of the flowers or fruitlets; {named(row.species)} needs about"
            f" {need:.0%} of them for a full crop. Cut some open and count."
        )


def _notes(found: dict[str, SeasonSoFar], records: Records, season: int) -> None:
    stages = records.stages[["tree", "season", "date", "note"]]
    events = records.events.loc[records.events["event"] == "other", stages.columns]
    both = pd.concat([stages, events[events["tree"].notna()]])
    both = both[(both["season"] == season) & both["note"].notna()].sort_values("date")
    for row in plain_rows(both):
        for pattern, factor in NOTED.items():
            if re.search(pattern, str(row.note).casefold()):
                so_far = found.setdefault(row.tree, SeasonSoFar())
                so_far.factor *= factor
                so_far.said.append(f"Noted on {on(row.date.date())}: {row.note}.")
                break


def _thinnings(found: dict[str, SeasonSoFar], records: Records, season: int) -> None:
    thinnings = records.thinnings
    thinned = thinnings[(thinnings["season"] == season) & (thinnings["action"] == "thin")]
    for row in plain_rows(thinned.sort_values("date")):
        so_far = found.setdefault(row.tree, SeasonSoFar())
        if not np.isnan(row.fruit_left):
            so_far.fruit_left = int(row.fruit_left)
            so_far.said.append(
                f"Fruit were thinned on {on(row.date.date())} to {so_far.fruit_left}."
            )
