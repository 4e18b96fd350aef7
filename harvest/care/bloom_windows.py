"""From first open flowers (BBCH 61) to fading (67): logged, or around a full bloom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from harvest.care.outlook import HIGH, LOW, TreeSeason

# From 61 to full bloom and from there to 67 [d]: from memory.
OPENS_BEFORE, FADES_AFTER = 4, 5
FIRST, FULL, FADING = (60, 61), 65, (67, 69)


@dataclass(frozen=True, slots=True)
class BloomWindow:
    """When a tree's flowers are open to pollen, and where that comes from."""

    first: date
    last: date
    basis: Literal["logged", "around the logged full bloom", "forecast"]
    give_or_take_days: int
    """8 in 10: the window lies within so many days of where it is shown."""

    @property
    def days(self) -> int:
        """Length [d], both ends counted."""
        return (self.last - self.first).days + 1

    def overlap(self, other: BloomWindow) -> int:
        """Days both are open [d]."""
        return max(0, (min(self.last, other.last) - max(self.first, other.first)).days + 1)


def bloom_window(tree: TreeSeason, logged: Mapping[int, date]) -> BloomWindow | None:
    """The window of one tree's season; None where its bloom is not known.

    Parameters
    ----------
    logged : the first day on which each stage (BBCH) was logged on the tree in the season.
    """
    opened = next((logged[code] for code in reversed(FIRST) if code in logged), None)
    faded = next((logged[code] for code in FADING if code in logged), None)
    if opened and faded and opened <= faded:
        return BloomWindow(opened, faded, "logged", 0)
    middle, low, high = (tree.bloom.quantile(level) for level in (0.5, LOW, HIGH))
    if middle is None or low is None or high is None:
        return None
    first = opened if opened and opened <= middle else middle - timedelta(days=OPENS_BEFORE)
    last = faded if faded and faded >= middle else middle + timedelta(days=FADES_AFTER)
    seen = tree.bloom.status == "observed"
    return BloomWindow(
        first,
        last,
        "around the logged full bloom" if seen else "forecast",
        0 if seen else max((middle - low).days, (high - middle).days),
    )
