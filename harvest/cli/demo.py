"""The demo orchard."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.context import default_address
from harvest.cli.dashboard import FIRST_PORT, Port, serve_dashboard
from harvest.cli.forecasts import held_trees, tell_forecast
from harvest.cli.output import say
from harvest.service import build_demo, forecast, overview

WEEKS_SHOWN_DAYS = 14


def demo(
    context: typer.Context,
    serve: Annotated[
        bool, typer.Option("--serve/--no-serve", help="Open the dashboard afterwards.")
    ] = True,
    port: Port = FIRST_PORT,
) -> None:
    """Build the invented demo orchard, print its picking forecast, and serve the dashboard."""
    address = context.obj
    if address == default_address():
        address = str(Path(address).with_name("demo.sqlite"))
    orchard = build_demo(address, datetime.now(UTC))
    seen = overview(orchard, date.max)
    assert seen.demo_as_of is not None
    say(f"{seen.name}. {seen.note}")
    say(f"Kept at {address}. Its clock stands at {seen.demo_as_of:%d %b %Y}.")
    day = seen.demo_as_of
    tell_forecast(forecast(orchard, day), day, WEEKS_SHOWN_DAYS, held_trees(orchard, day))
    if serve:
        serve_dashboard(orchard, port)


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("demo")(demo)
