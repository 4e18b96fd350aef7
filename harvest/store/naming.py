"""Finding a tree by a part of its name, and all trees of a kind; never by guessing."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

import numpy as np
import pandas as pd
from sqlalchemy import Connection, select

from harvest.errors import InputError, UnknownNameError
from harvest.store.reading import read_kind
from harvest.store.reference import resolve_cultivar, resolve_species
from harvest.store.schema import TABLES

MOST_LISTED = 20


def tree_named(connection: Connection, text: str, day: date) -> str:
    """The one tree of this name, or the one standing on the day whose name it fits.

    It fits a name when each of its words begins a word of the name; a number must be the same.
    Raises InputError that lists the candidates when it fits several, UnknownNameError when none.
    """
    trees = read_kind(connection, "trees")
    names = trees["tree"].tolist()
    exact = [name for name in names if name.casefold() == text.strip().casefold()]
    if exact:
        return str(exact[0])
    fitting = [name for name in _standing(trees, day)["tree"] if _fits(text, name)]
    fitting = fitting or [name for name in names if _fits(text, name)]
    return _only("tree", text, fitting, names)


def tree_ids(connection: Connection, names: Iterable[str]) -> list[int]:
    """Ids of the trees of these full names, without regard to case; of those that are there."""
    trees = TABLES["trees"]
    query = select(trees.c.id).where(trees.c.tree_key.in_({name.casefold() for name in names}))
    return [int(found) for found in connection.execute(query).scalars()]


def trees_of(connection: Connection, text: str, day: date) -> list[str]:
    """All trees of a cultivar (by any of its names, or a part that fits one), species or row.

    A row is `row 3`, or `row 3 of Home` where several sites have one. Trees that stand on the
    day, sorted. Raises as `tree_named`.
    """
    trees = _standing(trees_as_of(connection, day), day)
    if re.match(r"\s*row\s+\d", text, re.IGNORECASE):
        return _trees_of_row(trees, text)
    pairs = sorted(set(zip(trees["species"], trees["cultivar"], strict=True)))
    known = {f"{cultivar} ({species})": (species, cultivar) for species, cultivar in pairs}
    key = text.strip().casefold()
    found = [name for name in known if name.casefold() == key]
    found = found or [
        n for n, (species, cultivar) in known.items() if _is_cultivar(key, species, cultivar)
    ]
    if not found and (species := _species(text)) in {species for species, _ in pairs}:
        return sorted(trees.loc[trees["species"] == species, "tree"])
    if not found:
        found = [name for name, (_, cultivar) in known.items() if _fits(text, cultivar)]
    chosen = known[_only("cultivar or species", text, found, known)]
    same = (trees["species"] == chosen[0]) & (trees["cultivar"] == chosen[1])
    return sorted(trees.loc[same, "tree"])


def _trees_of_row(trees: pd.DataFrame, text: str) -> list[str]:
    names = row_names(trees)
    known = sorted(set(names.dropna()))
    exact = [name for name in known if name.casefold() == text.strip().casefold()]
    chosen = _only("row", text, exact or [name for name in known if _fits(text, name)], known)
    return sorted(trees.loc[names == chosen, "tree"])


def row_names(trees: pd.DataFrame) -> pd.Series:
    """What `trees_of` calls each tree's row: `row 3 of Home`; None where it stands in none."""
    placed = zip(trees["row"], trees["site"], strict=True)
    named = [None if np.isnan(row) else f"row {row:g} of {site}" for row, site in placed]
    return pd.Series(named, index=trees.index, dtype=object)


def trees_as_of(connection: Connection, day: date) -> pd.DataFrame:
    """Trees with the cultivar that each had on a day: grafted over, it has another."""
    trees = read_kind(connection, "trees")
    last = read_kind(connection, "grafts", until=day).drop_duplicates("tree", keep="last")
    grafts = last.set_index("tree")
    for name in ("species", "cultivar"):
        now = trees["tree"].map(grafts[name])
        trees[name] = now.where(now.notna(), trees[name])
    return trees


def site_named(connection: Connection, text: str) -> str:
    """The one site of this name, or whose name it fits. Raises as `tree_named`."""
    names = read_kind(connection, "sites")["site"].tolist()
    exact = [name for name in names if name.casefold() == text.strip().casefold()]
    return _only("site", text, exact or [name for name in names if _fits(text, name)], names)


def _standing(trees: pd.DataFrame, day: date) -> pd.DataFrame:
    on = np.datetime64(day, "s")
    return trees[~(trees["removed"] < on) & (trees["planted"] <= on)]


def _is_cultivar(key: str, species: str, cultivar: str) -> bool:
    return key == cultivar.casefold() or resolve_cultivar(species, key) == cultivar


def _species(text: str) -> str:
    try:
        return resolve_species(text)
    except UnknownNameError:
        return ""


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())


def _fits(text: str, name: str) -> bool:
    there = _words(name)
    asked = _words(text)
    return bool(asked) and all(
        any(word == known if word.isdigit() else known.startswith(word) for known in there)
        for word in asked
    )


def _only(what: str, text: str, fitting: list[str], known: object) -> str:
    if len(fitting) == 1:
        return str(fitting[0])
    if not fitting:
        raise UnknownNameError(what, text, known)  # type: ignore[arg-type]
    listed = ", ".join(sorted(fitting)[:MOST_LISTED])
    more = f" and {len(fitting) - MOST_LISTED} more" if len(fitting) > MOST_LISTED else ""
    raise InputError(
        f"a name must fit one {what}", given=f"{text!r}", todo=f"It fits: {listed}{more}."
    )
