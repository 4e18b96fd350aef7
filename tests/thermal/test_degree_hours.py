"""Growing degree hours against the published curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from harvest.errors import QuantityError
from harvest.thermal import PEACH_FRUIT_C, growing_degree_hours
from tests.thermal.reference_values import CheckValue, each

CURVES = ["linear", "asymmetric"]


def at(temperature, **how):
    return float(growing_degree_hours([temperature], **how)[0])


@each("gdh_linear")
def test_the_linear_curve(check: CheckValue):
    assert at(check.numbers["T"]) == check.approximately


@each("gdh_asymcur")
def test_the_asymmetric_curve(check: CheckValue):
    given_ = check.numbers
    assert at(given_["T"], curve="asymmetric") == check.approximately
    named = {"base": given_["Tb"], "optimum": given_["Tu"], "critical": given_["Tc"]}
    assert at(given_["T"], curve="asymmetric", stress=given_["F"], **named) == check.approximately


@each("gdh_sine_day_linear", "gdh_sine_day_asymcur")
def test_a_day_of_a_sine(check: CheckValue):
    """Integrated over a day of 24 h between minimum and maximum, as the check value is."""
    low, high = check.numbers["Tmin"], check.numbers["Tmax"]
    curve = "linear" if "linear" in check.topic else "asymmetric"
    mean, half = (low + high) / 2, (high - low) / 2

    def heat(hour):
        return at(mean + half * math.sin(2 * math.pi * hour / 24), curve=curve)

    total, _ = quad(heat, 0, 24, limit=400, epsabs=1e-6)
    assert total == pytest.approx(check.expected, abs=1e-4)


@pytest.mark.parametrize("stress", [0.0, 0.4, 1.0])
@pytest.mark.parametrize("cardinal", [(4.0, 25.0, 36.0), tuple(PEACH_FRUIT_C.values())])
def test_the_formula_as_anderson_and_others_wrote_it(cardinal, stress):
    tb, tu, tc = cardinal
    temperature = np.linspace(-5, 45, 2001)
    a = tu - tb
    rising = stress * a / 2 * (1 + np.cos(np.pi + np.pi * (temperature - tb) / (tu - tb)))
    falling = stress * a * (1 + np.cos(np.pi / 2 + np.pi / 2 * (temperature - tu) / (tc - tu)))
    published = np.select(
        [(temperature > tb) & (temperature <= tu), (temperature > tu) & (temperature < tc)],
        [rising, falling],
        0.0,
    )
    ours = growing_degree_hours(
        temperature, curve="asymmetric", base=tb, optimum=tu, critical=tc, stress=stress
    )
    np.testing.assert_allclose(ours, published, atol=1e-12)


def test_fruit_of_peach_has_its_own_cardinal_temperatures():
    """Marra et al. 2002: 7.5, 26 and 38.5 degC."""
    heat = growing_degree_hours([7.5, 26.0, 38.5], curve="asymmetric", **PEACH_FRUIT_C)
    np.testing.assert_allclose(heat, [0, 18.5, 0], atol=1e-12)


temperatures = st.floats(-40, 60)


@given(temperatures, st.sampled_from(CURVES), st.floats(0, 1))
def test_never_negative_and_never_above_the_optimum(temperature, curve, stress):
    heat = at(temperature, curve=curve, stress=stress)
    assert 0 <= heat <= (20.5 if curve == "linear" else 21.0) + 1e-9


@given(temperatures, st.floats(0, 10), st.sampled_from(CURVES))
def test_never_less_in_warmer_hours_below_the_optimum(temperature, warmer, curve):
    cool, warm = min(temperature, 25.0), min(temperature + warmer, 25.0)
    assert at(warm, curve=curve) >= at(cool, curve=curve) - 1e-12


@given(st.lists(temperatures, min_size=1, max_size=30))
def test_fahrenheit_and_celsius_agree(hours):
    """Linear hours: the clipped difference scales by 9/5 when every temperature does."""
    celsius = growing_degree_hours(hours)
    fahrenheit = np.clip(np.array(hours) * 1.8 + 32, 40.1, 77.0) - 40.1
    np.testing.assert_allclose(1.8 * celsius, fahrenheit, atol=1e-9)


@pytest.mark.parametrize("curve", CURVES)
def test_missing_hours_stay_missing_and_single_precision_stays(curve):
    hours = np.array([[10.0, np.nan, 30.0], [np.nan, -5.0, 24.0]])
    heat = growing_degree_hours(hours, curve=curve)
    np.testing.assert_array_equal(np.isnan(heat), np.isnan(hours))
    small = growing_degree_hours(hours.astype(np.float32), curve=curve)
    assert small.dtype == np.float32
    np.testing.assert_allclose(small, heat, rtol=1e-5)
    assert hours[0, 0] == 10.0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"temperature": [10.0, 200.0]}, r"temperature at index 1: .* degC is needed; given: 200"),
        ({"temperature": 10.0}, r"temperature: an array with time on the last axis is needed"),
        ({"curve": "sine"}, r"curve: one of \"linear\", \"asymmetric\" is needed; given: 'sine'"),
        ({"critical": 36.0}, r"critical: the linear curve has no .* given: 36\. Use curve="),
        ({"base": 30.0}, r"cardinal temperatures: base < optimum is needed; given: base 30, opt"),
        ({"curve": "asymmetric", "optimum": 40.0},
         r"base < optimum < critical is needed; given: base 4, optimum 40, critical 36"),
        ({"curve": "asymmetric", "critical": 96.8}, r"critical: a value within -90\.\.65 degC"),
        ({"stress": 1.5}, r"stress: a value within 0\.\.1 \(a share\) is needed; given: 1\.5"),
    ],
)  # fmt: skip
def test_bad_input_is_named_with_its_place(arguments, message):
    with pytest.raises(QuantityError, match=message):
        growing_degree_hours(**({"temperature": [10.0, 20.0]} | arguments))
