"""The demo orchard and the dashboard."""

from __future__ import annotations

import errno
import socket
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.context import as_of_date, default_address, opened
from harvest.cli.forecasts import held_trees, tell_forecast
from harvest.cli.output import complain, say
from harvest.service import Orchard, build_demo, forecast, overview

HOST = "127.0.0.1"
FIRST_PORT = 8050
PORTS_TRIED = 50
WEEKS_SHOWN_DAYS = 14

Port = Annotated[int, typer.Option("--port", min=1, max=65535, help="Port of the dashboard.")]


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
    orchard = build_demo(address)
    seen = overview(orchard, date.max)
    assert seen.demo_as_of is not None
    say(f"{seen.name}. {seen.note}")
    say(f"Kept at {address}. Its clock stands at {seen.demo_as_of:%d %b %Y}.")
    day = seen.demo_as_of
    tell_forecast(forecast(orchard, day), day, WEEKS_SHOWN_DAYS, held_trees(orchard, day))
    if serve:
        _serve(orchard, port)


def dashboard(context: typer.Context, port: Port = FIRST_PORT) -> None:
    """Serve the dashboard on this computer (127.0.0.1)."""
    _serve(opened(context), port)


def _serve(orchard: Orchard, port: int) -> None:
    from dashboard.app import create_app, serve

    free = _free_port(port)
    if free != port:
        complain(f"harvest: port {port} is in use; taking {free} instead.")
    app = create_app(orchard, today=lambda: as_of_date(orchard, None))
    say(f"Dashboard: http://{HOST}:{free}/ (Ctrl+C ends it)")
    serve(app, HOST, free)


def _free_port(port: int) -> int:
    """The first free port from `port` on."""
    for candidate in range(port, min(port + PORTS_TRIED, 65536)):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, candidate))
            except OSError as error:
                if error.errno in (errno.EADDRINUSE, errno.EACCES):
                    continue
                raise
            return candidate
    complain(f"harvest: no free port from {port} on; name another with --port.")
    raise typer.Exit(1)


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("demo")(demo)
    app.command("dashboard")(dashboard)
