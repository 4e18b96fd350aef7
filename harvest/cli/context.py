"""What every command shares: the orchard's address, the as-of date, the format."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer

from harvest.cli.output import Format
from harvest.errors import InputError
from harvest.service import Orchard, Overview, open_orchard, overview

ORCHARD_VARIABLE = "HARVEST_ORCHARD"
# Dates outside these years are typing slips.
FIRST_YEAR, LAST_YEAR = 1700, 2200


def default_address() -> str:
    """Where the orchard is kept unless another place is named."""
    import platformdirs

    return str(Path(platformdirs.user_data_dir("harvest", appauthor=False)) / "orchard.sqlite")


def parse_date(text: str | None) -> date | None:
    """A date as YYYY-MM-DD. Raises InputError otherwise."""
    if text is None:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise InputError(
            "a date is written YYYY-MM-DD", given=repr(text), todo="Example: 2026-05-10."
        ) from error
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise InputError(
            f"a date must lie in the years {FIRST_YEAR} to {LAST_YEAR}",
            given=repr(text),
            todo="Check the year.",
        )
    return day


AsOf = Annotated[
    str | None,
    typer.Option("--as-of", metavar="DATE", help="What was known on this day; default: today."),
]
OutputFormat = Annotated[Format, typer.Option("--format", help="How to print the results.")]


def opened(context: typer.Context) -> Orchard:
    """The orchard that the command is about."""
    return open_orchard(context.obj)


def as_of_date(orchard: Orchard, text: str | None) -> date:
    """The as-of date: as given, else the demo's fixed date, else today at the orchard's sites."""
    given = parse_date(text)
    if given is not None:
        return given
    now = datetime.now(UTC)
    seen = overview(orchard, now.date() + timedelta(days=1))
    return seen.demo_as_of or today_at(seen, now)


def today_at(seen: Overview, now: datetime) -> date:
    """Today's date at the orchard's sites; the later one where they differ.

    A site without a time zone, or on a computer that does not know it, goes by the sun.
    """
    days = [now.astimezone().date()] if seen.sites.empty else []
    for zone, longitude in zip(seen.sites["timezone"], seen.sites["longitude"], strict=True):
        try:
            there = now.astimezone(ZoneInfo(zone)) if zone else None
        except (ZoneInfoNotFoundError, ValueError):
            there = None
        days.append((there or now + timedelta(hours=float(longitude) / 15)).date())
    return max(days)
