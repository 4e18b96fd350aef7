"""Which applications reached which tree: its own, its site's, and those that drifted onto it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Literal, TypeAlias

import pandas as pd

from harvest.records import Records
from harvest.units import QUANTITIES

# No longer withholding period can be logged, so no unknown one is counted for longer [d].
LONGEST_DAYS = int(QUANTITIES["withholding_days"].high)
ROW = re.compile(r"row\s+(\d+)$")

Day: TypeAlias = date
Reach = Literal["tree", "site", "also reached"]


@dataclass(frozen=True, slots=True)
class Application:
    """One application that reached one tree."""

    product: str
    date: date
    withholding_days: int | None
    """Typed from the label [d]; None: not logged, which is unknown and never none."""
    reach: Reach = "tree"
    re_entry: str | None = None
    crop: str | None = None
    registration: str | None = None

    @property
    def earliest_pick(self) -> Day | None:
        """First day on which fruit may be picked again by this label: the day plus the days."""
        if self.withholding_days is None:
            return None
        return self.date + timedelta(days=self.withholding_days)

    def holds(self, day: Day) -> bool:
        """Whether its period covers a day: by its days, or because they are unknown."""
        if day < self.date:
            return False
        until = self.earliest_pick or self.date + timedelta(days=LONGEST_DAYS)
        return day < until

    def unknown_but_old(self, day: Day) -> bool:
        """Whether its period was never logged, but no period reaches as far as this day."""
        return self.withholding_days is None and not self.holds(day)


def applications(records: Records) -> tuple[dict[str, list[Application]], list[str]]:
    """Applications by tree, oldest first; and what in the log names trees that are not there.

    An application to a site reached every tree that stood there on the day. `also_reached` names
    more trees, or `row 3` of the site it was made at, between semicolons. Trees go by the name
    they have in the ground: what reached one stays on it when it is grafted over.
    """
    trees = as_planted(records.trees)
    if records.sprays.empty or trees.empty:
        return {}, []
    alive = trees.assign(removed=trees["removed"].fillna(pd.Timestamp.max.floor("s")))
    found: dict[str, list[Application]] = {}
    odd: list[str] = []
    sites = dict(zip(trees["tree"], trees["site"], strict=True))
    for spray in records.sprays.sort_values("date", kind="stable").to_dict("records"):
        reached: dict[str, Reach] = {}
        whole_site, more = _given(spray["site"]), _given(spray["also_reached"])
        standing = alive[:0]
        if whole_site or more:
            home = spray["site"] if whole_site else sites.get(spray["tree"])
            standing = alive[
                (alive["site"] == home)
                & (alive["planted"] <= spray["date"])
                & (alive["removed"] >= spray["date"])
            ]
        if more:
            names, missing = _named(str(spray["also_reached"]), standing, alive)
            reached |= dict.fromkeys(names, "also reached")
            odd += [
                f"{spray['product']} of {spray['date']:%Y-%m-%d} is said to have reached "
                f"{name!r}, which is no tree or row on record: correct the record."
                for name in missing
            ]
        if whole_site:
            reached |= dict.fromkeys(standing["tree"], "site")
        else:
            reached[str(spray["tree"])] = "tree"
        for tree, reach in reached.items():
            found.setdefault(tree, []).append(_application(spray, reach))
    return found, odd


def as_planted(trees: pd.DataFrame) -> pd.DataFrame:
    """One row for each tree in the ground, from its planting on, whatever was grafted onto it."""
    if "own_name" not in trees:
        return trees
    since = trees.groupby("own_name")["planted"].transform("min")
    return trees.assign(planted=since)[trees["tree"] == trees["own_name"]]


def _given(value: object) -> bool:
    return isinstance(value, str) and value.strip() != ""


def _text(value: object) -> str | None:
    return str(value) if _given(value) else None


def _application(spray: dict[Any, Any], reach: Reach) -> Application:
    days = spray["withholding_days"]
    return Application(
        product=str(spray["product"]),
        date=spray["date"].date(),
        withholding_days=None if pd.isna(days) else int(days),
        reach=reach,
        re_entry=_text(spray["re_entry"]),
        crop=_text(spray["crop"]),
        registration=_text(spray["registration"]),
    )


def _named(text: str, standing: pd.DataFrame, alive: pd.DataFrame) -> tuple[list[str], list[str]]:
    """Trees that a list of names and rows means, and the names that mean none."""
    by_name = {str(tree).casefold(): str(tree) for tree in alive["tree"]}
    trees: list[str] = []
    missing: list[str] = []
    for part in (part.strip() for part in text.split(";")):
        row = ROW.match(part.casefold())
        if part.casefold() in by_name:
            trees.append(by_name[part.casefold()])
        elif row and (standing["row"] == int(row[1])).any():
            trees += standing.loc[standing["row"] == int(row[1]), "tree"].tolist()
        elif part:
            missing.append(part)
    return trees, missing
