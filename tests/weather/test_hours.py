"""Measured hours: what readings become, which day they belong to, and that they are used."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from harvest.thermal import hourly_temperature
from harvest.weather.daily import DayHours
from harvest.weather.hours import (
    as_rows,
    day_hours,
    hourly_means,
    hours_of,
    solar_days,
    utc_days,
    within_days,
)


def test_readings_become_the_mean_around_each_full_hour() -> None:
    """Against pandas: the mean of the readings from half past to half past."""
    moments = pd.date_range("2024-03-30 22:00", periods=900, freq="5min")
    temp = np.random.default_rng(4).normal(8, 3, 900)
    hour, mean = hourly_means(moments.to_numpy().astype("datetime64[s]").astype(float), temp)
    around = pd.Series(temp, moments + pd.Timedelta(minutes=30)).groupby(lambda t: t.floor("h"))
    expected = around.mean()
    assert (hour.astype("datetime64[h]") == expected.index.to_numpy()).all()
    np.testing.assert_allclose(mean, expected.to_numpy(), atol=0.0051)


@pytest.mark.parametrize(("longitude", "later"), [(7.6, 1), (-120.0, -8), (151.2, 10), (0.0, 0)])
def test_hours_of_utc_stand_on_the_days_of_the_sun(longitude: float, later: int) -> None:
    utc = DayHours(np.datetime64("2024-06-01"), np.arange(72.0).reshape(3, 24))
    placed = solar_days(utc, longitude)
    moment = np.datetime64("2024-06-02T05") + np.timedelta64(later, "h")
    day = int((moment.astype("datetime64[D]") - placed.start).astype(int))
    assert placed.temp_c[day, int(moment.astype(object).hour)] == 29.0
    assert np.nansum(placed.temp_c) == np.arange(72).sum()
    back = solar_days(placed, -longitude).between(utc.start, 3)
    assert np.array_equal(back, utc.temp_c)


def test_rows_and_calendar_are_the_same_and_impossible_hours_are_left_out() -> None:
    hours = utc_days(np.array([474000, 474001, 474100]), np.array([3.5, 99.0, -2.0]))
    assert hours is not None
    again = day_hours(as_rows(hours))
    assert again is not None
    assert np.array_equal(again.temp_c, hours.temp_c, equal_nan=True)
    assert np.isfinite(hours.temp_c).sum() == 2


def test_measured_hours_are_used_and_the_others_are_worked_out() -> None:
    low, high, day = np.full(3, 4.0), np.full(3, 16.0), np.array([100, 101, 102])
    measured = np.full((3, 24), np.nan)
    measured[1, 5:9] = [1.0, 2.0, 3.0, 4.0]
    hours = hours_of(low, high, 47.0, day, measured)
    plain = hourly_temperature(low, high, 47.0, day)
    changed = np.flatnonzero(hours != plain)
    assert changed.tolist() == [29, 30, 31, 32]
    assert hours[29:33].tolist() == [1.0, 2.0, 3.0, 4.0]


def test_hours_of_a_station_are_drawn_into_the_days_of_the_site() -> None:
    course = 10 + 5 * np.cos(np.arange(24) / 24 * 2 * np.pi)
    drawn = within_days(
        DayHours(np.datetime64("2024-06-01"), course[None]), np.array([2.0]), np.array([8.0])
    )
    assert (drawn.temp_c.min(), drawn.temp_c.max()) == (2.0, 8.0)
    assert np.corrcoef(drawn.temp_c[0], course)[0, 1] > 0.99999
