"""Trees whose picking forecast reaches into a withholding period: blocked, never shifted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from dashboard.data import EventForecast, Withholding

TreeSeason = tuple[str, int]
# A tree that is ripe before the period ends with less chance than this is not called blocked [1].
EARLIEST = 0.05


@dataclass(frozen=True)
class Block:
    """A tree whose fruit is, or may be, ripe while it may not be picked."""

    tree: str
    until: date | None
    """First day on which it may be picked again; None while a label is unread."""


def blocks(
    events: Iterable[EventForecast], answers: Iterable[Withholding]
) -> dict[TreeSeason, Block]:
    """Trees and seasons whose fruit is or may be ripe inside a period that is running."""
    held = {answer.tree: answer for answer in answers if answer.clashes_with_forecast}
    found = {}
    for event in events:
        answer = held.get(event.tree)
        if event.event != "ripe" or answer is None:
            continue
        until = answer.earliest_pick
        ripens_after = (
            until is not None and event.status == "forecast" and event.quantiles[EARLIEST] >= until
        )
        if not ripens_after:
            found[event.tree, event.season] = Block(event.tree, until)
    return found
