"""How an orchard is shown and what its changes are called, as people chose, with who chose when."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from textwrap import shorten
from typing import Any

from sqlalchemy import Connection, select

from harvest.errors import InputError
from harvest.store.history import Batch, Signature, batch
from harvest.store.orchard import Orchard
from harvest.store.schema import BATCHES, CHANGES, SETTINGS

CHOICES: dict[str, tuple[str, ...]] = {
    "units": ("metric", "us"),
    "dates": ("day first", "month first", "year first"),
    "week_starts": ("monday", "sunday", "saturday"),
}
"""What may be chosen of each; the first unless another was."""
KEPT_AS = "kept_as"
MOST_LETTERS = 80
_EARLIER = "changes_of_settings"  # where versions before 0012 kept who chose what


@dataclass(frozen=True)
class Settings:
    """What was chosen; `kept_as` is the name that changes are kept under without accounts."""

    units: str = "metric"
    dates: str = "day first"
    week_starts: str = "monday"
    kept_as: str = ""


@dataclass(frozen=True)
class SettingChange:
    """One setting that was changed: by whom, when (UTC), from what to what."""

    name: str
    before: str
    after: str
    who: str
    at: datetime | None


def read_settings(orchard: Orchard) -> Settings:
    """What was chosen; what is not known here counts as not chosen."""
    with orchard.reading() as connection:
        return _settings(_stored(connection))


def change_settings(orchard: Orchard, chosen: Mapping[str, str], signed: Signature) -> Settings:
    """Choose some settings; those that differ are kept with who, when and what was before.

    Raises InputError for what cannot be chosen; then nothing is changed.
    """
    wanted = {name: _checked(name, value) for name, value in chosen.items()}
    with orchard.writing() as connection:
        now = _settings(_stored(connection))
        differing = {n: value for n, value in wanted.items() if value != getattr(now, n)}
        with batch(connection, "setting", signed) as made:
            put_values(made, differing, usual=dataclasses.asdict(Settings()))
        return _settings(_stored(connection))


def put_values(made: Batch, values: Mapping[str, str], usual: Mapping[str, str]) -> None:
    """Put values on record by name, a blank one by taking away what stands there.

    `usual` is what counts where nothing is on record; the batch's note tells it as what was before.
    """
    query = select(SETTINGS.c.name, SETTINGS.c.id, SETTINGS.c.value)
    there = {str(n): (int(i), str(v)) for n, i, v in made.connection.execute(query)}
    made.remove(SETTINGS.name, [there[n][0] for n, v in values.items() if not v and n in there])
    old = {there[n][0]: {"value": v} for n, v in values.items() if v and n in there}
    made.change(SETTINGS.name, old)
    new = {n: v for n, v in values.items() if v and n not in there}
    made.insert(SETTINGS.name, {"name": list(new), "value": list(new.values())})
    before = {n: there[n][1] if n in there else usual.get(n, "") for n in values}
    made.note = "; ".join(
        f"{n}: {_short(before[n])} → {_short(v)}" for n, v in values.items() if v != before[n]
    )


def _short(value: str) -> str:
    return shorten(value, MOST_LETTERS, placeholder=" …") or "none"


def setting_changes(orchard: Orchard) -> list[SettingChange]:
    """What was changed, newest first."""
    query = (
        select(CHANGES.c.record_id, CHANGES.c.before, CHANGES.c.after, BATCHES.c.who,
               BATCHES.c.made_at)
        .join(BATCHES, CHANGES.c.batch_id == BATCHES.c.id)
        .where(CHANGES.c.kind == SETTINGS.name)
        .order_by(CHANGES.c.batch_id, CHANGES.c.record_id)
    )  # fmt: skip
    with orchard.reading() as connection:
        stored = connection.execute(select(SETTINGS.c.id, SETTINGS.c.name)).all()
        earlier = json.loads(_stored(connection).get(_EARLIER, "[]"))
        rows = connection.execute(query).all()
    names = {int(number): str(name) for number, name in stored}
    found = [_told_earlier(each) for each in earlier]
    for row in rows:
        before, after = (json.loads(text) if text else {} for text in (row.before, row.after))
        name = names.setdefault(row.record_id, str((before | after).get("name")))
        usual = getattr(Settings(), name, None)
        if usual is not None:
            was, now = (str(each.get("value", usual)) for each in (before, after))
            at = row.made_at and row.made_at.replace(tzinfo=UTC)
            found.append(SettingChange(name, was, now, row.who, at))
    return found[::-1]


def _told_earlier(each: Mapping[str, Any]) -> SettingChange:
    at = datetime.fromisoformat(each["at"]) if each["at"] else None
    return SettingChange(each["name"], each["before"], each["after"], each["who"], at)


def _checked(name: str, value: str) -> str:
    if name == KEPT_AS:
        closed = " ".join(value.split())
        if len(closed) > MOST_LETTERS or not closed.isprintable():
            raise InputError(
                f"a name has at most {MOST_LETTERS} letters in one line",
                given=repr(value[:MOST_LETTERS]),
            )
        return closed
    if name not in CHOICES:
        raise InputError(f"a setting is one of {', '.join([*CHOICES, KEPT_AS])}", given=repr(name))
    if value not in CHOICES[name]:
        raise InputError(f"{name} is one of {', '.join(CHOICES[name])}", given=repr(value))
    return value


def _stored(connection: Connection) -> dict[str, str]:
    rows = connection.execute(select(SETTINGS.c.name, SETTINGS.c.value)).all()
    return {str(name): str(value) for name, value in rows}


def _settings(stored: Mapping[str, str]) -> Settings:
    chosen = {n: stored[n] for n, known in CHOICES.items() if stored.get(n) in known}
    return Settings(**chosen, kept_as=stored.get(KEPT_AS, ""))
