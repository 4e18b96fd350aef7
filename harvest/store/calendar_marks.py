"""What people marked on their calendar, kept and read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import Connection, Date, select

from harvest.errors import UnknownNameError
from harvest.store.bulk import plain
from harvest.store.history import Signature, batch
from harvest.store.orchard import Orchard
from harvest.store.schema import CALENDAR_MARKS, CHANGES, TABLES

COLUMNS = (
    "mark", "target", "marked_on", "title", "first_day", "last_day", "why", "what", "degree_days",
    "base_c", "upper_c", "count_from", "count_event",
)  # fmt: skip


def read_marks(orchard: Orchard, until: date) -> list[dict[str, Any]]:
    """Marks made on or before a day, oldest first, with the name of their site."""
    sites = TABLES["sites"]
    columns = [CALENDAR_MARKS.c[name] for name in COLUMNS]
    query = (
        select(*columns, sites.c.site)
        .select_from(
            CALENDAR_MARKS.join(sites, CALENDAR_MARKS.c.site_id == sites.c.id, isouter=True)
        )
        .where(CALENDAR_MARKS.c.marked_on <= until)
        .order_by(CALENDAR_MARKS.c.id)
    )
    with orchard.reading() as connection:
        return [dict(row) for row in connection.execute(query).mappings()]


def read_undone(orchard: Orchard, until: date) -> list[dict[str, Any]]:
    """Items that people added on or before a day and that were taken back since, oldest first.

    As `read_marks` gives them; the history has kept them. An item that stands again is not here.
    """
    gone = select(CHANGES.c.before).where(
        CHANGES.c.kind == CALENDAR_MARKS.name, CHANGES.c.after.is_(None)
    )
    with orchard.reading() as connection:
        texts = connection.execute(gone.order_by(CHANGES.c.batch_id)).scalars().all()
        added = CALENDAR_MARKS.c.mark == "added"
        stands = set(connection.execute(select(CALENDAR_MARKS.c.target).where(added)).scalars())
        sites = TABLES["sites"]
        rows = connection.execute(select(sites.c.id, sites.c.site)).all()
    names = {int(row.id): str(row.site) for row in rows}
    found: dict[str, dict[str, Any]] = {}
    for row in map(json.loads, texts):
        mark = {name: _read(name, row.get(name)) for name in COLUMNS}
        if mark["mark"] == "added" and mark["target"] not in stands and mark["marked_on"] <= until:
            found[mark["target"]] = {**mark, "site": names.get(row.get("site_id"))}
    return list(found.values())


def _read(name: str, value: Any) -> Any:
    day = isinstance(CALENDAR_MARKS.c[name].type, Date) and value is not None
    return date.fromisoformat(value) if day else value


def save_mark(
    orchard: Orchard, mark: Mapping[str, Any], signed: Signature, note: str = ""
) -> int | None:
    """Keep a mark, or change one of the same word on the same target; the batch's number.

    None where it was kept just so already. Raises UnknownNameError for a site that is not on
    record.
    """
    with orchard.writing() as connection, batch(connection, "mark", signed, note) as made:
        values = {name: plain(mark.get(name)) for name in COLUMNS}
        values["site_id"] = _site_id(connection, mark.get("site"))
        there = _there(connection, str(mark["mark"]), str(mark["target"]))
        if there is None:
            made.insert("calendar_marks", {name: [value] for name, value in values.items()})
        else:
            made.change("calendar_marks", {there: values})
        return made.number


def drop_mark(
    orchard: Orchard, mark: str, target: str, signed: Signature, note: str = ""
) -> int | None:
    """Take a mark back; the batch's number, None where there was none."""
    with orchard.writing() as connection, batch(connection, "mark", signed, note) as made:
        there = _there(connection, mark, target)
        if there is not None:
            made.remove("calendar_marks", [there])
        return made.number


def _there(connection: Connection, mark: str, target: str) -> int | None:
    same = (CALENDAR_MARKS.c.mark == mark) & (CALENDAR_MARKS.c.target == target)
    found = connection.execute(select(CALENDAR_MARKS.c.id).where(same)).scalar()
    return None if found is None else int(found)


def _site_id(connection: Connection, site: object) -> int | None:
    if site is None:
        return None
    sites = TABLES["sites"]
    rows = connection.execute(select(sites.c.site_key, sites.c.id))
    known = {str(row.site_key): int(row.id) for row in rows}
    if str(site).casefold() not in known:
        names = [name for (name,) in connection.execute(select(sites.c.site))]
        raise UnknownNameError("site", str(site), names)
    return known[str(site).casefold()]
