"""Whether days of weather can be of a site at all: the warm half of its year tells which half of
the world they were measured in."""

from __future__ import annotations

import numpy as np
import pandas as pd

SUMMER_NORTH, SUMMER_SOUTH = (6, 7, 8), (12, 1, 2)
# Days of each season that are enough to tell [d], by how much the warm one is warmer [degC], and
# nearer to the equator than which seasons tell nothing [deg]: ours.
ENOUGH_DAYS, CLEARLY_C, TROPICS = 60, 3.0, 15.0
OTHER_HALF = (
    "These days are warmest when it is winter at the site: either they are of another place, and "
    "the import is to be undone, or the site's latitude has the wrong sign (south is below 0)."
)


def of_the_other_half(days: pd.DataFrame, latitude: float) -> bool:
    """Whether days (columns date, tmin_c, tmax_c) have their summer in the other half's.

    False where too few days tell, or the site [deg] lies near the equator.
    """
    if abs(latitude) < TROPICS or days.empty:
        return False
    mean = ((days["tmin_c"] + days["tmax_c"]) / 2).to_numpy(dtype=float)
    month = pd.DatetimeIndex(days["date"]).month
    parts = [mean[month.isin(part) & ~np.isnan(mean)] for part in (SUMMER_NORTH, SUMMER_SOUTH)]
    if min(map(len, parts)) < ENOUGH_DAYS:
        return False
    north_warmer = float(parts[0].mean() - parts[1].mean())
    return bool(north_warmer * np.sign(latitude) < -CLEARLY_C)
