"""At picking: how to tell that fruit is ready, how to take it, how long and how cold it keeps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvest.care import texts

CUT = (
    "Cut the stem with clean secateurs rather than twist the fruit off, so that it keeps longer "
    "(common practice, no source)."
)
CAUTIONS = (texts.LADDER, texts.WEIGHT, texts.NOT_FOOD_SAFETY)


@dataclass(frozen=True, slots=True)
class AtPicking:
    """What to look for and to do when one species is picked."""

    species: str
    signs: str
    how: str
    keeps: str
    source: str
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def says(self) -> tuple[str, ...]:
        """The advice, a sentence each."""
        return (f"Ready: {self.signs}.", self.how, self.keeps)


def at_picking(species: pd.DataFrame) -> dict[str, AtPicking]:
    """The advice of each species, from the species table."""
    found = {}
    for row in species.to_dict("records"):
        weeks = (row["storage_weeks_low"], row["storage_weeks_high"])
        cold = (row["storage_temp_c_low"], row["storage_temp_c_high"])
        found[str(row["species"])] = AtPicking(
            species=str(row["species"]),
            signs=str(row["maturity_signs"]).rstrip("."),
            how=CUT,
            keeps=_keeps(weeks, cold),
            source=str(row["source"]),
        )
    return found


def _keeps(weeks: tuple[float, float], cold: tuple[float, float]) -> str:
    if np.isnan(weeks).any():
        return "How long it keeps is unknown."
    span = f"{weeks[0]:g}" if weeks[0] == weeks[1] else f"{weeks[0]:g} to {weeks[1]:g}"
    if np.isnan(cold).any():
        return f"Keeps {span} weeks; at what temperature is unknown."
    degrees = f"{cold[0]:g}" if cold[0] == cold[1] else f"{cold[0]:g} to {cold[1]:g}"
    return f"Keeps {span} weeks at {degrees} °C, by cultivar."
