"""How many fruit a tree may carry: fruit per cm2 of trunk cross-section times the trunk."""

from __future__ import annotations

from math import floor

from harvest.errors import QuantityError
from harvest.yields import wording
from harvest.yields.because import Because
from harvest.yields.load_rules import CropRules, Habit, LoadRule, YoungRule
from harvest.yields.tree_facts import TreeFacts

# 6 fruit/cm2 x 5 cm2 may fall a rounding error short of the whole fruit it is.
_ROUNDING = 1e-9
# The published table ends with a trunk 3 inches through, 45.6 cm2.
THICKEST_CM2 = 46.0
HAND_THINNING_TABLE = (
    "University of Massachusetts Extension (apple thinning guide, hand-thinning table)"
)


def fruit_limit(tcsa_cm2: float, fruit_per_cm2: float) -> int:
    """Most fruit for a trunk, rounded down to whole fruit.

    Parameters
    ----------
    tcsa_cm2 : trunk cross-section [cm2]. fruit_per_cm2 : crop load [fruit/cm2].

    Raises
    ------
    QuantityError : one of them is negative or not a number.
    """
    if not (tcsa_cm2 >= 0 and fruit_per_cm2 >= 0):
        raise QuantityError(
            "a trunk cross-section and a crop load of 0 or more are needed",
            given=f"{tcsa_cm2:g} cm2 and {fruit_per_cm2:g} fruit/cm2",
        )
    return floor(tcsa_cm2 * fruit_per_cm2 + _ROUNDING)


def limit_for(
    tree: TreeFacts, rules: CropRules, young: list[YoungRule], *, sparing: bool, because: Because
) -> int | None:
    """Fruit limit of a tree that keeps a crop, with its reasons; None where it is not known.

    A bearing tree follows its species' crop load, at the lower end when it is to be spared. A
    young one follows the stricter of its species' crop load and the young trees' table; but a
    published crop load holds as it stands for trees on dwarfing roots from the third leaf.
    """
    habit = rules.habit(tree.species, tree.cultivar)
    load = rules.load(tree.species, habit, tree.leaf)
    limited = [rule for rule in young if rule.advice != "carry" and rule.density]
    if not limited:
        number = _bearing(tree, load, habit, sparing, because)
    else:
        number = _young(tree, load, habit, limited, because)
    if number is None:
        because.say(wording.no_load(tree, light=young[0].advice == "limit"))
        return None
    because.say(wording.trunk(tree.trunk))
    if tree.trunk is None or tree.trunk.tcsa_cm2 is None:
        return None
    if tree.trunk.tcsa_cm2 > THICKEST_CM2:
        because.say(wording.thick_trunk(), HAND_THINNING_TABLE)
    limit = fruit_limit(tree.trunk.tcsa_cm2, number)
    because.say(f"At {number:g} fruit per cm2 that makes at most {limit} fruit.")
    return limit


def _bearing(
    tree: TreeFacts, load: LoadRule | None, habit: Habit, sparing: bool, because: Because
) -> float | None:
    if load is None:
        return None
    number = load.low if sparing else load.target
    because.say(wording.load(load, tree, habit, number), load.source)
    return number


def _young(
    tree: TreeFacts,
    load: LoadRule | None,
    habit: Habit,
    limited: list[YoungRule],
    because: Because,
) -> float:
    if load is not None and load.published and _dwarf_and_settled(limited):
        because.say(wording.load(load, tree, habit, load.target), load.source)
        if limited[0].density and limited[0].density[1] < load.target:
            because.say(wording.more_careful(limited[0]), limited[0].source)
        return load.target
    ends = [_end(rule, habit) for rule in limited]
    strictest = limited[ends.index(min(ends))]
    because.say(wording.young_load(strictest, tree), strictest.source)
    if tree.vigour is None and len(set(ends)) > 1:
        because.say(wording.LOWEST_OF_ALL_VIGOURS)
    if load is not None and load.target < min(ends):
        because.say(wording.load(load, tree, habit, load.target), load.source)
        return load.target
    return min(ends)


def _dwarf_and_settled(limited: list[YoungRule]) -> bool:
    """One rule, for a tree on dwarfing roots that is limited and not stripped."""
    return len(limited) == 1 and limited[0].vigour == "dwarf" and limited[0].advice == "limit"


def _end(rule: YoungRule, habit: Habit) -> float:
    """The end of a young tree's range: the upper one only for a cultivar that crops every year."""
    low, high = rule.density or (0.0, 0.0)
    return high if habit == "no" else low
