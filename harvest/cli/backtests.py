"""`harvest backtest`: what the forecasts of past seasons would have been worth."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from enum import StrEnum
from typing import Annotated, Any

import typer

from harvest.cli.bar import progress_bar
from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import Format, as_plain, number, print_csv, print_json, print_table, say
from harvest.service import (
    Backtest,
    EventName,
    Lead,
    LeadScores,
    Orchard,
    backtest,
    backtest_candidates,
    parse_lead,
)

COLUMNS = (
    "forecast made",
    "dates (seasons)",
    "mean error",
    "root mean square",
    "CRPS",
    "within 3 d",
    "within 7 d",
    "50 % span held, width",
    "80 % span held, width",
    "80 % interval score",
)


SCORING = "Past seasons"
NOTHING = (
    "No past season has a date of {event} that could have been forecast: nothing can be said yet "
    "of how good the forecasts are."
)


class ScoredEvent(StrEnum):
    """Events that can be scored."""

    RIPE = "ripe"
    FULL_BLOOM = "full bloom"


def backtest_(
    context: typer.Context,
    event: Annotated[ScoredEvent, typer.Option(help="Which date.")] = ScoredEvent.RIPE,
    lead: Annotated[
        list[str] | None,
        typer.Option(help="Days after bloom (30), or a month and day of the north (03-15)."),
    ] = None,
    candidates: Annotated[
        bool,
        typer.Option("--candidates", help="Also by each single clock alone; takes as many times."),
    ] = False,
    as_of: AsOf = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Forecast every past season again from what was known then, and score what was said."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    leads = [parse_lead(text) for text in lead or []]
    if candidates:
        _compare(orchard, day, event.value, leads, form)
        return
    with progress_bar(SCORING) as told:
        found = backtest(orchard, day, event.value, leads, told)
    if form is Format.JSON:
        print_json([backtest_json(found, row) for row in found.leads])
    elif form is Format.CSV:
        print_csv([_flat(row) for row in found.leads])
    else:
        tell_backtest(found)


def _compare(
    orchard: Orchard, day: date, event: EventName, leads: Sequence[Lead], form: Format
) -> None:
    """CRPS of every candidate at every lead."""
    with progress_bar(SCORING) as told:
        found = backtest_candidates(orchard, day, event, leads, told)
    rows = [
        {"candidate": name, "lead": row.lead, "n": row.n, "crps_days": row.crps_days}
        for name, scores in found.items()
        for row in scores.leads
    ]
    if form is Format.JSON:
        print_json(as_plain(rows))
    elif form is Format.CSV:
        print_csv(rows)
    elif not rows:
        say(NOTHING.format(event=event))
    else:
        made = list(dict.fromkeys(str(row["lead"]) for row in rows))
        print_table(
            f"CRPS of past forecasts of {event} [d], smaller is better; forecasts use the first",
            ("by", *made),
            [(name, *_crps(scores, made)) for name, scores in found.items()],
        )


def _crps(scores: Backtest, made: Sequence[str]) -> list[str]:
    by_lead = {row.lead: number(row.crps_days, 2) for row in scores.leads}
    return [by_lead.get(lead, "–") for lead in made]


def backtest_json(found: Backtest, row: LeadScores) -> dict[str, Any]:
    """One lead's scores, and its reliability."""
    points = found.reliability(row.lead)
    return as_plain(row) | {"reliability": as_plain(points)}  # type: ignore[no-any-return]


def _flat(row: LeadScores) -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, value in as_plain(row).items():
        if not isinstance(value, dict):
            flat[name] = value
            continue
        for part, inner in value.items():
            key = f"{name}_{part}".replace(" + ", "_and_").replace(" ", "_")
            flat[key] = " to ".join(map(str, inner)) if isinstance(inner, list) else inner
    return flat


def tell_backtest(found: Backtest) -> None:
    """Scores by lead, skill against the baselines, and what can be concluded."""
    if not found.leads:
        say(NOTHING.format(event=found.event))
        return
    print_table(
        f"Past forecasts of {found.event}, each from earlier records only [d]",
        COLUMNS,
        [_line(row) for row in found.leads],
    )
    names = list(dict.fromkeys(name for row in found.leads for name in row.skill))
    if names:
        print_table(
            "Skill by CRPS: 1 perfect, 0 no better than the baseline (dates it could be given for)",
            ("forecast made", *names),
            [(row.lead, *(_skill(row, name) for name in names)) for row in found.leads],
        )
    for row in found.leads:
        say(f"Made {row.lead}: {row.verdict}")


def _line(row: LeadScores) -> tuple[str, ...]:
    spans = [
        f"{span.hits / row.n:.0%}, {number(span.mean_width_days)} d"
        for span in (row.interval_50, row.interval_80)
    ]
    return (
        row.lead,
        f"{row.n} ({row.seasons})",
        number(row.mean_absolute_error_days),
        number(row.root_mean_square_error_days),
        number(row.crps_days),
        f"{row.within_3_days:.0%}",
        f"{row.within_7_days:.0%}",
        *spans,
        number(row.interval_80.interval_score_days),
    )


def _skill(row: LeadScores, name: str) -> str:
    return f"{row.skill[name]:.2f} ({row.skill_n[name]})" if name in row.skill else "–"


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("backtest")(backtest_)
