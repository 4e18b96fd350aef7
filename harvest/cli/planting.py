"""Before planting: what will do here, and what would fill weeks without fruit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import Format, as_plain, print_csv, print_json, print_table, say
from harvest.errors import InputError
from harvest.service_climate import (
    ClimateFit,
    GapWeek,
    Place,
    Scenario,
    climate_fit,
    fill_gaps,
)

MOST_SHOWN = 30
MOST_NAMED = 6


def climate_fit_(
    context: typer.Context,
    *,
    site: Annotated[str | None, typer.Option(help="Site whose years and trees count.")] = None,
    species: Annotated[str | None, typer.Option(help="Only this species.")] = None,
    cultivar: Annotated[str | None, typer.Option(help="Only this cultivar.")] = None,
    lat: Annotated[float | None, typer.Option(help="Latitude of another place.")] = None,
    lon: Annotated[float | None, typer.Option(help="Longitude of another place.")] = None,
    weather_site: Annotated[
        str | None, typer.Option("--weather-site", help="Site whose weather stands for it.")
    ] = None,
    gaps: Annotated[
        bool, typer.Option("--gaps", help="Instead: what would fill the weeks without fruit.")
    ] = False,
    as_of: AsOf = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Will it do here? Chill, ripening and frost by the years of a place, and warmer ones."""
    place = _place(site, lat, lon, weather_site)
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    if gaps:
        weeks = fill_gaps(orchard, day, place.site)
        if form is Format.TABLE:
            _tell_gaps(weeks, place.site)
        else:
            _print(weeks, form)
        return
    rows = climate_fit(orchard, day, place, species=species, cultivar=cultivar)
    if form is Format.TABLE:
        _tell_fits(rows)
    else:
        _print(rows, form)


def _place(
    site: str | None, lat: float | None, lon: float | None, weather_site: str | None
) -> Place:
    if site is not None and lat is None and lon is None:
        return Place(site)
    if site is None and lat is not None and lon is not None and weather_site is not None:
        return Place(weather_site, lat, lon)
    raise InputError(
        "a place is needed: --site, or --lat and --lon with --weather-site",
        todo="Example: harvest climate-fit --site Home --species apple.",
    )


def _print(rows: Sequence[ClimateFit] | Sequence[GapWeek], form: Format) -> None:
    if form is Format.JSON:
        print_json(rows)
    else:
        print_csv([as_plain(row) for row in rows])


def _tell_fits(rows: Sequence[ClimateFit]) -> None:
    shown = rows[:MOST_SHOWN]
    print_table(
        "Will it do here: share of years, 80 % interval in brackets; surest first",
        ("what", "all well", "chill: need / 9 years in 10 have", "chill met", "ripe before cold",
         "frost kills most", "full bloom", "ripe", "+1 °C", "+2 °C", "+3 °C", "partners"),
        [_fit_line(row) for row in shown],
    )  # fmt: skip
    if len(rows) > len(shown):
        say(f"{len(rows) - len(shown)} more: --format json or csv lists all.")
    if not rows:
        return
    for text in rows[0].notes[:2]:
        say(text)
    if len(rows) == 1:
        _tell_one(rows[0])
    say(
        "A share of past years is no promise; chill needs and days to ripe are ranges from tables "
        "(data/reference), and soil, slope and frost pockets are not in them."
    )


def _fit_line(row: ClimateFit) -> tuple[str, ...]:
    now = row.scenarios[0] if row.scenarios else None
    warmer = [_share(each, "all_well", short=True) for each in row.scenarios[1:]]
    return (
        f"{row.species} {row.cultivar}".strip(),
        _share(now, "all_well"),
        _chill(row, now),
        _share(now, "chill_met", short=True),
        _share(now, "ripens", short=True),
        _share(now, "frost_most", short=True),
        now.bloom.middle if now and now.bloom else "–",
        f"{now.ripe.middle} ({now.ripe.early} – {now.ripe.late})" if now and now.ripe else "–",
        *(warmer or ["–"] * 3),
        f"{len(row.partners)}" if row.partners else "–",
    )


def _share(scenario: Scenario | None, name: str, *, short: bool = False) -> str:
    share = None if scenario is None else getattr(scenario, name)
    if share is None:
        return "unknown"
    if short:
        return f"{share.share:.0%}"
    return f"{share.share:.0%} ({share.low:.0%} – {share.high:.0%})"


def _chill(row: ClimateFit, now: Scenario | None) -> str:
    if now is None:
        return "–"
    if row.chill_portions is not None:
        return f"{_ends(row.chill_portions)} / {now.portions_safe:.0f} portions"
    if row.chill_hours is not None:
        return f"{_ends(row.chill_hours)} / {now.hours_safe:.0f} h"
    return f"not known / {now.portions_safe:.0f} portions"


def _ends(span: tuple[float, float]) -> str:
    return f"{span[0]:g}" if span[0] == span[1] else f"{span[0]:g}–{span[1]:g}"


def _tell_one(row: ClimateFit) -> None:
    print_table(
        f"{row.species} {row.cultivar}: the same years, warmer".replace(" :", ":"),
        ("warmer by", "chill portions", "chill hours", "chill met", "if the need is high or low",
         "ripe before cold", "frost kills a tenth", "frost kills most", "bloom", "ripe"),
        [
            (
                f"{each.warming_c:g} °C",
                f"{each.portions_safe:.0f} (middle {each.portions_median:.0f})",
                f"{each.hours_safe:.0f} h",
                _share(each, "chill_met"),
                "–" if each.chill_met_range is None
                else f"{each.chill_met_range[0]:.0%} – {each.chill_met_range[1]:.0%}",
                _share(each, "ripens"),
                _share(each, "frost_tenth"),
                _share(each, "frost_most"),
                f"{each.bloom.early} – {each.bloom.late}" if each.bloom else "–",
                f"{each.ripe.early} – {each.ripe.late}" if each.ripe else "–",
            )
            for each in row.scenarios
        ],
    )  # fmt: skip
    for text in row.notes[2:]:
        say(text)
    say(f"Partners here: {', '.join(row.partners) or 'none known'}.")
    for text in row.sources:
        say(f"Source, {text}".rstrip(".") + ".")


def _tell_gaps(weeks: Sequence[GapWeek], site: str) -> None:
    print_table(
        f"Weeks in which nothing at {site} is picked, and what would give fruit in them",
        ("week from", "would give fruit (surest first)"),
        [
            (
                week.starts,
                ", ".join(week.would_fill[:MOST_NAMED])
                + (f" and {len(week.would_fill) - MOST_NAMED} more"
                   if len(week.would_fill) > MOST_NAMED else "")
                if week.would_fill else "nothing in the tables",
            )
            for week in weeks
        ],
    )  # fmt: skip
    say("Fruit from store is not counted. Ripening weeks of other cultivars are wide: a week or "
        "more either way.")  # fmt: skip


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("climate-fit")(climate_fit_)
