"""The dashboard: for whoever sits at this computer, or on a network for those with accounts."""

from __future__ import annotations

import errno
import ipaddress
import socket
from typing import Annotated

import typer

from harvest.cli.context import as_of_date, opened
from harvest.cli.output import complain, say
from harvest.errors import InputError
from harvest.service import Orchard
from harvest.service_people import read_people

HOST = "127.0.0.1"
FIRST_PORT = 8050
PORTS_TRIED = 50

Port = Annotated[int, typer.Option("--port", min=1, max=65535, help="Port of the dashboard.")]
Host = Annotated[
    str,
    typer.Option("--host", help="Address to listen on; beyond this computer, accounts are needed."),
]
Names = Annotated[
    list[str] | None,
    typer.Option("--name", help="Name under which browsers may ask for it; several are possible."),
]
Proxied = Annotated[
    bool,
    typer.Option("--behind-proxy", help="One reverse proxy passes requests on; accounts needed."),
]
Prefix = Annotated[str, typer.Option("--prefix", help="Path that it lives under, such as /trees/.")]


def dashboard(
    context: typer.Context,
    port: Port = FIRST_PORT,
    host: Host = HOST,
    names: Names = None,
    behind_proxy: Proxied = False,
    prefix: Prefix = "/",
) -> None:
    """Serve the dashboard on this computer; for others only with accounts ('harvest people')."""
    orchard = opened(context)
    beyond = behind_proxy or not _this_computer(host)
    if beyond and not read_people(orchard):
        raise InputError(
            "a dashboard that others can reach needs accounts",
            given="none",
            todo="Make the first one: harvest people add NAME --role accounts.",
        )
    serve_dashboard(
        orchard, port, host=host, names=names, beyond=beyond, proxied=behind_proxy, prefix=prefix
    )


def serve_dashboard(
    orchard: Orchard,
    port: int,
    *,
    host: str = HOST,
    names: list[str] | None = None,
    beyond: bool = False,
    proxied: bool = False,
    prefix: str = "/",
) -> None:
    """Serve an orchard's dashboard until it is stopped, on the port named or the next free one."""
    from dashboard.app import create_app, serve
    from dashboard.security import LOOPBACK

    free = _free_port(host, port)
    if free != port:
        complain(f"harvest: port {port} is in use; taking {free} instead.")
    path = "/" + "".join(f"{part}/" for part in prefix.split("/") if part)
    app = create_app(
        orchard,
        today=lambda: as_of_date(orchard, None),
        url_prefix=path,
        accounts=beyond,
        hosts=names if beyond else (*LOOPBACK, *(names or ())),
    )
    if beyond and not proxied:
        complain(
            "harvest: passwords and pages travel unencrypted; on a network that others use, let a "
            "web server with https pass requests on, and add --behind-proxy."
        )
    shown = f"[{host}]" if ":" in host else host
    say(f"Dashboard: http://{shown}:{free}{path} (Ctrl+C ends it)")
    serve(app, host, free, proxied=proxied)


def _this_computer(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _free_port(host: str, port: int) -> int:
    """The first free port from `port` on."""
    for candidate in range(port, min(port + PORTS_TRIED, 65536)):
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, candidate))
            except OSError as error:
                if error.errno in (errno.EADDRINUSE, errno.EACCES):
                    continue
                raise InputError(
                    "the dashboard must be able to listen on its address",
                    given=f"{host}: {error.strerror or error}",
                    todo="Name an address of this computer with --host; 0.0.0.0 is all of them.",
                ) from error
            return candidate
    complain(f"harvest: no free port from {port} on; name another with --port.")
    raise typer.Exit(1)


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("dashboard")(dashboard)
