"""Sites by name."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, select

from harvest.errors import UnknownNameError
from harvest.store.schema import TABLES


@dataclass(frozen=True)
class SiteRow:
    """A site as the database has it; unknown height and time zone are None."""

    id: int
    site: str
    latitude: float
    longitude: float
    elevation_m: float | None
    timezone: str | None


def read_site(connection: Connection, name: str) -> SiteRow:
    """One site by its name, without regard to case.

    Raises UnknownNameError when there is none.
    """
    table = TABLES["sites"]
    columns = [table.c[field] for field in SiteRow.__dataclass_fields__]
    query = select(*columns).where(table.c.site_key == name.casefold())
    row = connection.execute(query).first()
    if row is None:
        known = connection.execute(select(table.c.site)).scalars()
        raise UnknownNameError("site", name, known)
    return SiteRow(*row)


def read_site_names(connection: Connection) -> list[str]:
    """Names of all sites, sorted."""
    return sorted(connection.execute(select(TABLES["sites"].c.site)).scalars())
