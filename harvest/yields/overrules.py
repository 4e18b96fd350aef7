"""Advice that the grower overruled, and what came of it.

An overrule is kept as an event of the tree, "other" with a note of a fixed form, so that it stays
on record with everything else, travels with an export, and can be undone like any record.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Any, get_args

import numpy as np
import pandas as pd

from harvest.errors import InputError
from harvest.records import Records
from harvest.yields.plain_rows import plain_rows
from harvest.yields.result import Advice, Overrule, SeasonOutcome
from harvest.yields.trunk import girths_on, trunk_cross_section

DECISIONS = ("strip", "limit", "carry")
_FORM = re.compile(
    r"^advice overruled: (?P<decision>strip|limit|carry) instead of"
    r" (?P<advice>strip|limit|carry|unknown)(?:; (?P<why>.*))?$"
)


def overrule_note(decision: str, advice: Advice, why: str | None) -> str:
    """The note under which an overrule is kept.

    Raises InputError for a decision other than strip, limit or carry, or one that the advice
    agrees with.
    """
    if decision not in DECISIONS:
        raise InputError(
            f"a decision is one of {', '.join(DECISIONS)}", given=decision, todo="Choose one."
        )
    if decision == advice:
        raise InputError("the advice already is to " + advice, todo="There is nothing to overrule.")
    told = f"; {' '.join(why.split())}" if why and why.strip() else ""
    return f"advice overruled: {decision} instead of {advice}{told}"


def overruled(records: Records) -> pd.DataFrame:
    """Overrules on record: columns tree, season, date, decision, advice, why (None if not said).

    The last one of a tree and season holds.
    """
    events = records.events
    own = events[(events["event"] == "other") & events["tree"].notna() & events["note"].notna()]
    rows = []
    for row in plain_rows(own.sort_values("date")):
        match = _FORM.match(str(row.note))
        if match:
            rows.append((row.tree, int(row.season), row.date.date(), *match.group(
                "decision", "advice", "why")))  # fmt: skip
    names = ["tree", "season", "date", "decision", "advice", "why"]
    frame = pd.DataFrame(rows, columns=names, dtype=object)
    return frame.drop_duplicates(["tree", "season"], keep="last", ignore_index=True)


def overrules(records: Records, fair: pd.DataFrame) -> list[Overrule]:
    """Every overrule and what came of it: crops from that season on, and growth of the trunk.

    Parameters
    ----------
    records : with seasons. fair : `fair_table` of the records.
    """
    found = []
    crops = dict(list(fair.groupby("tree")))
    for row in plain_rows(overruled(records)):
        later = crops.get(row.tree, fair.iloc[:0])
        later = later[later["season"] >= row.season].sort_values("season")
        before, now = _trunk(records, row.tree, row.date), _trunk(records, row.tree, records.as_of)
        found.append(
            Overrule(
                tree=row.tree,
                season=row.season,
                date=row.date,
                advice=_advice(row.advice),
                decision=_advice(row.decision),
                why=row.why,
                outcome=tuple(_outcome(each) for each in plain_rows(later)),
                tcsa_then_cm2=before,
                tcsa_now_cm2=now,
            )
        )
    return found


def _advice(text: str) -> Advice:
    return next(word for word in get_args(Advice) if word == text)


def _outcome(row: Any) -> SeasonOutcome:
    counted = bool(row.counted)
    return SeasonOutcome(
        season=int(row.season),
        crop=row.crop,
        weight_kg=None if np.isnan(row.weight_kg) else float(row.weight_kg),
        expected_kg=float(row.expected_kg) if counted else None,
        verdict=row.verdict,
    )


def _trunk(records: Records, tree: str, day: date) -> float | None:
    girth = girths_on(records.girths, [tree], [np.datetime64(day, "D")]).girth_cm
    return None if np.isnan(girth[0]) else round(float(trunk_cross_section(girth)[0]), 2)
