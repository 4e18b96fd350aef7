"""How thinning, decisions against the advice, and what stripping brought are told."""

from __future__ import annotations

from collections.abc import Sequence

from harvest.cli.output import count, number, print_table, say
from harvest.service_yields import Overrule, StripPaid, ThinningPlan

MEASURES = {"trunk_cm2": ("trunk", "cm²"), "weight_kg": ("weight since planting", "kg")}


def tell_thinning(rows: Sequence[ThinningPlan]) -> None:
    """Target, window and outcome of each tree; all reasons where there is one."""
    print_table(
        "Thinning of the trees that keep a crop",
        ("tree", "cultivar", "leave at most", "one every", "from", "to", "to come unthinned",
         "one fruit", "crop", "next season's bloom at risk"),
        [
            (
                row.tree,
                row.cultivar,
                "–" if row.target_fruit is None else f"{row.target_fruit} fruit",
                "–" if row.spacing_cm is None else "–".join(f"{cm:g}" for cm in row.spacing_cm)
                + " cm",
                f"{row.start:%d %b}" if row.start else "–",
                f"{row.end:%d %b %Y}" if row.end else "–",
                "–" if row.fruit_to_come is None else f"{row.fruit_to_come} fruit",
                "–" if row.fruit_g is None else f"{row.fruit_g.low:.0f}–{row.fruit_g.high:.0f} g",
                "–" if row.kg is None else f"{row.kg.low:.0f}–{row.kg.high:.0f} kg",
                row.return_bloom_risk if row.done is None else f"done {row.done:%d %b}",
            )
            for row in rows
        ],
    )  # fmt: skip
    if len(rows) == 1:
        for reason in rows[0].reasons:
            say(reason)
        say(f"Sources: {'; '.join(rows[0].sources)}.")
    say("Thinning on a ladder: firm ground, someone near, never lean out.")


def tell_overrules(rows: Sequence[Overrule]) -> None:
    """Decisions against the advice and what followed."""
    for row in rows:
        why = f": {row.why}" if row.why else ""
        say(f"{row.tree}, {row.date:%d %b %Y}: {row.decision} instead of {row.advice}{why}.")
        for season in row.outcome:
            kg = "" if season.weight_kg is None else f", {season.weight_kg:.1f} kg"
            expected = (
                "" if season.expected_kg is None
                else f", to expect {season.expected_kg:.1f} kg ({season.verdict})"
            )  # fmt: skip
            say(f"  season {season.season}: {season.crop}{kg}{expected}")
        if row.tcsa_then_cm2 is not None and row.tcsa_now_cm2 is not None:
            say(f"  trunk {row.tcsa_then_cm2:.1f} cm² then, {row.tcsa_now_cm2:.1f} cm² now")
    if not rows:
        say("No advice was overruled.")


def tell_paid(rows: Sequence[StripPaid]) -> None:
    """Stripped against unstripped trees of each planting."""
    print_table(
        "Did stripping pay",
        ("planting", "measure", "stripped", "kept", "difference", "95 % interval", "verdict"),
        [
            (
                f"{row.cultivar}, {row.rootstock or 'roots not on record'}, {row.site},"
                f" first leaf {row.first_season}",
                MEASURES[row.measure][0],
                f"{number(row.stripped_mean, 1, MEASURES[row.measure][1])}"
                f" ({count(row.stripped_trees, 'tree')})",
                f"{number(row.kept_mean, 1, MEASURES[row.measure][1])}"
                f" ({count(row.kept_trees, 'tree')})",
                number(row.difference, 1, MEASURES[row.measure][1]),
                "–" if row.low is None or row.high is None else f"{row.low:.1f} – {row.high:.1f}",
                row.verdict,
            )
            for row in rows
        ],
    )
    if not rows:
        say(
            "No planting holds both trees that were stripped in their first four leaves and trees"
            " that were not: too few trees to tell."
        )
    say("Trees were not drawn by lot: weak ones are stripped more often, and stay behind for that.")
