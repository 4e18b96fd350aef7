"""Day length against FAO-56, the CBM model and the almanac's rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import QuantityError
from harvest.thermal import day_length
from harvest.thermal.daylight import declination, sunset_hour_angle
from tests.thermal.reference_values import CheckValue, each

latitudes = st.floats(-90, 90)
days = st.integers(1, 366)


@each("daylength_fao56_N", "daylength_fao56_polar")
def test_fao56_day_length(check: CheckValue):
    at = check.numbers
    assert day_length(at["lat"], at["J"]) == check.approximately


@each("daylength_cbm")
def test_cbm_day_length_for_each_horizon(check: CheckValue):
    at = check.numbers
    assert day_length(at["lat"], at["J"], method="cbm", horizon_deg=at["p"]) == check.approximately


@each("daylength_fao56_delta")
def test_fao56_declination(check: CheckValue):
    delta = declination(np.array(check.numbers["J"]))
    assert delta == check.approximately
    assert round(float(delta), 3) == 0.120  # as the book prints it


@each("daylength_fao56_ws")
def test_fao56_sunset_hour_angle(check: CheckValue):
    at = check.numbers
    angle = sunset_hour_angle(np.radians(at["lat"]), declination(np.array(at["J"])))
    assert angle == check.approximately
    assert round(float(angle), 3) == 1.527  # as the book prints it


@each("daylength_fao56_Ra")
def test_radiation_of_the_books_worked_example_follows_from_our_angles(check: CheckValue):
    """FAO-56 eq 21 with eq 23, the book's own use of declination and hour angle."""
    at = check.numbers
    phi, delta = math.radians(at["lat"]), float(declination(np.array(at["J"])))
    ws = float(sunset_hour_angle(np.array(phi), np.array(delta)))
    distance = 1 + 0.033 * math.cos(2 * math.pi * at["J"] / 365)
    radiation = (
        24 * 60 / math.pi * 0.0820 * distance
        * (ws * math.sin(phi) * math.sin(delta) + math.cos(phi) * math.cos(delta) * math.sin(ws))
    )  # fmt: skip
    assert radiation == check.approximately


@each("daylength_fao56_dr")
def test_distance_of_the_books_worked_example(check: CheckValue):
    assert 1 + 0.033 * math.cos(2 * math.pi * check.numbers["J"] / 365) == check.approximately


@each("daylength_symmetry")
def test_one_night_is_the_other_hemispheres_day(check: CheckValue):
    at = check.numbers
    both = day_length(at["lat"], at["J"]) + day_length(-at["lat"], at["J"])
    assert both == check.approximately


@given(latitudes, days)
def test_north_and_south_share_out_the_day(latitude, day):
    assert day_length(latitude, day) + day_length(-latitude, day) == pytest.approx(24, abs=1e-6)


@given(latitudes, days, st.sampled_from(["fao56", "cbm"]))
def test_between_polar_night_and_polar_day(latitude, day, method):
    assert 0 <= day_length(latitude, day, method=method) <= 24


@given(latitudes, days, st.floats(0, 17), st.floats(0, 1))
def test_a_deeper_horizon_never_shortens_the_day(latitude, day, depth, more):
    shallow = day_length(latitude, day, method="cbm", horizon_deg=depth)
    deep = day_length(latitude, day, method="cbm", horizon_deg=depth + more)
    assert deep >= shallow - 1e-9


@given(st.floats(-60, 60), days)
def test_half_a_year_on_the_other_hemisphere_has_nearly_the_same_day(latitude, day):
    """Not exactly: the earth's orbit is not a circle."""
    opposite = (day + 181) % 365 + 1
    assert abs(day_length(latitude, day) - day_length(-latitude, opposite)) < 0.5


def test_the_two_models_agree_within_their_published_difference():
    """science: CBM with the sun's centre on the horizon differs from FAO-56 by at most 0.204 h
    at 45 N (computed by an independent script)."""
    year = np.arange(1, 366)
    difference = day_length(45, year, method="cbm") - day_length(45, year)
    assert np.abs(difference).max() == pytest.approx(0.204, abs=0.001)


def test_broadcasting():
    sites = np.array([-45.0, 0.0, 60.0])
    assert day_length(sites[:, None], np.arange(1, 11)).shape == (3, 10)
    assert day_length(45, 100).shape == ()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"latitude": 91}, r"latitude: a value within -90\.\.90 degrees is needed; given: 91\."),
        ({"latitude": [10, -90.5]}, r"latitude at index 1: .* given: -90\.5\."),
        ({"latitude": np.nan}, r"latitude: .* given: nan\."),
        ({"day_of_year": 0}, r"day_of_year: a value within 1\.\.366 days is needed; given: 0\."),
        ({"day_of_year": [[1, 2], [3, 367]]}, r"day_of_year at index \(1, 1\): .* given: 367\."),
        ({"latitude": [1, 2], "day_of_year": [1, 2, 3]},
         r"latitude and day must fit .* given: latitude \(2,\), day_of_year \(3,\)\."),
        ({"method": "noaa"}, r"method: one of \"fao56\", \"cbm\" is needed; given: 'noaa'\."),
        ({"method": "cbm", "horizon_deg": 19}, r"horizon_deg: a value within -18\.\.18 degrees"),
        ({"horizon_deg": 0.8333}, r"horizon_deg: FAO-56 .* given: 0\.8333\. Use method \"cbm\""),
    ],
)  # fmt: skip
def test_bad_input_is_named_with_its_place(arguments, message):
    with pytest.raises(QuantityError, match=message):
        day_length(**({"latitude": 45, "day_of_year": 100} | arguments))
