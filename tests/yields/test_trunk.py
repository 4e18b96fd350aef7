"""Trunk cross-sections and girths between measurements."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import QuantityError
from harvest.units import CM_PER_IN
from harvest.yields import girths_on, trunk_cross_section
from tests.yields.made_records import frame
from tests.yields.published_values import Published, published


@pytest.mark.parametrize("value", published("tcsa"))
def test_cross_section_is_that_of_a_circle(value: Published):
    assert trunk_cross_section(value.numbers[0]) == value.approximately


@given(st.floats(0.1, 1000))
def test_cross_section_is_a_quarter_pi_of_the_diameter_squared(girth_cm: float):
    diameter_cm = girth_cm / np.pi
    assert trunk_cross_section(girth_cm) == pytest.approx(np.pi / 4 * diameter_cm**2)


@given(st.floats(0.1, 400))
def test_a_girth_in_inches_gives_the_same_cross_section(girth_in: float):
    in_square_inches = girth_in**2 / (4 * np.pi)
    assert trunk_cross_section(girth_in * CM_PER_IN) == pytest.approx(
        in_square_inches * CM_PER_IN**2
    )


def test_a_girth_not_measured_has_no_cross_section():
    areas = trunk_cross_section([20.0, np.nan])
    assert areas.shape == (2,)
    assert np.isnan(areas[1])


@pytest.mark.parametrize("girth", [0.0, -3.0, np.inf])
def test_impossible_girths_are_refused(girth: float):
    with pytest.raises(QuantityError, match=r"above 0 cm is needed; given: .* cm\. Measure"):
        trunk_cross_section([12.0, girth])


def measured(*rows: tuple[str, str, float]) -> pd.DataFrame:
    names = ("tree", "date", "girth_cm")
    return frame("girths", [dict(zip(names, row, strict=True)) for row in rows])


TWO_WINTERS = measured(
    ("A", "2020-01-01", 10.0), ("A", "2021-01-01", 14.0), ("B", "2020-06-01", 30)
)


def days(*texts: str) -> np.ndarray:
    return np.array(texts, dtype="datetime64[D]")


def test_girth_lies_on_a_line_between_two_measurements():
    # 366 days apart (2020 is a leap year); 1 July 2020 is day 182 of them.
    found = girths_on(TWO_WINTERS, ["A"], days("2020-07-01"))
    assert found.girth_cm[0] == pytest.approx(10 + 4 * 182 / 366)
    assert found.measured[0] == np.datetime64("2020-01-01")


def test_girth_on_the_day_of_a_measurement_is_the_measurement():
    found = girths_on(TWO_WINTERS, ["A", "A"], days("2020-01-01", "2021-01-01"))
    assert found.girth_cm.tolist() == [10.0, 14.0]
    assert found.measured.tolist() == days("2020-01-01", "2021-01-01").tolist()


def test_a_single_measurement_holds_for_the_days_stated_and_no_longer():
    at = days("2021-11-27", "2021-11-28", "2019-02-05", "2019-02-04")
    found = girths_on(TWO_WINTERS, ["A"] * 4, at, reach_days=330)
    assert found.girth_cm[[0, 2]].tolist() == [14.0, 10.0]
    assert np.isnan(found.girth_cm[[1, 3]]).all()
    assert np.isnat(found.measured[[1, 3]]).all()


def test_one_tree_never_borrows_the_girth_of_another():
    found = girths_on(TWO_WINTERS, ["B", "C", "B"], days("2020-07-01", "2020-07-01", "NaT"))
    assert found.girth_cm[0] == 30.0
    assert np.isnan(found.girth_cm[1:]).all()


def test_no_measurement_at_all_leaves_every_girth_unknown():
    found = girths_on(measured(), ["A"], days("2020-07-01"))
    assert np.isnan(found.girth_cm).all()


@given(
    st.lists(
        st.tuples(st.integers(0, 4000), st.floats(1, 200)), min_size=2, unique_by=lambda m: m[0]
    ),
    st.integers(-400, 4400),
)
def test_interpolation_agrees_with_numpy_within_the_measurements(points, day):
    origin = np.datetime64("2010-01-01", "s")
    table = pd.DataFrame(
        {
            "tree": pd.Series(["A"] * len(points), dtype=object),
            "date": [origin + np.timedelta64(at, "D") for at, _ in points],
            "girth_cm": [girth for _, girth in points],
        }
    )
    found = girths_on(table, ["A"], days("2010-01-01") + np.timedelta64(day, "D"), reach_days=0)
    at, girth = (np.array(column) for column in zip(*sorted(points), strict=True))
    expected = np.interp(day, at, girth, left=np.nan, right=np.nan)
    assert found.girth_cm[0] == pytest.approx(expected, nan_ok=True)
