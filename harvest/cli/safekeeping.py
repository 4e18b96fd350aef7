"""Commands that keep copies of an orchard and bring one back."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.context import OutputFormat, opened
from harvest.cli.output import Format, as_plain, complain, print_csv, print_json, print_table, say
from harvest.errors import HarvestError, InputError
from harvest.service_records import (
    DAILY_KEPT,
    Backup,
    Orchard,
    backup_orchard,
    daily_backup,
    kept_backups,
    restore_orchard,
)

MEGABYTE = 1024**2


def opened_to_write(context: typer.Context) -> Orchard:
    """The orchard of a command that changes it; the first one of a day leaves a copy behind.

    A copy that fails is told and holds nobody up.
    """
    orchard = opened(context)
    try:
        daily_backup(orchard, datetime.now(UTC).date())
    except HarvestError as error:
        complain(f"harvest: today's backup was not made: {error}")
    return orchard


def backup(
    context: typer.Context,
    file: Annotated[
        Path | None, typer.Argument(help="The copy; default: in the folder beside the orchard.")
    ] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Copy the whole orchard into one file, also while others write to it."""
    made = backup_orchard(opened(context), file, datetime.now(UTC))
    if form is Format.JSON:
        print_json([_plain(made)])
    elif form is Format.CSV:
        print_csv([_plain(made)])
    else:
        say(f"Backup: {made.path} ({made.bytes / MEGABYTE:.1f} MB), found whole.")
        say(f"To bring it back: harvest restore {made.path}")


def restore(
    context: typer.Context,
    file: Annotated[Path | None, typer.Argument(help="The copy; none: list them.")] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Bring a copy back, after checking it; what was there is kept. Without a file: list them."""
    if file is None:
        _list(kept_backups(context.obj), form)
        return
    done = restore_orchard(context.obj, file, datetime.now(UTC))
    done.orchard.engine.dispose()
    if form is Format.TABLE:
        say(f"The orchard at {done.orchard.address} is as in {file}.")
        if done.before is not None:
            say(f"What was there before is kept in {done.before}.")
        return
    row = {"orchard": done.orchard.address, "restored": str(file),
           "before": None if done.before is None else str(done.before)}  # fmt: skip
    (print_json if form is Format.JSON else print_csv)([row])


def _plain(made: Backup) -> dict[str, object]:
    return {"file": str(made.path), "bytes": made.bytes}


def _list(found: list[Backup], form: Format) -> None:
    if form is Format.JSON:
        print_json([_plain(each) for each in found])
    elif form is Format.CSV:
        print_csv([as_plain(_plain(each)) for each in found])
    else:
        if not found:
            raise InputError("a backup must be named", given="none is kept beside the orchard")
        print_table(
            f"Backups, newest first (one a day is kept by itself, {DAILY_KEPT} of them)",
            ("file", "MB"),
            [(str(each.path), f"{each.bytes / MEGABYTE:.1f}") for each in found],
        )


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("backup")(backup)
    app.command("restore")(restore)
