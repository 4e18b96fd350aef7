"""Sprays and events have keys in the database: the same one cannot be on record twice.

Where one is already, the first row stays and gets what the others say: blanks are filled, the most
careful withholding and the worst severity count, and what else differs goes into the note. Their
attachments are hung on it. The history keeps every row that goes whole, in a batch of its own.
"""

import json
from collections import defaultdict
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from itertools import groupby
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

Row = dict[str, Any]
KEYS = {
    "sprays": ("tree_id", "site_id", "date", "time_of_day", "product"),
    "events": ("tree_id", "site_id", "date", "event"),
}
UNTIMED, TIMED = sa.text("time_of_day IS NULL"), sa.text("time_of_day IS NOT NULL")
INDEXES = (
    ("uq_sprays_tree_day", "sprays", ["tree_id", "date", "product"], UNTIMED),
    ("uq_sprays_tree_time", "sprays", ["tree_id", "date", "time_of_day", "product"], TIMED),
    ("uq_sprays_site_day", "sprays", ["site_id", "date", "product"], UNTIMED),
    ("uq_sprays_site_time", "sprays", ["site_id", "date", "time_of_day", "product"], TIMED),
    ("uq_events_tree", "events", ["tree_id", "date", "event"], None),
    ("uq_events_site", "events", ["site_id", "date", "event"], None),
)


def upgrade() -> None:
    """Take the tables to this version."""
    connection = op.get_bind()
    tables = sa.MetaData()
    for name in (*KEYS, "batches", "changes", "attachments"):
        sa.Table(name, tables, autoload_with=connection, resolve_fks=False)
    history = History(connection, tables.tables)
    for kind, key in KEYS.items():
        table = tables.tables[kind]
        rows = connection.execute(sa.select(table).order_by(table.c.id)).mappings().all()
        named = sorted(rows, key=lambda row: [str(row[name]) for name in key])
        for _, same in groupby(named, key=lambda row: [str(row[name]) for name in key]):
            first, *others = map(dict, same)
            if others:
                history.change(kind, first, merged(first, others, key))
                for other in others:
                    history.rehang(kind, other["id"], first["id"])
                    history.remove(kind, other)
    history.end()
    for name, kind, columns, only in INDEXES:
        op.create_index(name, kind, columns, unique=True, sqlite_where=only, postgresql_where=only)


def merged(first: Row, others: list[Row], key: tuple[str, ...]) -> Row:
    """What the first of some rows with one key becomes."""
    out = dict(first)
    for name in set(first) - {"id", "note", *key}:
        values = [row[name] for row in (first, *others)]
        known = [value for value in values if value is not None]
        if name == "withholding_days":  # unknown days are the most careful
            out[name] = max(known) if len(known) == len(values) else None
        elif known:
            out[name] = max(known) if name == "severity" else known[0]
    notes = [first["note"]] if first["note"] else []
    for row in (first, *others):
        told = [
            f"{name} {row[name]}"
            for name in row
            if name not in ("id", "note") and row[name] is not None and row[name] != out[name]
        ]
        more = [row["note"]] if row["note"] and row["note"] not in notes else []
        notes += [*([f"also on record: {', '.join(told)}"] if told else []), *more]
    out["note"] = "; ".join(notes) or None
    return out


class History:
    """Changes as this version writes them down: who, when, before and after."""

    def __init__(self, connection: sa.Connection, tables: Mapping[str, sa.Table]) -> None:
        self.connection = connection
        self.tables = tables
        self.batch: int | None = None
        self.summary: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])

    def change(self, kind: str, before: Row, after: Row) -> None:
        """Set what differs."""
        news = {name: value for name, value in after.items() if value != before[name]}
        if not news:
            return
        table = self.tables[kind]
        self.connection.execute(table.update().where(table.c.id == before["id"]).values(news))
        self._keep(kind, before, 1, {name: before[name] for name in news}, news)

    def remove(self, kind: str, row: Row) -> None:
        """Take a row away."""
        table = self.tables[kind]
        self.connection.execute(table.delete().where(table.c.id == row["id"]))
        known = {n: value for n, value in row.items() if n != "id" and value is not None}
        self._keep(kind, row, 2, known, None)

    def rehang(self, kind: str, old: int, new: int) -> None:
        """Hang what is attached to a record on another; what is there already goes."""
        table = self.tables["attachments"]
        query = sa.select(table).where(table.c.kind == kind)
        on = {at: self._rows(query.where(table.c.record_id == at)) for at in (old, new)}
        there = {row["sha256"] for row in on[new]}
        for row in on[old]:
            if row["sha256"] in there:
                self.remove("attachments", row)
            else:
                self.change("attachments", row, {**row, "record_id": new})

    def end(self) -> None:
        """Write down how many records were changed and taken away."""
        if self.batch is not None:
            table = self.tables["batches"]
            done = table.update().where(table.c.id == self.batch)
            self.connection.execute(done.values(summary=json.dumps(self.summary)))

    def _rows(self, query: sa.Select[Any]) -> list[Row]:
        return [dict(row) for row in self.connection.execute(query).mappings()]

    def _keep(self, kind: str, row: Row, sort: int, before: Row, after: Row | None) -> None:
        if self.batch is None:
            begun = self.tables["batches"].insert().values(
                action="edit", who="harvest", made_at=datetime.now(UTC).replace(tzinfo=None),
                note="the same spray or event on record twice: made one", summary="{}",
            )  # fmt: skip
            made = self.connection.execute(begun).inserted_primary_key
            assert made is not None
            self.batch = int(made[0])
        self.connection.execute(
            self.tables["changes"].insert().values(
                kind=kind, record_id=row["id"], batch_id=self.batch, tree_id=row["tree_id"],
                before=written(before), after=None if after is None else written(after),
            )
        )  # fmt: skip
        self.summary[kind][sort] += 1


def written(values: Row) -> str:
    """Values as JSON, days and times as text."""
    plain = {
        name: value.isoformat() if isinstance(value, (date, datetime, time)) else value
        for name, value in values.items()
    }
    return json.dumps(plain, ensure_ascii=False, separators=(",", ":"))
