"""Bringing other places' records to a site's level, and weighing them into one."""

from __future__ import annotations

import numpy as np
import pytest

from harvest.weather.daily import Daily, on_calendar
from harvest.weather.neighbours import Neighbour, brought_to, weigh_neighbours
from tests.thermal.reference_values import CheckValue, each
from tests.weather.open_records import record


def basel(first: str = "2001-01-01", last: str = "2006-12-31") -> Daily:
    return on_calendar(record("basel", first, last))


def warmer(days: Daily, low: float, high: float) -> Daily:
    columns = days.columns
    return Daily(
        days.start,
        {**columns, "tmin_c": columns["tmin_c"] + low, "tmax_c": columns["tmax_c"] + high},
    )


def nothing() -> Daily:
    empty = {name: np.full(1, np.nan) for name in ("tmin_c", "tmax_c", "precip_mm")}
    return Daily(np.datetime64("1900-01-01"), empty)


@each("lapse")
def test_300_m_higher_is_1_95_degrees_colder_by_day_and_half_that_by_night(
    check: CheckValue,
) -> None:
    """ICAO standard atmosphere (Doc 7488), 6.5 degC per km; the half is common practice, no
    source."""
    days = basel()
    up = brought_to(nothing(), days, rise_m=300)
    assert np.allclose(up.columns["tmax_c"] - days.columns["tmax_c"], check.expected)
    assert np.allclose(up.columns["tmin_c"] - days.columns["tmin_c"], check.expected / 2)


def test_unknown_height_corrects_nothing() -> None:
    days = basel()
    assert np.array_equal(
        brought_to(nothing(), days, np.nan).columns["tmax_c"], days.columns["tmax_c"]
    )


def test_shared_days_are_believed_before_any_height() -> None:
    days = basel()
    site = warmer(days, -2.0, 1.5).between(np.datetime64("2004-01-01"), 400)
    level = brought_to(site, days, rise_m=900)
    assert np.allclose(level.columns["tmin_c"] - days.columns["tmin_c"], -2.0)
    assert np.allclose(level.columns["tmax_c"] - days.columns["tmax_c"], 1.5)


def test_few_shared_days_are_not_believed() -> None:
    days = basel()
    site = warmer(days, -2.0, 8.0).between(np.datetime64("2004-01-01"), 20)
    assert np.allclose(brought_to(site, days).columns["tmax_c"], days.columns["tmax_c"])


def test_a_height_correction_never_puts_the_minimum_above_the_maximum() -> None:
    level = brought_to(nothing(), basel(), rise_m=2500)
    assert (level.columns["tmin_c"] <= level.columns["tmax_c"]).all()


def test_nearer_and_like_height_counts_more_and_shares_add_up() -> None:
    days = basel()
    weighed = weigh_neighbours(
        [
            Neighbour("near", days, 3, 300),
            Neighbour("far", days, 30, 300),
            Neighbour("near, on the mountain", days, 3, 1300),
        ],
        elevation_m=300,
    )
    share = weighed.share
    assert sum(share.values()) == pytest.approx(1)
    assert share["near"] > share["far"]
    assert share["near"] > share["near, on the mountain"]


def test_the_record_does_not_step_when_a_colder_neighbour_falls_silent() -> None:
    """Neighbours are levelled to one another before they are weighed."""
    days = basel()
    cold = warmer(days, -5.0, -5.0)
    for name in ("tmin_c", "tmax_c"):
        cold.columns[name][1000:] = np.nan
    weighed = weigh_neighbours(
        [Neighbour("a", days, 5, 300), Neighbour("b", cold, 6, 300)], elevation_m=300
    )
    assert np.allclose(weighed.days.columns["tmax_c"], days.columns["tmax_c"])


def test_the_sites_own_days_set_the_level() -> None:
    days = basel()
    own = warmer(days, -1.0, 0.5).between(np.datetime64("2005-05-01"), 365)
    weighed = weigh_neighbours([Neighbour("a", days, 12, 800)], elevation_m=300, own=own)
    assert np.allclose(weighed.days.columns["tmin_c"], days.columns["tmin_c"] - 1.0)
    assert np.allclose(weighed.days.columns["tmax_c"], days.columns["tmax_c"] + 0.5)


def test_rain_is_one_neighbours_rain_and_no_mean_of_showers() -> None:
    days = basel()
    dry = Daily(days.start, {**days.columns, "precip_mm": np.zeros(len(days))})
    wet = Daily(days.start, {**days.columns, "precip_mm": np.full(len(days), 10.0)})
    wet.columns["precip_mm"][100] = np.nan
    both = [Neighbour("wet", wet, 2, 300), Neighbour("dry", dry, 9, 300)]
    rain = weigh_neighbours(both, elevation_m=300).days.columns["precip_mm"]
    assert set(rain[:100]) == {10.0}
    assert rain[100] == 0.0


def test_records_of_other_times_are_put_end_to_end() -> None:
    early, late = basel("2001-01-01", "2003-12-31"), basel("2003-06-01", "2006-12-31")
    weighed = weigh_neighbours(
        [Neighbour("a", early, 5, 300), Neighbour("b", late, 5, 300)], elevation_m=300
    )
    whole = basel()
    assert weighed.days.start == whole.start
    assert np.allclose(weighed.days.columns["tmax_c"], whole.columns["tmax_c"])
