"""Writing many rows at once, on either database, with values as plain text and numbers.

Dates are ISO text here, so that what goes to the database and what the history keeps is the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from typing import Any

from sqlalchemy import Connection, DateTime, Table, Time, bindparam, func, insert, select, update
from sqlalchemy.exc import DBAPIError

Values = Mapping[str, Any]
Plain = dict[str, Any]

# So many ids go into one query; every database takes that many parameters.
CHUNK = 500


def plain(value: Any) -> Any:
    """A value of the database as text or number; a time without needless zeros."""
    return value.isoformat() if isinstance(value, (date, datetime, time)) else value


def new_ids(connection: Connection, table: Table, number: int, used: int) -> Sequence[int]:
    """Ids for so many new rows, never given out before; `used` is the highest that ever was.

    Taken under the orchard's write lock, so nobody takes the same.
    """
    if connection.dialect.name == "postgresql":
        sequence = func.pg_get_serial_sequence(table.name, "id")
        query = select(func.nextval(sequence)).select_from(func.generate_series(1, number))
        return sorted(connection.execute(query).scalars())
    highest = connection.execute(select(func.max(table.c.id))).scalar() or 0
    first = max(int(highest), used) + 1
    return range(first, first + number)


def insert_many(connection: Connection, table: Table, columns: Mapping[str, Sequence[Any]]) -> None:
    """Insert rows given column by column."""
    if not any(map(len, columns.values())):
        return
    statement = insert(table).compile(dialect=connection.dialect, column_keys=list(columns))
    names = getattr(statement, "positiontup", None) or list(columns)
    rows = list(zip(*(_times(connection, table, n, columns[n]) for n in names), strict=True))
    if connection.dialect.name == "postgresql":
        _copy(connection, table, names, rows)
    else:
        connection.exec_driver_sql(str(statement), rows)


def _copy(
    connection: Connection, table: Table, names: Sequence[str], rows: Sequence[Sequence[Any]]
) -> None:
    from psycopg import Error, sql

    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(
        sql.Identifier(table.name), sql.SQL(", ").join(map(sql.Identifier, names))
    )
    raw: Any = connection.connection.driver_connection
    try:
        with raw.cursor() as cursor, cursor.copy(statement) as copy:
            for row in rows:
                copy.write_row(row)
    except Error as error:  # as every other statement's error comes
        told = statement.as_string(raw)
        dialect = connection.dialect
        raise DBAPIError.instance(told, None, error, Error, dialect=dialect) from error


def update_many(connection: Connection, table: Table, changes: Mapping[int, Values]) -> None:
    """Set columns of rows by id; rows that change the same columns go together."""
    groups: dict[tuple[str, ...], list[tuple[int, Values]]] = {}
    for record, values in changes.items():
        groups.setdefault(tuple(sorted(values)), []).append((record, values))
    for names, members in groups.items():
        statement = update(table).where(table.c.id == bindparam("record_id"))
        statement = statement.values({name: bindparam(f"new_{name}") for name in names})
        compiled = statement.compile(dialect=connection.dialect)
        cells = {
            name: _times(connection, table, name, [values[name] for _, values in members])
            for name in names
        }
        named = [
            {"record_id": record, **{f"new_{name}": cells[name][at] for name in names}}
            for at, (record, _) in enumerate(members)
        ]
        order = getattr(compiled, "positiontup", None)
        rows: list[Any] = [tuple(row[n] for n in order) for row in named] if order else named
        connection.exec_driver_sql(str(compiled), rows)


def _times(connection: Connection, table: Table, name: str, values: Sequence[Any]) -> Sequence[Any]:
    """Moments and times of day as SQLite's text has them, with their microseconds."""
    kind = table.c[name].type
    if connection.dialect.name != "sqlite" or not isinstance(kind, (Time, DateTime)):
        return values
    if isinstance(kind, DateTime):
        return [
            None
            if value is None
            else datetime.fromisoformat(value).isoformat(" ", timespec="microseconds")
            for value in values
        ]
    return [
        None if value is None else time.fromisoformat(value).strftime("%H:%M:%S.%f")
        for value in values
    ]


def read_plain(connection: Connection, table: Table, ids: Sequence[int]) -> dict[int, Plain]:
    """Rows by id, as plain values by column; ids that are not there are left out."""
    found: dict[int, Plain] = {}
    for start in range(0, len(ids), CHUNK):
        chosen = table.c.id.in_(list(ids[start : start + CHUNK]))
        for row in connection.execute(select(table).where(chosen)).mappings():
            values = {name: plain(value) for name, value in row.items()}
            found[int(values.pop("id"))] = values
    return found
