"""Commands about care: may I pick, what does the year ask, who pollinates whom, what fits here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Annotated

import typer

from harvest.cli.context import AsOf, OutputFormat, as_of_date, opened
from harvest.cli.output import (
    Format,
    as_plain,
    console,
    count,
    print_csv,
    print_json,
    print_table,
    say,
)
from harvest.errors import InputError
from harvest.service_care import (
    LastSprayDay,
    Partner,
    Pollination,
    Withholding,
    picked_unknown,
    pollination,
    shares_counted,
    spray_by,
    withholding,
)

TreeOnly = Annotated[str | None, typer.Option("--tree", help="Only this tree.")]
SiteOnly = Annotated[str | None, typer.Option("--site", help="Only this site.")]


def withholding_(
    context: typer.Context,
    *,
    as_of: AsOf = None,
    tree: TreeOnly = None,
    site: SiteOnly = None,
    product: Annotated[
        str | None, typer.Option(help="Ask for the last day to use this product instead.")
    ] = None,
    label_days: Annotated[
        int | None,
        typer.Option("--label-days", min=0, help="Withholding days you read on its label."),
    ] = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """May I pick? Withholding periods as typed from the labels, against picks and forecast."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    if (product is None) != (label_days is None):
        raise InputError(
            "--product and --label-days go together",
            todo="Read the days on the product's label; none are known here.",
        )
    if product is not None and label_days is not None:
        _answer_last_days(
            [
                row
                for row in spray_by(orchard, day, product, label_days)
                if _chosen(row.tree, row.site, tree, site)
            ],
            form,
        )
        return
    rows = [row for row in withholding(orchard, day) if _chosen(row.tree, row.site, tree, site)]
    if form is Format.JSON:
        print_json(rows)
    elif form is Format.CSV:
        print_csv([as_plain(row) for row in rows])
    else:
        _tell_withholding(rows, day)


def _chosen(tree: str, site: str, only_tree: str | None, only_site: str | None) -> bool:
    return (only_tree is None or tree.casefold() == only_tree.casefold()) and (
        only_site is None or site.casefold() == only_site.casefold()
    )


def _day(day: date | None) -> str:
    return "–" if day is None else f"{day.day} {day:%b %Y}"


def alarm(text: str) -> None:
    """A line in red and in words: something that can hurt someone."""
    from rich.text import Text

    console().print(Text(text, style="bold red"), soft_wrap=True)


def _tell_withholding(rows: Sequence[Withholding], day: date) -> None:
    _tell_picked_inside(rows)
    held = [row for row in rows if row.status != "clear" and row.removed is None]
    print_table(
        f"May not be picked on {_day(day)}",
        ("tree", "cultivar", "status", "earliest pick", "because", "ripe, 8 in 10", "ripe before"),
        [
            (
                row.tree,
                row.cultivar,
                row.status,
                _day(row.earliest_pick),
                "; ".join(
                    f"{each.product} {_day(each.date)}, "
                    + ("days unknown" if each.withholding_days is None
                       else f"{each.withholding_days} d")
                    for each in row.because
                ),
                f"{_day(row.ripe_from)} – {_day(row.ripe_to)}" if row.ripe_from else "–",
                "–" if row.chance_ripe_before is None else f"{row.chance_ripe_before:.0%}",
            )
            for row in held
        ],
    )  # fmt: skip
    for row in held:
        picked = {pick.says for pick in row.picked_inside}
        for text in row.says:
            if text not in picked:
                say(f"{row.tree}: {text}")
    by_words: dict[str, list[str]] = {}
    for row in rows:
        picked = {pick.says for pick in row.picked_inside}
        for text in row.says if row.status == "clear" and row.removed is None else ():
            if text not in picked:
                by_words.setdefault(text, []).append(row.tree)
    for text, trees in by_words.items():
        say(f"{text} ({', '.join(trees)})")
    _tell_cautions(rows)


def _tell_picked_inside(rows: Sequence[Withholding]) -> None:
    """Picks inside a period, in red and at once: each known one, the unknown ones together."""
    unknown: dict[tuple[str, date], list[str]] = {}
    for row in rows:
        for pick in row.picked_inside:
            if pick.earliest_pick is not None:
                alarm(f"{row.tree}: {pick.says}")
            else:
                trees = unknown.setdefault((pick.product, pick.sprayed), [])
                trees.append(f"{row.tree} {_day(pick.date)}")
    for (product, sprayed), picks in unknown.items():
        alarm(f"{picked_unknown(product, sprayed)} Picked since: {', '.join(picks)}.")


def _tell_cautions(rows: Sequence[Withholding] | Sequence[LastSprayDay]) -> None:
    for text in rows[0].cautions if rows else ():
        say(text)


def _answer_last_days(rows: Sequence[LastSprayDay], form: Format) -> None:
    if form is Format.JSON:
        print_json(rows)
    elif form is Format.CSV:
        print_csv([as_plain(row) for row in rows])
    else:
        product = f"{rows[0].product}, {rows[0].withholding_days} d" if rows else "it"
        print_table(
            f"Last day to use {product} before picking, by the chance of ripe fruit too soon",
            ("tree", "cultivar", "site", "last day", "chance that fruit is ripe too soon"),
            [
                (row.tree, row.cultivar, row.site,
                 _day(row.last_day) if row.last_day else "no day is left",
                 f"{row.chance_ripe_before_end:.0%}")
                for row in rows
            ],
        )  # fmt: skip
        gone = {row.tree: row.says for row in reversed(rows) if row.last_day is None}
        for tree in reversed(gone):
            say(f"{tree}: {gone[tree]}")
        if not rows:
            say("No tree here has fruit to come whose ripe date is forecast: no day can be told.")
        _tell_cautions(rows)


def pollination_(
    context: typer.Context,
    *,
    as_of: AsOf = None,
    tree: TreeOnly = None,
    site: SiteOnly = None,
    form: OutputFormat = Format.TABLE,
) -> None:
    """Who pollinates whom: partners in bloom together, and the weather bees find."""
    orchard = opened(context)
    day = as_of_date(orchard, as_of)
    rows = [row for row in pollination(orchard, day) if _chosen(row.tree, row.site, tree, site)]
    if form is Format.JSON:
        print_json(rows)
    elif form is Format.CSV:
        print_csv([as_plain(row) for row in rows])
    else:
        _tell_pollination(rows)


def _tell_pollination(rows: Sequence[Pollination]) -> None:
    print_table(
        "Pollination: does each tree have a partner in bloom (BBCH 61 to 67)",
        ("tree", "cultivar", "bloom", "from", "verdict", "because", "bees: warm, dry", "and calm"),
        [
            (
                row.tree,
                row.cultivar,
                f"{_day(row.bloom_first)} – {_day(row.bloom_last)}" if row.bloom_first else "–",
                row.bloom_basis or "not known",
                row.verdict,
                " ".join(row.reasons[1:] or row.reasons),
                _share(row.bees.share if row.bees else None),
                _share(row.bees.calm_share if row.bees else None),
            )
            for row in rows
        ],
    )
    if len(rows) == 1:
        _tell_partners(rows[0])
    else:
        say("Partners, reasons and the weather of one tree: harvest pollination --tree NAME.")
        say(shares_counted(row.bees for row in rows))


def _tell_partners(row: Pollination) -> None:
    print_table(
        "Partners at the site",
        ("tree", "cultivar", "serves", "why", "days together", "in past seasons", "apart"),
        [
            (
                each.tree,
                each.cultivar,
                each.serves,
                each.why,
                "not known" if each.overlap_days is None
                else f"{each.overlap_days} ({each.overlap_share:.0%})",
                "–" if each.past_overlap_days is None
                else f"{each.past_overlap_days:.1f} ({count(each.past_seasons, 'season')})",
                _apart(each),
            )
            for each in row.partners
        ],
    )  # fmt: skip
    more = f"{count(row.left_out, 'other tree')} of these kinds, less useful, not listed."
    for text in (more if row.left_out else "", *row.reasons, row.bees.says if row.bees else ""):
        if text:
            say(text)


def _share(share: float | None) -> str:
    return "–" if share is None else f"{share:.0%}"


def _apart(partner: Partner) -> str:
    """How far a partner stands, as exactly as it is known."""
    if partner.distance_m is not None:
        return f"{partner.distance_m:.0f} m{', far' if partner.far else ''}"
    if partner.rows_apart is None or partner.places_apart is None:
        return "not recorded"
    return f"{count(partner.rows_apart, 'row')}, {count(partner.places_apart, 'place')}"


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("withholding")(withholding_)
    app.command("pollination")(pollination_)
