"""What every command shares: the orchard's address, the as-of date, the format."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from harvest.cli.output import Format
from harvest.errors import InputError
from harvest.service import Orchard, Overview, open_orchard, overview

ORCHARD_VARIABLE = "HARVEST_ORCHARD"


def default_address() -> str:
    """Where the orchard is kept unless another place is named."""
    import platformdirs

    return str(Path(platformdirs.user_data_dir("harvest", appauthor=False)) / "orchard.sqlite")


def parse_date(text: str | None) -> date | None:
    """A date as YYYY-MM-DD. Raises InputError otherwise."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(
            "a date is written YYYY-MM-DD", given=repr(text), todo="Example: 2026-05-10."
        ) from error


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
    """Today's date at the orchard's sites; the later one where they differ."""
    days = [now.astimezone().date()] if seen.sites.empty else []
    for zone, longitude in zip(seen.sites["timezone"], seen.sites["longitude"], strict=True):
        if zone:
            days.append(now.astimezone(ZoneInfo(zone)).date())
        else:
            days.append((now + timedelta(hours=float(longitude) / 15)).date())
    return max(days)
