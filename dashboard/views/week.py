"""What this week asks for, alike things together, in the order of what cannot wait."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from dashboard.address import View
from dashboard.data import WeekTask

DO_NOT_PICK = "Do not pick"
ABOUT_FRUIT = ("Pick", "Test for ripeness")
PRESSING = 1
"""Ranks up to this one cannot wait."""
LAST_DAY = 2
"""Ranks up to this one have a day by which they are to be done."""


@dataclass(frozen=True)
class Together:
    """Things of one kind at one site that press alike."""

    rank: int
    title: str
    site: str
    tasks: tuple[WeekTask, ...]

    @property
    def by(self) -> date | None:
        """The first of their last days."""
        days = (task.by or task.not_before for task in self.tasks)
        return min((each for each in days if each), default=None)


def held_of(task: WeekTask, held: Iterable[str]) -> list[str]:
    """Trees of a task about fruit that may not be picked."""
    return sorted(set(task.trees).intersection(held)) if task.title in ABOUT_FRUIT else []


def passing(tasks: Iterable[WeekTask], trees: Iterable[str], view: View) -> list[WeekTask]:
    """Tasks that pass the view's filters; `trees` are those that do."""
    kept = set(trees)
    return [
        task
        for task in tasks
        if view.site in (None, task.site)
        and (not view.filtered or not task.trees or kept.intersection(task.trees))
    ]


def together(tasks: Sequence[WeekTask]) -> list[Together]:
    """Tasks gathered by how they press, what they are and where; most pressing first."""
    groups: dict[tuple[int, str, str], list[WeekTask]] = defaultdict(list)
    for task in tasks:
        groups[task.rank, task.title, task.site].append(task)
    found = [Together(*key, tuple(own)) for key, own in groups.items()]
    return sorted(found, key=lambda each: (each.rank, each.by or date.max, each.site, each.title))


def cautions(tasks: Iterable[WeekTask]) -> list[str]:
    """Every caution of the tasks, once."""
    return list(dict.fromkeys(text for task in tasks for text in task.cautions))
