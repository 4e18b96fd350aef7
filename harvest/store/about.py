"""What an orchard says of itself: its name, and whether it is the invented demo."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from harvest.store.history import UNSIGNED, Signature, batch
from harvest.store.orchard import Orchard
from harvest.store.schema import SETTINGS
from harvest.store.settings import put_values

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


def write_about(orchard: Orchard, about: About, signed: Signature = UNSIGNED) -> None:
    """Put this on record in the place of what stands there, which the history keeps."""
    day = about.demo_as_of
    said = {NAME: about.name, NOTE: about.note, DEMO_AS_OF: day.isoformat() if day else ""}
    with orchard.writing() as connection, batch(connection, "setting", signed) as made:
        put_values(made, said, usual={})
