"""Checks of records against what the orchard already knows, before they go in.

Each rule looks at whole columns; a row is refused for the first rule it breaks, and the rest of
the file goes on. Warnings keep the row and say what looks odd.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from zoneinfo import available_timezones

import numpy as np
import pandas as pd
from sqlalchemy import Connection

from harvest.errors import UnknownNameError
from harvest.records import KINDS, fields
from harvest.store.parsing import Parsed, Refusal
from harvest.store.reading import read_kind
from harvest.store.reference import resolve_cultivar, resolve_species
from harvest.weather.daily import COLUMNS

# For so many unknown names of one file the names most like them are looked up.
MOST_ADVISED = 50
# What to do about a record that stands twice in a file with different values, by kind.
AGAIN = {
    "picks": "If it was a second picking on that day, number the passes.",
    "trees": "If it is another tree, give it a name of its own, with its site in it for instance: "
    "a name stands for one tree over all sites. Else keep the row that is right.",
}

# A site that comes to lie so far away [deg] may be another one.
MOVED_DEG = 0.2
OTHER_SITE = "If it is another site, undo this and give it a name of its own."
# What is alike where a tree of the same name at another site is the same, and was moved.
SAME_TREE = ("species", "cultivar", "planted")
OTHER_TREE = (
    "Give this one a name of its own, with its site in it for instance: a name stands for one tree "
    "over all sites. If it is the same tree: harvest correct tree NAME site=SITE."
)
NEW_TREE = (
    "If it is another tree in the same place, undo this, log the old one as removed and give the "
    "new one a name of its own."
)


@dataclass
class Findings:
    """Rows still good (with the ids of what they hang on), those refused, and warnings."""

    rows: pd.DataFrame
    typed: dict[str, pd.Series]
    refused: list[Refusal] = field(default_factory=list)
    warnings: list[Refusal] = field(default_factory=list)
    repeated: int = 0

    def notes(
        self, where: pd.Series, column: str, reason: str, todo: str | Mapping[str, str] = ""
    ) -> list[Refusal]:
        """What is said of the rows in which `where` holds: line, column and value as typed.

        `todo` is the same for all, or one for each value.
        """
        lines = self.rows.index[where]
        cells = self.typed.get(column, pd.Series("", index=lines, name=column))
        return [
            Refusal(
                line_of(line),
                str(cells.name),
                text.strip(),
                reason,
                todo if isinstance(todo, str) else todo.get(text.strip(), ""),
            )
            for line, text in cells.loc[lines].items()
        ]

    def refuse(
        self, where: pd.Series, column: str, reason: str, todo: str | Mapping[str, str] = ""
    ) -> None:
        """Take the rows in which `where` holds out of the good ones."""
        if where.any():
            self.refused += self.notes(where, column, reason, todo)
            self.rows = self.rows[~where]


def key_of(kind: str, rows: pd.DataFrame) -> pd.MultiIndex:
    """What names a record, folded for comparison: no case in names, a blank for what is missing."""
    parts = []
    for name in KINDS[kind].key:
        column = rows[name]
        if name in ("tree", "site", "product", "event", "action"):
            column = column.astype(object).where(column.notna(), "").astype(str).str.casefold()
        elif name == "time_of_day":
            column = column.astype(str)
        elif name in ("pass_number", "bbch"):
            column = column.fillna(-1.0)
        parts.append(column)
    return pd.MultiIndex.from_arrays(parts)


def check_rows(connection: Connection, kind: str, parsed: Parsed, today: date) -> Findings:
    """Run every rule that bears on this kind of record."""
    found = Findings(parsed.rows.copy(), parsed.typed)
    _owners(connection, kind, found)
    if kind == "sites":
        _sites(found)
    if kind == "trees":
        _trees(found, today)
    if kind == "weather":
        _weather(found)
    if "date" in found.rows.columns:
        _dates(found, today)
        if "tree" in KINDS[kind].owner:
            _tree_life(connection, kind, found)
    if kind == "grafts":
        _grafts(connection, found)
    if kind == "picks":
        rows = found.rows
        found.refuse(
            rows["graded_out_kg"] > rows["weight_kg"],
            "graded_out_kg",
            "more was graded out than was picked",
            "Check the two weights.",
        )
    _repeats(kind, found)
    return found


def line_of(label: object) -> int:
    """The line in the file that a row's index stands for."""
    return int(str(label))


def _owners(connection: Connection, kind: str, found: Findings) -> None:
    """Find the tree or site each row names."""
    owner = KINDS[kind].owner
    if len(owner) > 1:
        both = found.rows["tree"].notna() & found.rows["site"].notna()
        found.refuse(both, "site", "a tree and a site are given", "Fill one and leave one blank.")
        neither = found.rows["tree"].isna() & found.rows["site"].isna()
        found.refuse(neither, "tree", "no tree and no site is given", "Fill one of the two.")
    for name in owner:
        known = read_kind(connection, f"{name}s", with_id=True)
        ids = pd.Series(known["id"].to_numpy(), index=known[name].str.casefold())
        given = found.rows[name]
        match = given.str.casefold().map(ids) if len(given) else given.astype(float)
        unknown = given.notna() & match.isna()
        todos = _advice(name, given[unknown], known[name])
        found.refuse(unknown, name, f"no {name} of this name is on record", todos)
        found.rows = found.rows.assign(**{f"{name}_id": match.reindex(found.rows.index)})


def _advice(what: str, unknown: pd.Series, known: Iterable[str]) -> dict[str, str]:
    """What to do about each unknown name: which known names are like it."""
    names = list(known)
    few = unknown.unique()[:MOST_ADVISED]
    return {str(text): UnknownNameError(what, str(text), names).todo for text in few}


def _sites(found: Findings) -> None:
    """A time zone must be one of the tz database, where this computer has it."""
    zones = available_timezones()
    given = found.rows["timezone"]
    unknown = given.notna() & ~given.isin(zones) & bool(zones)
    todos = _advice("time zone", given[unknown], zones)
    found.refuse(unknown, "timezone", "no time zone of this name is known", todos)


def _trees(found: Findings, today: date) -> None:
    """Species must be known; planting and removal must make sense; known cultivars are respelt."""
    species: dict[str, str] = {}
    todos: dict[str, str] = {}
    for text in found.rows["species"].unique():
        try:
            species[text] = resolve_species(text)
        except UnknownNameError as error:
            todos[text] = error.todo
    found.refuse(
        found.rows["species"].isin(todos), "species", "no species of this name is known here", todos
    )
    rows = found.rows.assign(species=found.rows["species"].map(species))
    pairs = list(zip(rows["species"], rows["cultivar"], strict=True))
    spelt = {pair: resolve_cultivar(*pair) or pair[1] for pair in set(pairs)}
    found.rows = rows.assign(cultivar=[spelt[pair] for pair in pairs])
    _future(found, "planted", today)
    rows = found.rows
    found.refuse(
        rows["removed"] < rows["planted"],
        "removed",
        "removed before it was planted",
        "Check the two dates.",
    )


def warn_of_moved_sites(connection: Connection, found: Findings) -> None:
    """Sites that would lie far from where they lay: their trees and weather go along."""
    rows = found.rows
    sites = read_kind(connection, "sites")
    known = sites.set_index(sites["site"].str.casefold())[["latitude", "longitude"]]
    old = known.reindex(rows["site"].str.casefold()).set_axis(rows.index)
    far = (old - rows[["latitude", "longitude"]]).abs().max(axis=1) > MOVED_DEG
    for line in rows.index[far]:
        latitude, longitude = old.loc[line]
        reason = f"it lay at {latitude:g}, {longitude:g} until now, with its trees and weather"
        found.warnings += found.notes(pd.Series(rows.index == line), "site", reason, OTHER_SITE)


def refuse_other_trees(connection: Connection, found: Findings) -> None:
    """Refuse trees whose name stands for another one at another site: it would be overwritten.

    One that only moves is kept, and so is one whose species changes, each with a warning: what was
    logged of it goes along.
    """
    trees = read_kind(connection, "trees")
    known = trees.set_index(trees["tree"].str.casefold())
    rows = found.rows
    old = known.reindex(rows["tree"].str.casefold()).set_axis(rows.index)
    moved = old["site"].notna() & (old["site"].str.casefold() != rows["site"].str.casefold())
    other = (old[list(SAME_TREE)] != rows[list(SAME_TREE)]).any(axis=1)
    for site in old["site"][moved].unique():
        here = moved & (old["site"] == site)
        found.warnings += found.notes(here & ~other, "site", f"it stood at {site} until now")
        where = (here & other).reindex(found.rows.index)
        found.refuse(where, "tree", f"another tree of this name stands at {site}", OTHER_TREE)
    changed = old["species"].notna() & ~moved & (old["species"] != rows["species"])
    changed = changed.reindex(found.rows.index)
    for species in old["species"].reindex(found.rows.index)[changed].unique():
        reason = f"it was {species} until now, and all that was logged of it counts as this kind's"
        where = changed & (old["species"].reindex(changed.index) == species)
        found.warnings += found.notes(where, "species", reason, NEW_TREE)


def _grafts(connection: Connection, found: Findings) -> None:
    """A graft comes after the planting and before the end; its cultivar is respelt where known."""
    trees = read_kind(connection, "trees")
    own = trees.set_index(trees["tree"].str.casefold())[["species", "planted", "removed"]]
    life = own.reindex(found.rows["tree"].str.casefold()).set_axis(found.rows.index)
    outside = (found.rows["date"] <= life["planted"]) | (found.rows["date"] > life["removed"])
    found.refuse(
        outside,
        "date",
        "a tree is grafted over after it was planted and while it stands",
        "Check the date here, or the tree's own.",
    )
    species: dict[str, str] = {}
    todos: dict[str, str] = {}
    for text in found.rows["species"].dropna().unique():
        try:
            species[text] = resolve_species(text)
        except UnknownNameError as error:
            todos[text] = error.todo
    found.refuse(
        found.rows["species"].isin(todos), "species", "no species of this name is known here", todos
    )
    rows = found.rows
    given = rows["species"].map(species).astype(object).where(rows["species"].notna(), None)
    of_tree = life["species"].reindex(rows.index)
    pairs = zip(given.where(given.notna(), of_tree), rows["cultivar"], strict=True)
    spelt = [resolve_cultivar(*pair) or pair[1] for pair in pairs]
    found.rows = rows.assign(species=given, cultivar=spelt)


def _weather(found: Findings) -> None:
    rows = found.rows
    found.refuse(
        rows["tmin_c"] > rows["tmax_c"],
        "tmin_c",
        "the minimum is above the maximum",
        "Check the two columns; were they swapped?",
    )
    rows = found.rows
    found.refuse(
        rows[list(COLUMNS)].isna().all(axis=1),
        "tmin_c",
        "the day holds no value",
        "Leave a missing day out.",
    )


def _future(found: Findings, column: str, today: date) -> None:
    found.refuse(
        found.rows[column] > np.datetime64(today, "s"),
        column,
        "the date lies in the future",
        f"Today is {today}; record what has happened.",
    )


def _dates(found: Findings, today: date) -> None:
    _future(found, "date", today)
    found.refuse(
        found.rows["date"] < np.datetime64("1700-01-01", "s"),
        "date",
        "the date lies before 1700",
        "Check the year.",
    )


def _tree_life(connection: Connection, kind: str, found: Findings) -> None:
    """No record before planting; one after removal is kept, with a warning (a pick's is a rule)."""
    trees = read_kind(connection, "trees")
    lives = trees.set_index(trees["tree"].str.casefold())[["planted", "removed"]]
    life = lives.reindex(found.rows["tree"].str.casefold()).set_axis(found.rows.index)
    found.refuse(
        found.rows["date"] < life["planted"],
        "date",
        "the date lies before the tree was planted",
        "Check the date here, or the tree's planting date.",
    )
    if kind != "picks":
        late = found.rows["date"] > life["removed"].reindex(found.rows.index)
        found.warnings += found.notes(late, "date", "after the tree was removed")


def _repeats(kind: str, found: Findings) -> None:
    """The same record twice in one file: taken once when alike, refused when it differs."""
    rows = found.rows
    if rows.empty:
        return
    key = key_of(kind, rows)
    again = pd.Series(key.duplicated(), index=rows.index)
    if not again.any():
        return
    facts = [f.name for f in fields(kind) if f.name not in KINDS[kind].key]
    alike = rows[facts].astype(str).assign(key=key.factorize()[0]).duplicated()
    todo = AGAIN.get(kind, "Keep the row that is right.")
    first = KINDS[kind].key[0]
    found.warnings += found.notes(alike, first, "the same row stands above; taken once", todo)
    found.repeated += int(alike.sum())
    found.rows = rows[~alike]
    found.refuse(again[~alike], first, "the record stands above with other values", todo)
