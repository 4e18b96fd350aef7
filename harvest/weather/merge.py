"""Several sources of one place made into one series, by an order of trust."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from harvest.weather.daily import COLUMNS, TEMPERATURES, as_days, on_calendar

MERGED = ["date", *COLUMNS, "source"]
OTHERS = tuple(name for name in COLUMNS if name not in TEMPERATURES)


def merge_sources(days: pd.DataFrame, trust: Sequence[str]) -> pd.DataFrame:
    """One row per day: the most trusted source that has it.

    Minimum and maximum are taken together, from the first source that has both; where none has
    both, from the first that has one of them, the other stays missing. Rain and wind are
    each taken from the first source that has it. A suspect value must come in as missing.

    Parameters
    ----------
    days : rows of one place, columns date, source, tmin_c, tmax_c [degC], precip_mm [mm],
        wind_kmh [km/h]; each source at most once a day.
    trust : source names, most trusted first; sources that are not named follow, by name.

    Returns
    -------
    Columns date, tmin_c, tmax_c, precip_mm, wind_kmh, source (of the temperatures, else of the
    rain, else of the wind), sorted by date; days without any value are left out.
    """
    known = set(days["source"])
    order = [name for name in dict.fromkeys(trust) if name in known]
    order += sorted(known - set(order))
    if days.empty:
        return pd.DataFrame({name: pd.Series(dtype=object) for name in MERGED})
    dates = as_days(days["date"].to_numpy())
    start, length = dates.min(), int((dates.max() - dates.min()).astype(np.int64)) + 1
    out = {name: np.full(length, np.nan) for name in COLUMNS}
    named = np.full(length, -1)
    spread = [on_calendar(days[days["source"] == name]).between(start, length) for name in order]
    for whole in (False, True):  # halves first, so that whole pairs go over them
        for rank in range(len(order) - 1, -1, -1):
            low, high = (spread[rank].columns[name] for name in TEMPERATURES)
            there = ~np.isnan(low) & ~np.isnan(high) if whole else ~np.isnan(low) | ~np.isnan(high)
            out["tmin_c"][there], out["tmax_c"][there], named[there] = low[there], high[there], rank
    for name in OTHERS:
        given = np.full(length, -1)
        for rank in range(len(order) - 1, -1, -1):
            values = spread[rank].columns[name]
            there = ~np.isnan(values)
            out[name][there], given[there] = values[there], rank
        named = np.where(named >= 0, named, given)
    kept = np.flatnonzero(named >= 0)
    merged = pd.DataFrame({"date": (start + kept).astype("datetime64[s]")})
    for name in COLUMNS:
        merged[name] = out[name][kept]
    merged["source"] = np.array(order, dtype=object)[named[kept]]
    return merged
