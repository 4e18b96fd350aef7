"""How seasons, and seasons side by side, are told."""

from __future__ import annotations

from collections.abc import Sequence

from harvest.cli.output import count, number, print_table, say
from harvest.service_yields import GroupSeason, SeasonReasons, SeasonsCompared

SPAN = (
    "Usual: within the span in which 8 in 10 seasons of such trees, of their age, vigour and"
    " species, come out; good and poor lie outside it."
)


def tell_groups(rows: Sequence[GroupSeason], by: str) -> None:
    """Seasons of each group, oldest first."""
    print_table(
        f"What each season gave, by {by}",
        (by, "season", "kg", "picked", "other trees", "kg per bearing tree", "graded out",
         "first and last pick", "on record so far", "to expect", "verdict"),
        [
            (
                row.name,
                str(row.season),
                number(row.weight_kg, 1) + ("" if row.complete else " so far"),
                count(row.trees_picked, "tree"),
                _others(row),
                number(row.kg_per_bearing_tree, 1),
                _graded(row),
                _window(row),
                number(row.cumulative_kg, 0, "kg"),
                _span(row),
                row.verdict,
            )
            for row in rows
        ],
    )  # fmt: skip
    say(SPAN)


def tell_compared(rows: Sequence[SeasonsCompared], by: str, seasons: tuple[int, int]) -> None:
    """Two seasons side by side."""
    earlier, later = seasons
    print_table(
        f"Seasons {earlier} and {later} side by side, by {by}",
        (by, f"{earlier} kg", f"{later} kg", f"verdict {earlier}", f"verdict {later}",
         "trees in both", f"their kg {earlier}", f"their kg {later}", "change"),
        [
            (
                row.name,
                number(row.earlier.weight_kg if row.earlier else None, 1),
                number(row.later.weight_kg if row.later else None, 1),
                row.earlier.verdict if row.earlier else "–",
                row.later.verdict if row.later else "–",
                str(row.trees_in_both),
                number(row.earlier_kg, 1),
                number(row.later_kg, 1),
                "–" if row.change is None else f"{row.change:+.0%}",
            )
            for row in rows
        ],
    )  # fmt: skip
    say("Change: only trees whose crop is on record in both seasons, like with like.")
    say(SPAN)


def tell_reasons(rows: Sequence[SeasonReasons]) -> None:
    """Candidate reasons, strongest evidence first."""
    for row in rows:
        say(
            f"{row.tree} ({row.cultivar}), season {row.season}, {row.verdict}:"
            f" {row.weight_kg:.1f} kg, to expect {row.expected_kg:.1f} kg"
        )
        for at, reason in enumerate(row.reasons, 1):
            say(f"  {at}. {reason.text}")
        if not row.reasons:
            say("  The records hold no reason.")
    if rows:
        say("What may have worked, strongest evidence first; never proof.")
    else:
        say("Nothing to explain: no season on record was good or poor by what was to be expected.")


def _others(row: GroupSeason) -> str:
    kinds = (
        (row.trees_none, "no crop"),
        (row.trees_stripped, "stripped"),
        (row.trees_not_recorded, "not recorded"),
    )
    return ", ".join(f"{trees} {what}" for trees, what in kinds if trees) or "–"


def _graded(row: GroupSeason) -> str:
    if row.graded_out_kg is None:
        return "–"
    most = sorted(row.causes, key=lambda cause: -row.causes[cause])[:2]
    return f"{row.graded_out_kg:.1f} kg" + (f" ({', '.join(most)})" if most else "")


def _window(row: GroupSeason) -> str:
    if row.first_pick is None or row.last_pick is None:
        return "–"
    return f"{row.first_pick:%d %b} – {row.last_pick:%d %b}"


def _span(row: GroupSeason) -> str:
    if row.low_kg is None or row.high_kg is None:
        return "–"
    return f"{row.low_kg:.0f} – {row.high_kg:.0f} kg"
