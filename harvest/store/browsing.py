"""Records of one kind as somebody leafs through them: filtered, in order, a page at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    Select,
    String,
    Text,
    cast,
    func,
    or_,
    select,
)
from sqlalchemy import false as never

from harvest.records import KINDS, fields
from harvest.store.editing import Shown, shown_of
from harvest.store.orchard import Orchard
from harvest.store.reading import read_kind
from harvest.store.schema import TABLES

MOST_ROWS = 5000


@dataclass(frozen=True)
class Condition:
    """What a column's values must be like.

    `sort` is one of contains, equals, at least, at most, between (with `to`), blank, filled; dates
    are told by their text, so that `2026-08` is a month.
    """

    sort: str
    value: str = ""
    to: str = ""


@dataclass(frozen=True)
class Asked:
    """Which records of a kind, in which order: columns by header, True for falling values."""

    kind: str
    order: tuple[tuple[str, bool], ...] = ()
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    tree: str = ""
    """Records of this tree alone, by its full name."""


@dataclass(frozen=True)
class RecordPage:
    """Some of the records asked for, and how many there are in all."""

    total: int
    rows: Sequence[Shown]


def browse_records(orchard: Orchard, asked: Asked, first: int, count: int) -> RecordPage:
    """A page of records: from the `first` on (the first is 0), at most `count` and `MOST_ROWS`."""
    table = TABLES[asked.kind]
    columns = _columns(asked.kind)
    chosen = _where(select(table.c.id).select_from(_joined(asked.kind)), asked, columns)
    ordered = chosen.order_by(*_order(asked, columns), table.c.id.desc())
    with orchard.reading() as connection:
        total = connection.execute(select(func.count()).select_from(chosen.subquery())).scalar_one()
        wanted = ordered.offset(max(0, first)).limit(max(0, min(count, MOST_ROWS)))
        ids = [int(found) for found in connection.execute(wanted).scalars()]
        frame = read_kind(connection, asked.kind, ids=ids, with_id=True)
    found = {shown.id: shown for shown in shown_of(asked.kind, frame)}
    return RecordPage(int(total), [found[each] for each in ids])


def one_record(orchard: Orchard, kind: str, record: int) -> Shown | None:
    """A record as it is now, None where there is none of this id."""
    with orchard.reading() as connection:
        frame = read_kind(connection, kind, ids=[record], with_id=True)
    return next(iter(shown_of(kind, frame)), None)


def read_products(connection: Connection) -> tuple[str, ...]:
    """Names of all products that were sprayed, by the alphabet."""
    found = connection.execute(select(TABLES["sprays"].c.product).distinct()).scalars()
    return tuple(sorted(found, key=str.casefold))


def _joined(kind: str) -> FromClause:
    table, owner = TABLES[kind], KINDS[kind].owner
    source: FromClause = table
    for name in owner:
        parent = TABLES[f"{name}s"]
        source = source.join(parent, table.c[f"{name}_id"] == parent.c.id, isouter=len(owner) > 1)
    return source


def _columns(kind: str) -> dict[str, ColumnElement[Any]]:
    """What stands under each header."""
    table, owner = TABLES[kind], KINDS[kind].owner
    return {
        each.header: TABLES[f"{each.name}s"].c[each.name]
        if each.name in owner
        else table.c[each.name]
        for each in fields(kind)
    }


def _where(
    query: Select[Any], asked: Asked, columns: Mapping[str, ColumnElement[Any]]
) -> Select[Any]:
    owner = KINDS[asked.kind].owner
    if asked.tree:
        key = TABLES["trees"].c.tree_key
        own = "tree" in owner or asked.kind == "trees"
        query = query.where(key == asked.tree.casefold() if own else never())
    for header, condition in asked.conditions.items():
        if header in owner and condition.sort in ("equals", "contains"):
            query = query.where(_of_owners(asked.kind, header, condition))
        elif header in columns:
            query = query.where(_holds(columns[header], condition))
    return query


def _of_owners(kind: str, owner: str, condition: Condition) -> ColumnElement[bool]:
    """Of owners whose name is so: found among those, not among all the records there are."""
    parent = TABLES[f"{owner}s"]
    key, value = parent.c[f"{owner}_key"], condition.value.strip().casefold()
    equals = condition.sort == "equals"
    fitting = key == value if equals else key.contains(value, autoescape=True)
    return TABLES[kind].c[f"{owner}_id"].in_(select(parent.c.id).where(fitting))


def _holds(column: ColumnElement[Any], condition: Condition) -> ColumnElement[bool]:
    text = func.lower(cast(column, Text))
    value = condition.value.strip()
    if condition.sort == "blank":
        return or_(column.is_(None), cast(column, String) == "")
    if condition.sort == "filled":
        return column.is_not(None)
    if condition.sort == "contains":
        return text.contains(value.lower(), autoescape=True)
    low, high = _number(value), _number(condition.to)
    if condition.sort == "equals":
        return text == value.lower() if low is None else column == low
    if low is None:
        return never()
    if condition.sort == "at least":
        return column >= low
    if condition.sort == "at most":
        return column <= low
    return never() if high is None else column.between(low, high)


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _order(asked: Asked, columns: Mapping[str, ColumnElement[Any]]) -> list[ColumnElement[Any]]:
    """As asked, blanks last; else the newest first, and names by the alphabet."""
    given = [(header, falling) for header, falling in asked.order if header in columns]
    if not given:
        given = [("date", True)] if "date" in columns else [(KINDS[asked.kind].key[0], False)]
    made: list[ColumnElement[Any]] = []
    for header, falling in given:
        column = columns[header]
        text = isinstance(column.type, Text)
        key = func.lower(column) if text else column
        made += [column.is_(None), key.desc() if falling else key.asc()]
    return made
