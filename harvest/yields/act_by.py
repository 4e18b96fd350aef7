"""Until when fruit are sensibly taken off: days from full bloom, by group of species."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from harvest.yields.because import Because
from harvest.yields.load_rules import COMMON, MEMORY
from harvest.yields.tree_facts import TreeFacts
from harvest.yields.wording import named, on


class Window(NamedTuple):
    """Last day for taking off fruit [d after full bloom], and why."""

    days: int
    why: str
    source: str


WINDOWS = {
    "pome": Window(
        42,
        "later than six weeks after bloom the flower buds of next season are set, and what comes"
        " off no longer helps them",
        "Virginia Cooperative Extension (tree fruit horticulture: flower buds of the next year"
        " begin two to six weeks after bloom)",
    ),
    "stone": Window(
        50,
        "the pits harden about then, and fruit left after that gain little size",
        MEMORY,
    ),
    "citrus": Window(
        75,
        "the natural drop is over about then and each fruit left costs the tree more",
        MEMORY,
    ),
    "other": Window(60, "small fruit cost the tree least", COMMON),
}


def act_by(tree: TreeFacts, group: str, what: str, because: Because) -> date | None:
    """Last sensible date for taking off fruit; None where the bloom or the group is not known.

    `what` is what comes off: "the fruit" or "the surplus".
    """
    window = WINDOWS.get(group)
    if window is None or tree.bloom is None:
        because.say(
            f"Until when to act cannot be said: the bloom of {named(tree.species)} here is not"
            " known. Log the full bloom, BBCH 65."
        )
        return None
    last = tree.bloom.day + timedelta(days=window.days)
    bloom = on(tree.bloom.day)
    rests_on = (
        f"full bloom on {bloom}"
        if tree.bloom.logged
        else f"the usual bloom of {named(tree.species)} here, about {bloom}, as this season's full"
        " bloom is not logged"
    )
    because.say(
        f"Take {what} off by {on(last)}, {window.days} days after {rests_on}: {window.why}.",
        window.source,
    )
    if tree.running and last < tree.day:
        because.say("That date has passed: taking fruit off now still spares the tree, but less.")
    return last
