"""Dates of many trees at once say what each tree's own says."""

from __future__ import annotations

from datetime import date

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from harvest.care.outlook import UNKNOWN, DateOutlook, quantile_days, seen_on

LEVELS = (0.1, 0.5, 0.9)
DAYS = st.dates(date(2020, 1, 1), date(2030, 12, 31))


@st.composite
def forecasts(draw: st.DrawFn) -> DateOutlook:
    """Chances of so many days ahead, some of them beyond."""
    parts = draw(st.lists(st.integers(0, 9), min_size=1, max_size=12))
    chances = np.array(parts, dtype=float) / (sum(parts) + draw(st.integers(1, 3)))
    return DateOutlook("forecast", first=draw(DAYS), chances=chances)


@given(st.lists(st.one_of(DAYS.map(seen_on), forecasts(), st.just(UNKNOWN)), max_size=8))
def test_many_dates_at_once_are_those_of_each(outlooks: list[DateOutlook]) -> None:
    found = quantile_days(outlooks, LEVELS)
    assert found.shape == (len(outlooks), len(LEVELS))
    for own, days in zip(outlooks, found.tolist(), strict=True):
        told = [None if np.isnan(day) else date.fromordinal(int(day)) for day in days]
        assert told == [own.quantile(level) for level in LEVELS]
