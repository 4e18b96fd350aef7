"""Finding one record by whose it is and its day, as somebody names it at the command line."""

from __future__ import annotations

import hashlib
import json
from datetime import date

from harvest.errors import InputError
from harvest.records import KINDS
from harvest.store.editing import Shown, shown_of
from harvest.store.naming import site_named, tree_ids, tree_named
from harvest.store.orchard import Orchard
from harvest.store.reading import read_kind
from harvest.store.schema import TABLES

MOST_LISTED = 12
SORTS: dict[str, str] = {f"{kind[:-1]}": kind for kind in KINDS if kind != "weather"}


def kind_of(sort: str) -> str:
    """A kind of record by the word for one of it. Raises InputError that lists the words."""
    word = sort.strip().casefold()
    if word in SORTS:
        return SORTS[word]
    if word in SORTS.values():
        return word
    raise InputError("a record is of a kind", given=repr(sort), todo=f"One of: {', '.join(SORTS)}.")


def find_record(
    orchard: Orchard,
    sort: str,
    *,
    tree: str | None = None,
    site: str | None = None,
    day: date | None = None,
    number: int | None = None,
) -> Shown:
    """The one record of a kind that is meant: by its number, else by tree or site, and day.

    Raises InputError that lists the candidates where it is none or several, or as `tree_named`.
    """
    kind = kind_of(sort)
    found = _candidates(orchard, kind, tree, site, day)
    if number is not None:
        found = [shown for shown in found if shown.id == number]
    if len(found) == 1:
        return found[0]
    if not found:
        raise InputError(
            f"a record among {kind} must fit",
            given="none" if day is None else f"none of {day}",
            todo="'harvest history TREE' tells what is on record.",
        )
    listed = "; ".join(f"{shown.id}: {in_words(shown)}" for shown in found[-MOST_LISTED:])
    raise InputError(
        f"it must be clear which of the {kind} is meant",
        given=f"{len(found)} that fit",
        todo=f"Name the day (--date) or the number (--number). {listed}.",
    )


def in_words(shown: Shown) -> str:
    """A record's filled cells, but for its tree."""
    return ", ".join(f"{n} {text}" for n, text in shown.cells.items() if text and n != "tree")


def state_of(shown: Shown) -> str:
    """A short code of how a record is: another one when any cell is another."""
    told = json.dumps(dict(shown.cells), sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:8]


def _candidates(
    orchard: Orchard, kind: str, tree: str | None, site: str | None, day: date | None
) -> list[Shown]:
    owner = KINDS[kind].owner
    with orchard.reading() as connection:
        full = None if tree is None else tree_named(connection, tree, day or date.max)
        place = None if site is None else site_named(connection, site)
        trees = None if full is None or kind == "sites" else tree_ids(connection, [full])
        dated = day if "date" in TABLES[kind].c else None
        frame = read_kind(connection, kind, since=dated, until=dated, trees=trees, with_id=True)
    if place is not None:
        if "site" not in owner and kind != "sites":
            raise InputError(f"{kind} hang on trees", given=f"the site {place!r}")
        frame = frame[frame["site"] == place]
    return shown_of(kind, frame)
