"""The tables of people: accounts for the dashboard on a network. None of this is ever exported."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Column, DateTime, ForeignKey, Index, Integer, Table, Text

from harvest.store.schema import metadata

# Who may use the dashboard from other computers; `password` is a hash.
PEOPLE = Table(
    "people",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("role", Text, nullable=False),
    Column("password", Text, nullable=False),
    Column("made_at", DateTime, nullable=False),
    CheckConstraint("role IN ('look', 'log', 'change', 'accounts')", name="role"),
)
# Browsers that are signed in, by the digest of what they hold.
SIGN_INS = Table(
    "sign_ins",
    metadata,
    Column("token", Text, primary_key=True),
    Column("person_id", ForeignKey("people.id"), nullable=False),
    Column("made_at", DateTime, nullable=False),
)
# Wrong passwords given for a name or from an address.
WRONG_PASSWORDS = Table(
    "wrong_passwords",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("whom", Text, nullable=False),
    Column("given_at", DateTime, nullable=False),
    Index(None, "whom", "given_at"),
)
# What the app seals its cookies with.
COOKIE_KEYS = Table(
    "cookie_keys",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)
