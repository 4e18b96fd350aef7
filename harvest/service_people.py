"""The use cases of accounts: who may use the dashboard from afar, and letting them in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock
from typing import TYPE_CHECKING

from harvest.errors import InputError
from harvest.store import people as store
from harvest.store.orchard import Orchard
from harvest.store.people import Person, cookie_key, read_people, remove_person

if TYPE_CHECKING:
    from argon2 import PasswordHasher

__all__ = [
    "ROLES",
    "Person",
    "SignIn",
    "add_person",
    "change_password",
    "change_role",
    "cookie_key",
    "read_people",
    "remove_person",
    "sign_in",
    "sign_out",
    "who_holds",
]

# What each may do; each also what those before it may.
ROLES = {
    "look": "may look at everything",
    "log": "may log what was seen and done as well",
    "change": "may correct, import, undo and set as well",
    "accounts": "may look after accounts as well",
}
FEWEST_LETTERS, MOST_LETTERS, MOST_NAME = 10, 1000, 80
# Wrong passwords for one name, and from one address, before it has to wait.
TRIES_PER_NAME, TRIES_PER_ADDRESS = 5, 20
WAIT = timedelta(minutes=15)
LONGEST_SIGN_IN = timedelta(days=30)
# One password at a time: each takes the memory that makes guessing slow.
_ONE_AT_A_TIME = Lock()


@dataclass(frozen=True)
class SignIn:
    """Whether someone was let in: the token their browser is to hold, or that they have to wait."""

    token: str | None
    must_wait: bool = False


def add_person(orchard: Orchard, name: str, role: str, password: str, at: datetime) -> Person:
    """Make an account. Raises InputError for a name, role or password that will not do."""
    person = Person(_name(name), _role(role))
    store.add_person(orchard, person, _hashed(password), _plain(at))
    return person


def change_role(orchard: Orchard, name: str, role: str) -> None:
    """Let a person do more or less. Raises InputError, UnknownNameError."""
    store.set_role(orchard, name, _role(role))


def change_password(orchard: Orchard, name: str, password: str) -> None:
    """Give a person another password; they are signed out everywhere."""
    store.set_password(orchard, name, _hashed(password))


def sign_in(orchard: Orchard, name: str, password: str, address: str, at: datetime) -> SignIn:
    """Let a person in who knows their password.

    A name or an address from which too many wrong ones came has to wait, whether right or not. An
    unknown name takes as long as a wrong password, so that names cannot be found out.
    """
    from argon2.exceptions import InvalidHashError, VerificationError

    now = _plain(at)
    whose, where = f"name {name.strip().casefold()[:MOST_NAME]}", f"address {address}"
    for whom, tries in ((whose, TRIES_PER_NAME), (where, TRIES_PER_ADDRESS)):
        if store.wrong_passwords(orchard, whom, now - WAIT) >= tries:
            return SignIn(None, must_wait=True)
    kept = store.password_of(orchard, name.strip())
    with _ONE_AT_A_TIME:
        try:
            right = _hasher().verify(kept or _nobodys(), password[:MOST_LETTERS]) and bool(kept)
        except (VerificationError, InvalidHashError):
            right = False
    if not right:
        store.note_wrong_password(orchard, (whose, where), now, now - WAIT)
        return SignIn(None)
    store.forget_wrong_passwords(orchard, whose)
    return SignIn(store.begin_sign_in(orchard, name, now))


def sign_out(orchard: Orchard, token: str, at: datetime) -> None:
    """Let a browser's token open nothing any more."""
    store.end_sign_in(orchard, token, _plain(at) - LONGEST_SIGN_IN)


def who_holds(orchard: Orchard, token: str, at: datetime) -> Person | None:
    """Who is signed in with a token; None where nobody is, or not any more."""
    return store.signed_in(orchard, token, _plain(at) - LONGEST_SIGN_IN)


def _plain(at: datetime) -> datetime:
    return at.replace(tzinfo=None)


def _name(given: str) -> str:
    name = " ".join(given.split())
    if not name or len(name) > MOST_NAME or not name.isprintable():
        raise InputError(
            f"a name has 1 to {MOST_NAME} letters in one line", given=repr(given[:MOST_NAME])
        )
    return name


def _role(given: str) -> str:
    if given not in ROLES:
        raise InputError(f"a role is one of {', '.join(ROLES)}", given=repr(given))
    return given


def _hashed(password: str) -> str:
    if not FEWEST_LETTERS <= len(password) <= MOST_LETTERS:
        raise InputError(
            f"a password has {FEWEST_LETTERS} to {MOST_LETTERS} letters",
            given=f"{len(password)}",
            todo="Several words that nobody would guess are easy to keep in mind.",
        )
    with _ONE_AT_A_TIME:
        return _hasher().hash(password)


def _hasher() -> PasswordHasher:
    """Argon2id with the parameters RFC 9106 recommends where memory is scarce."""
    from argon2 import PasswordHasher, profiles

    return PasswordHasher.from_parameters(profiles.RFC_9106_LOW_MEMORY)


_NOBODY: list[str] = []


def _nobodys() -> str:
    """The hash of a password that nobody has."""
    if not _NOBODY:
        _NOBODY.append(_hasher().hash("nobody's password"))
    return _NOBODY[0]
