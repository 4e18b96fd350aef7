"""Seasons side by side: by tree, cultivar, species, site, row or the whole orchard.

Weights add up over any grouping. Trees that were picked, bore nothing, were stripped, or were not
recorded are counted apart. A group's season is called good or poor only outside the span in which
eight in ten of its seasons lie, and only with at least three other seasons on record.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import Ints
from harvest.yields.expectation import EARLY, GOOD, LEAST_OTHERS, NOT_COMPARED, POOR, USUAL, Z80
from harvest.yields.result import GroupSeason, SeasonsCompared
from harvest.yields.totals import KG_DIGITS, collector_resting

GROUPINGS = ("tree", "cultivar", "species", "site", "row", "orchard")
ALL_TREES = "all trees"
# Spread of sqrt(kg / expected) of a group from season to season before any is known, and how many
# seasons that is worth [judgement].
USUAL_SWING, SWING_WORTH = 0.2, 4.0
# Room for a day in a number that holds a cell as well.
DAYS_BEFORE_1970, MOST_DAYS = 1 << 20, 1 << 21


def season_groups(
    records: Records, fair: pd.DataFrame, by: str, seasons: Sequence[int] | None = None
) -> list[GroupSeason]:
    """What each group gave in each season, and how that compares.

    Parameters
    ----------
    records : as for `fair`. fair : `fair_table` of the records. by : one of `GROUPINGS`.
    seasons : the seasons wanted; all when left out. Which others count does not depend on it.

    Returns rows by group, oldest season first.
    """
    table = group_table(records, fair, by)
    if seasons is not None:
        table = table[table["season"].isin(seasons)]
    causes = graded_out_causes(records, fair, by)
    columns = {name: _plain(name, table[name]) for name in table.columns}
    columns["by"] = [by] * len(table)
    keys = zip(columns["name"], columns["season"], strict=True)
    columns["causes"] = [causes.get(key, {}) for key in keys]
    with collector_resting():
        return list(map(GroupSeason, *(columns[name] for name in GroupSeason.__dataclass_fields__)))


def group_table(records: Records, fair: pd.DataFrame, by: str) -> pd.DataFrame:
    """The same in one frame, one row per group and season: the fields of `GroupSeason`."""
    name = names_by(fair, by)
    group, names = pd.factorize(name, sort=True)
    season, seasons = pd.factorize(fair["season"], sort=True)
    width = max(len(seasons), 1)
    cell = group.astype(np.int64) * width + season
    cells = np.flatnonzero(np.bincount(cell))
    at = np.searchsorted(cells, cell)
    sums = _Sums(fair, at, len(cells))
    columns: dict[str, Any] = {
        "name": pd.Series(np.asarray(names, dtype=object)[cells // width], dtype=object),
        "season": np.asarray(seasons, dtype=np.int64)[cells % width],
        **sums.weights(),
        **sums.kinds(),
        **sums.dates(),
    }
    table = pd.DataFrame(columns)
    table["picking_days"] = _picking_days(records, fair, at, len(cells)) if len(fair) else 0
    table["cumulative_kg"] = (
        table["weight_kg"].fillna(0).groupby(table["name"]).cumsum().round(KG_DIGITS)
    )
    if by == "tree":
        own = fair.sort_values(["tree", "season"])
        for column in ("expected_kg", "low_kg", "high_kg", "verdict"):
            table[column] = own[column].to_numpy()
        table["others"] = own["others"].to_numpy()
        blank = ~own["counted"].to_numpy(dtype=bool)
        table.loc[blank, ["expected_kg", "low_kg", "high_kg"]] = np.nan
        return table
    return table.assign(**_verdicts(table, sums.expected()))


class _Sums:
    """Sums over the rows of each cell."""

    def __init__(self, fair: pd.DataFrame, at: np.ndarray[Any, Any], size: int) -> None:
        self.fair, self.at, self.size = fair, at, size

    def _total(self, values: Any, where: Any) -> Any:
        """Sum of the values there are; nan in a cell without any."""
        known = np.asarray(where, dtype=bool) & ~np.isnan(values)
        total = np.bincount(self.at[known], values[known], self.size)
        count = np.bincount(self.at[known], minlength=self.size)
        return np.where(count > 0, total, np.nan)

    def _count(self, where: Any) -> Any:
        return np.bincount(self.at[np.asarray(where, dtype=bool)], minlength=self.size)

    def _column(self, name: str) -> Any:
        return self.fair[name].to_numpy(dtype=float)

    def weights(self) -> dict[str, Any]:
        """Weights, fruit and what they make of each other."""
        kg, every = self._column("weight_kg"), np.ones(len(self.fair), dtype=bool)
        weight = np.round(self._total(kg, every), KG_DIGITS)
        counted = self._column("fruit_counted")
        counted_kg = self._column("mean_fruit_g") * counted / 1000
        fruit = self._total(counted, every)
        picked = (self.fair["crop"] == "picked").to_numpy()
        whole = self._count(picked & np.isnan(self._column("fruit_count"))) == 0
        area = self._column("tcsa_cm2")
        on_trunks = picked & self.fair["complete"].to_numpy(dtype=bool) & ~np.isnan(area)
        bearing = self._count(self.fair["bearing"])
        graded = self._total(self._column("graded_out_noted_kg"), every)
        with np.errstate(invalid="ignore", divide="ignore"):
            return {
                "weight_kg": weight,
                "fruit_count": np.where(whole, fruit, np.nan),
                "mean_fruit_g": 1000 * self._total(counted_kg, every) / fruit,
                "graded_out_kg": np.round(graded, KG_DIGITS),
                "kg_per_bearing_tree": np.where(bearing > 0, weight / bearing, np.nan),
                "kg_per_cm2": self._total(kg, on_trunks) / self._total(area, on_trunks),
            }  # fmt: skip

    def kinds(self) -> dict[str, Any]:
        """Trees by what became of their crop."""
        crop = self.fair["crop"]
        return {
            "trees_picked": self._count(crop == "picked"),
            "trees_none": self._count(crop == "none"),
            "trees_stripped": self._count(crop == "stripped"),
            "trees_not_recorded": self._count(crop == "not recorded"),
            "trees_bearing": self._count(self.fair["bearing"]),
            "compared_trees": self._count(self.fair["counted"]),
            "compared_kg": np.round(
                self._total(self._column("weight_kg"), self.fair["counted"]), KG_DIGITS
            ),
            "complete": self._count(~self.fair["complete"].to_numpy(dtype=bool)) == 0,
        }

    def dates(self) -> dict[str, Any]:
        """First and last pick and the days between [d]."""
        far = np.iinfo(np.int64).max
        found = {}
        for name, pick in (("first_pick", np.minimum), ("last_pick", np.maximum)):
            day = self.fair[name].to_numpy().astype("datetime64[D]")
            known = ~np.isnat(day)
            start = far if name == "first_pick" else -far
            best = np.full(self.size, start)
            pick.at(best, self.at[known], day[known].astype(np.int64))
            seen = best != start
            found[name] = np.where(
                seen, np.where(seen, best, 0).astype("datetime64[D]"), np.datetime64("NaT", "D")
            )
        length = (found["last_pick"] - found["first_pick"]) / np.timedelta64(1, "D")
        return {**found, "window_days": length + 1}

    def expected(self) -> Any:
        """Weight expected of the trees that are compared [kg]."""
        return self._total(self._column("expected_kg"), self.fair["counted"])


def _verdicts(table: pd.DataFrame, expected: Any) -> dict[str, Any]:
    """Span and verdict of each group's season, from how its other seasons came out."""
    kg = table["compared_kg"].to_numpy(dtype=float)
    known = expected > 0
    apart = np.where(known, np.sqrt(np.where(known, kg / np.where(known, expected, 1), 0)) - 1, 0)
    group = pd.factorize(table["name"])[0]
    others = np.bincount(group, known)[group] - known
    square = np.bincount(group, apart**2)[group] - apart**2
    spread = np.sqrt((square + SWING_WORTH * USUAL_SWING**2) / (others + SWING_WORTH))
    low = np.maximum(1 - Z80 * spread, 0) ** 2 * expected
    high = (1 + Z80 * spread) ** 2 * expected
    verdict = np.where(kg < low, POOR, np.where(kg > high, GOOD, USUAL)).astype(object)
    verdict[others < LEAST_OTHERS] = EARLY
    verdict[~known] = NOT_COMPARED
    blank = np.where(known, 0.0, np.nan)
    return {
        "expected_kg": expected + blank,
        "low_kg": low + blank,
        "high_kg": high + blank,
        "verdict": verdict,
        "others": others.astype(np.int64),
    }


def seasons_compared(
    fair: pd.DataFrame, groups: Sequence[GroupSeason], by: str, seasons: tuple[int, int]
) -> list[SeasonsCompared]:
    """Two seasons side by side per group, and like with like: trees that count in both.

    Parameters
    ----------
    groups : `season_groups` of `fair` by `by`. seasons : the earlier and the later one.
    """
    at = {(row.name, row.season): row for row in groups}
    names = sorted({row.name for row in groups if row.season in seasons})
    both = _in_both(fair, by, seasons)
    rows = []
    for name in names:
        trees, before, after = both.get(name, (0, np.nan, np.nan))
        rows.append(
            SeasonsCompared(
                by=by,
                name=name,
                earlier=at.get((name, seasons[0])),
                later=at.get((name, seasons[1])),
                trees_in_both=trees,
                earlier_kg=None if trees == 0 else round(before, KG_DIGITS),
                later_kg=None if trees == 0 else round(after, KG_DIGITS),
                change=after / before - 1 if trees and before > 0 else None,
            )
        )
    return rows


def _in_both(
    fair: pd.DataFrame, by: str, seasons: tuple[int, int]
) -> dict[str, tuple[int, float, float]]:
    counted = fair[fair["counted"]].assign(name=names_by(fair, by)[fair["counted"].to_numpy()])
    sides = [counted[counted["season"] == season] for season in seasons]
    joined = sides[0].merge(sides[1][["tree", "weight_kg"]], on="tree", suffixes=("", "_later"))
    grouped = joined.groupby("name")
    table = pd.DataFrame(
        {
            "trees": grouped.size(),
            "before": grouped["weight_kg"].sum(),
            "after": grouped["weight_kg_later"].sum(),
        }
    )
    return {
        str(name): (int(trees), float(before), float(after))
        for name, trees, before, after in table.itertuples(name=None)
    }


def graded_out_causes(
    records: Records, fair: pd.DataFrame, by: str
) -> dict[tuple[str, int], dict[str, float]]:
    """Weight graded out by cause [kg], by group and season; "not said" where no cause was noted."""
    picks = records.picks[records.picks["graded_out_kg"] > 0]
    if picks.empty:
        return {}
    of_tree = fair.assign(name=names_by(fair, by)).drop_duplicates("tree").set_index("tree")["name"]
    cause = picks["cause"].where(picks["cause"].notna(), "not said")
    keys = [picks["tree"].map(of_tree), picks["season"], cause]
    found: dict[tuple[str, int], dict[str, float]] = {}
    totals = picks["graded_out_kg"].groupby(keys).sum()
    for (name, season, why), weight in zip(totals.index.tolist(), totals.tolist(), strict=True):
        found.setdefault((name, int(season)), {})[why] = round(weight, KG_DIGITS)
    return found


def names_by(table: pd.DataFrame, by: str) -> np.ndarray[Any, np.dtype[np.object_]]:
    """Name of the group that each row of a table belongs to: its columns are those of trees."""
    if by == "orchard":
        return np.full(len(table), ALL_TREES, dtype=object)
    if by == "row":
        row = table["row"].map(lambda number: "no row" if number != number else f"row {number:g}")
        return (table["site"] + ", " + row).to_numpy(dtype=object)
    return table[by].to_numpy(dtype=object)


def _picking_days(records: Records, fair: pd.DataFrame, at: Ints, size: int) -> Ints:
    """Days on which anything was picked in each cell; `at` is the cell of each row of `fair`."""
    picks = records.picks[records.picks["weight_kg"] > 0]
    trees = pd.Index(records.trees["tree"])
    first, width = int(fair["season"].min()), int(np.ptp(fair["season"])) + 1
    cell = np.full(len(trees) * width, -1)
    cell[trees.get_indexer(fair["tree"]) * width + fair["season"].to_numpy() - first] = at
    season = picks["season"].to_numpy(dtype=np.int64) - first
    place = trees.get_indexer(picks["tree"]) * width + season
    day = picks["date"].to_numpy().astype("datetime64[D]").astype(np.int64) + DAYS_BEFORE_1970
    days = np.sort(cell[place] * MOST_DAYS + day)
    of_cell = days[np.diff(days, prepend=-1) > 0] // MOST_DAYS
    return np.bincount(of_cell[of_cell >= 0], minlength=size)


WHOLE = {"fruit_count", "window_days"}


def _plain(name: str, column: pd.Series) -> list[Any]:
    """A column as plain Python values, None where missing."""
    values = column.to_numpy()
    if values.dtype.kind == "M":
        return list(values.astype("datetime64[D]").tolist())
    if values.dtype.kind != "f":
        return list(values.tolist())
    missing = np.isnan(values)
    if name in WHOLE:
        values = np.where(missing, 0, values).round().astype(np.int64)
    plain = values.astype(object)
    plain[missing] = None
    return list(plain.tolist())
