"""Commands that tell what was changed, by whom, and take it back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Annotated, Any

import typer

from harvest.cli.attaching import print_attachments
from harvest.cli.context import OutputFormat, opened
from harvest.cli.output import Format, as_plain, count, print_csv, print_json, print_table, say
from harvest.cli.safekeeping import opened_to_write
from harvest.cli.signing import signature
from harvest.service_records import (
    KINDS_IN_WORDS,
    BatchEntry,
    ChangeEntry,
    Counts,
    attachments,
    change_history,
    history,
    tree_history,
    undo_batch,
)

SETTINGS = {
    "dates": "order of dates",
    "week_starts": "first day of the week",
    "kept_as": "name kept with changes",
    "name": "name of the orchard",
    "note": "note on the orchard",
    "demo_as_of": "date of the demo",
}


def history_(
    context: typer.Context,
    tree: Annotated[
        str | None, typer.Argument(help="Only this tree: every record, before and after.")
    ] = None,
    number: Annotated[
        int | None,
        typer.Option("--change", metavar="N", help="Only this change: all that it did."),
    ] = None,
    most: Annotated[int, typer.Option("--most", min=1, help="So many of the newest changes.")] = 50,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Who changed what, and when (UTC); of one tree or change every value before and after."""
    orchard = opened(context)
    if number is not None:
        done = change_history(orchard, number, most)
        _tell(done, form, lambda: _tell_changes(f"Change {number}", done, most))
    elif tree is None:
        batches = history(orchard, most)
        _tell(batches, form, lambda: _tell_batches(batches))
    else:
        all_changes = tree_history(orchard, tree)
        name = next((each.record for each in all_changes if each.kind == "trees"), tree)
        changes = all_changes[:most]
        _tell(changes, form, lambda: _tell_changes(f"{name}: changes, newest first", changes, most))
        hanging = attachments(orchard, tree) if form is Format.TABLE else []
        if hanging:
            print_attachments("Photos and notes on it; --save N of 'harvest attach' writes one",
                              hanging)  # fmt: skip


def _tell(
    rows: Sequence[BatchEntry | ChangeEntry], form: Format, as_table: Callable[[], None]
) -> None:
    if form is Format.JSON:
        print_json(rows)
    elif form is Format.CSV:
        print_csv([_flat(row) for row in rows])
    else:
        as_table()


def undo_(
    context: typer.Context,
    number: Annotated[
        int | None,
        typer.Option(
            "--import", metavar="N", help="This change of 'harvest history', not the last one."
        ),
    ] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Take the last change back, or a whole import; what was undone stays in the history."""
    done = undo_batch(opened_to_write(context), number, signature())
    if form is Format.JSON:
        print_json([done])
    elif form is Format.CSV:
        print_csv([_flat(done.by)])
    else:
        what = f"{done.batch.action} {done.batch.note}".strip()
        say(f"Undone: {done.batch.number} ({what}; {in_words(done.batch.counts)}).")
        say(f"To bring it back: harvest undo --import {done.by.number}.")


def in_words(counts: Sequence[Counts]) -> str:
    """How many records of each kind: `picks: 3 new, 1 changed`."""
    parts = []
    for each in counts:
        named = zip(each.told, ("new", "changed", "taken away"), strict=True)
        said = ", ".join(f"{number} {word}" for number, word in named if number)
        parts.append(f"{KINDS_IN_WORDS.get(each.kind, each.kind)}: {said}")
    return "; ".join(parts)


def _about(row: BatchEntry) -> str:
    """What a change was about, settings by what they are called."""
    if row.action not in ("setting", "undo"):
        return row.note
    said = (each.partition(": ") for each in row.note.split("; "))
    return "; ".join(f"{SETTINGS.get(name, name)}{colon}{rest}" for name, colon, rest in said)


def _moment(at: datetime | None) -> str:
    return "unknown" if at is None else f"{at:%Y-%m-%d %H:%M}"


def _flat(row: BatchEntry | ChangeEntry) -> dict[str, Any]:
    flat = dict(as_plain(row))
    if isinstance(row, BatchEntry):
        flat["counts"] = in_words(row.counts)
    return flat


def _tell_batches(rows: Sequence[BatchEntry]) -> None:
    print_table(
        "Changes, newest first (times in UTC)",
        ("number", "when", "who", "what", "about", "records", ""),
        [
            (
                str(row.number),
                _moment(row.at),
                row.who,
                row.action if row.undoes is None else f"undo of {row.undoes}",
                _about(row),
                in_words(row.counts),
                "" if row.undone_by is None else f"undone by {row.undone_by}",
            )
            for row in rows
        ],
    )


def _tell_changes(title: str, rows: Sequence[ChangeEntry], most: int) -> None:
    print_table(
        f"{title} (times in UTC)",
        ("number", "when", "who", "what", "record", "before", "after"),
        [
            (
                str(row.number),
                _moment(row.at),
                row.who,
                f"{row.action}{' (undone)' if row.undone else ''}",
                f"{KINDS_IN_WORDS.get(row.kind, row.kind)}: {_named(row)}",
                _values(row.before, "–"),
                _values(row.after, "taken away"),
            )
            for row in rows
        ],
    )
    if len(rows) == most:
        say(f"No more than {most} are shown; --most N shows others.")
    say(f"{count(len(rows), 'change')}. To take one back: harvest undo --import NUMBER.")


def _named(row: ChangeEntry) -> str:
    return SETTINGS.get(row.record, row.record) if row.kind == "settings" else row.record


def _values(values: dict[str, Any] | None, nothing: str) -> str:
    if values is None:
        return nothing
    return ", ".join(f"{name} {'–' if value is None else value}" for name, value in values.items())


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("history")(history_)
    app.command("undo")(undo_)
