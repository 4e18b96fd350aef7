"""Commands about the year's work: the coming weeks, a calendar file, marks, this week."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.care import alarm
from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened, parse_date
from harvest.cli.output import Format, as_plain, count, print_csv, print_json, print_table, say
from harvest.cli.safekeeping import opened_to_write
from harvest.cli.signing import signature
from harvest.errors import InputError
from harvest.service_calendar import (
    CalendarItem,
    HeatSum,
    Marked,
    WeekTask,
    add_item,
    all_of_item,
    calendar,
    calendar_file,
    calendar_item,
    mark_done,
    move_item,
    switch_off,
    switch_on,
    week,
)

WEEKS = 6
MOST_TREES = 6

calendar_app = typer.Typer(
    help="What the year asks for, by forecast: the next weeks, a calendar file, marks.",
    invoke_without_command=True,
)
Code = Annotated[str, typer.Argument(help="The item's code, as 'harvest calendar' lists it.")]
Site = Annotated[str | None, typer.Option("--site", help="Only this site.")]
FirstDay = Annotated[str, typer.Argument(metavar="FIRST_DAY", help="Its first day, YYYY-MM-DD.")]
OwnDay = Annotated[
    str | None,
    typer.Argument(metavar="[FIRST_DAY]", help="Its first day; or give --degree-days instead."),
]
LastDay = Annotated[
    str | None, typer.Argument(metavar="[LAST_DAY]", help="Its last day; default: the first.")
]


@calendar_app.callback()
def calendar_(
    context: typer.Context,
    *,
    as_of: AsOf = None,
    weeks: Annotated[int, typer.Option(min=1, max=104, help="How many weeks ahead.")] = WEEKS,
    site: Site = None,
    tree: Annotated[str | None, typer.Option("--tree", help="Only this tree.")] = None,
    ics: Annotated[
        Path | None, typer.Option(help="Write all items to an iCalendar file (RFC 5545).")
    ] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """What the next weeks ask for, from forecasts; --ics writes a calendar file."""
    if context.invoked_subcommand is not None:
        return
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    if ics is not None:
        _write(ics, calendar_file(orchard, day, site=site, tree=tree))
        say(f"{ics}: written; taking it in again updates the items, it does not double them.")
        return
    year = calendar(orchard, day)
    end = day + timedelta(days=7 * weeks - 1)
    items = [item for item in year.items if item.on(day, end) and item.concerns(site, tree)]
    if form is Format.JSON:
        print_json(items)
    elif form is Format.CSV:
        print_csv([as_plain(item) for item in items])
    else:
        _tell_items(items, day, end)
        for text in year.unknown:
            if site is None or text.casefold().startswith(f"{site.casefold()}: "):
                say(f"Unknown, {text}")


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise InputError(
            "the calendar file must be writable", given=str(error), where=str(path)
        ) from error


def _tell_items(items: Sequence[CalendarItem], day: date, end: date) -> None:
    print_table(
        f"The year's work, {_day(day)} to {_day(end)} (why, done, move, off, add: harvest "
        "calendar --help)",
        ("code", "when", "8 in 10", "what", "of", "site", "trees", "source"),
        [
            (
                item.code,
                f"{_day(item.first_day)} – {_day(item.last_day)}",
                f"{_day(item.earliest)} – {_day(item.latest)}",
                ("✓ " if item.status == "done" else "")
                + item.title
                + (" (moved)" if item.moved else ""),
                item.what or "–",
                item.site,
                trees_shown(item.trees),
                _source(item.source),
            )
            for item in items
        ],
    )  # fmt: skip
    for text in dict.fromkeys(text for item in items for text in item.cautions):
        say(text)


def _source(source: str) -> str:
    """A source in short; JSON has it in full."""
    for words in ("common practice, no source", "from memory", "added by you"):
        if words in source:
            return words
    return source.split(":")[0].split("(")[0].strip()


def trees_shown(trees: Sequence[str]) -> str:
    """A few names, or how many there are."""
    return ", ".join(trees) if len(trees) <= MOST_TREES else count(len(trees), "tree")


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"


def _say(marked: Marked) -> None:
    """What was marked, and how to take it back."""
    said = f"{marked.note[:1].upper()}{marked.note[1:]}"
    if marked.batch is None:
        say(f"{said}: nothing to change.")
    else:
        say(f"{said}. To take it back: harvest undo --import {marked.batch}.")


def why(context: typer.Context, code: Code, as_of: AsOf = None) -> None:
    """All there is to know of one item: how, why, how sure, of which trees, from which source."""
    orchard = opened(context)
    say(all_of_item(calendar_item(orchard, code, as_of_date(orchard, as_of))))


def done(
    context: typer.Context,
    code: Code,
    undo: Annotated[bool, typer.Option("--undo", help="Not done after all.")] = False,
    as_of: AsOf = None,
) -> None:
    """Mark an item as done."""
    orchard = opened_to_write(context)
    _say(mark_done(orchard, code, as_of_date(orchard, as_of), signature(), undo=undo))


def move(
    context: typer.Context,
    code: Code,
    first: FirstDay,
    last: LastDay = None,
    as_of: AsOf = None,
) -> None:
    """Give an item other days."""
    orchard = opened_to_write(context)
    _say(move_item(orchard, code, *_days(first, last), as_of_date(orchard, as_of), signature()))


def _days(first: str, last: str | None) -> tuple[date, date]:
    """First and last day as typed; one day where no last one is."""
    begin = parse_date(first)
    assert begin is not None
    return begin, parse_date(last) or begin


def off(
    context: typer.Context,
    what: Annotated[str, typer.Argument(help="A kind of item (frost watch), or one's code.")],
    site: Site = None,
    as_of: AsOf = None,
) -> None:
    """Switch a kind of item off, everywhere or at one site, or a single item."""
    orchard = opened_to_write(context)
    _say(switch_off(orchard, what, as_of_date(orchard, as_of), signature(), site=site))


def on(
    context: typer.Context,
    what: Annotated[str, typer.Argument(help="What was switched off.")],
    site: Site = None,
) -> None:
    """Switch it on again."""
    _say(switch_on(opened_to_write(context), what, signature(), site=site))


def add(
    context: typer.Context,
    site: Annotated[str, typer.Argument(help="Site whose calendar it goes into.")],
    title: Annotated[str, typer.Argument(help="What to do.")],
    first: OwnDay = None,
    last: LastDay = None,
    *,
    what: Annotated[
        str | None,
        typer.Option("--for", help="The tree, row (row 3), cultivar or species it is for."),
    ] = None,
    degree_days: Annotated[
        float | None, typer.Option(help="Look at this sum of degree days (degC d), not on a day.")
    ] = None,
    base: Annotated[
        float | None, typer.Option(help="They count above this temperature (degC).")
    ] = None,
    upper: Annotated[
        float | None, typer.Option(help="And are cut off at this one (degC); default: nowhere.")
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(
            "--from",
            help="Counted from this day every year, YYYY-MM-DD, or from a season's first event "
            "with these words (plum moth catch).",
        ),
    ] = None,
    why: Annotated[str | None, typer.Option(help="Why.")] = None,
    as_of: AsOf = None,
) -> None:
    """Add an item of your own, for certain days or where degree days have come together."""
    orchard = opened_to_write(context)
    day = as_of_date(orchard, as_of)
    when = _when_due(first, last, degree_days, base, upper, start)
    _say(add_item(orchard, site, title, when, day, signature(), why=why, what=what))


def _when_due(
    first: str | None, last: str | None, degree_days: float | None, base: float | None,
    upper: float | None, start: str | None,
) -> tuple[date, date] | HeatSum:  # fmt: skip
    """Days or a sum of degree days, as typed. Raises InputError for both, neither or a part."""
    parts = (degree_days, base, start)
    if first is not None and not any(part is not None for part in (*parts, upper)):
        return _days(first, last)
    if first is not None or degree_days is None or base is None or start is None:
        raise InputError(
            "an item needs either its first day or all of --degree-days, --base and --from",
            given="both" if first is not None else "not all of them",
            todo="For example: --degree-days 250 --base 10 --from 'plum moth catch'.",
        )
    day = parse_date(start) if re.fullmatch(r"[\d-]+", start.strip()) else None
    return HeatSum(degree_days, base, upper, day, None if day else start.strip())


def week_(
    context: typer.Context,
    *,
    as_of: AsOf = None,
    site: Site = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """What to do this week, what cannot wait first."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    tasks = [
        task
        for task in week(orchard, day)
        if site is None or task.site.casefold() == site.casefold()
    ]
    if form is Format.JSON:
        print_json(tasks)
    elif form is Format.CSV:
        print_csv([as_plain(task) for task in tasks])
    else:
        _tell_week(tasks, day)


RANKS = ("harm is possible", "a lost day does harm", "deadline", "this week", "some time")


def _tell_week(tasks: Sequence[WeekTask], day: date) -> None:
    for task in tasks:
        if task.rank == 0:
            alarm(f"{', '.join(task.trees) or task.site}: {task.title}. {' '.join(task.says)}")
    print_table(
        f"This week from {day:%a} {_day(day)} {day.year}, what cannot wait first",
        ("", "when", "what", "of", "site", "trees"),
        [
            (
                RANKS[task.rank],
                _when(task),
                task.title,
                task.what or "–",
                task.site,
                trees_shown(task.trees),
            )
            for task in tasks
        ],
    )
    for text in dict.fromkeys(text for task in tasks for text in task.cautions):
        say(text)


def _when(task: WeekTask) -> str:
    """The day by which to act, or before which not to pick."""
    if task.by is not None:
        return f"{'was due ' if task.overdue else ''}by {_day(task.by)}"
    return "–" if task.not_before is None else f"not before {_day(task.not_before)}"


def register(app: typer.Typer) -> None:
    """Add these commands."""
    for command in (why, done, move, off, on, add):
        calendar_app.command(command.__name__)(command)
    app.add_typer(calendar_app, name="calendar")
    app.command("week")(week_)
