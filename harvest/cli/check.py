"""`harvest check`: whether the database is whole, and what in the records looks wrong."""

from __future__ import annotations

from typing import Annotated

import typer

from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import (
    Format,
    as_plain,
    complain,
    count,
    print_csv,
    print_json,
    print_table,
    say,
)
from harvest.cli.signing import signature
from harvest.service_records import Doubt, check_integrity, dismiss_doubts, open_doubts_of

TODO = "If a record is right, let it stand: harvest check --let-stand CODE. If not, correct it."


def check(
    context: typer.Context,
    tree: Annotated[
        str | None, typer.Argument(help="Only what looks wrong of this tree, not the database.")
    ] = None,
    *,
    let_stand: Annotated[
        list[str] | None,
        typer.Option("--let-stand", metavar="CODE", help="This warning is looked at, and right."),
    ] = None,
    as_of: AsOf = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Check that the database is whole, and list the records that look wrong; or one tree's."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    if let_stand:
        for doubt in dismiss_doubts(orchard, let_stand, as_of=day, signed=signature()):
            complain(f"Stands now: {doubt.tree}, {doubt.date}: {doubt.said}.")
    wrong = check_integrity(orchard) if tree is None else None
    found = open_doubts_of(orchard, day, tree)
    if form is Format.JSON:
        whole = None if wrong is None else not wrong
        print_json([{"whole": whole, "wrong": wrong or [], "warnings": found}])
    elif form is Format.CSV:
        print_csv([as_plain(doubt) for doubt in found])
    else:
        _tell(found, wrong)
    for line in wrong or []:
        complain(f"harvest: {line}. Restore the latest backup: harvest restore.")
    if wrong:
        raise typer.Exit(1)


def _tell(found: list[Doubt], wrong: list[str] | None) -> None:
    if wrong == []:
        say("The database is whole.")
    if not found:
        say("No record looks wrong.")
        return
    print_table(
        "Records that look wrong though they can be right",
        ("code", "tree", "date", "rule", "what"),
        [(doubt.code, doubt.tree, f"{doubt.date}", doubt.rule, doubt.said) for doubt in found],
    )
    say(f"{count(len(found), 'open warning')}. {TODO}")


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("check")(check)
