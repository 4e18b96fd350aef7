from __future__ import annotations

import math

import numpy as np
import pytest

from harvest.phenology.clocks import (
    DEGREE_HOURS,
    LEAST_PROGRESS,
    ClockKind,
    degree_day_clock,
    degree_hour_clock,
    heat_clocks,
)
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


@pytest.mark.parametrize(
    ("kind", "level_c", "counted"),
    [
        (DEGREE_HOURS, 25.0, 21.0),
        (DEGREE_HOURS, 4.0, 0.0),
        (DEGREE_HOURS, 36.0, 0.0),
        (degree_hour_clock(4.0, 20.0, 36.0), 20.0, 16.0),
        (degree_hour_clock(4.0, 20.0, 36.0), 12.0, 8.0),
        (degree_hour_clock(4.0, 20.0, 36.0), 28.0, 16.0 * (1.0 - math.sqrt(0.5))),
        (degree_hour_clock(4.5, 20.0), 12.0, 7.5),
        (degree_hour_clock(4.5, 20.0), 35.0, 15.5),
    ],
)
def test_degree_hours_count_by_the_curve_of_their_clock(
    kind: ClockKind, level_c: float, counted: float
) -> None:
    """Days at one temperature. Linear: Richardson et al. 1975, HortScience 10:559-560; curved:
    Anderson, Richardson & Kesner 1986, Acta Hortic. 184:71-78: at the optimum the whole of it, at
    the base and the critical temperature none, half way up half, half way down 1 - sin 45 deg."""
    days = np.full(400, level_c)
    weather = SiteWeather(np.datetime64("2024-01-01"), days, days, np.full(400, ""), 1.1)
    (clock,) = heat_clocks(weather, 45.0, [kind], None)
    np.testing.assert_allclose(np.diff(clock.past), counted + LEAST_PROGRESS)
