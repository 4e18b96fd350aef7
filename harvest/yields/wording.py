"""Plain sentences for what is said of a tree's crop. Every number carries its unit."""

from __future__ import annotations

from datetime import date

from harvest.yields.load_rules import LoadRule, YoungRule
from harvest.yields.tree_facts import Noted, TreeFacts, Trunk

# Written out, so that the computer's language setting cannot change them.
MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
PROPER = {"european": "European", "asian": "Asian", "japanese": "Japanese"}
ROOTS = {"dwarf": "dwarfing", "semi-dwarf": "semi-dwarfing", "standard": "vigorous"}
STEPS = {
    "strip": "is stripped of all fruit",
    "limit": "may carry a limited crop",
    "carry": "may carry a full crop",
}
HABITS = {"biennial": "alternates", "annual": "crops every year"}
SIGNS = {
    "drought": "Drought was logged on {day}; a crop would set the tree back further.",
    "weak growth": "Weak growth was noted on {day}; fruit would take what the shoots need.",
    "leaning": "On {day} the tree was noted as leaning or not staked; fruit would pull it over.",
    "transplant": "A transplant was noted on {day}; the tree has to root anew, like a new tree.",
    "leader carrying fruit": "On {day} fruit on the leader was noted; their weight bends it.",
}
ANCHORING = (
    "In its first two leaves a tree is still taking hold, staked meanwhile, and fruit would cost"
    " it roots and shoots."
)
GROWTH_LOSS = "The heavier the crop, the less a young apple tree grows, most of all in leaf 3."
HOW_TO_MEASURE = (
    "Measure the girth of the trunk 25 to 30 cm above the graft, at the same mark every winter"
)
RECORD_THE_VIGOUR = "Look up the rootstock and record the vigour: dwarf, semi-dwarf or standard."
LOWEST_OF_ALL_VIGOURS = (
    "The vigour of this tree is not on record, so the lowest number of all vigours is used."
    f" {RECORD_THE_VIGOUR}"
)
HOW_TO_NOTE_SHOOTS = "log it as an event 'other' with a note such as 'shoot growth 35 cm'"


def named(species: str) -> str:
    """A species within a sentence: Japanese plum, apple."""
    return " ".join(PROPER.get(word, word) for word in species.split(" "))


def on(day: date) -> str:
    """A date in words: 5 June 2025."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def leaves(low: float, high: float) -> str:
    """A span of leaves: leaf 2, leaf 4 to 7, leaf 8 and later."""
    if high == float("inf"):
        return f"leaf {low:g} and later"
    return f"leaf {low:g}" if low == high else f"leaf {low:g} to {high:g}"


def step(tree: TreeFacts, rules: list[YoungRule]) -> str:
    """What is done with such a tree at this leaf, and which leaf it is in."""
    kind = tree.species.capitalize()
    begun = "grafted over" if tree.grafted else "planted"
    here = f"this tree, {begun} on {on(tree.planted)}, is in leaf {tree.leaf}"
    if len({rule.advice for rule in rules}) > 1:
        return f"{kind} as young as this carries little or nothing; {here}."
    if len(rules) > 1:
        return f"{kind} {STEPS[rules[0].advice]} at this age on any roots; {here}."
    rule = rules[0]
    span = leaves(rule.leaf_low, rule.leaf_high)
    return f"{kind} on {ROOTS[rule.vigour]} roots {STEPS[rule.advice]} in {span}; {here}."


def roots_unknown(tree: TreeFacts, rules: list[YoungRule]) -> str:
    """What each vigour would mean where it is not on record."""
    cases = "; ".join(f"on {ROOTS[rule.vigour]} roots it {STEPS[rule.advice]}" for rule in rules)
    return (
        f"The vigour of this tree is not on record, and in leaf {tree.leaf} that decides: {cases}."
        f" {RECORD_THE_VIGOUR}"
    )


def sign(noted: Noted) -> str:
    """A reason against a crop that was logged."""
    return SIGNS[noted.what].format(day=on(noted.day))


def short_shoots(shoot_cm: float, least_cm: float) -> str:
    """Shoots too short for a crop."""
    return f"Shoots of {shoot_cm:g} cm were noted; a tree that may crop makes {least_cm:g} cm."


def shoots_unknown(rule: YoungRule) -> str:
    """What shoot growth would change where it is not on record."""
    if rule.advice == "limit":
        return (
            "Shoot growth is not on record: if the shoots made less than"
            f" {rule.weak_shoot_cm:g} cm, strip the tree after all, and {HOW_TO_NOTE_SHOOTS}."
        )
    low, high = rule.density or (0.0, 0.0)
    return (
        f"A well-feathered tree whose shoots made more than {rule.strong_shoot_cm:g} cm may carry"
        f" up to {low:g} to {high:g} fruit per cm2 of trunk cross-section instead; shoot growth"
        f" is not on record: {HOW_TO_NOTE_SHOOTS}."
    )


def trunk(found: Trunk | None) -> str:
    """The trunk, or what to measure."""
    if found is None:
        return f"No trunk girth is on record, so no number of fruit can be given. {HOW_TO_MEASURE}."
    measured = f"{found.girth_cm:g} cm on {on(found.measured)}"
    if found.tcsa_cm2 is None:
        return f"The latest trunk girth, {measured}, is too old to go by. {HOW_TO_MEASURE}."
    return f"The trunk girth was {measured}, a cross-section of {found.tcsa_cm2:.1f} cm2."


def thick_trunk() -> str:
    """A trunk thicker than those the crop loads come from."""
    return (
        "Crop loads were worked out on trunks up to about 46 cm2 (3 inches through); a thicker one"
        " may carry fewer per cm2, so take the number as the most that is sensible."
    )


def load(rule: LoadRule, tree: TreeFacts, habit: str, number: float) -> str:
    """Fruit per cm2 by species and habit; below the rule's number where the tree is spared."""
    who = named(tree.species)
    if rule.habit != "any":
        who += f" that {HABITS[rule.habit]}"
    text = (
        f"For {who}, {number:g} fruit per cm2 of trunk cross-section in"
        f" {leaves(rule.leaf_low, rule.leaf_high)}."
    )
    if number < rule.target:
        text += " That is the lower end of its range, to spare the tree."
    if rule.habit != "any" and habit == "unknown":
        text += f" Whether {tree.cultivar} alternates is not known, so the lower number is used."
    return text


def young_load(rule: YoungRule, tree: TreeFacts) -> str:
    """Fruit per cm2 of a young tree."""
    low, high = rule.density or (0.0, 0.0)
    return (
        f"While young, {named(tree.species)} on {ROOTS[rule.vigour]} roots carries {low:g} to"
        f" {high:g} fruit per cm2 of trunk cross-section, the lower end if it alternates or may"
        " alternate."
    )


def no_load(tree: TreeFacts, *, light: bool) -> str:
    """No crop load is known for the species."""
    text = f"No number of fruit per cm2 of trunk is known for {named(tree.species)}"
    if light:
        return f"{text}: leave only a few, evenly spread, in leaf {tree.leaf}."
    return f"{text}: thin it by the distance between fruit."


def not_in_tables(tree: TreeFacts) -> str:
    """A species or leaf that the tables leave out."""
    return f"The tables do not say how {named(tree.species)} is cropped in leaf {tree.leaf}."


def more_careful(rule: YoungRule) -> str:
    """A lower number that stands beside a published one."""
    low, high = rule.density or (0.0, 0.0)
    return (
        f"More careful advice for {leaves(rule.leaf_low, rule.leaf_high)} is {low:g} to {high:g}"
        " fruit per cm2; a tree that grows little should stay there."
    )


def long_shoots(shoot_cm: float, least_cm: float) -> str:
    """Shoots long enough for an early crop."""
    return f"Shoots of {shoot_cm:g} cm were noted, more than {least_cm:g} cm: it may carry some."


def not_thinned(tree: TreeFacts) -> str:
    """A species whose fruit are left as they set."""
    return f"The fruit of {named(tree.species)} are not thinned by hand; what has set may stay."


def spacing(low_cm: float, high_cm: float) -> str:
    """How far apart fruit are left along the branch."""
    apart = f"{low_cm:g} cm" if low_cm == high_cm else f"{low_cm:g} to {high_cm:g} cm"
    return f"Leave one fruit every {apart} along the branch."


def thinned(day: date, fruit_left: int | None, limit: int | None) -> str:
    """A thinning of this season, against the limit."""
    text = f"Fruit were thinned on {on(day)}"
    if fruit_left is None:
        return f"{text}; how many were left was not logged."
    text += f" to {fruit_left} fruit"
    if limit is None:
        return f"{text}."
    over = fruit_left - limit
    return f"{text}, {over} more than the limit." if over > 0 else f"{text}, within the limit."
