"""`harvest`: the command line's front door."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from harvest.cli import (
    attaching,
    calendar,
    care,
    check,
    correcting,
    crops,
    dashboard,
    demo,
    experience,
    forecasts,
    history,
    keeping,
    log,
    people,
    planting,
    safekeeping,
    signing,
    weather,
)
from harvest.cli.context import ORCHARD_VARIABLE, default_address
from harvest.cli.output import complain
from harvest.errors import HarvestError

app = typer.Typer(
    name="harvest",
    help="When will each tree's fruit be ripe, and what may it carry? Records, weather, forecasts.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


@app.callback()
def main(
    context: typer.Context,
    orchard: Annotated[
        str | None,
        typer.Option(
            "--orchard",
            envvar=ORCHARD_VARIABLE,
            metavar="FILE|URL",
            help="SQLite file or postgresql:// address; default: in your user data folder.",
        ),
    ] = None,
) -> None:
    """Choose the orchard that the command is about."""
    context.obj = orchard or default_address()


for module in (
    keeping,
    safekeeping,
    check,
    log,
    correcting,
    attaching,
    history,
    signing,
    people,
    weather,
    forecasts,
    crops,
    care,
    calendar,
    planting,
    experience,
    demo,
    dashboard,
):
    module.register(app)


def run() -> None:
    """Run the command line; what goes wrong is said on standard error, exit code 1."""
    try:
        app()
    except HarvestError as error:
        complain(f"harvest: {error}")
        sys.exit(1)


if __name__ == "__main__":
    run()
