"""Whether an orchard's database is whole."""

from __future__ import annotations

from sqlalchemy import func, select, text

from harvest.errors import StoreError
from harvest.store.attaching import attachment_bytes, attachments
from harvest.store.orchard import Orchard
from harvest.store.schema import CHANGES, TABLES, TRACKED, metadata

MOST_TOLD = 20


def check_integrity(orchard: Orchard) -> list[str]:
    """What is wrong with the database itself; nothing where it is whole.

    SQLite checks every page, index and foreign key; PostgreSQL keeps its own keys, so every table
    is read through. Raises StoreError where the database cannot be read at all.
    """
    wrong: list[str] = []
    with orchard.reading() as connection:
        if connection.dialect.name == "sqlite":
            told = connection.execute(text("PRAGMA integrity_check")).scalars().all()
            wrong += [str(line) for line in told if line != "ok"][:MOST_TOLD]
            orphans = connection.execute(text("PRAGMA foreign_key_check")).all()
            wrong += [f"a row of {row[0]} hangs on a row of {row[2]} that is not there"
                      for row in orphans[:MOST_TOLD]]  # fmt: skip
        for table in metadata.sorted_tables:
            connection.execute(select(func.count()).select_from(table)).scalar_one()
        for kind in (*TABLES, "attachments", "experience"):  # the others have one since 0012
            if kind == "weather":
                continue
            table = TRACKED[kind]
            made = select(CHANGES.c.record_id).where(CHANGES.c.kind == kind)
            unknown = select(func.count()).where(table.c.id.not_in(made))
            number = int(connection.execute(unknown).scalar_one())
            if number:
                wrong.append(f"{number} {kind} have no history: they were not made by this program")
    return wrong + _attached(orchard)


def _attached(orchard: Orchard) -> list[str]:
    """Which attached files are gone or damaged."""
    wrong = []
    for each in attachments(orchard):
        try:
            attachment_bytes(orchard, each.sha256)
        except StoreError:
            whose = each.tree or each.site
            told = f"the attached file {each.filename} of {whose} is gone"
            wrong.append(f"{told}, or not as it was attached")
    return wrong[:MOST_TOLD]
