"""How far the trees of a site stand apart, by their rows and places and the site's spacing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Spots:
    """Where the trees of a site stand; nan for what is not on record.

    `row` and `place`, shape (trees,); the spacing of rows and of trees in them is the site's [m].
    """

    row: Floats
    place: Floats
    row_spacing_m: float
    tree_spacing_m: float

    def rows_from(self, at: int) -> Floats:
        """Rows between one of the trees and each; nan where a row is not on record."""
        return np.asarray(np.abs(self.row - self.row[at]))

    def places_from(self, at: int) -> Floats:
        """Places along the row; nan where a place is not on record."""
        return np.asarray(np.abs(self.place - self.place[at]))

    def metres_from(self, at: int) -> Floats:
        """Straight distance [m]; nan where a row, a place or a spacing that counts is missing."""
        rows, places = self.rows_from(at), self.places_from(at)
        across = np.where(rows == 0, 0.0, rows * self.row_spacing_m)
        along = np.where(places == 0, 0.0, places * self.tree_spacing_m)
        return np.hypot(across, along)
