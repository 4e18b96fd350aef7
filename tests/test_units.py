"""Units: conversions against NIST and a general-purpose library, limits of every column."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from harvest.records import KINDS, fields
from harvest.units import (
    CONVERSIONS,
    QUANTITIES,
    convert,
    fahrenheit_days_to_celsius_days,
)


# NIST Special Publication 811 (2008), Appendix B.8: factors in bold there are exact.
# The firmness of fruit is read in pounds-force or kilograms-force; their ratio is that of the
# pound and the kilogram.
@pytest.mark.parametrize(
    ("column", "ours", "factor"),
    [
        ("weight_lb", "weight_kg", 0.45359237),
        ("graded_out_lb", "graded_out_kg", 0.45359237),
        ("firmness_lb", "firmness_kg", 0.45359237),
        ("girth_in", "girth_cm", 2.54),
        ("precip_in", "precip_mm", 25.4),
        ("wind_mph", "wind_kmh", 1.609344),
        ("wind_m_s", "wind_kmh", 3.6),
        ("elevation_ft", "elevation_m", 0.3048),
        ("row_spacing_ft", "row_spacing_m", 0.3048),
        ("tree_spacing_ft", "tree_spacing_m", 0.3048),
    ],
)
def test_factors_are_the_exact_ones_of_nist(column: str, ours: str, factor: float) -> None:
    name, values = convert(column, np.array([1.0, 1000.0, np.nan]))
    assert name == ours
    assert values[0] == pytest.approx(factor, rel=1e-15, abs=1e-9)
    assert values[1] == pytest.approx(1000 * factor, rel=1e-15)
    assert np.isnan(values[2])


def test_factors_agree_with_scipy() -> None:
    # CODATA and NIST values as scipy.constants carries them, in SI base units.
    assert CONVERSIONS["weight_lb"].factor == pytest.approx(scipy.constants.lb, rel=1e-15)
    assert CONVERSIONS["girth_in"].factor == pytest.approx(100 * scipy.constants.inch, rel=1e-15)
    assert CONVERSIONS["wind_mph"].factor == pytest.approx(
        scipy.constants.mph / scipy.constants.kmh, rel=1e-15
    )
    assert CONVERSIONS["precip_in"].factor == pytest.approx(1e3 * scipy.constants.inch, rel=1e-15)
    assert CONVERSIONS["elevation_ft"].factor == pytest.approx(scipy.constants.foot, rel=1e-15)


# NIST SP 811, B.8: t/degC = (t/degF - 32) / 1.8.
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(32, 0), (212, 100), (-40, -40), (98.6, 37), (14, -10), (0, -160 / 9)],
)
@pytest.mark.parametrize("column", ["tmin_f", "tmax_f"])
def test_fixed_points_of_fahrenheit_are_exact(
    column: str, fahrenheit: float, celsius: float
) -> None:
    name, values = convert(column, np.array([fahrenheit]))
    assert name == column.replace("_f", "_c")
    assert values[0] == round(celsius, 9)


@given(st.floats(-130, 140))
def test_fahrenheit_agrees_with_scipy(fahrenheit: float) -> None:
    expected = scipy.constants.convert_temperature(fahrenheit, "Fahrenheit", "Celsius")
    assert convert("tmax_f", np.array([fahrenheit]))[1][0] == pytest.approx(expected, abs=1e-9)


def test_degree_days_have_no_offset() -> None:
    # A difference of 9 degF is one of 5 degC (NIST SP 811, B.8, degree Fahrenheit as an interval).
    assert fahrenheit_days_to_celsius_days(900.0) == 500.0
    assert fahrenheit_days_to_celsius_days(0.0) == 0.0


def test_columns_in_our_units_come_back_untouched() -> None:
    values = np.array([[1.5, np.nan], [3.25, -4.0]])
    name, same = convert("tmin_c", values)
    assert name == "tmin_c"
    assert same is values


@given(st.lists(st.floats(0, 2000), min_size=1, max_size=20))
def test_a_heavier_pick_is_never_lighter_in_kilograms(pounds: list[float]) -> None:
    values = convert("weight_lb", np.sort(np.array(pounds)))[1]
    assert (np.diff(values) >= 0).all()


def test_every_number_a_file_can_hold_has_a_unit_and_limits() -> None:
    for kind in KINDS:
        for field in fields(kind):
            if field.type in (int, float):
                quantity = QUANTITIES[field.header]
                assert quantity.low < quantity.high, field.header
                assert quantity.unit, field.header
                assert quantity.meaning, field.header


def test_every_conversion_leads_to_a_column_we_have() -> None:
    headers = {field.header for kind in KINDS for field in fields(kind)}
    for column, conversion in CONVERSIONS.items():
        assert conversion.column == conversion.column.lower()
        assert conversion.column in headers
        assert column not in headers


@pytest.mark.parametrize(
    ("column", "inside", "outside"),
    [
        # Meier 2001, BBCH monograph: two digits, 00 to 99.
        ("bbch", (0, 65, 99), (-1, 100)),
        # WMO archive of extremes: -89.2 degC Vostok 1983, 56.7 degC Furnace Creek 1913,
        # 1825 mm in 24 h at Foc-Foc 1966.
        ("tmin_c", (-89.2, 0), (-90.1, 60.1)),
        ("tmax_c", (56.7,), (60.1,)),
        ("precip_mm", (0, 1825), (-0.1, 2000.1)),
        # The windiest day at sea level, Port Martin 1951, had a mean of 174 km/h (from memory).
        ("wind_kmh", (0, 174), (-0.1, 200.1)),
        ("latitude", (-90, 90), (-90.1, 90.1)),
        ("longitude", (-180, 180), (-180.1, 180.1)),
        # The shore of the Dead Sea lies at about -430 m (from memory).
        ("elevation_m", (-430, 4000), (-500, 9000)),
    ],
)
def test_limits_hold_what_has_been_measured_and_refuse_what_cannot_be(
    column: str, inside: tuple[float, ...], outside: tuple[float, ...]
) -> None:
    quantity = QUANTITIES[column]
    assert all(quantity.low <= value <= quantity.high for value in inside)
    assert not any(quantity.low <= value <= quantity.high for value in outside)
