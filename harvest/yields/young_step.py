"""Strip, limit or carry by leaf, vigour and group of species, and what speaks against a crop."""

from __future__ import annotations

from harvest.yields import wording
from harvest.yields.because import Because
from harvest.yields.load_rules import COMMON, MEMORY, SpeciesCare, YoungRule
from harvest.yields.result import Advice
from harvest.yields.tree_facts import TreeFacts

# Leaves in which a new tree is still taking hold (common practice, no source).
ANCHORING_LEAVES = 2
# Leaves in which Robinson 2008 found the growth of young apple trees fall with their crop.
GROWTH_LOSS_LEAVES = range(2, 5)
ROBINSON = "Robinson 2008, New York Fruit Quarterly 16(2)"
TRANSPLANT = "transplant"
SHORT_SHOOTS = "short shoots"


def step_for(
    tree: TreeFacts, care: SpeciesCare, young: list[YoungRule], because: Because
) -> tuple[Advice, bool]:
    """What is done with the crop of a tree of this age, and whether anything speaks against one.

    A tree that would be stripped or limited is stripped when anything was logged against a crop
    (drought, weak growth, leaning and the like); a bearing one is limited, and stripped after a
    transplant. Where the vigour is not on record and decides, the answer is "unknown". A species
    that is not thinned carries what another would limit.
    """
    steps = {rule.advice for rule in young}
    against = _against_a_crop(tree, young)
    strip = TRANSPLANT in against or (bool(against) and "carry" not in steps)
    sources = [rule.source for rule in young]
    if len(steps) == 1 or strip:
        because.say(wording.step(tree, young), *sources)
    else:
        because.say(wording.roots_unknown(tree, young), *sources)
    for reason, source in against.values():
        because.say(reason, source)
    if strip:
        return "strip", True
    if len(steps) > 1:
        return "unknown", bool(against)
    return _agreed(tree, care, young, bool(against), because), bool(against)


def _against_a_crop(tree: TreeFacts, young: list[YoungRule]) -> dict[str, tuple[str, str]]:
    """What was logged against a crop: the sentence and its source by sign."""
    against = {
        noted.what: (
            wording.sign(noted),
            COMMON if noted.what in ("leaning", TRANSPLANT) else MEMORY,
        )
        for noted in tree.signs
    }
    least = max((rule.weak_shoot_cm or 0.0 for rule in young), default=0.0)
    if tree.shoot_cm is not None and tree.shoot_cm < least:
        against[SHORT_SHOOTS] = (wording.short_shoots(tree.shoot_cm, least), MEMORY)
    return against


def _agreed(
    tree: TreeFacts, care: SpeciesCare, young: list[YoungRule], spare: bool, because: Because
) -> Advice:
    """The step that all rules agree on, for a tree that nothing or little speaks against."""
    if tree.species == "apple" and tree.leaf in GROWTH_LOSS_LEAVES:
        because.say(wording.GROWTH_LOSS, ROBINSON)
    rule = young[0]
    if rule.advice == "strip":
        return _strip_unless_strong(tree, young, because)
    if not care.thinned:
        because.say(wording.not_thinned(tree), COMMON)
        return "carry"
    if rule.advice == "carry":
        return "limit" if spare else "carry"
    if tree.shoot_cm is None and rule.weak_shoot_cm is not None:
        because.say(wording.shoots_unknown(rule), MEMORY)
    return "limit"


def _strip_unless_strong(tree: TreeFacts, young: list[YoungRule], because: Because) -> Advice:
    """Strip, unless the rule lets a tree with long shoots carry some and they are on record."""
    if tree.leaf <= ANCHORING_LEAVES:
        because.say(wording.ANCHORING, COMMON)
    rule = young[0]
    if len(young) > 1 or rule.strong_shoot_cm is None or rule.density is None:
        return "strip"
    if tree.shoot_cm is None:
        because.say(wording.shoots_unknown(rule), rule.source)
        return "strip"
    if tree.shoot_cm <= rule.strong_shoot_cm:
        return "strip"
    because.say(wording.long_shoots(tree.shoot_cm, rule.strong_shoot_cm), rule.source)
    return "limit"
