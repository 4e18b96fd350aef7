"""Degree days against the published methods, quadrature and a general-purpose library."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst
from scipy.integrate import quad

from harvest.errors import QuantityError
from harvest.thermal import degree_days
from tests.thermal.climate_library import climate_indices, labelled
from tests.thermal.reference_values import CheckValue, each

METHODS = [
    "average",
    "average with limits",
    "single sine",
    "double sine",
    "single triangle",
    "double triangle",
]
CURVES = ["single sine", "single triangle"]
CUTOFFS = ["horizontal", "vertical", "intermediate"]
EVERY_WAY = [
    (method, cutoff)
    for method in METHODS
    for cutoff in CUTOFFS
    if method != "average with limits" or cutoff == "horizontal"
]


def one_day(tmin, tmax, **how):
    return degree_days([tmin], [tmax], **how)[0]


# --- Published thresholds and methods, values computed independently --------------------------


@each("dd_simple", "dd_modified")
def test_averages_agree_with_the_two_readings_of_mcmaster_and_wilhelm(check: CheckValue):
    method = "average" if check.topic == "dd_simple" else "average with limits"
    at = check.numbers
    result = one_day(at["Tmin"], at["Tmax"], base=at["L"], upper=at.get("U"), method=method)
    assert result == check.approximately


@each(*(f"dd_{curve}_{cutoff}" for curve in ("sine", "tri") for cutoff in CUTOFFS))
def test_curves_agree_with_the_check_values(check: CheckValue):
    _, curve, cutoff = check.topic.split("_")
    method = "single sine" if curve == "sine" else "single triangle"
    at = check.numbers
    result = one_day(
        at["Tmin"], at["Tmax"], base=at["L"], upper=at["U"], method=method, cutoff=cutoff
    )
    assert result == check.approximately


@each("dd_sine_horizontal_F")
def test_codling_moth_degree_days_in_fahrenheit(check: CheckValue):
    at = {name: (value - 32) / 1.8 for name, value in check.numbers.items()}
    result = 1.8 * one_day(at["Tmin"], at["Tmax"], base=at["L"], upper=at["U"])
    assert result == check.approximately


@each("dd_double_sine_horizontal", "dd_double_triangle")
def test_double_forms_use_the_next_minimum(check: CheckValue):
    at = check.numbers
    method = "double sine" if "sine" in check.topic else "double triangle"
    result = degree_days(
        [at["Tmin"], at["Tmin_next"]],
        [at["Tmax"], 20.0],
        base=at["L"],
        upper=at.get("U"),
        method=method,
    )
    assert result[0] == check.approximately


# --- Quadrature of the definitions --------------------------------------------------------------


def half_day(curve, start, end):
    """Temperature from `start` to `end` as a function of the share 0..1 of the half day."""
    if curve == "average":
        return lambda _: (start + end) / 2
    if curve == "sine":
        return lambda x: (start + end) / 2 - (end - start) / 2 * np.cos(np.pi * x)
    return lambda x: start + (end - start) * x


def crossings(curve, start, end, thresholds):
    """Where the half day crosses the thresholds: the kinks that quadrature must know."""
    for threshold in thresholds:
        if curve != "average" and min(start, end) < threshold < max(start, end):
            share = (threshold - start) / (end - start)
            yield np.arccos(1 - 2 * share) / np.pi if curve == "sine" else share


def rate(temperature, base, upper, cutoff):
    """Development per day at a constant temperature, by the definition of the cut-off."""
    if cutoff == "vertical" and temperature > upper:
        return 0.0
    above = max(temperature - base, 0.0) - max(temperature - upper, 0.0)
    if cutoff == "intermediate":
        above -= max(temperature - upper, 0.0)
    return above


def integral(curve, start, end, base, upper, cutoff):
    temperature = half_day(curve, start, end)
    points = sorted(crossings(curve, start, end, [base, upper]))
    edges = [0.0, *points, 1.0]
    return sum(
        quad(lambda x: rate(temperature(x), base, upper, cutoff), a, b)[0]
        for a, b in pairwise(edges)
    )


@pytest.mark.parametrize("cutoff", CUTOFFS)
@pytest.mark.parametrize("method", [m for m in METHODS if m != "average with limits"])
@pytest.mark.parametrize(
    ("tmin", "tmax", "following"),
    [(-2, 12, 1), (5, 20, 8), (8, 35, 12), (12, 25, 15), (15, 38, 3), (0, 9, 4), (32, 40, 33),
     (10, 10, 10), (9, 11, 14), (14.5, 31, 31), (9.9, 31.2, 9.9)],
)  # fmt: skip
def test_every_method_and_cutoff_is_the_integral_of_its_curve(
    method, cutoff, tmin, tmax, following
):
    base, upper = 10.0, 31.0
    curve = method.split()[-1]
    second = following if method.startswith("double") else tmin
    expected = 0.5 * (
        integral(curve, tmin, tmax, base, upper, cutoff)
        + integral(curve, tmax, second, base, upper, cutoff)
    )
    if cutoff == "intermediate":  # the published form limits the day, not the moment, at zero
        expected = 0.5 * sum(
            max(0.0, integral(curve, start, end, base, upper, cutoff))
            for start, end in [(tmin, tmax), (tmax, second)]
        )
    days = degree_days(
        [tmin, following], [tmax, max(tmax, following)],
        base=base, upper=upper, method=method, cutoff=cutoff,
    )  # fmt: skip
    assert days[0] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("tmin", "tmax"), [(5, 20), (-2, 12), (9.5, 10.5), (32, 40), (0, 9)])
@pytest.mark.parametrize("method", CURVES)
def test_without_upper_threshold_the_area_above_the_base(method, tmin, tmax):
    expected = integral(method.split()[-1], tmin, tmax, 10.0, 99.0, "horizontal")
    assert one_day(tmin, tmax, base=10, method=method) == pytest.approx(expected, abs=1e-9)


# --- A general-purpose library ------------------------------------------------------------------


def test_average_agrees_with_a_climate_index_library():
    days = 3 * 365
    rng = np.random.default_rng(11)
    tmin = 6 + 9 * np.sin(np.arange(days) / 58) + rng.normal(0, 4, (4, days))
    tmax = tmin + rng.uniform(0, 18, tmin.shape)
    with climate_indices() as indices:
        mean = labelled((tmin + tmax) / 2, "2001-01-01", "D")
        theirs = indices.growing_degree_days(mean, thresh="4.5 degC", freq="YS").to_numpy()
    ours = degree_days(tmin, tmax, base=4.5, method="average")
    yearly = ours.reshape(4, 3, 365).sum(axis=-1)
    np.testing.assert_allclose(yearly, theirs, rtol=1e-12)


# --- Laws ---------------------------------------------------------------------------------------

temperatures = st.floats(-40, 45, allow_subnormal=False)


@st.composite
def seasons(draw, days=st.integers(1, 12)):
    shape = draw(days)
    first = draw(npst.arrays(float, shape, elements=temperatures))
    second = draw(npst.arrays(float, shape, elements=temperatures))
    return np.minimum(first, second), np.maximum(first, second)


ways = st.sampled_from(EVERY_WAY)
thresholds = st.tuples(st.floats(-5, 15), st.floats(0.5, 30)).map(lambda t: (t[0], t[0] + t[1]))


@given(seasons(), thresholds, ways)
def test_never_negative_and_never_more_than_the_limits_allow(season, limits, way):
    method, cutoff = way
    result = degree_days(*season, base=limits[0], upper=limits[1], method=method, cutoff=cutoff)
    assert (result >= 0).all()
    assert (result <= limits[1] - limits[0] + 1e-9).all()


@given(seasons(), thresholds, st.sampled_from(METHODS), st.floats(0, 5))
def test_never_less_in_a_warmer_season(season, limits, method, warmer):
    cool = degree_days(*season, base=limits[0], upper=limits[1], method=method)
    warm = degree_days(
        season[0] + warmer, season[1] + warmer, base=limits[0], upper=limits[1], method=method
    )
    assert (warm >= cool - 1e-9).all()


@given(seasons(), st.floats(-5, 15), ways, st.floats(0, 5))
def test_never_less_in_a_warmer_season_below_the_upper_threshold(season, base, way, warmer):
    """Whatever the cut-off, it must not be felt before it is reached."""
    how = {"base": base, "upper": 51.0, "method": way[0], "cutoff": way[1]}
    cool = degree_days(*season, **how)
    warm = degree_days(season[0] + warmer, season[1] + warmer, **how)
    assert (warm >= cool - 1e-9).all()
    plain = degree_days(*season, base=base, method=way[0])
    np.testing.assert_allclose(cool, plain, atol=1e-9)


@given(seasons(), thresholds, ways)
def test_degree_days_fahrenheit_are_nine_fifths_of_celsius(season, limits, way):
    """The same season read in Fahrenheit about zero, so that only the scale differs."""
    method, cutoff = way
    how = {"method": method, "cutoff": cutoff}
    celsius = degree_days(*season, base=limits[0], upper=limits[1], **how)
    scaled = degree_days(season[0] / 1.8, season[1] / 1.8,
                         base=limits[0] / 1.8, upper=limits[1] / 1.8, **how)  # fmt: skip
    np.testing.assert_allclose(1.8 * scaled, celsius, atol=1e-6)


@given(seasons(st.integers(2, 12)), st.integers(1, 11), st.sampled_from(METHODS))
def test_two_parts_of_a_season_add_up(season, split, method):
    """The double forms need the first day of the second part to end the first."""
    tmin, tmax = season
    split = min(split, tmin.size - 1)
    overlap = 1 if method.startswith("double") else 0
    first = degree_days(tmin[: split + overlap], tmax[: split + overlap], base=5, method=method)
    second = degree_days(tmin[split:], tmax[split:], base=5, method=method)
    whole = degree_days(tmin, tmax, base=5, method=method)
    np.testing.assert_array_equal(np.concatenate([first[:split], second]), whole)


@given(seasons(), thresholds, ways)
def test_single_precision_stays_close(season, limits, way):
    how = {"base": limits[0], "upper": limits[1], "method": way[0], "cutoff": "horizontal"}
    exact = degree_days(*season, **how)
    small = degree_days(*(part.astype(np.float32) for part in season), **how)
    assert small.dtype == np.float32
    assert exact.dtype == np.float64
    np.testing.assert_allclose(small, exact, atol=3e-5)


@given(seasons(), st.floats(-5, 15))
def test_a_far_upper_threshold_changes_nothing(season, base):
    plain = degree_days(*season, base=base)
    for cutoff in CUTOFFS:
        limited = degree_days(*season, base=base, upper=60, cutoff=cutoff)
        np.testing.assert_allclose(limited, plain, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize(("method", "cutoff"), EVERY_WAY)
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_days_with_next_to_no_swing(dtype, method, cutoff):
    """Neither a warning nor a jump where minimum and maximum are all but the same."""
    smallest = np.finfo(dtype).tiny
    tmin = np.array([0, 12, 12, 30, 31], dtype=dtype)
    tmax = tmin + np.array([smallest, 0, smallest, 0, 0], dtype=dtype)
    days = degree_days(tmin, tmax, base=10, upper=30, method=method, cutoff=cutoff)
    at_the_top = {"horizontal": [20, 20], "vertical": [20, 0], "intermediate": [20, 19]}[cutoff]
    expected = np.array([0, 2, 2, *at_the_top])
    if method.startswith("double"):  # these days end at the next day's minimum
        np.testing.assert_allclose(days[[1, 4]], expected[[1, 4]], atol=1e-5)
    else:
        np.testing.assert_allclose(days, expected, atol=1e-5)


# --- Missing days, shapes -----------------------------------------------------------------------


@pytest.mark.parametrize(("method", "cutoff"), EVERY_WAY)
def test_missing_days_stay_missing(method, cutoff):
    tmin = np.array([5.0, np.nan, 6.0, 7.0, 8.0])
    tmax = np.array([15.0, 16.0, 20.0, np.nan, 19.0])
    result = degree_days(tmin, tmax, base=4, upper=18, method=method, cutoff=cutoff)
    missing = [False, True, False, True, False]
    if method.startswith("double"):
        missing[0] = True  # its second half needs the next minimum
    np.testing.assert_array_equal(np.isnan(result), missing)


def test_many_bases_at_once():
    tmin, tmax = np.array([[2.0, 5, 9], [4, 8, 12]]), np.array([[12.0, 18, 21], [9, 16, 30]])
    bases = np.array([0.0, 4.5, 10, 12.8])
    one_site = degree_days(tmin[0], tmax[0], base=bases, upper=25)
    assert one_site.shape == (4, 3)
    every_site = degree_days(tmin, tmax, base=bases[:, None], upper=[25.0, 30.0])
    assert every_site.shape == (4, 2, 3)
    for k, base in enumerate(bases):
        np.testing.assert_array_equal(
            one_site[k], degree_days(tmin[0], tmax[0], base=base, upper=25)
        )
        for site, upper in enumerate([25.0, 30.0]):
            alone = degree_days(tmin[site], tmax[site], base=base, upper=upper)
            np.testing.assert_array_equal(every_site[k, site], alone)


@pytest.mark.parametrize(("method", "cutoff"), EVERY_WAY)
def test_chunks_leave_no_seam(method, cutoff):
    rng = np.random.default_rng(5)
    tmin = rng.uniform(-5, 25, (7, 9001))
    tmax = tmin + rng.uniform(0, 20, tmin.shape)
    how = {"base": 6, "upper": 28, "method": method, "cutoff": cutoff}
    whole = degree_days(tmin, tmax, **how)
    rows = [degree_days(tmin[i], tmax[i], **how) for i in range(7)]
    np.testing.assert_array_equal(whole, rows)
    sites_last = degree_days(tmin.T.copy().T, tmax, **how)
    np.testing.assert_array_equal(sites_last, whole)


def test_empty_series_and_integers():
    assert degree_days(np.empty((3, 0)), np.empty((3, 0)), base=5).shape == (3, 0)
    assert degree_days([], [], base=5, method="double sine").shape == (0,)
    assert degree_days([4], [16], base=4, method="average").tolist() == [6.0]


def test_the_input_is_left_alone():
    tmin, tmax = np.array([1.0, 2.0]), np.array([11.0, 14.0])
    degree_days(tmin, tmax, base=5, upper=12, method="double sine", cutoff="vertical")
    assert tmin.tolist() == [1.0, 2.0]
    assert tmax.tolist() == [11.0, 14.0]


# --- Errors -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"tmax": [20.0, 200.0]},
         r"tmax at index 1: a temperature within -90\.\.65 degC is needed; given: 200\. Check the"),
        ({"tmin": [[5.0, 5.0], [4.0, -9999.0]]}, r"tmin at index \(1, 1\): .* given: -9999\."),
        ({"tmin": [5.0, 21.0]},
         r"tmin, tmax at index 1: the day's minimum must not lie above its maximum; "
         r"given: tmin 21, tmax 20 degC\. Correct"),
        ({"tmin": [[1.0, 1.0], [1.0, 30.0]]}, r"tmin, tmax at index \(1, 1\)"),
        ({"tmin": 5.0}, r"tmin: an array with time on the last axis is needed; .*number 5\."),
        ({"tmin": [5.0]}, r"same number of days .* given: tmin \(1,\), tmax \(2,\)"),
        ({"tmin": np.zeros((3, 2)), "tmax": np.zeros((4, 2))},
         r"axes before time must fit .* given: tmin \(3,\), tmax \(4,\)"),
        ({"base": [1.0, 2.0], "tmin": np.zeros((3, 2))}, r"axes before time .* base \(2,\)"),
        ({"upper": 10.0}, r"upper: the upper threshold must lie above the base; .*Leave upper out"),
        ({"upper": [1.0, 2.0, 3.0], "base": [0.0, 0.0]}, r"base \(2,\), upper \(3,\)"),
        ({"base": np.nan}, r"base: a finite threshold is needed; given: nan"),
        ({"upper": np.inf}, r"upper: a finite threshold is needed; given: inf"),
        ({"method": "sine"}, r"method: one of \"average\", .* is needed; given: 'sine'"),
        ({"cutoff": "sharp"}, r"cutoff: one of \"horizontal\", .* is needed; given: 'sharp'"),
        ({"method": "average with limits", "cutoff": "vertical"},
         r"cutoff: .* only the cutoff \"horizontal\" fits it; given: 'vertical'"),
        ({"tmin": ["warm", "cold"]}, r"tmin: numbers are needed; given: type <U4"),
        ({"tmin": [[1.0], [2.0, 3.0]]}, r"tmin: numbers in a rectangular array are needed"),
        ({"tmin": [True, False]}, r"tmin: numbers are needed; given: type bool"),
    ],
)  # fmt: skip
def test_bad_input_is_named_with_its_place(arguments, message):
    good = {"tmin": [5.0, 6.0], "tmax": [20.0, 20.0], "base": 10.0}
    with pytest.raises(QuantityError, match=message):
        degree_days(**(good | arguments))
