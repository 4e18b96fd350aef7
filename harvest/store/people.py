"""The people who may use the dashboard from other computers, and who of them is signed in.

Passwords are kept as the caller hashed them; what a browser holds is kept as a digest only.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, func, insert, select, update

from harvest.errors import InputError, UnknownNameError
from harvest.store.orchard import Orchard
from harvest.store.people_tables import COOKIE_KEYS, PEOPLE, SIGN_INS, WRONG_PASSWORDS

KEY_BYTES = 32
COOKIES = "cookies"


@dataclass(frozen=True)
class Person:
    """Someone with an account: the name changes are kept under, and what they may do."""

    name: str
    role: str


def read_people(orchard: Orchard) -> list[Person]:
    """Everyone with an account, by name."""
    with orchard.reading() as connection:
        rows = connection.execute(select(PEOPLE.c.name, PEOPLE.c.role).order_by(PEOPLE.c.name_key))
        return [Person(name, role) for name, role in rows]


def add_person(orchard: Orchard, person: Person, password: str, at: datetime) -> None:
    """Make an account; `password` is its hash. Raises InputError where the name is taken."""
    with orchard.writing() as connection:
        key = person.name.casefold()
        if connection.execute(select(PEOPLE.c.id).where(PEOPLE.c.name_key == key)).first():
            raise InputError(
                "each account needs a name of its own",
                given=repr(person.name),
                todo="'harvest people' lists those there are.",
            )
        connection.execute(
            insert(PEOPLE).values(
                name=person.name, name_key=key, role=person.role, password=password, made_at=at
            )
        )


def set_role(orchard: Orchard, name: str, role: str) -> None:
    """Give a person another role. Raises UnknownNameError."""
    with orchard.writing() as connection:
        found = _id_of(connection, name)
        connection.execute(update(PEOPLE).where(PEOPLE.c.id == found).values(role=role))


def set_password(orchard: Orchard, name: str, password: str) -> None:
    """Give a person another password (its hash), and end wherever they are signed in."""
    with orchard.writing() as connection:
        found = _id_of(connection, name)
        connection.execute(update(PEOPLE).where(PEOPLE.c.id == found).values(password=password))
        connection.execute(delete(SIGN_INS).where(SIGN_INS.c.person_id == found))


def remove_person(orchard: Orchard, name: str) -> None:
    """Take an account away; what its person did stays in the history."""
    with orchard.writing() as connection:
        found = _id_of(connection, name)
        connection.execute(delete(SIGN_INS).where(SIGN_INS.c.person_id == found))
        connection.execute(delete(PEOPLE).where(PEOPLE.c.id == found))


def password_of(orchard: Orchard, name: str) -> str | None:
    """The hash of a person's password; None where there is no such person."""
    query = select(PEOPLE.c.password).where(PEOPLE.c.name_key == name.casefold())
    with orchard.reading() as connection:
        found = connection.execute(query).scalar()
    return None if found is None else str(found)


def begin_sign_in(orchard: Orchard, name: str, at: datetime) -> str:
    """Let a person in; what their browser is to show from now on."""
    token = secrets.token_urlsafe(KEY_BYTES)
    with orchard.writing() as connection:
        connection.execute(
            insert(SIGN_INS).values(
                token=_digest(token), person_id=_id_of(connection, name), made_at=at
            )
        )
    return token


def signed_in(orchard: Orchard, token: str, since: datetime) -> Person | None:
    """Who shows a token, if they were let in since a moment (UTC)."""
    query = (
        select(PEOPLE.c.name, PEOPLE.c.role)
        .join(SIGN_INS, SIGN_INS.c.person_id == PEOPLE.c.id)
        .where(SIGN_INS.c.token == _digest(token), SIGN_INS.c.made_at >= since)
    )
    with orchard.reading() as connection:
        row = connection.execute(query).first()
    return None if row is None else Person(*row)


def end_sign_in(orchard: Orchard, token: str, stale: datetime) -> None:
    """Let a token, and all from before a moment, open nothing any more."""
    old = (SIGN_INS.c.token == _digest(token)) | (SIGN_INS.c.made_at < stale)
    with orchard.writing() as connection:
        connection.execute(delete(SIGN_INS).where(old))


def wrong_passwords(orchard: Orchard, whom: str, since: datetime) -> int:
    """How many wrong passwords were given for or by someone since a moment."""
    query = select(func.count()).where(
        WRONG_PASSWORDS.c.whom == whom, WRONG_PASSWORDS.c.given_at >= since
    )
    with orchard.reading() as connection:
        return int(connection.execute(query).scalar_one())


def note_wrong_password(
    orchard: Orchard, whom: Sequence[str], at: datetime, stale: datetime
) -> None:
    """Count a wrong password, and forget those from before a moment."""
    with orchard.writing() as connection:
        connection.execute(delete(WRONG_PASSWORDS).where(WRONG_PASSWORDS.c.given_at < stale))
        connection.execute(
            insert(WRONG_PASSWORDS), [{"whom": each, "given_at": at} for each in whom]
        )


def forget_wrong_passwords(orchard: Orchard, whom: str) -> None:
    """Begin counting anew, after the right one."""
    with orchard.writing() as connection:
        connection.execute(delete(WRONG_PASSWORDS).where(WRONG_PASSWORDS.c.whom == whom))


def cookie_key(orchard: Orchard) -> str:
    """The key that the app's cookies are sealed with: one for all processes, made when missing."""
    query = select(COOKIE_KEYS.c.value).where(COOKIE_KEYS.c.name == COOKIES)
    with orchard.reading() as connection:
        found = connection.execute(query).scalar()
    if found is not None:
        return str(found)
    with orchard.writing() as connection:
        found = connection.execute(query).scalar()
        if found is None:
            found = secrets.token_urlsafe(KEY_BYTES)
            connection.execute(insert(COOKIE_KEYS).values(name=COOKIES, value=found))
    return str(found)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _id_of(connection: Connection, name: str) -> int:
    key = name.strip().casefold()
    found = connection.execute(select(PEOPLE.c.id).where(PEOPLE.c.name_key == key)).scalar()
    if found is None:
        names = [each for (each,) in connection.execute(select(PEOPLE.c.name))]
        raise UnknownNameError("person", name, names)
    return int(found)
