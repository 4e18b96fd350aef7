"""One screen of what to do this week, what cannot wait first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from harvest.care import texts
from harvest.care.calendar_items import CalendarItem
from harvest.care.withholding import Withholding

WEEK_DAYS = 7
# Picks inside a period are shown on this screen for so long [d]; 'withholding' shows them longer.
RECENT_DAYS = 31
# Taking fruit off still spares a tree when its last day has passed, and is asked for so long after
# [d]: common practice, no source.
LATE_DAYS = 28
HELPS_LATE = ("strip", "limit")
LATE = "Its last day has passed: taking fruit off now still spares the tree, but less."
# Work that may be done any time in a long window is shown in its first and its last week only.
ANY_TIME = 4


@dataclass(frozen=True, slots=True)
class WeekTask:
    """One thing to do this week, or to leave."""

    rank: int
    """0 harm is possible, 1 a lost day does harm, 2 a deadline, 3 this week, 4 some time."""
    by: date | None
    """The day by which it is to be done; None where there is none."""
    title: str
    site: str
    what: str
    trees: tuple[str, ...]
    says: tuple[str, ...]
    cautions: tuple[str, ...]
    code: str | None = None
    source: str = ""
    not_before: date | None = None
    """The first day on which it is allowed by the labels as logged: of fruit not to be picked."""
    overdue: bool = False
    """Whether the day by which it was to be done has passed."""


def week_tasks(
    items: Sequence[CalendarItem], held: Sequence[Withholding], as_of: date
) -> list[WeekTask]:
    """What this week asks for, what cannot wait first, then by its last day.

    Parameters
    ----------
    items : calendar items, as marked. held : withholding of every tree. as_of : today.
    """
    end = as_of + timedelta(days=WEEK_DAYS - 1)
    tasks = [*_picked_inside(held, as_of), *_blocked(held, end)]
    for item in items:
        since = (as_of - item.last_day).days
        late = item.item in HELPS_LATE and 0 < since <= LATE_DAYS
        if item.status == "done" or not (late or item.on(as_of, end)):
            continue
        ends = item.last_day <= end
        if item.urgency >= ANY_TIME and not ends and item.first_day < as_of - timedelta(days=7):
            continue
        tasks.append(
            WeekTask(
                rank=min(item.urgency, 2) if ends else item.urgency,
                by=item.last_day,
                title=item.title,
                site=item.site,
                what=item.what,
                trees=item.trees,
                says=(f"{item.todo.rstrip('.')}.", *((LATE,) if late else ()), *item.notes),
                cautions=item.cautions,
                code=item.code,
                source=item.source,
                overdue=late,
            )
        )
    return sorted(
        tasks,
        key=lambda task: (task.rank, task.by or task.not_before or date.max, task.site, task.title),
    )


def _picked_inside(held: Sequence[Withholding], as_of: date) -> list[WeekTask]:
    return [
        _task(row, 0, None, "Picked inside a withholding period", (pick.says,))
        for row in held
        for pick in row.picked_inside
        if (as_of - pick.date).days <= RECENT_DAYS
    ]


def _blocked(held: Sequence[Withholding], end: date) -> list[WeekTask]:
    """Trees whose fruit is ripe, or may be by the week's end, and may not be picked."""
    tasks = []
    for row in held:
        if row.status == "clear" or not row.clashes_with_forecast:
            continue
        if row.ripe_from is not None and row.ripe_from > end:
            continue
        until = row.earliest_pick or row.not_before
        picked = {pick.says for pick in row.picked_inside}
        says = tuple(text for text in row.says if text not in picked)
        tasks.append(_task(row, 0, until, "Do not pick", says))
    return tasks


def _task(
    row: Withholding, rank: int, not_before: date | None, title: str, says: tuple[str, ...]
) -> WeekTask:
    return WeekTask(
        rank=rank,
        by=None,
        title=title,
        site=row.site,
        what=f"{row.species} {row.cultivar}",
        trees=(row.tree,),
        says=says,
        cautions=(texts.LABEL_IS_LAW,),
        not_before=not_before,
    )
