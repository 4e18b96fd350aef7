"""Dates as probabilities of days, against scipy's Student distribution."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t

from harvest.phenology.distribution import HORIZON_DAYS, DateSpread, student_upto


@pytest.mark.parametrize("freedom", [2, 6, 12])
def test_the_finite_sum_is_student_s_distribution(freedom: int) -> None:
    z = np.append(np.linspace(-50, 50, 4001), [-1e6, 1e6, np.nan])
    np.testing.assert_allclose(student_upto(z, freedom), t.cdf(z, freedom), atol=1e-15)


def test_an_odd_number_of_degrees_of_freedom_is_refused() -> None:
    with pytest.raises(ValueError, match="even: 5"):
        student_upto(np.zeros(1), 5)


@given(mean=st.lists(st.floats(-100, 600), min_size=1, max_size=300), sd=st.floats(1e-3, 40))
def test_the_days_ahead_hold_all_that_has_not_happened(mean: list[float], sd: float) -> None:
    spread = DateSpread(np.array(mean), np.full(len(mean), sd), 6)
    days, passed = spread.days(0)
    assert days.shape == (len(mean), HORIZON_DAYS)
    assert (days >= 0).all()
    np.testing.assert_allclose(passed, spread.before(0.0), atol=1e-15)
    open_ = passed < 1 - 1e-6  # beyond, what is left is rounding
    np.testing.assert_allclose(days[open_].sum(axis=1), 1.0, atol=1e-6)
    upto = t.cdf(np.arange(HORIZON_DAYS - 1) + 0.5, 6, spread.mean[:, None], sd)
    left = (1 - passed)[:, None]
    told = np.cumsum(days[:, :-1], axis=1) * left + passed[:, None]
    np.testing.assert_allclose(told[open_], upto[open_], atol=1e-12)


def test_dates_further_ahead_than_a_season_are_not_piled_on_the_last_day() -> None:
    late, soon = (DateSpread(np.array([mean]), np.array([6.0]), 6) for mean in (470.0, 200.0))
    window = np.array([120.0])
    assert soon.horizon(0, window) == HORIZON_DAYS
    days, _ = late.days(0, late.horizon(0, window))
    assert abs(int(np.searchsorted(np.cumsum(days[0]), 0.5)) - 470) <= 1
    assert days[0, -1] < 1e-6
