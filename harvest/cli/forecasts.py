"""Commands that tell when fruit will be ripe."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Annotated, Any

import typer

from harvest.cli import backtests
from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import Format, as_plain, count, print_csv, print_json, print_table, say
from harvest.errors import UnknownNameError
from harvest.service import EventForecast, Orchard, forecast
from harvest.service_care import withholding

COLUMNS = (
    "tree",
    "cultivar",
    "site",
    "likeliest week",
    "chance",
    "even chance by",
    "8 in 10 between",
    "rests on",
)
MOST_NAMED = 8
BLOCKED = (
    "a withholding period runs or is not known; do not pick. 'harvest withholding' says until when."
)
CAUTION = (
    "A forecast of ripeness says nothing about sprays: the withholding period on the label decides "
    "when fruit may be picked and eaten."
)


def forecast_(
    context: typer.Context,
    as_of: AsOf = None,
    site: Annotated[str | None, typer.Option(help="Only this site.")] = None,
    tree: Annotated[str | None, typer.Option(help="Only this tree.")] = None,
    explain: Annotated[
        str | None, typer.Option(metavar="TREE", help="Only this tree, and why it is so.")
    ] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """When each tree's fruit will be ripe, how sure that is, and what it rests on."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    tree = tree or explain
    every = forecast(orchard, day, with_reasons=explain is not None)
    rows = [
        row
        for row in every
        if (site is None or row.site.casefold() == site.casefold())
        and (tree is None or row.tree.casefold() == tree.casefold())
    ]
    if every and not rows:
        _refuse_unknown(every, tree, site)
    if form is Format.JSON:
        print_json([forecast_json(row) for row in rows])
    elif form is Format.CSV:
        print_csv([_flat(row) for row in rows])
    else:
        tell_forecast(rows, day, held=held_trees(orchard, day))
        if explain is not None:
            tell_reasons(rows)


def tell_reasons(rows: Sequence[EventForecast]) -> None:
    """What each date rests on and what moved it; or what is known instead."""
    for row in rows:
        event = f"{row.tree}, {row.event} {row.season}"
        if row.status == "forecast":
            say(f"{event}: {row.explanation}{_half(row)}")
        elif row.observed is not None:
            say(f"{event}: seen on {row.observed:%d %b %Y}.")
        else:
            say(f"{event}: {' '.join(row.warnings)}")


def _half(row: EventForecast) -> str:
    if not row.half_picked:
        return ""
    low, middle, high = (row.half_picked[level] for level in (0.1, 0.5, 0.9))
    span = f"8 in 10 between {low:%d %b} and {high:%d %b}"
    return f" Half of the weight is likely to be in by {middle:%d %b %Y}, {span}."


def forecast_json(row: EventForecast) -> dict[str, Any]:
    """One event as the JSON contract has it."""
    week = row.picking_week
    return {
        "tree": row.tree,
        "site": row.site,
        "species": row.species,
        "cultivar": row.cultivar,
        "season": row.season,
        "event": row.event,
        "status": row.status,
        "observed": as_plain(row.observed),
        "quantiles": {str(level): day.isoformat() for level, day in row.quantiles.items()},
        "picking_week": as_plain(week),
        "weeks": as_plain(row.weeks),
        "basis": as_plain(row.basis),
        "warnings": list(row.warnings),
        **(
            {"half_picked": {str(level): day.isoformat() for level, day in row.half_picked.items()}}
            if row.half_picked
            else {}
        ),
        **({"explanation": row.explanation} if row.explanation else {}),
    }


def _flat(row: EventForecast) -> dict[str, Any]:
    week = row.picking_week
    flat: dict[str, Any] = {
        name: getattr(row, name)
        for name in ("tree", "site", "species", "cultivar", "season", "event", "status", "observed")
    }
    flat |= {f"q{level:g}": row.quantiles.get(level) for level in (0.05, 0.1, 0.25, 0.5)}
    flat |= {f"q{level:g}": row.quantiles.get(level) for level in (0.75, 0.9, 0.95)}
    flat["picking_week"] = week.start if week else None
    flat["picking_week_probability"] = week.probability if week else None
    flat |= {f"basis_{name}": value for name, value in as_plain(row.basis).items()}
    flat["warnings"] = " ".join(row.warnings)
    return flat


def held_trees(orchard: Orchard, day: date) -> frozenset[str]:
    """Trees that may not be picked by the labels as logged, or of which that is not known."""
    return frozenset(one.tree for one in withholding(orchard, day) if one.status != "clear")


def tell_forecast(
    rows: Sequence[EventForecast],
    day: date,
    within_days: int | None = None,
    held: frozenset[str] = frozenset(),
) -> None:
    """Ripe dates as a table, soonest first; then what is blocked or unknown, and why."""
    ripe = [row for row in rows if row.event == "ripe"]
    coming = sorted(
        (row for row in ripe if row.status == "forecast"), key=lambda row: row.quantiles[0.5]
    )
    monday = day - timedelta(days=day.weekday())
    if within_days is not None:
        limit = day + timedelta(days=within_days)
        later = [row for row in coming if row.quantiles[0.1] > limit]
        coming = [row for row in coming if row.quantiles[0.1] <= limit]
    print_table(
        f"Picking forecast as of {day:%a %d %b %Y} (week of Monday {monday:%d %b})",
        COLUMNS,
        [_line(row, day.year) for row in coming],
    )
    if within_days is not None and later:
        say(f"{len(later)} more trees ripen after {limit:%d %b}; 'harvest forecast' lists them.")
    blocked = [row.tree for row in coming if row.tree in held]
    if blocked:
        say(f"Blocked, {', '.join(blocked)}: {BLOCKED}")
    _tell_by_reason("Mind", coming)
    _tell_being_picked(rows)
    _tell_by_reason("Unknown", [row for row in ripe if row.status == "unknown"])
    say(CAUTION)


def _refuse_unknown(rows: Sequence[EventForecast], tree: str | None, site: str | None) -> None:
    """Say which of the names asked for is not standing here, with the names most like it."""
    for what, name in (("tree", tree), ("site", site)):
        known = {str(getattr(row, what)) for row in rows}
        if name is not None and name.casefold() not in {each.casefold() for each in known}:
            raise UnknownNameError(what, name, known)


def _line(row: EventForecast, this_year: int) -> tuple[str, ...]:
    """A row of the table; dates of another year than this one say which."""
    week = row.picking_week
    assert week is not None
    low, middle, high = (row.quantiles[level] for level in (0.1, 0.5, 0.9))
    year, middle_year = (f" {at.year}" if at.year != this_year else "" for at in (high, middle))
    own = f"{count(row.basis.seasons, 'season')}, {count(row.basis.trees, 'tree')}"
    return (
        row.tree,
        row.cultivar,
        row.site,
        f"{week.start:%d %b} – {week.start + timedelta(days=6):%d %b}",
        f"{week.probability:.0%}",
        f"{middle:%a %d %b}{middle_year}",
        f"{low:%d %b} – {high:%d %b}{year}",
        own if row.basis.seasons else f"prior: {row.basis.prior}",
    )


def _tell_being_picked(rows: Sequence[EventForecast]) -> None:
    """Trees that have been ripe and whose last pick is still to come."""
    ripe = {(row.tree, row.season): row.observed for row in rows if row.event == "ripe"}
    waiting = [
        f"{row.tree} (since {since:%d %b})"
        for row in rows
        if row.event == "last pick"
        and row.status == "forecast"
        and (since := ripe.get((row.tree, row.season)))
    ]
    if waiting:
        say(f"Ripe, last pick not marked: {', '.join(waiting)}.")


def _tell_by_reason(word: str, rows: Sequence[EventForecast]) -> None:
    """What there is to know about dates, one line per reason."""
    reasons: dict[str, list[str]] = {}
    for row in rows:
        for reason in row.warnings:
            reasons.setdefault(reason, []).append(row.tree)
    for reason, trees in reasons.items():
        more = f" and {len(trees) - MOST_NAMED} more" if len(trees) > MOST_NAMED else ""
        say(f"{word}, {', '.join(trees[:MOST_NAMED])}{more}: {reason}")


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("forecast")(forecast_)
    backtests.register(app)
