"""What an orchard says of itself: its name, and whether it is the invented demo."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import delete, insert, select

from harvest.store.orchard import Orchard
from harvest.store.schema import SETTINGS

NAME, NOTE, DEMO_AS_OF = "name", "note", "demo_as_of"


@dataclass(frozen=True)
class About:
    """Name and note of an orchard; `demo_as_of` is set for the demo only."""

    name: str = ""
    note: str = ""
    demo_as_of: date | None = None


def read_about(orchard: Orchard) -> About:
    """What is on record, blank where nothing is."""
    with orchard.reading() as connection:
        rows = connection.execute(select(SETTINGS.c.name, SETTINGS.c.value)).all()
    found = {str(name): str(value) for name, value in rows}
    day = found.get(DEMO_AS_OF)
    return About(
        name=found.get(NAME, ""),
        note=found.get(NOTE, ""),
        demo_as_of=date.fromisoformat(day) if day else None,
    )


def write_about(orchard: Orchard, about: About) -> None:
    """Replace what is on record."""
    values = {NAME: about.name, NOTE: about.note}
    if about.demo_as_of is not None:
        values[DEMO_AS_OF] = about.demo_as_of.isoformat()
    with orchard.writing() as connection:
        connection.execute(delete(SETTINGS).where(SETTINGS.c.name.in_([NAME, NOTE, DEMO_AS_OF])))
        connection.execute(
            insert(SETTINGS), [{"name": name, "value": value} for name, value in values.items()]
        )
