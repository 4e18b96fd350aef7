"""Commands that make an orchard and take records in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from harvest.cli.bar import progress_bar
from harvest.cli.context import OutputFormat, opened, today_at
from harvest.cli.output import (
    Format,
    as_plain,
    complain,
    count,
    print_csv,
    print_json,
    say,
)
from harvest.cli.safekeeping import opened_to_write
from harvest.cli.signing import signature
from harvest.service import ImportReport, Orchard, create_orchard, overview, record_kinds
from harvest.service_records import Layout, export_folder, import_folder, import_records

MOST_SHOWN = 20

FOLDER = "folder"
KINDS = (*record_kinds(), FOLDER)
Kind = StrEnum("Kind", {kind.upper(): kind for kind in KINDS})  # type: ignore[misc]


def init(context: typer.Context) -> None:
    """Make an empty orchard, or check that it is there."""
    orchard = create_orchard(context.obj)
    say(f"The orchard is at {orchard.address}.")
    say("Next: harvest import sites FILE, then trees, weather, stages, picks.")


def import_(
    context: typer.Context,
    kind: Annotated[
        Kind, typer.Argument(help="What the file holds; folder: all that 'harvest export' wrote.")
    ],
    file: Annotated[Path, typer.Argument(help="CSV or .xlsx with a header row, or the folder.")],
    *,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would happen.")] = False,
    holds: Annotated[
        str,
        typer.Option(
            "--holds",
            metavar="COLUMN",
            help=(
                "A notebook's table, one row a tree and a column for each season or date: what its "
                "cells are, as weight_kg; date where they are dates."
            ),
        ),
    ] = "",
    on: Annotated[
        str, typer.Option("--on", metavar="MM-DD", help="With seasons: the day to book them on.")
    ] = "",
    always: Annotated[
        list[str] | None,
        typer.Option("--always", metavar="COLUMN=VALUE", help="With --holds: bbch=65 in each."),
    ] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Take a file of records in. Good rows go in; the others are listed with their reason."""
    orchard = opened(context) if dry_run else opened_to_write(context)
    now = datetime.now(UTC)
    today = today_at(overview(orchard, now.date() + timedelta(days=1)), now)
    if kind == FOLDER:
        _folder(orchard, file, today, dry_run, form)
        return
    layout = _layout(holds, on, always or [])
    with progress_bar(f"Importing {kind}") as told:
        report = import_records(
            orchard, str(kind), file, today=today, signed=signature(), dry_run=dry_run,
            layout=layout, progress=told,
        )  # fmt: skip
    if form is Format.JSON:
        print_json([report])
    elif form is Format.CSV:
        print_csv(_notes([report]))
    else:
        _tell(report)
        _tell_change(report.batch)
    if report.refused:
        raise typer.Exit(1)


def _layout(holds: str, on: str, always: list[str]) -> Layout | None:
    pairs = [part.partition("=") for part in always]
    if not holds and (on or always):
        raise typer.BadParameter("--on and --always go with --holds.")
    if not all(name and sign for name, sign, _ in pairs):
        raise typer.BadParameter("--always is written COLUMN=VALUE, as bbch=65.")
    return Layout(holds, on, {name: value for name, _, value in pairs}) if holds else None


def _folder(orchard: Orchard, folder: Path, today: date, dry_run: bool, form: Format) -> None:
    with progress_bar("Importing files") as told:
        report = import_folder(
            orchard, folder, today=today, signed=signature(), dry_run=dry_run, progress=told
        )
    if form is Format.JSON:
        print_json([report])
    elif form is Format.CSV:
        print_csv(_notes(report.kinds))
    else:
        for kind in report.kinds:
            if kind.read:
                _tell(kind)
        for table in report.tables:
            if table.read:
                read = count(table.read, "row")
                say(f"{table.name}: {read} read, {table.new} new, {table.same} same.")
        _tell_change(report.batch)
    if any(kind.refused for kind in report.kinds):
        raise typer.Exit(1)


def export(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(help="A new or empty folder.")],
    xlsx: Annotated[bool, typer.Option("--xlsx", help="Workbooks instead of CSV files.")] = False,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Write the whole orchard as tables that other programs read, and that rebuild it elsewhere."""
    done = export_folder(opened(context), folder, xlsx=xlsx)
    if form is Format.JSON:
        print_json(done)
    elif form is Format.CSV:
        print_csv([as_plain(each) for each in done])
    else:
        held = ", ".join(f"{each.file} {each.records}" for each in done if each.records)
        say(f"{folder}: {held or 'no records yet'}; datapackage.json says what each column means.")
        say(f"To take it in elsewhere: harvest import folder {folder}")


def _notes(reports: Sequence[ImportReport]) -> list[dict[str, Any]]:
    """What is said of rows, each with what became of it."""
    return [
        {"file": report.file, **as_plain(note), "outcome": outcome}
        for report in reports
        for outcome, notes in (("refused", report.refused), ("kept", report.warnings))
        for note in notes
    ]


def _tell_change(number: int | None) -> None:
    if number is not None:
        say(f"To take it back: harvest undo --import {number}.")


def _tell(report: ImportReport) -> None:
    done = "would be " if report.dry_run else ""
    say(
        f"{report.file}: {count(report.read, 'row')} read, {done}{report.new} new, "
        f"{report.same} same, {report.changed} changed, {len(report.refused)} refused."
    )
    if report.encoding not in ("utf-8", "utf-8-sig", "xlsx"):
        say(f"Read as {report.encoding}; if accents look wrong, save the file as UTF-8.")
    if report.ignored_columns:
        say(f"Columns not needed or not understood, left out: {', '.join(report.ignored_columns)}.")
    if report.assumed_units:
        complain(
            f"No unit is named, so {'; '.join(report.assumed_units)}. If that is wrong, name it in "
            "the header (tmin_f, precip_in) and import again."
        )
    for order in report.day_orders:
        complain(f"{order}. If that is wrong, write the dates as YYYY-MM-DD and import again.")
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
    app.command("export")(export)
