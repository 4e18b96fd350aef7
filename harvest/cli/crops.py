"""Commands about crops: what each season gave, and what a tree may carry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import Format, as_plain, number, print_csv, print_json, print_table, say
from harvest.service import CropAdvice, SeasonYield, crop_load, yields


def yields_(
    context: typer.Context,
    as_of: AsOf = None,
    season: Annotated[int | None, typer.Option(help="Only this season.")] = None,
    tree: Annotated[str | None, typer.Option(help="Only this tree.")] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """What each tree gave in each season."""
    orchard = opened(context)
    rows = [
        row
        for row in yields(orchard, as_of_date(orchard, as_of))
        if (season is None or row.season == season)
        and (tree is None or row.tree.casefold() == tree.casefold())
    ]
    if form is Format.JSON:
        print_json(rows)
    elif form is Format.CSV:
        print_csv([as_plain(row) for row in rows])
    else:
        _tell_yields(rows)


def _tell_yields(rows: Sequence[SeasonYield]) -> None:
    print_table(
        "What each tree gave",
        ("tree", "cultivar", "season", "crop", "kg", "fruit", "graded out", "passes", "picked",
         "kg/cm²", "against own mean"),
        [
            (
                row.tree,
                row.cultivar,
                str(row.season),
                row.crop,
                number(row.weight_kg, 1),
                "–" if row.fruit_count is None else str(row.fruit_count),
                number(row.graded_out_kg, 1, "kg"),
                str(row.passes),
                f"{row.first_pick:%d %b} – {row.last_pick:%d %b}"
                if row.first_pick and row.last_pick
                else "–",
                number(row.kg_per_cm2, 2),
                "–" if row.against_own_mean is None else f"{row.against_own_mean:+.0%}",
            )
            for row in rows
        ],
    )  # fmt: skip


def crop_load_(
    context: typer.Context,
    season: Annotated[
        int | None, typer.Option(help="Season; default: the one that is running.")
    ] = None,
    as_of: AsOf = None,
    tree: Annotated[str | None, typer.Option(help="Only this tree.")] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Strip, limit or carry: what crop each tree may bear this season, and by when to act."""
    orchard = opened(context)
    rows = [
        row
        for row in crop_load(orchard, as_of_date(orchard, as_of), season)
        if tree is None or row.tree.casefold() == tree.casefold()
    ]
    if form is Format.JSON:
        print_json(rows)
    elif form is Format.CSV:
        print_csv([as_plain(row) for row in rows])
    else:
        _tell_advice(rows)


def _tell_advice(rows: Sequence[CropAdvice]) -> None:
    print_table(
        "What each tree may carry (advice with its reasons; you know the tree and decide)",
        ("tree", "cultivar", "season", "leaf", "trunk", "advice", "at most", "act by", "why"),
        [
            (
                row.tree,
                row.cultivar,
                str(row.season),
                str(row.leaf),
                number(row.tcsa_cm2, 1, "cm²"),
                row.advice,
                "–" if row.fruit_limit is None else f"{row.fruit_limit} fruit",
                f"{row.act_by:%d %b %Y}" if row.act_by else "–",
                row.reasons[0] if row.reasons else "",
            )
            for row in rows
        ],
    )
    if len(rows) == 1:
        for reason in rows[0].reasons[1:]:
            say(reason)
        say(f"Sources: {'; '.join(rows[0].sources)}.")
    else:
        say("All reasons and sources of one tree: harvest crop-load --tree NAME.")
    say("Thinning on a ladder: firm ground, someone near, never lean out.")


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("yields")(yields_)
    app.command("crop-load")(crop_load_)
