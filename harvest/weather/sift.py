"""One place's record from all its sources: each checked, what is suspect left out, the rest merged.

Worked out from the days handed in and nothing else, so that a record cut off at a day never
depends on what came later.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvest.weather.checks import find_suspect
from harvest.weather.climate import Climate, climate_of
from harvest.weather.daily import TEMPERATURES, on_calendar
from harvest.weather.merge import merge_sources
from harvest.weather.rules import FOUND
from harvest.weather.shifts import find_shifted


@dataclass(frozen=True)
class Sifted:
    """`merged`: one row per day as `merge_sources` gives it; `suspect`: source, date, column,
    value, rule of everything that was left out."""

    merged: pd.DataFrame
    suspect: pd.DataFrame


def sift_sources(days: pd.DataFrame, trust: Sequence[str]) -> Sifted:
    """Check the sources of one place, most trusted first, and merge what stands.

    Parameters
    ----------
    days : columns date, source, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h],
        confirmed (bool).
    trust : source names, most trusted first.
    """
    own = {str(name): rows for name, rows in days.groupby("source", sort=True)}
    order = [name for name in dict.fromkeys(trust) if name in own]
    order += [name for name in own if name not in order]
    climate = _longest_climate(own)
    suspect: list[pd.DataFrame] = []
    clean: list[pd.DataFrame] = []
    for name in order:
        found = find_suspect(own[name], climate)
        kept = _left_out(own[name], found)
        for trusted in clean:
            late = find_shifted(kept, trusted)
            if not late.empty:
                found = pd.concat([found, late], ignore_index=True)
                kept = _left_out(kept, late)
        suspect.append(found.assign(source=name))
        clean.append(kept)
    merged = merge_sources(pd.concat(clean) if clean else days, order)
    columns = ["source", *FOUND]
    listed = pd.concat(suspect, ignore_index=True) if suspect else pd.DataFrame(columns=columns)
    return Sifted(merged, listed[columns].sort_values(["date", "source"], ignore_index=True))


def _longest_climate(own: dict[str, pd.DataFrame]) -> Climate | None:
    """Climate of the longest of several records, for those too short to have one."""
    if len(own) < 2:
        return None
    longest = max(own.values(), key=len)
    return climate_of(on_calendar(longest))


def _left_out(days: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    """The days without what was found: a day suspect in one temperature loses both."""
    if found.empty:
        return days
    days = days.copy()
    warm = found["column"].isin(TEMPERATURES)
    days.loc[days["date"].isin(found.loc[warm, "date"]), list(TEMPERATURES)] = np.nan
    for name, own in found[~warm].groupby("column"):
        days.loc[days["date"].isin(own["date"]), name] = np.nan
    return days
