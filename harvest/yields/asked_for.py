"""What the grower is asked for: what is not on record of a young tree and would change its advice.

Signs are kept as events with a note of a fixed form, which `tree_facts` reads back.
"""

from __future__ import annotations

from typing import NamedTuple

from harvest.errors import InputError, QuantityError
from harvest.yields import wording
from harvest.yields.tree_facts import TreeFacts

# Leaves in which a tree must be known to stand firm, and up to which its shoots tell its strength.
STAKED_LEAVES, GROWING_LEAVES = 3, 7
MOST_SHOOT_CM = 300.0


class Sign(NamedTuple):
    """Something a grower sees on a tree, and the event it is kept as."""

    event: str
    note: str


SIGNS = {
    "weak growth": Sign("other", "weak growth"),
    "leaning": Sign("other", "leaning or not staked"),
    "drought": Sign("drought", "drought stress"),
    "transplant": Sign("other", "transplanted this winter"),
    "leader": Sign("other", "the leader would carry fruit"),
    "firm": Sign("other", "stands firm and grows well"),
}


def asked_for(tree: TreeFacts) -> tuple[str, ...]:
    """Questions about a tree that is not yet grown, the one that matters most first."""
    if tree.leaf > GROWING_LEAVES:
        return ()
    asked = []
    if tree.vigour is None:
        asked.append(wording.RECORD_THE_VIGOUR)
    if tree.trunk is None or tree.trunk.tcsa_cm2 is None:
        asked.append(f"{wording.HOW_TO_MEASURE}.")
    if tree.leaf <= STAKED_LEAVES and not tree.stand_known:
        asked.append("Does it stand firm, staked and upright?")
    if tree.shoot_cm is None and tree.leaf > 1:
        asked.append("How long did its shoots grow last season [cm]?")
    return tuple(asked)


def sign_cells(sign: str, shoot_cm: float | None) -> dict[str, str]:
    """Event and note under which a sign is kept; `sign` is one of `SIGNS`, or "shoots".

    Raises InputError for another sign, QuantityError for a length of shoots that cannot be.
    """
    if sign == "shoots":
        if shoot_cm is None or not 0 < shoot_cm <= MOST_SHOOT_CM:
            raise QuantityError(
                f"a shoot length above 0 and up to {MOST_SHOOT_CM:g} cm is needed",
                given="nothing" if shoot_cm is None else f"{shoot_cm:g} cm",
            )
        return {"event": "other", "note": f"shoot growth {shoot_cm:g} cm"}
    if sign not in SIGNS:
        raise InputError(f"a sign is one of {', '.join(SIGNS)}, shoots", given=sign)
    return SIGNS[sign]._asdict()
