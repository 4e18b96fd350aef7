"""How an orchard is shown and what its changes are called, as people chose, with who chose when."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select

from harvest.errors import InputError
from harvest.store.history import Signature
from harvest.store.orchard import Orchard
from harvest.store.schema import SETTINGS

CHOICES: dict[str, tuple[str, ...]] = {
    "units": ("metric", "us"),
    "dates": ("day first", "month first", "year first"),
    "week_starts": ("monday", "sunday", "saturday"),
}
"""What may be chosen of each; the first unless another was."""
KEPT_AS = "kept_as"
MOST_LETTERS = 80
_CHANGES = "changes_of_settings"
_MOST_CHANGES = 200


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
        stored = _stored(connection)
        now = _settings(stored)
        changes = [
            {
                "name": name,
                "before": getattr(now, name),
                "after": value,
                "who": signed.who,
                "at": signed.at.isoformat() if signed.at else None,
            }
            for name, value in wanted.items()
            if value != getattr(now, name)
        ]
        if not changes:
            return now
        told = [*json.loads(stored.get(_CHANGES, "[]")), *changes][-_MOST_CHANGES:]
        _write(connection, {str(c["name"]): str(c["after"]) for c in changes})
        _write(connection, {_CHANGES: json.dumps(told, ensure_ascii=False)})
        return _settings(_stored(connection))


def setting_changes(orchard: Orchard) -> list[SettingChange]:
    """What was changed, newest first."""
    with orchard.reading() as connection:
        told = json.loads(_stored(connection).get(_CHANGES, "[]"))
    return [
        SettingChange(
            each["name"],
            each["before"],
            each["after"],
            each["who"],
            datetime.fromisoformat(each["at"]) if each["at"] else None,
        )
        for each in reversed(told)
    ]


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


def _write(connection: Connection, values: Mapping[str, str]) -> None:
    connection.execute(delete(SETTINGS).where(SETTINGS.c.name.in_(list(values))))
    connection.execute(insert(SETTINGS), [{"name": n, "value": v} for n, v in values.items()])
