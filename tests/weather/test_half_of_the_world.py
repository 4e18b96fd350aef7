"""The warm half of the year tells which half of the world days were measured in.

January and July means of Basel and Wellington, about 1 and 20 and 17 and 9 degC (general
climatology, from memory).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from harvest.weather.half_of_the_world import of_the_other_half


def year_of(january_c: float, july_c: float, days: int = 365) -> pd.DataFrame:
    date = pd.date_range("2025-01-01", periods=days)
    swing = np.cos((date.day_of_year - 17) / 365 * 2 * np.pi)
    mean = (january_c + july_c) / 2 + (january_c - july_c) / 2 * swing
    return pd.DataFrame({"date": date, "tmin_c": mean - 5, "tmax_c": mean + 5})


@pytest.mark.parametrize(("january", "july", "north"), [(1.0, 20.0, True), (17.0, 9.0, False)])
def test_a_summer_in_the_wrong_half_of_the_year_is_found(
    january: float, july: float, north: bool
) -> None:
    days = year_of(january, july)
    assert of_the_other_half(days, -41.3 if north else 47.6)
    assert not of_the_other_half(days, 47.6 if north else -41.3)
    assert not of_the_other_half(days, -1.3 if north else 1.3)  # near the equator
    assert not of_the_other_half(days.iloc[:200], -41.3 if north else 47.6)  # half a year
    assert not of_the_other_half(days.assign(tmin_c=np.nan), -41.3 if north else 47.6)
