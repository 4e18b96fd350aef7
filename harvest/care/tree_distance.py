"""How far two trees of a site stand apart, by their rows and places and the site's spacing."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, isnan


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a tree stands at its site; nan for what is not on record."""

    row: float
    place: float
    row_spacing_m: float
    tree_spacing_m: float

    def rows_from(self, other: Spot) -> int | None:
        """Rows between this spot and another; None where a row is not on record."""
        return _apart(self.row, other.row)

    def places_from(self, other: Spot) -> int | None:
        """Places along the row; None where a place is not on record."""
        return _apart(self.place, other.place)

    def metres_from(self, other: Spot) -> float | None:
        """Straight distance [m]; None where a row, a place or a spacing that counts is missing."""
        rows, places = self.rows_from(other), self.places_from(other)
        if rows is None or places is None:
            return None
        across = rows * self.row_spacing_m if rows else 0.0
        along = places * self.tree_spacing_m if places else 0.0
        metres = hypot(across, along)
        return None if isnan(metres) else metres


def _apart(one: float, other: float) -> int | None:
    apart = abs(one - other)
    return None if isnan(apart) else int(apart)
