"""Several sources of one place made into one series, by an order of trust."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from harvest.weather.daily import TEMPERATURES

MERGED = ["date", "tmin_c", "tmax_c", "precip_mm", "source"]


def merge_sources(days: pd.DataFrame, trust: Sequence[str]) -> pd.DataFrame:
    """One row per day: the most trusted source that has it.

    Minimum and maximum are taken together, from the first source that has both; where none has
    both, from the first that has one of them, the other stays missing. Rain is taken from the
    first source that has it. A suspect value must come in as missing.

    Parameters
    ----------
    days : rows of one place, columns date, source, tmin_c, tmax_c [degC], precip_mm [mm]; each
        source at most once a day.
    trust : source names, most trusted first; sources that are not named follow, by name.

    Returns
    -------
    Columns date, tmin_c, tmax_c, precip_mm, source (of the temperatures, else of the rain),
    sorted by date; days without any value are left out.
    """
    known = set(days["source"])
    order = [name for name in dict.fromkeys(trust) if name in known]
    order += sorted(known - set(order))
    rank = days["source"].map({name: place for place, name in enumerate(order)}).to_numpy()
    temperatures = days[list(TEMPERATURES)].notna().to_numpy()
    halves = temperatures.sum(axis=1)
    # 0 both temperatures, 1 one of them, 2 none: a whole pair goes before any half one.
    first = days.assign(_need=2 - halves, _rank=rank).sort_values(["date", "_need", "_rank"])
    first = first.drop_duplicates("date")
    merged = first.loc[:, ["date", *TEMPERATURES, "source"]]
    wet = days.assign(_rank=rank)[days["precip_mm"].notna()].sort_values(["date", "_rank"])
    rain = wet.drop_duplicates("date").set_index("date")
    merged = merged.join(rain["precip_mm"], on="date")
    dry = merged[list(TEMPERATURES)].isna().all(axis=1)
    merged["source"] = merged["source"].where(~dry, merged["date"].map(rain["source"]))
    merged = merged[merged["source"].notna()]
    return merged[MERGED].reset_index(drop=True).astype({"precip_mm": np.float64})
