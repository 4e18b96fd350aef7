"""Temperature through the day against Linvill's curve and a general-purpose library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import QuantityError
from harvest.thermal import day_length, hourly_temperature
from harvest.thermal.hourly import _Days, _hours
from tests.thermal.climate_library import climate_indices, labelled
from tests.thermal.reference_values import CheckValue, each

EQUATOR = 0.0  # 12 h of daylight all year round: sunrise at 6, sunset at 18


def of_one_day(tmin, tmax, following, daylight):
    """The 24 hours of a day between equal days, as the module makes them."""
    column = lambda value: np.array([[float(value)]])  # noqa: E731
    at_sunset = tmin + (tmax - tmin) * math.sin(math.pi * daylight / (daylight + 4))
    return _hours(
        _Days(
            low=column(tmin),
            high=column(tmax),
            next_low=column(following),
            daylight=column(daylight),
            sunset_temperature=column(at_sunset),
            daylight_before=column(daylight),
            sunset_temperature_before=column(at_sunset),
            daylight_after=column(daylight),
        )
    )[0]


@each("linvill_day")
def test_the_daytime_curve(check: CheckValue):
    at = check.numbers
    hour = 12 - at["DL"] / 2 + at["hours_after_sunrise"]
    day = hourly_temperature([at["Tmin"]], [at["Tmax"]], EQUATOR, [100])
    assert day_length(EQUATOR, 100) == pytest.approx(at["DL"])
    assert day[int(hour)] == check.approximately


@each("linvill_night")
def test_the_curve_through_the_night(check: CheckValue):
    at = check.numbers
    hours = hourly_temperature([5.0, at["Tmin_next"]], [20.0, 19.0], EQUATOR, [100, 101])
    assert hours[18 + int(at["hours_after_sunset"])] == check.approximately


@each("linvill_sunset_fraction")
def test_how_far_the_day_has_cooled_by_sunset(check: CheckValue):
    daylight = 8.0 if "DL=8" in check.inputs else 16.0
    sunset = int(12 + daylight / 2)
    day = of_one_day(0, 1, 0, daylight)
    assert day[sunset] == check.approximately


def test_agrees_with_a_climate_index_library():
    """Theirs begins each day at sunrise, so only the daylight hours can be laid over ours; at
    sunrise both are at the minimum. Their day length has its own declination of the sun."""
    rng = np.random.default_rng(3)
    days, latitude = 365, 0.0
    tmin = rng.uniform(-5, 15, days)
    tmax = tmin + rng.uniform(2, 18, days)
    with climate_indices():
        from xclim.indices.helpers import make_hourly_temperature

        low = labelled(tmin, "2001-01-01", "D").rename("tasmin")
        high = labelled(tmax, "2001-01-01", "D").rename("tasmax")
        coordinates = {"lat": ((), latitude, {"units": "degrees_north"})}
        theirs = make_hourly_temperature(
            low.assign_coords(coordinates), high.assign_coords(coordinates)
        ).to_numpy()
    ours = hourly_temperature(tmin, tmax, latitude, np.arange(1, days + 1))
    from_sunrise = ours[6:].tolist()
    for hour in range(12):
        np.testing.assert_allclose(
            from_sunrise[hour::24][: days - 1], theirs[hour::24][: days - 1], atol=0.05
        )


seasons = st.integers(1, 8).flatmap(
    lambda days: st.tuples(
        st.lists(st.floats(-30, 30), min_size=days, max_size=days),
        st.lists(st.floats(0, 25), min_size=days, max_size=days),
        st.floats(-90, 90),
        st.integers(1, 358),
    )
)


@given(seasons)
def test_never_outside_the_days_that_shape_it(season):
    low, swing, latitude, first = season
    tmin = np.array(low)
    tmax = tmin + np.array(swing)
    hours = hourly_temperature(tmin, tmax, latitude, first + np.arange(tmin.size))
    before, after = np.r_[0, 0 : tmin.size - 1], np.r_[1 : tmin.size, tmin.size - 1]
    coldest = np.minimum(np.minimum(tmin, tmin[before]), tmin[after])
    warmest = np.maximum(np.maximum(tmax, tmax[before]), tmin[after])
    by_day = hours.reshape(-1, 24)
    assert (by_day >= coldest[:, None] - 1e-9).all()
    assert (by_day <= warmest[:, None] + 1e-9).all()


@given(seasons, st.floats(-5, 5))
def test_a_shift_of_all_days_shifts_all_hours(season, shift):
    low, swing, latitude, first = season
    tmin = np.array(low)
    tmax = tmin + np.array(swing)
    days = first + np.arange(tmin.size)
    plain = hourly_temperature(tmin, tmax, latitude, days)
    moved = hourly_temperature(tmin + shift, tmax + shift, latitude, days)
    np.testing.assert_allclose(moved, plain + shift, atol=1e-9)


@given(st.floats(1, 60), st.integers(3, 360))
def test_a_southern_site_half_a_year_on_mirrors_a_northern_one(latitude, day):
    tmin, tmax = np.array([4.0, 6.0, 5.0]), np.array([15.0, 19.0, 14.0])
    north = hourly_temperature(tmin, tmax, latitude, [day, day, day])
    length = float(day_length(latitude, day))
    year = np.arange(1, 366)
    mirrored = year[np.argmin(np.abs(day_length(-latitude, year) - length))]
    south = hourly_temperature(tmin, tmax, -latitude, [mirrored] * 3)
    np.testing.assert_allclose(south, north, atol=0.35)  # days of the year are whole numbers


def test_minimum_at_sunrise_and_maximum_two_hours_after_noon():
    day = of_one_day(5, 20, 5, 12.0)
    assert day[6] == pytest.approx(5)
    assert day[14] == pytest.approx(20)
    assert np.argmax(day) == 14
    assert np.argmin(day) == 6


def test_the_hour_after_sunset_stays_at_the_sunset_temperature():
    day = of_one_day(5, 20, 6, 11.0)  # sunset at 17:30, first full hour after it at half past
    at_sunset = 5 + 15 * math.sin(math.pi * 11 / 15)
    assert day[18] == pytest.approx(at_sunset)
    assert day[19] < at_sunset


def test_a_middle_day_is_final_once_both_its_neighbours_are_known():
    """So that a new day costs three days' work, not the season's."""
    rng = np.random.default_rng(8)
    tmin = rng.uniform(0, 8, 20)
    tmax = tmin + rng.uniform(3, 12, 20)
    days = np.arange(90, 110)
    whole = hourly_temperature(tmin, tmax, 47.0, days)
    for day in range(1, 19):
        near = slice(day - 1, day + 2)
        window = hourly_temperature(tmin[near], tmax[near], 47.0, days[near])
        np.testing.assert_array_equal(window[24:48], whole[day * 24 : day * 24 + 24])


def test_ends_of_a_series():
    alone = hourly_temperature([5.0], [20.0], EQUATOR, [100])
    between_equals = hourly_temperature([5.0] * 3, [20.0] * 3, EQUATOR, [100] * 3)
    np.testing.assert_allclose(alone, between_equals[24:48], atol=1e-12)


@pytest.mark.parametrize(("latitude", "day"), [(70, 172), (70, 355), (-70, 355), (90, 100)])
def test_polar_days_are_a_cosine_warmest_at_two(latitude, day):
    hours = hourly_temperature([2.0] * 3, [10.0] * 3, latitude, [day] * 3)[24:48]
    np.testing.assert_allclose(hours, 6 + 4 * np.cos(2 * np.pi * (np.arange(24) - 14) / 24))


def test_from_polar_night_into_day_without_a_break():
    """Every length of day between 0 and 24 h in one series, none of them missing."""
    year = np.arange(1, 366)
    hours = hourly_temperature(np.full(365, -3.0), np.full(365, 7.0), 68.0, year)
    assert np.isfinite(hours).all()
    assert hours.min() >= -3 - 1e-9
    assert hours.max() <= 7 + 1e-9


def test_missing_values_leave_out_the_hours_that_rest_on_them():
    tmin, tmax = np.full(5, 5.0), np.full(5, 20.0)
    tmax[2] = np.nan
    missing = np.isnan(hourly_temperature(tmin, tmax, EQUATOR, np.full(5, 100))).reshape(5, 24)
    assert missing[2].all()
    assert not missing[:2].any()  # the evening before ends at a known minimum
    assert missing[3].tolist() == [True] * 6 + [False] * 18  # the night after began unknown
    tmin[2] = np.nan
    missing = np.isnan(hourly_temperature(tmin, tmax, EQUATOR, np.full(5, 100))).reshape(5, 24)
    assert missing[1].tolist() == [False] * 19 + [True] * 5


def test_many_sites_and_years_at_once():
    rng = np.random.default_rng(4)
    tmin = rng.uniform(-5, 15, (2, 3, 1500))
    tmax = tmin + rng.uniform(0, 15, tmin.shape)
    day = np.arange(1500) % 365 + 1
    latitude = np.array([[47.0], [-41.0]])
    together = hourly_temperature(tmin, tmax, latitude, day)
    assert together.shape == (2, 3, 36000)
    for i, place in enumerate([47.0, -41.0]):
        for j in range(3):
            alone = hourly_temperature(tmin[i, j], tmax[i, j], place, day)
            np.testing.assert_array_equal(together[i, j], alone)
    small = hourly_temperature(tmin.astype(np.float32), tmax.astype(np.float32), latitude, day)
    assert small.dtype == np.float32
    np.testing.assert_allclose(small, together, atol=1e-4)


def test_empty_series():
    assert hourly_temperature([], [], 45.0, np.array([])).shape == (0,)
    assert hourly_temperature(np.empty((0, 3)), np.empty((0, 3)), 45.0, [1, 2, 3]).shape == (0, 72)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"tmax": [20.0, 200.0]}, r"tmax at index 1: a temperature within -90\.\.65 degC"),
        ({"tmin": [5.0, 30.0]}, r"tmin, tmax at index 1: .* given: tmin 30, tmax 20 degC"),
        ({"latitude": -91.0}, r"latitude: a value within -90\.\.90 degrees .* given: -91"),
        ({"day_of_year": [100]}, r"day_of_year: .* each of the 2 days .* given: shape \(1,\)"),
        ({"day_of_year": 100}, r"day_of_year: .* given: shape \(\)"),
        ({"day_of_year": [100, 400]}, r"day_of_year at index 1: a value within 1\.\.366 days"),
        ({"latitude": [1.0, 2.0, 3.0], "tmin": np.zeros((2, 2))},
         r"axes before time must fit .* latitude \(3,\)"),
    ],
)  # fmt: skip
def test_bad_input_is_named_with_its_place(arguments, message):
    good = {"tmin": [5.0, 6.0], "tmax": [20.0, 20.0], "latitude": 45.0, "day_of_year": [100, 101]}
    with pytest.raises(QuantityError, match=message):
        hourly_temperature(**(good | arguments))
