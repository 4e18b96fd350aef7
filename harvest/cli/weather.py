"""Commands about weather: fetch it, take files in, say what is there and what is doubtful."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened, parse_date, today_at
from harvest.cli.keeping import import_
from harvest.cli.output import (
    Format,
    as_plain,
    complain,
    print_csv,
    print_json,
    say,
)
from harvest.cli.signing import signature
from harvest.cli.weather_telling import (
    flat_status,
    status_json,
    tell_fetch,
    tell_file,
    tell_status,
    then,
)
from harvest.errors import InputError, NoStationError
from harvest.service import Orchard, overview
from harvest.service_weather import (
    LoggerLayout,
    choose_gap_rules,
    confirm_weather,
    fetch_weather,
    gap_rules,
    import_ghcn,
    import_logger,
    station_service,
    trust_weather,
    weather_status,
)

weather = typer.Typer(
    help="Weather of each site: where it comes from, what is missing, what is doubtful.",
    no_args_is_help=True,
)

USUAL_UNITS = {"rain_unit": "mm", "wind_unit": "km/h"}


class Layout(StrEnum):
    """What a weather file looks like."""

    TABLE = "table"
    LOGGER = "logger"
    GHCN = "ghcn"


Site = Annotated[str | None, typer.Option("--site", help="Only this site.")]
FileLayout = Annotated[
    Layout,
    typer.Option(
        "--as",
        help="table: our columns (CSV, .xlsx); logger: readings of an on-site logger; "
        "ghcn: GHCN-Daily (.dly, or by-year CSV).",
    ),
]
GhcnStation = Annotated[
    str | None, typer.Option("--station", help="Station id, where a GHCN file holds several.")
]
LoggerTime = Annotated[str | None, typer.Option("--time", help="Logger: column of the time.")]
LoggerTemperature = Annotated[
    str | None, typer.Option("--temperature", help="Logger: column of the temperature.")
]
LoggerClock = Annotated[
    str, typer.Option("--clock", help="Logger: its clock, as Europe/Zurich or +01:00.")
]
LoggerDate = Annotated[
    str, typer.Option("--date", help="Logger: column of the date, where it has its own.")
]
LoggerFormat = Annotated[
    str, typer.Option("--time-format", help="Logger: as %d/%m/%Y %H:%M; default ISO 8601.")
]


@weather.command()
def fetch(
    context: typer.Context,
    *,
    site: Site = None,
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="First day; default: 30 years back.")
    ] = None,
    radius: Annotated[float, typer.Option(min=1, max=500, help="How far to look, km.")] = 75.0,
    stations: Annotated[int, typer.Option(min=1, max=10, help="Most stations to use.")] = 5,
    hours: Annotated[
        int, typer.Option(min=0, max=100, help="Years of hourly temperatures too; 0: none.")
    ] = 10,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Fetch days from the weather stations around each site, and days ahead where there are any."""
    orchard = opened(context)
    now = datetime.now(UTC)
    today = _today(orchard, now)
    reports = []
    names = _sites(orchard, site)
    for name in names:
        try:
            with _progress(name) as told:
                report = fetch_weather(
                    orchard,
                    station_service(_cache_folder()),
                    site=name,
                    now=now.replace(tzinfo=None, microsecond=0),
                    today=today,
                    since=parse_date(since),
                    radius_km=radius,
                    most_stations=stations,
                    hour_years=hours,
                    progress=told,
                    signed=signature(),
                )
        except NoStationError as error:  # the other sites have stations of their own
            complain(f"{name}: nothing fetched. {error}")
            continue
        reports.append(report)
        if form is Format.TABLE:
            tell_fetch(report)
    if form is Format.JSON:
        print_json(reports)
    elif form is Format.CSV:
        print_csv([{"site": r.site, **as_plain(use)} for r in reports for use in r.stations])
    if len(reports) < len(names):
        raise typer.Exit(1)


def _sites(orchard: Orchard, site: str | None) -> list[str]:
    if site is not None:
        return [site]
    names = [str(name) for name in overview(orchard, date.max).sites["site"]]
    if not names:
        raise InputError(
            "a site must be on record", given="none", todo="First: harvest import sites FILE."
        )
    return names


def _today(orchard: Orchard, now: datetime) -> date:
    return today_at(overview(orchard, now.date() + timedelta(days=1)), now)


def _cache_folder() -> Path:
    import platformdirs

    return Path(platformdirs.user_cache_dir("harvest", appauthor=False)) / "stations"


@contextmanager
def _progress(site: str) -> Iterator[Any]:
    """A bar on standard error while stations are asked; a plain line where it is no terminal."""
    from rich.console import Console
    from rich.progress import Progress, TextColumn

    console = Console(stderr=True)
    if not console.is_terminal:
        complain(f"Asking the weather stations around {site} …")
        yield None
        return
    columns = (*Progress.get_default_columns(), TextColumn("{task.fields[what]}"))
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(site, total=None, what="")

        def told(what: str, done: int, total: int) -> None:
            bar.update(task, completed=done, total=total, what=what)

        yield told


@weather.command("import")
def import_weather(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="The file.")],
    *,
    site: Site = None,
    layout: FileLayout = Layout.TABLE,
    source: Annotated[str, typer.Option(help="Name of the logger.")] = "logger",
    station: GhcnStation = None,
    time: LoggerTime = None,
    temperature: LoggerTemperature = None,
    unit: Annotated[str, typer.Option(help="Logger: C or F.")] = "",
    clock: LoggerClock = "",
    date_column: LoggerDate = "",
    time_format: LoggerFormat = "",
    rain: Annotated[str, typer.Option(help="Logger: column of the rain.")] = "",
    rain_unit: Annotated[str, typer.Option(help="Logger: mm or in.")] = "mm",
    wind: Annotated[str, typer.Option(help="Logger: column of the wind speed.")] = "",
    wind_unit: Annotated[str, typer.Option(help="Logger: km/h, m/s or mph.")] = "km/h",
    form: OutputFormat = Format.TABLE,
) -> None:
    """Take a weather file in. What a logger's columns mean is said once and remembered."""
    if layout is Layout.TABLE and ".dly" in file.suffixes:
        raise InputError(
            "a table has our columns", given=f"the archive file {file.name}", todo="Add --as ghcn."
        )
    if layout is Layout.TABLE:
        from harvest.cli.keeping import Kind

        import_(context, Kind("weather"), file, form=form)
        return
    orchard = opened(context)
    name = _one_site(orchard, site)
    if layout is Layout.GHCN:
        tell_file(import_ghcn(orchard, name, file, station=station, signed=signature()), form)
        return
    told = _told_layout(
        time=time,
        temperature=temperature,
        unit=unit.upper(),
        clock=clock,
        date=date_column,
        time_format=time_format,
        rain=rain,
        rain_unit=rain_unit,
        wind=wind,
        wind_unit=wind_unit,
    )
    report = import_logger(orchard, name, file, layout=told, source=source, signed=signature())
    tell_file(report, form)


def _told_layout(
    *, time: str | None, temperature: str | None, **others: str
) -> LoggerLayout | None:
    """The layout as it was said; None where nothing was, so that the remembered one counts."""
    if time and temperature:
        return LoggerLayout(time=time, temperature=temperature, **others)
    own = {"time": time, "temperature": temperature, **others}
    said = [value for name, value in own.items() if value and value != USUAL_UNITS.get(name)]
    if said:
        raise InputError(
            "what a logger's columns mean is said whole",
            given=f"only {', '.join(said)}",
            todo="Give --time and --temperature too, with --unit and --clock; or none of them, to "
            "read the file as the last one.",
        )
    return None


def _one_site(orchard: Orchard, site: str | None) -> str:
    names = _sites(orchard, site)
    if len(names) > 1:
        raise InputError(
            "the file's site must be named",
            given=f"{len(names)} sites on record",
            todo=f"Add --site: {', '.join(names)}.",
        )
    return names[0]


@weather.command()
def trust(
    context: typer.Context,
    site: Annotated[str, typer.Argument(help="The site.")],
    sources: Annotated[list[str], typer.Argument(help="Its sources, most trusted first.")],
) -> None:
    """Set which source counts first at a site; everything is worked out anew from then on."""
    order = trust_weather(opened(context), site, sources, signature())
    say(f"{site}: {' before '.join(order)}.")


@weather.command()
def gaps(
    context: typer.Context,
    rules: Annotated[
        list[str] | None,
        typer.Argument(metavar="[RULE...]", help="In the order tried; without any: what there is."),
    ] = None,
    site: Site = None,
    usual: Annotated[bool, typer.Option("--usual", help="Back to the usual rules.")] = False,
) -> None:
    """Choose how missing days are filled, at one site or at all; filled days stay marked."""
    orchard = opened(context)
    if not rules and not usual:
        for name, meaning in gap_rules().items():
            say(f"{name}: {meaning}")
        for row in weather_status(orchard, as_of_date(orchard, None), site):
            say(f"{row.site}: {then(row.gap_rules)}.")
        return
    wanted = [] if usual else rules or []
    for name, chosen in choose_gap_rules(orchard, wanted, site, signature()).items():
        say(f"{name}: {then(chosen)}.")


@weather.command()
def confirm(
    context: typer.Context,
    site: Annotated[str, typer.Argument(help="The site.")],
    days: Annotated[list[str], typer.Argument(metavar="DATE...", help="The days that are right.")],
    source: Annotated[str | None, typer.Option(help="Only of this source.")] = None,
) -> None:
    """Say that suspect days are right, so that they count."""
    dates = [day for day in map(parse_date, days) if day is not None]
    for seen in confirm_weather(opened(context), site, dates, source, signature()):
        say(f"{site}: {seen.date} {seen.column} {seen.value:g} counts now (was: {seen.rule}).")


@weather.command()
def status(
    context: typer.Context,
    site: Site = None,
    as_of: AsOf = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """What weather each site has: from when to when, from whom, what is missing or suspect."""
    orchard = opened(context)
    rows = weather_status(orchard, as_of_date(orchard, as_of), site)
    if form is Format.JSON:
        print_json([status_json(row) for row in rows])
    elif form is Format.CSV:
        print_csv([flat_status(row) for row in rows])
    else:
        for row in rows:
            tell_status(row)


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.add_typer(weather, name="weather")
