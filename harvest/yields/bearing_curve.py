"""What age, vigour and species lead one to expect of a tree, before anything was picked from it.

A curve rises in a straight line from nothing, the leaf before the first crop, to the mature crop
at full bearing; both leaves and the mature crop [kg] are the middle of the reference tables'
ranges. The straight line is common practice, no source: the tables give its ends, and the
orchard's own crops soon outweigh it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from harvest.seasons import Floats, Ints

# Taken where the vigour is not on record, or the tables leave the vigour out.
USUAL_VIGOUR = "semi-dwarf"
ORDER = ("semi-dwarf", "standard", "dwarf")
# A leaf short of the first crop is not expected to bear nothing at all: odd fruit are picked.
LEAST_SHARE = 0.05


class Curve(NamedTuple):
    """First crop and full bearing [leaf], mature crop [kg]: low and high of the tables."""

    first_leaf: float
    full_leaf: float
    mature_kg: float
    mature_low_kg: float
    mature_high_kg: float


@dataclass(frozen=True)
class TreeCurves:
    """The curve of each tree, shape (trees,): see `Curve`; nan where the species has none."""

    first_leaf: Floats
    full_leaf: Floats
    mature_kg: Floats

    def share(self, tree: Ints, leaf: ArrayLike) -> Floats:
        """Share of the mature crop [1] expected of a tree's leaf, `LEAST_SHARE` to 1.

        `tree` numbers of trees and `leaf`, same shape. A species without a curve counts as mature.
        """
        first, full = self.first_leaf[tree], self.full_leaf[tree]
        rise = (np.asarray(leaf, dtype=float) - first + 1) / (full - first + 1)
        return np.where(np.isnan(rise), 1.0, np.clip(rise, LEAST_SHARE, 1.0))

    def bearing(self, tree: Ints, leaf: ArrayLike) -> np.ndarray[Any, np.dtype[np.bool_]]:
        """Whether a tree is of an age to bear: at or past the leaf of its first crop."""
        return ~(np.asarray(leaf, dtype=float) < np.floor(self.first_leaf[tree]))


def tree_curves(trees: pd.DataFrame, species: pd.DataFrame, curves: pd.DataFrame) -> TreeCurves:
    """The curve of every tree from the reference tables.

    Parameters
    ----------
    trees : columns species, vigour.
    species, curves : the tables species.csv and bearing_curves.csv of data/reference.
    """
    known = _Lookup(species, curves)
    kinds = trees[["species", "vigour"]].astype(object)
    code, unique = pd.factorize(pd.MultiIndex.from_frame(kinds.where(kinds.notna(), "")))
    found = np.array([known.of(name, vigour) for name, vigour in unique]).reshape(-1, 5)[code]
    return TreeCurves(found[:, 0], found[:, 1], found[:, 2])


class _Lookup:
    def __init__(self, species: pd.DataFrame, curves: pd.DataFrame) -> None:
        self._species = {row["species"]: row for row in species.to_dict("records")}
        self._full = {
            (row["species"], row["vigour"]): _middle(row, "full_bearing_leaf")
            for row in curves.to_dict("records")
        }

    def of(self, name: str, vigour: str) -> Curve:
        """The curve of a species and vigour, of the likest vigour where its own is not known."""
        row = self._species.get(name)
        nothing = Curve(*[np.nan] * 5)
        if row is None:
            return nothing
        for kind in (vigour or USUAL_VIGOUR, *ORDER):
            key = kind.replace("-", "_")
            first = _middle(row, f"bearing_age_years_{key}")
            mature = _middle(row, f"yield_kg_{key}")
            full = self._full.get((name, kind), self._full.get((name, "any"), np.nan))
            if not np.isnan([first, mature, full]).any():
                low, high = (float(row[f"yield_kg_{key}_{end}"]) for end in ("low", "high"))
                return Curve(first, max(full, first), mature, low, high)
        return nothing


def _middle(row: dict[Any, Any], name: str) -> float:
    return (float(row[f"{name}_low"]) + float(row[f"{name}_high"])) / 2
