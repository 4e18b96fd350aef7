"""Heat that waits for the winter's chill: when it counts, in both hemispheres."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.phenology.clocks import (
    LEAST_PROGRESS,
    chill_then_heat_clock,
    chill_with_heat_clock,
    day_slots,
    degree_day_clock,
    heat_clocks,
)
from harvest.phenology.site_weather import SiteWeather
from harvest.phenology.winter_chill import UNCHILLED, chill_by_day, released
from harvest.thermal import chill_portions, hourly_temperature

NORTH, SOUTH = 47.5, -47.5
START = {NORTH: np.datetime64("2000-07-01"), SOUTH: np.datetime64("2000-01-01")}
AUTUMN = {NORTH: np.datetime64("2000-10-01"), SOUTH: np.datetime64("2000-04-01")}
DAYS = 900


def year_of_days(latitude: float) -> tuple[np.ndarray, np.ndarray]:
    """Invented temperatures that are coldest half a year after the series begins."""
    at = np.arange(DAYS) * 2 * np.pi / 365.25
    mean = 10 + 9 * np.cos(at)
    return mean - 5, mean + 5


def clocks_of(latitude: float) -> list[np.ndarray]:
    low, high = year_of_days(latitude)
    weather = SiteWeather(START[latitude], low, high, np.full(DAYS, "", dtype=object), 2.5)
    kinds = [degree_day_clock(4), chill_then_heat_clock(40, 4), chill_with_heat_clock(40, 4)]
    return [np.diff(clock.past) for clock in heat_clocks(weather, latitude, kinds, None)]


@pytest.mark.parametrize("latitude", [NORTH, SOUTH])
def test_a_winter_begins_in_october_in_the_south_in_april(latitude: float) -> None:
    hours = np.full((DAYS, 24), 6.0)
    chill = chill_by_day(START[latitude], hours, latitude)
    first = int((AUTUMN[latitude] - START[latitude]).astype(int))
    assert np.isnan(chill[:first]).all()
    whole = chill_portions(np.full(365 * 24, 6.0))[23::24]
    np.testing.assert_array_equal(chill[first : first + 365], whole)
    assert chill[first + 365] < 1


def test_a_missing_hour_leaves_the_rest_of_its_winter_unknown_and_no_other() -> None:
    hours = np.full((DAYS, 24), 6.0)
    hours[200, 3] = np.nan
    chill = chill_by_day(START[NORTH], hours, NORTH)
    first = int((AUTUMN[NORTH] - START[NORTH]).astype(int))
    known = ~np.isnan(chill)
    assert known[first:200].all()
    assert not known[200 : first + 365].any()
    assert known[first + 365 :].all()


def test_heat_counts_once_the_chill_is_there_or_as_far_as_it_is() -> None:
    plain, after, beside = clocks_of(NORTH)
    first = int((AUTUMN[NORTH] - START[NORTH]).astype(int))
    winter = slice(first, first + 365)
    heat = plain[winter] - LEAST_PROGRESS
    counted = after[winter] - LEAST_PROGRESS
    numbers = START[NORTH].astype(np.int64) + np.arange(DAYS)
    hours = hourly_temperature(*year_of_days(NORTH), NORTH, day_slots(numbers) + 1)
    met = int(np.argmax(chill_portions(hours[24 * first :])[23::24] >= 40))
    np.testing.assert_allclose(counted[:met], 0.0, atol=1e-9)
    np.testing.assert_allclose(counted[met:], heat[met:], atol=1e-9)
    share = (beside[winter] - LEAST_PROGRESS)[heat > 1] / heat[heat > 1]
    assert share[0] == pytest.approx(UNCHILLED, abs=0.01)
    assert share[-1] == pytest.approx(1.0)


def test_the_south_is_the_norths_mirror() -> None:
    """The same days half a year earlier on the calendar give the same counts, near enough: the
    months differ by a day or two in length, and so does the hour of sunrise."""
    for north, south in zip(clocks_of(NORTH), clocks_of(SOUTH), strict=True):
        assert south[300:600].sum() == pytest.approx(north[300:600].sum(), rel=0.03)


@given(
    chill=st.lists(st.floats(0, 120), min_size=2, max_size=20),
    need=st.floats(10, 90),
    sequential=st.booleans(),
)
def test_more_chill_never_lets_less_heat_count(
    chill: list[float], need: float, sequential: bool
) -> None:
    share = released(np.sort(np.array(chill)), need, sequential=sequential)
    assert (np.diff(share) >= 0).all()
    assert ((share >= 0) & (share <= 1)).all()
