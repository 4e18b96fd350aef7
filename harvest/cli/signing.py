"""Who is at the keyboard: the name that every change is kept under."""

from __future__ import annotations

import getpass
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.context import default_address
from harvest.cli.output import say
from harvest.errors import InputError
from harvest.service_records import Signature

WHO_VARIABLE = "HARVEST_WHO"
MOST_LETTERS = 80


def signature() -> Signature:
    """Who changes something now: HARVEST_WHO, else the name set once, else the login name."""
    return Signature(_who()[0], datetime.now(UTC))


def who(
    name: Annotated[
        str | None, typer.Argument(help="Your name, as the history shall have it.")
    ] = None,
) -> None:
    """Say under which name your changes are kept, or set it once for this computer's user."""
    if name is not None:
        _set(name)
    known, source = _who()
    say(f"Changes are kept under the name {known} ({source}).")


def _set(name: str) -> None:
    given = " ".join(name.split())
    if not given or len(given) > MOST_LETTERS or not given.isprintable():
        raise InputError(
            f"a name has 1 to {MOST_LETTERS} letters in one line", given=repr(name[:MOST_LETTERS])
        )
    place = _place()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(f"{given}\n", encoding="utf-8")
    except OSError as error:
        raise InputError(
            "the name's file must be writable",
            given=str(error),
            todo=f"Or set the variable {WHO_VARIABLE}.",
        ) from error


def _who() -> tuple[str, str]:
    told = os.environ.get(WHO_VARIABLE, "").strip()
    if told:
        return told, f"from {WHO_VARIABLE}"
    try:
        kept = _place().read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        kept = ""
    if kept:
        return kept, "set with 'harvest who'"
    try:
        return getpass.getuser(), "the login name; 'harvest who NAME' sets another"
    except (KeyError, OSError, ImportError):
        return "unknown", "'harvest who NAME' sets it"


def _place() -> Path:
    return Path(default_address()).with_name("who.txt")


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("who")(who)
