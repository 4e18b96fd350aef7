"""Days on an unbroken calendar, against pandas reindexing the same rows."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from harvest.weather.daily import COLUMNS, Daily, DayHours, on_calendar

FIRST = date(2023, 12, 28)


@settings(max_examples=30, deadline=None)
@given(st.sets(st.integers(0, 20), min_size=1), st.integers(-30, 50), st.integers(0, 40))
def test_any_span_of_days_is_what_pandas_reindexes(held: set[int], begin: int, count: int) -> None:
    dates = pd.DatetimeIndex([FIRST + timedelta(days=at) for at in held])
    rows = pd.DataFrame({name: np.arange(len(held)) + 0.5 for name in COLUMNS}, index=dates)
    days = on_calendar(rows.reset_index(names="date"))
    first = FIRST + timedelta(days=begin)
    wanted = rows.reindex(pd.date_range(first, periods=count))
    part = days.between(first, count)
    assert (part.start, len(part)) == (np.datetime64(first, "D"), count)
    for name in COLUMNS:
        expected = wanted[name].to_numpy()
        np.testing.assert_array_equal(days.values(name, first, count), expected)
        np.testing.assert_array_equal(part.columns[name], expected)
    assert days.years == range(dates.min().year, dates.max().year + 1)
    assert [days.position(day) for day in days.dates.tolist()] == list(range(len(days)))


def test_hours_keep_their_own_days_whatever_span_is_asked_for() -> None:
    hours = DayHours(np.datetime64("2024-01-01"), np.arange(48.0).reshape(2, 24))
    low = np.zeros(3)
    days = Daily(np.datetime64(FIRST, "D"), {"tmin_c": low, "tmax_c": low})
    assert np.isnan(days.measured_hours(FIRST, 3)).all()
    with_hours = replace(days, hours=hours)
    for each in (with_hours, with_hours.between(date(2020, 5, 1), 4)):
        seen = each.measured_hours(date(2023, 12, 31), 3)
        assert np.isnan(seen[0]).all()
        np.testing.assert_array_equal(seen[1:], hours.temp_c)
