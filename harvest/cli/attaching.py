"""`harvest attach`: photos, PDFs and notes on a tree or on one of its records."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated

import typer

from harvest.cli.context import OutputFormat, opened, parse_date, today_at_places
from harvest.cli.output import Format, as_plain, print_csv, print_json, print_table, say
from harvest.cli.safekeeping import opened_to_write
from harvest.cli.signing import signature
from harvest.errors import InputError
from harvest.service_records import (
    Attachment,
    Orchard,
    attach,
    attachment_bytes,
    attachments,
    detach,
    find_record,
    kind_of,
    site_places,
)

KILOBYTE = 1000


def attach_(
    context: typer.Context,
    tree: Annotated[str | None, typer.Argument(help="The tree, or a part of its name.")] = None,
    file: Annotated[Path | None, typer.Argument(help="A picture, a PDF or a text.")] = None,
    *,
    to: Annotated[
        str, typer.Option("--to", help="Its pick, stage, … of the --date, not the tree as such.")
    ] = "tree",
    site: Annotated[str | None, typer.Option("--site", help="A site instead of a tree.")] = None,
    day: Annotated[
        str | None, typer.Option("--date", metavar="DATE", help="The day of the record.")
    ] = None,
    note: Annotated[str, typer.Option("--note", help="A few words; alone: its own note.")] = "",
    take_off: Annotated[
        int | None, typer.Option("--take-off", metavar="N", help="Take this one off again.")
    ] = None,
    save: Annotated[
        int | None, typer.Option("--save", metavar="N", help="Write this one to FILE.")
    ] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Attach a photo or a note to a tree or one of its records; without a file: list them."""
    if take_off is not None:
        change = detach(opened_to_write(context), take_off, signature())
        say(f"Taken off. To bring it back: harvest undo --import {change}.")
        return
    if save is not None:
        _save(opened(context), save, file or Path(tree or ""))
        return
    if site is not None and file is None and tree is not None:
        file, tree = Path(tree), None
    if file is None and not note:
        _list(attachments(opened(context), tree), form)
        return
    orchard = opened_to_write(context)
    now = datetime.now(UTC)
    today = today_at_places(site_places(orchard), now)
    to = "site" if site is not None and to == "tree" else to
    record = find_record(orchard, to, tree=tree, site=site, day=parse_date(day))
    name, data = _content(file, note, today)
    made = attach(orchard, kind_of(to), record.id, name, data, signed=signature(), today=today,
                  note=note if file is not None else "")  # fmt: skip
    if form is Format.JSON:
        print_json([made])
    elif form is Format.CSV:
        print_csv([as_plain(made)])
    else:
        say(f"{made.tree or made.site}: {made.filename} ({_size(made)}) hangs on the {to}.")
        say(f"To take it off: harvest attach --take-off {made.id}.")


def _content(file: Path | None, note: str, today: date) -> tuple[str, bytes]:
    if file is None:
        return f"note {today}.txt", f"{note.strip()}\n".encode()
    try:
        return file.name, file.read_bytes()
    except OSError as error:
        raise InputError(
            "a file to attach must be there and readable", given=str(error), where=str(file)
        ) from error


def _save(orchard: Orchard, number: int, file: Path) -> None:
    found = next((each for each in attachments(orchard) if each.id == number), None)
    if found is None:
        raise InputError(
            "an attachment of this number must be on record",
            given=str(number),
            todo="'harvest attach' lists them.",
        )
    file = Path(found.filename) if file == Path() else file
    try:
        with file.open("xb") as out:
            out.write(attachment_bytes(orchard, found.sha256))
    except OSError as error:
        raise InputError(
            "the file must be new and its folder writable", given=str(error), where=str(file)
        ) from error
    say(f"Written: {file}")


def _list(found: list[Attachment], form: Format) -> None:
    if form is Format.JSON:
        print_json(found)
    elif form is Format.CSV:
        print_csv([as_plain(each) for each in found])
    else:
        print_attachments("Photos and notes, newest first", found)


def print_attachments(title: str, found: list[Attachment]) -> None:
    """Attachments as a table."""
    print_table(
        title,
        ("number", "date", "of", "on", "file", "what", "note", "who"),
        [
            (str(e.id), str(e.date), e.tree or e.site or "", e.kind, e.filename,
             f"{e.media_type}, {_size(e)}", e.note, e.who)
            for e in found
        ],
    )  # fmt: skip


def _size(made: Attachment) -> str:
    return f"{max(made.bytes / KILOBYTE, 0.1):.1f} kB"


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("attach")(attach_)
