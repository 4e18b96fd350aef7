"""Strip, limit or carry: what crop each standing tree may bear in one season, and why.

The advice is a judgement from the reference tables and the orchard's own records; the grower can
overrule it. What is not on record is asked for, never assumed in silence.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any, NamedTuple

from harvest.records import Records
from harvest.yields import wording
from harvest.yields.act_by import act_by
from harvest.yields.asked_for import asked_for
from harvest.yields.because import Because
from harvest.yields.fruit_limit import limit_for
from harvest.yields.load_rules import CropReference, CropRules, SpeciesCare, YoungRule
from harvest.yields.overrules import overruled
from harvest.yields.plain_rows import plain_rows
from harvest.yields.result import Advice, CropAdvice
from harvest.yields.tree_facts import TreeFacts, tree_facts
from harvest.yields.young_step import step_for


def crop_advice(records: Records, season: int | None, reference: CropReference) -> list[CropAdvice]:
    """Whether each standing tree may carry its fruit, how many, and until when to act.

    Parameters
    ----------
    records : with a `season` column in stages, picks, thinnings and events
        (`harvest.tree_years.with_seasons`).
    season : the season asked for; None is the one running at each tree's site on the as-of day.
    reference : the tables the advice rests on.

    Returns
    -------
    One advice per tree that stands in the season and is in its first leaf or later, in the order
    of the trees. `fruit_limit` is 0 where the advice is to strip, and None where no number is
    known or the species is not thinned; `act_by` is None where nothing is left to be done.
    """
    rules = CropRules(reference)
    facts = tree_facts(records, season, reference.usual["usual_bloom"])
    decided = {(row.tree, row.season): row for row in plain_rows(overruled(records))}
    return [
        _with_decision(advise(tree, rules), decided.get((tree.tree, tree.season))) for tree in facts
    ]


def _with_decision(advice: CropAdvice, decided: Any) -> CropAdvice:
    """The advice as it is, and what the grower decided instead."""
    if decided is None:
        return advice
    why = f": {decided.why}" if decided.why else ""
    told = f"You decided on {wording.on(decided.date)} to {decided.decision} instead{why}."
    return replace(advice, overruled=decided.decision, reasons=(told, *advice.reasons))


def advise(tree: TreeFacts, rules: CropRules) -> CropAdvice:
    """The advice for one tree."""
    because = Because()
    care = rules.species(tree.species)
    young = rules.young(care.group, tree.vigour, tree.leaf) if care else []
    if care is None or not young:
        because.say(wording.not_in_tables(tree))
        decided = _Decision("unknown", None, None)
    else:
        decided = _decide(tree, rules, care, young, because)
    return CropAdvice(
        tree=tree.tree,
        site=tree.site,
        species=tree.species,
        cultivar=tree.cultivar,
        season=tree.season,
        leaf=tree.leaf,
        tcsa_cm2=tree.trunk.tcsa_cm2 if tree.trunk else None,
        advice=decided.advice,
        fruit_limit=decided.fruit_limit,
        act_by=decided.act_by,
        reasons=because.reasons,
        sources=because.sources,
        asked=asked_for(tree),
    )


class _Decision(NamedTuple):
    advice: Advice
    fruit_limit: int | None
    act_by: date | None


def _decide(
    tree: TreeFacts,
    rules: CropRules,
    care: SpeciesCare,
    young: list[YoungRule],
    because: Because,
) -> _Decision:
    advice, spare = step_for(tree, care, young, because)
    if advice == "unknown" or (advice == "carry" and not care.thinned):
        _done(tree, None, because)
        return _Decision(advice, None, None)
    limit: int | None = 0
    if advice != "strip":
        limit = limit_for(tree, rules, young, sparing=spare, because=because)
        if limit == 0:
            because.say("So thin a trunk cannot carry even one fruit.")
            advice = "strip"
        elif care.spacing_cm is not None:
            because.say(wording.spacing(*care.spacing_cm), care.spacing_source)
    if _done(tree, limit, because):
        return _Decision(advice, limit, None)
    what = "the fruit" if advice == "strip" else "the surplus"
    return _Decision(advice, limit, act_by(tree, care.group, what, because))


def _done(tree: TreeFacts, limit: int | None, because: Because) -> bool:
    """Whether nothing is left to be taken off this season, and what has been done so far."""
    crop = tree.crop
    if crop.thinned is not None:
        because.say(wording.thinned(crop.thinned, crop.fruit_left, limit))
    if crop.stripped is not None:
        because.say(f"All fruit were stripped on {wording.on(crop.stripped)}: nothing is left.")
    elif crop.picked is not None:
        because.say(f"Fruit were picked, last on {wording.on(crop.picked)}: too late to thin.")
    elif crop.no_crop is not None:
        because.say(f"No crop was logged on {wording.on(crop.no_crop)}: nothing is there to thin.")
    within = limit is not None and crop.fruit_left is not None and crop.fruit_left <= limit
    return within or any((crop.stripped, crop.picked, crop.no_crop))
