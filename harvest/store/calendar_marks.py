"""What people marked on their calendar, kept and read."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import delete, insert, select

from harvest.errors import UnknownNameError
from harvest.store.orchard import Orchard
from harvest.store.schema import CALENDAR_MARKS, TABLES

COLUMNS = ("mark", "target", "marked_on", "title", "first_day", "last_day", "why")


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


def save_mark(orchard: Orchard, mark: Mapping[str, Any]) -> None:
    """Keep a mark; one of the same word on the same target is replaced.

    Raises UnknownNameError for a site that is not on record.
    """
    sites = TABLES["sites"]
    with orchard.writing() as connection:
        site_id = None
        if mark.get("site") is not None:
            known = dict(connection.execute(select(sites.c.site_key, sites.c.id)).all())
            site_id = known.get(str(mark["site"]).casefold())
            if site_id is None:
                names = [name for (name,) in connection.execute(select(sites.c.site))]
                raise UnknownNameError("site", str(mark["site"]), names)
        same = (CALENDAR_MARKS.c.mark == mark["mark"]) & (CALENDAR_MARKS.c.target == mark["target"])
        connection.execute(delete(CALENDAR_MARKS).where(same))
        values = {name: mark.get(name) for name in COLUMNS}
        connection.execute(insert(CALENDAR_MARKS).values(**values, site_id=site_id))


def drop_mark(orchard: Orchard, mark: str, target: str) -> bool:
    """Take a mark back; whether there was one."""
    same = (CALENDAR_MARKS.c.mark == mark) & (CALENDAR_MARKS.c.target == target)
    with orchard.writing() as connection:
        return connection.execute(delete(CALENDAR_MARKS).where(same)).rowcount > 0
