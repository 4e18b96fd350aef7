"""Thinning plans in the order of what must be done next."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from dashboard.data import ThinningPlan

State = Literal["now", "soon", "little", "passed", "done"]
ORDER: tuple[State, ...] = ("now", "soon", "little", "passed", "done")
# Fruit to come, by the target, below which hardly any has to come off [judgement].
FEW = 0.8


@dataclass(frozen=True)
class Thinned:
    """A plan and how it stands on the day."""

    plan: ThinningPlan
    state: State


def plans_by_state(plans: Iterable[ThinningPlan], as_of: date) -> list[Thinned]:
    """Plans to be done now first, each kind by the day on which its time ends."""
    found = [Thinned(plan, _state(plan, as_of)) for plan in plans]
    return sorted(
        found,
        key=lambda each: (ORDER.index(each.state), each.plan.end or date.max, each.plan.tree),
    )


def _state(plan: ThinningPlan, as_of: date) -> State:
    if plan.done is not None:
        return "done"
    if plan.end is not None and plan.end < as_of:
        return "passed"
    to_come = plan.fruit_to_come
    if plan.target_fruit and to_come is not None and to_come < FEW * plan.target_fruit:
        return "little"
    return "soon" if plan.start is not None and plan.start > as_of else "now"
