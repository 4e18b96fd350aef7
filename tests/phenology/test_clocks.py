from __future__ import annotations

import math

import numpy as np
import pytest

from harvest.phenology.clocks import LEAST_PROGRESS, degree_day_clock, heat_clocks
from harvest.phenology.site_weather import SiteWeather


@pytest.mark.parametrize(
    ("own_c", "species_c", "counted"),
    [(None, None, 25.5), (None, 28.0, 23.5), (20.0, 28.0, 15.5), (math.inf, 28.0, 25.5)],
)
def test_a_cut_off_of_its_own_goes_before_the_species(
    own_c: float | None, species_c: float | None, counted: float
) -> None:
    """A day at 30 degC all through, over 4.5 degC, by the definition of a horizontal cut-off."""
    days = np.full(400, 30.0)
    weather = SiteWeather(np.datetime64("2024-01-01"), days, days, np.full(400, ""), 1.1)
    (clock,) = heat_clocks(weather, 45.0, [degree_day_clock(4.5, own_c)], species_c)
    np.testing.assert_allclose(np.diff(clock.past), counted + LEAST_PROGRESS)
