"""Commands that make an orchard and take records in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.context import OutputFormat, opened, today_at
from harvest.cli.output import Format, as_plain, complain, print_csv, print_json, say
from harvest.cli.signing import signature
from harvest.service import ImportReport, create_orchard, overview, record_kinds
from harvest.service_records import import_signed

MOST_SHOWN = 20

Kind = StrEnum("Kind", {kind.upper(): kind for kind in record_kinds()})  # type: ignore[misc]


def init(context: typer.Context) -> None:
    """Make an empty orchard, or check that it is there."""
    orchard = create_orchard(context.obj)
    say(f"The orchard is at {orchard.address}.")
    say("Next: harvest import sites FILE, then trees, weather, stages, picks.")


def import_(
    context: typer.Context,
    kind: Annotated[Kind, typer.Argument(help="What the file holds.")],
    file: Annotated[Path, typer.Argument(help="CSV or .xlsx with a header row.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would happen.")] = False,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Take a file of records in. Good rows go in; the others are listed with their reason."""
    orchard = opened(context)
    now = datetime.now(UTC)
    today = today_at(overview(orchard, now.date() + timedelta(days=1)), now)
    report = import_signed(
        orchard, str(kind), file, today=today, signed=signature(), dry_run=dry_run
    )
    if form is Format.JSON:
        print_json([report])
    elif form is Format.CSV:
        print_csv([as_plain(refusal) for refusal in report.refused])
    else:
        _tell(report)
    if report.refused:
        raise typer.Exit(1)


def _tell(report: ImportReport) -> None:
    done = "would be " if report.dry_run else ""
    say(
        f"{report.file}: {report.read} rows read, {done}{report.new} new, {report.same} same, "
        f"{report.changed} changed, {len(report.refused)} refused."
    )
    if report.encoding not in ("utf-8", "utf-8-sig", "xlsx"):
        say(f"Read as {report.encoding}; if accents look wrong, save the file as UTF-8.")
    if report.ignored_columns:
        say(f"Columns not needed or not understood, left out: {', '.join(report.ignored_columns)}.")
    for name, notes in (("refused", report.refused), ("kept, but look", report.warnings)):
        for note in notes[:MOST_SHOWN]:
            value = f" {note.value!r}" if note.value else ""
            column = f", column {note.column}" if note.column else ""
            text = f"{report.file}, line {note.line}{column}: {name}{value}: {note.reason}."
            complain(f"{text} {note.todo}".rstrip())
        if len(notes) > MOST_SHOWN:
            complain(f"… and {len(notes) - MOST_SHOWN} more ({name}); --format csv lists all.")


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("init")(init)
    app.command("import")(import_)
