"""Commands about crops: what each season gave, and what a tree may carry."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum
from typing import Annotated, TypeVar

import typer

from harvest.cli.comparing import tell_compared, tell_groups, tell_reasons
from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import (
    Format,
    as_plain,
    count,
    number,
    print_csv,
    print_json,
    print_table,
    say,
)
from harvest.cli.signing import signature
from harvest.cli.thinning import tell_overrules, tell_paid, tell_thinning
from harvest.errors import InputError
from harvest.service import CropAdvice, Orchard, SeasonYield, crop_load, yields
from harvest.service_records import site_places
from harvest.service_yields import (
    GROUPINGS,
    CropEstimate,
    WeekCrop,
    compare_seasons,
    crop_estimate,
    crops_ahead,
    overrule,
    overrules_on_record,
    reasons,
    stripping_paid,
    thinning,
    yields_by,
)


def yields_(
    context: typer.Context,
    *,
    as_of: AsOf = None,
    season: Annotated[int | None, typer.Option(help="Only this season.")] = None,
    tree: Annotated[str | None, typer.Option(help="Only this tree.")] = None,
    by: Annotated[
        str | None,
        typer.Option(help=f"Add up, and hold against what to expect, by {', '.join(GROUPINGS)}."),
    ] = None,
    compare: Annotated[
        tuple[int, int] | None,
        typer.Option(metavar="SEASON SEASON", help="Two seasons side by side, by cultivar."),
    ] = None,
    why: Annotated[
        bool, typer.Option("--why", help="What may lie behind each good or poor season.")
    ] = False,
    form: OutputFormat = Format.TABLE,
) -> None:
    """What each tree gave in each season, how seasons compare, and which were good or poor."""
    if by is not None and by not in GROUPINGS:
        raise InputError(
            f"--by takes one of {', '.join(GROUPINGS)}", given=by, todo="Example: --by cultivar."
        )
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    if why:
        _show(reasons(orchard, day, season, tree), form, tell_reasons)
    elif compare is not None:
        rows = compare_seasons(orchard, day, compare, by or "cultivar")
        _show(
            [row for row in rows if _is_tree(row.name, tree)],
            form,
            lambda found: tell_compared(found, by or "cultivar", compare),
        )
    elif by is not None:
        groups = [row for row in yields_by(orchard, day, by) if _is_tree(row.name, tree)]
        _show(
            [row for row in groups if season in (None, row.season)],
            form,
            lambda found: tell_groups(found, by),
        )
    else:
        each = [row for row in yields(orchard, day) if _is_tree(row.tree, tree)]
        _show([row for row in each if season in (None, row.season)], form, _tell_yields)
    _tell_seasons(orchard, form)


Row = TypeVar("Row")


def _tell_seasons(orchard: Orchard, form: Format) -> None:
    """How a season is called where it crosses the year's end."""
    if form is Format.TABLE and (site_places(orchard)["latitude"] < 0).any():
        say("South of the equator a season is called by the year of its harvest: 2027 is 2026/27.")


def _show(rows: Sequence[Row], form: Format, tell: Callable[[Sequence[Row]], None]) -> None:
    """Print results in the form asked for."""
    if form is Format.JSON:
        print_json(rows)
    elif form is Format.CSV:
        print_csv([as_plain(row) for row in rows])
    else:
        tell(rows)


def _is_tree(name: str, wanted: str | None) -> bool:
    return wanted is None or name.casefold() == wanted.casefold()


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


class View(StrEnum):
    """What of the crop load is shown."""

    ADVICE = "advice"
    THINNING = "thinning"
    OVERRULED = "overruled"
    DID_IT_PAY = "did-it-pay"


def crop_load_(
    context: typer.Context,
    *,
    season: Annotated[
        int | None, typer.Option(help="Season; default: the one that is running.")
    ] = None,
    as_of: AsOf = None,
    tree: Annotated[str | None, typer.Option(help="Only this tree.")] = None,
    show: Annotated[
        View,
        typer.Option(
            help="The advice; how to thin the trees that keep a crop; advice you overruled and"
            " what came of it; or whether stripping young trees paid."
        ),
    ] = View.ADVICE,
    decision: Annotated[
        str | None,
        typer.Option(
            "--overrule", metavar="STRIP|LIMIT|CARRY", help="Decide otherwise for one --tree."
        ),
    ] = None,
    because: Annotated[str | None, typer.Option(help="Why you decide otherwise.")] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Strip, limit or carry: what crop each tree may bear this season, and by when to act."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    if decision is not None:
        if tree is None:
            raise InputError("one tree is overruled at a time", todo="Add --tree NAME.")
        made = overrule(orchard, tree, decision.lower(), why=because, today=day, signed=signature())
        _show([made.overrule], form, tell_overrules)
    elif show is View.THINNING:
        plans = thinning(orchard, day, season)
        _show([row for row in plans if _is_tree(row.tree, tree)], form, tell_thinning)
    elif show is View.OVERRULED:
        kept = overrules_on_record(orchard, day)
        _show([row for row in kept if _is_tree(row.tree, tree)], form, tell_overrules)
    elif show is View.DID_IT_PAY:
        _show(stripping_paid(orchard, day), form, tell_paid)
    else:
        rows = crop_load(orchard, day, season)
        _show([row for row in rows if _is_tree(row.tree, tree)], form, _tell_advice)
    _tell_seasons(orchard, form)


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
                row.advice if row.overruled is None else f"{row.advice}; you: {row.overruled}",
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


def crop_estimate_(
    context: typer.Context,
    season: Annotated[
        int | None, typer.Option(help="Season; default: the one that is running.")
    ] = None,
    as_of: AsOf = None,
    tree: Annotated[str | None, typer.Option(help="Only this tree.")] = None,
    weeks: Annotated[bool, typer.Option("--weeks", help="What each coming week brings.")] = False,
    form: OutputFormat = Format.TABLE,
) -> None:
    """What crop to expect of each tree, or of each coming week, before it is picked."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    if weeks:
        _show(crops_ahead(orchard, day).weeks, form, _tell_weeks)
        return
    rows = crop_estimate(orchard, day, season)
    _show([row for row in rows if _is_tree(row.tree, tree)], form, _tell_estimates)
    _tell_seasons(orchard, form)


def _tell_estimates(rows: Sequence[CropEstimate]) -> None:
    print_table(
        "Crop to expect of each tree",
        ("tree", "cultivar", "season", "even chance of", "8 in 10 between", "picked so far",
         "alternation 0–1", "rests on"),
        [
            (
                row.tree,
                row.cultivar,
                str(row.season),
                f"{row.kg[0.5]:.1f} kg",
                f"{row.kg[0.1]:.1f} – {row.kg[0.9]:.1f} kg",
                number(row.picked_so_far_kg or None, 1, "kg"),
                number(row.basis.alternation, 2),
                f"{count(row.basis.seasons, 'season')}, {count(row.basis.trees, 'tree')}",
            )
            for row in rows
        ],
    )  # fmt: skip
    same: dict[str, list[str]] = {}
    for row in rows:
        for warning in row.warnings:
            same.setdefault(warning, []).append(row.tree)
    for warning, trees in same.items():
        say(f"Mind, {', '.join(trees)}: {warning}")


def _tell_weeks(rows: Sequence[WeekCrop]) -> None:
    print_table(
        "What each coming week brings",
        ("site", "week of Monday", "expected", "8 in 10 between", "chance of any", "load", "most"),
        [
            (
                row.site,
                f"{row.start:%d %b %Y}",
                f"{row.mean_kg:.1f} kg",
                f"{row.kg[0.1]:.1f} – {row.kg[0.9]:.1f} kg",
                f"{row.chance:.0%}",
                row.load,
                ", ".join(sorted(row.by_cultivar, key=lambda name: -row.by_cultivar[name])[:3]),
            )
            for row in rows
        ],
    )
    say("A glut is more than twice the middle one of the weeks with fruit.")


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("yields")(yields_)
    app.command("crop-load")(crop_load_)
    app.command("crop-estimate")(crop_estimate_)
