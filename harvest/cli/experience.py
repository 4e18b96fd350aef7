"""`harvest experience`: seasons of other orchards, to lean on where the own ones are few."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import Format, complain, number, print_csv, print_json, print_table, say
from harvest.cli.signing import signature
from harvest.service_experience import (
    Experience,
    drop_experience,
    give_experience,
    list_experience,
    take_experience,
)

COLUMNS = ("species", "cultivar", "from orchard", "days from bloom to ripe", "rests on")
commands = typer.Typer(no_args_is_help=True)


@commands.command()
def give(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="New CSV file to write.")],
    name: Annotated[str, typer.Option(help="What others shall call this orchard.")],
    as_of: AsOf = None,
) -> None:
    """Write what this orchard saw of each cultivar, for others to take in.

    Means and spreads only: no tree, no date, and the latitude to a whole degree.
    """
    orchard = opened(context)
    count = give_experience(orchard, as_of_date(orchard, as_of), name, file)
    say(f"{file.name}: what the seasons say of {count} cultivar{'s' if count > 1 else ''}.")


@commands.command()
def take(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="A file that 'harvest experience give' wrote.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would happen.")] = False,
) -> None:
    """Take another orchard's seasons in: forecasts lean on them where own seasons are few."""
    orchard = opened(context)
    done = take_experience(
        orchard, file, today=as_of_date(orchard, None), signed=signature(), dry_run=dry_run
    )
    told = f"{done.new} new, {done.same} same, {done.changed} changed, {len(done.refused)} refused"
    change = f" Change {done.number}." if done.number is not None else ""
    say(f"{file.name}: {told}.{change}")
    for each in done.refused:
        complain(f"{file.name}, line {each.line}: refused. {each.why}")
    if done.refused:
        raise typer.Exit(1)


@commands.command()
def drop(
    context: typer.Context, orchard_name: Annotated[str, typer.Argument(help="Whose seasons.")]
) -> None:
    """Take away what one orchard passed on; 'harvest undo' brings it back."""
    count = drop_experience(opened(context), orchard_name, signed=signature())
    say(f"{count} cultivar{'s' if count > 1 else ''} of {orchard_name} taken away.")


@commands.command("list")
def list_(context: typer.Context, form: OutputFormat = Format.TABLE) -> None:
    """What other orchards passed on."""
    rows = list_experience(opened(context))
    if form is Format.JSON:
        print_json([asdict(row) for row in rows])
    elif form is Format.CSV:
        print_csv([asdict(row) for row in rows])
    elif rows:
        print_table("Seasons of other orchards", COLUMNS, [_line(row) for row in rows])
    else:
        say("Nothing was taken in from other orchards. 'harvest experience take FILE' does it.")


def _line(row: Experience) -> tuple[str, ...]:
    spread = f" ± {number(row.days_sd)}" if row.days_sd is not None else ""
    plural = "s" if row.seasons > 1 else ""
    rests = f"{row.seasons} season{plural} to {row.last_season}, {row.trees} tree" + (
        "s" if row.trees > 1 else ""
    )
    return row.species, row.cultivar, row.orchard, f"{number(row.days_mean)}{spread} d", rests


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.add_typer(
        commands, name="experience", help="Seasons of other orchards: give, take, list, drop."
    )
