"""`harvest correct` and `harvest remove`: one record that is wrong, with a trace."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Annotated

import typer

from harvest.cli.context import OutputFormat, opened, parse_date, today_at_places
from harvest.cli.output import Format, complain, print_csv, print_json, print_table, say
from harvest.cli.safekeeping import opened_to_write
from harvest.cli.signing import signature
from harvest.errors import ConflictError
from harvest.service_records import (
    Orchard,
    Shown,
    edit_record,
    find_record,
    kind_of,
    open_doubts_of,
    remove_record,
    site_places,
    state_of,
)

Sort = Annotated[str, typer.Argument(metavar="KIND", help="pick, stage, …, tree or site.")]
Name = Annotated[
    str | None, typer.Argument(metavar="[TREE]", help="The tree, or a part of its name.")
]
Place = Annotated[str | None, typer.Option("--site", help="A site instead of a tree.")]
Day = Annotated[str | None, typer.Option("--date", metavar="DATE", help="The day of the record.")]
Number = Annotated[
    int | None, typer.Option("--number", metavar="N", help="Its number, where several fit.")
]
AsSeen = Annotated[
    str | None,
    typer.Option("--as-seen", metavar="STATE", help="Only if it is still in the state shown."),
]


def correct(
    context: typer.Context,
    sort: Sort,
    tree: Name = None,
    cells: Annotated[
        list[str] | None,
        typer.Argument(metavar="[COLUMN=VALUE…]", help="weight_kg=12.4kg; note= empties a cell."),
    ] = None,
    *,
    site: Place = None,
    day: Day = None,
    number: Number = None,
    as_seen: AsSeen = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Correct cells of one record; without any: show it. What was before stays in the history."""
    words = list(cells or [])
    if tree is not None and "=" in tree:
        words, tree = [tree, *words], None
    pairs = [word.partition("=") for word in words]
    if not all(name.strip() and sign for name, sign, _ in pairs):
        raise typer.BadParameter("What is to be corrected is written COLUMN=VALUE.")
    orchard = opened_to_write(context) if pairs else opened(context)
    seen = find_record(orchard, sort, tree=tree, site=site, day=parse_date(day), number=number)
    if not pairs:
        _show(sort, seen, form)
        return
    _refuse_moved(seen, as_seen)
    typed = {name.strip(): value for name, _, value in pairs}
    unknown = [name for name in typed if name not in seen.cells]
    if unknown:
        raise typer.BadParameter(f"No column {unknown[0]}; there are {', '.join(seen.cells)}.")
    if form is Format.TABLE:
        for name, value in typed.items():
            say(f"{name}: {seen.cells[name] or 'blank'} → {value or 'blank'}")
    _ask("Is this right?")
    today = _today(orchard)
    before = _doubts(orchard, seen, today)
    change = edit_record(orchard, kind_of(sort), seen, typed, today=today, signed=signature())
    now = replace(seen, cells={**seen.cells, **typed})
    _told(change, "corrected", now, form)
    for code, said in _doubts(orchard, now, today).items():
        if code not in before:
            complain(f"Kept, but look: {said}. If it is right: harvest check --let-stand {code}.")


def remove(
    context: typer.Context,
    sort: Sort,
    tree: Name = None,
    *,
    site: Place = None,
    day: Day = None,
    number: Number = None,
    as_seen: AsSeen = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Take one record away; it stays in the history, and undo brings it back."""
    orchard = opened_to_write(context)
    seen = find_record(orchard, sort, tree=tree, site=site, day=parse_date(day), number=number)
    _refuse_moved(seen, as_seen)
    if form is Format.TABLE:
        _show(sort, seen, form)
    _ask("Shall it be taken away?")
    change = remove_record(orchard, kind_of(sort), seen, signature())
    _told(change, "taken away", seen, form)


def _doubts(orchard: Orchard, record: Shown, today: date) -> dict[str, str]:
    """What looks wrong of the tree that a record is about, by its code."""
    tree = record.cells.get("tree")
    found = open_doubts_of(orchard, today, tree) if tree else []
    return {doubt.code: f"{doubt.tree}, {doubt.date}: {doubt.said}" for doubt in found}


def _refuse_moved(seen: Shown, as_seen: str | None) -> None:
    """Raise ConflictError where the record is in another state than the one shown."""
    if as_seen is not None and as_seen != state_of(seen):
        raise ConflictError(
            "the record must be as you saw it",
            given=f"state {state_of(seen)}, not {as_seen}: changed elsewhere meanwhile",
            todo="Nothing was changed. Look at it again; 'harvest history TREE' tells by whom.",
        )


def _ask(question: str) -> None:
    if sys.stdin.isatty() and sys.stdout.isatty() and not typer.confirm(question):
        say("Nothing was changed.")
        raise typer.Exit(1)


def _today(orchard: Orchard) -> date:
    return today_at_places(site_places(orchard), datetime.now(UTC))


def _show(sort: str, seen: Shown, form: Format) -> None:
    row = {"number": seen.id, "state": state_of(seen), **seen.cells}
    if form is Format.JSON:
        print_json([row])
    elif form is Format.CSV:
        print_csv([row])
    else:
        print_table(
            f"{sort}, number {seen.id}, state {state_of(seen)}",
            ("column", "value"),
            [(name, text or "–") for name, text in seen.cells.items()],
        )


def _told(change: int | None, done: str, seen: Shown, form: Format) -> None:
    row = {"number": seen.id, "done": done, "change": change}
    if form is Format.JSON:
        print_json([row])
    elif form is Format.CSV:
        print_csv([row])
    elif change is None:
        say("It was so already; nothing was changed.")
    else:
        say(f"{done.capitalize()}. To take that back: harvest undo --import {change}.")


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("correct")(correct)
    app.command("remove")(remove)
