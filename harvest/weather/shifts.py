"""Sources that run a day early or late, seen by how their changes follow a more trusted source."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvest.weather.daily import TEMPERATURES, Floats, Ints, on_calendar
from harvest.weather.rules import SHIFTED, found_rows, nothing_found, without_confirmed

# Ours: a month whose day-to-day changes follow another source better a day earlier or later,
# where the two are related in most months.
LEAST_SHIFT_DAYS = 20
SHIFT_CORRELATION, SHIFT_GAIN = 0.6, 0.25


def find_shifted(days: pd.DataFrame, trusted: pd.DataFrame) -> pd.DataFrame:
    """Months in which one source runs a day early or late against a more trusted one.

    Parameters
    ----------
    days, trusted : columns date, tmin_c, tmax_c [degC]; in `days` also confirmed, if known.

    Returns columns date, column, value, rule, as `harvest.weather.checks.find_suspect`.
    """
    if days.empty or trusted.empty:
        return nothing_found()
    own = on_calendar(days)
    other = on_calendar(trusted).between(own.start - 1, len(own) + 2)
    months = own.dates.astype("datetime64[M]").astype(np.int64)
    months -= months[0]
    parts = []
    for name in TEMPERATURES:
        steps = np.diff(own.columns[name], prepend=np.nan)
        far = np.diff(other.columns[name], prepend=np.nan)
        late, same, early = (
            _correlation(steps, far[1 + lag : 1 + lag + len(own)], months) for lag in (-1, 0, 1)
        )
        best = np.fmax(late, early)
        related = np.nanmedian(np.append(np.fmax(best, same), -1.0)) >= SHIFT_CORRELATION
        off = related & (best >= SHIFT_CORRELATION) & (best - same >= SHIFT_GAIN)
        marked = off[months] & ~np.isnan(own.columns[name])
        if marked.any():
            parts.append(found_rows(own, name, marked, SHIFTED))
    return without_confirmed(parts, days)


def _correlation(a: Floats, b: Floats, group: Ints) -> Floats:
    """Correlation of a and b within each group, shape (groups,); nan with too few pairs."""
    groups = int(group.max()) + 1
    both = ~np.isnan(a) & ~np.isnan(b)
    a, b, group = a[both], b[both], group[both]
    count = np.bincount(group, minlength=groups).astype(float)

    def total(values: Floats) -> Floats:
        return np.asarray(np.bincount(group, values, minlength=groups), dtype=np.float64)

    with np.errstate(invalid="ignore", divide="ignore"):
        cov = total(a * b) / count - total(a) * total(b) / count**2
        size = np.sqrt(
            (total(a * a) / count - (total(a) / count) ** 2)
            * (total(b * b) / count - (total(b) / count) ** 2)
        )
        out = np.where(size > 0, cov / size, np.nan)
    return np.where(count >= LEAST_SHIFT_DAYS, out, np.nan)
