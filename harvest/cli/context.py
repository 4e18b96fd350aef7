"""What every command shares: the orchard's address, the as-of date, the format."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import pandas as pd
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
    """The orchard that the command is about; let go of when the command ends."""
    orchard = open_orchard(context.obj)
    context.call_on_close(orchard.engine.dispose)
    return orchard


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
    return today_at_places(seen.sites, now)


def today_at_places(sites: pd.DataFrame, now: datetime) -> date:
    """Today's date at sites (columns timezone, longitude); the later one where they differ."""
    days = [now.astimezone().date()] if sites.empty else []
    for zone, longitude in zip(sites["timezone"], sites["longitude"], strict=True):
        try:
            there = now.astimezone(ZoneInfo(zone)) if zone else None
        except (ZoneInfoNotFoundError, ValueError):
            there = None
        days.append((there or now + timedelta(hours=float(longitude) / 15)).date())
    return max(days)
