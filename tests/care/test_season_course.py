from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.care.season_course import chill_course, heat_between, heat_course
from harvest.weather.daily import Daily, DayHours
from tests.care.weather_made import site_days

NORTH, SOUTH = 47.0, -34.0
BASE = (4.0, None)
AS_OF = date(2026, 7, 1)


def constant(
    first: date, last: date, usual_c: float, now_c: float | None = None, season: int = 2026
) -> Daily:
    """Days of one temperature, those of a season's year of another."""
    days = (last - first).days + 1
    years = np.array([(first + timedelta(days=n)).year for n in range(days)])
    temperature = np.where(years == season, usual_c if now_c is None else now_c, usual_c)
    return site_days(first, np.zeros(days), tmin=temperature, tmax=temperature)


def test_constant_days_add_up_by_the_definition_of_a_degree_day() -> None:
    """A day at 10 degC all through is 6 degree days over 4 degC, at 12 degC 8."""
    record = constant(date(2019, 1, 1), AS_OF - timedelta(days=1), 10.0, 12.0)
    course = heat_course(record, None, AS_OF, NORTH, BASE)
    assert course.first == date(2026, 1, 1)
    assert course.last_day == date(2026, 6, 30)
    assert course.total == pytest.approx(181 * 8)
    assert course.usual == pytest.approx(181 * 6)
    assert course.years == 7
    # 181 days at 8 are as far as 241.3 days at 6: 60 days ahead.
    assert course.days_ahead == 60


def test_nothing_is_usual_with_two_past_years() -> None:
    record = constant(date(2024, 1, 1), AS_OF - timedelta(days=1), 10.0)
    course = heat_course(record, None, AS_OF, NORTH, BASE)
    assert course.years == 2
    assert course.usual is None
    assert course.days_ahead is None


def test_in_the_depth_of_winter_no_day_is_ahead_or_behind() -> None:
    record = constant(date(2019, 1, 1), date(2026, 1, 3), 10.0, 12.0)
    assert heat_course(record, None, date(2026, 1, 4), NORTH, BASE).days_ahead is None


def test_a_missing_day_is_taken_as_usual_and_counted() -> None:
    record = constant(date(2019, 1, 1), AS_OF - timedelta(days=1), 10.0, 12.0)
    for values in (record.columns["tmin_c"], record.columns["tmax_c"]):
        values[record.position(date(2026, 3, 5))] = np.nan
        values[record.position(date(2022, 1, 1)) : record.position(date(2022, 3, 1))] = np.nan
    course = heat_course(record, None, AS_OF, NORTH, BASE)
    assert course.filled == 1
    assert course.years == 6, "2022 lacks two months"
    # The day is taken as the mean of the six whole years at 10 degC.
    assert course.total == pytest.approx(180 * 8 + 6)


def test_a_forecast_carries_the_line_on_until_its_first_gap() -> None:
    record = constant(date(2019, 1, 1), AS_OF - timedelta(days=1), 10.0)
    low = np.array([10.0, 10.0, np.nan, 10.0])
    ahead = site_days(AS_OF, np.zeros(4), tmin=low, tmax=low)
    course = heat_course(record, ahead, AS_OF, NORTH, BASE)
    known = np.flatnonzero(~np.isnan(course.ahead))
    assert [course.first + timedelta(days=int(n)) for n in known] == [
        date(2026, 6, 30), date(2026, 7, 1), date(2026, 7, 2),
    ]  # fmt: skip
    assert course.last_day == date(2026, 6, 30)


@pytest.mark.parametrize(
    ("as_of", "latitude", "first"),
    [
        (date(2026, 9, 30), NORTH, date(2025, 10, 1)),
        (date(2026, 10, 2), NORTH, date(2026, 10, 1)),
        (date(2026, 3, 31), SOUTH, date(2025, 4, 1)),
        (date(2026, 4, 2), SOUTH, date(2026, 4, 1)),
    ],
)
def test_a_winter_is_shown_until_the_next_begins(as_of: date, latitude: float, first: date) -> None:
    record = constant(date(2018, 1, 1), as_of - timedelta(days=1), 6.0)
    course = chill_course(record, None, as_of, latitude)
    assert course.first == first
    assert course.total is not None


def test_no_chill_gathers_at_25_degrees_and_much_at_6() -> None:
    """The Dynamic Model has its optimum near 6 degC and forms nothing in steady heat: Erez and
    Fishman (1998); Fishman et al. (1987)."""
    warm = constant(date(2018, 1, 1), date(2026, 5, 31), 25.0)
    cold = constant(date(2018, 1, 1), date(2026, 5, 31), 6.0)
    day = date(2026, 6, 1)
    assert chill_course(warm, None, day, NORTH).total == pytest.approx(0.0, abs=0.01)
    assert (chill_course(cold, None, day, NORTH).total or 0) > 150


def test_hours_measured_at_the_site_count_as_measured() -> None:
    """Days of 25 degC through, but a thermometer that read 6 degC every hour of the last winter:
    the Dynamic Model makes 34.204 portions of 1000 such hours (computed apart)."""
    record = constant(date(2018, 1, 1), date(2026, 5, 31), 25.0)
    winter = date(2025, 10, 1)
    read = DayHours(np.datetime64(winter, "D"), np.full((42, 24), 6.0))
    course = chill_course(replace(record, hours=read), None, date(2026, 6, 1), NORTH)
    assert course.first == winter
    assert course.on(winter + timedelta(days=41)) == pytest.approx(34.2, abs=0.7)
    assert course.usual == pytest.approx(0.0, abs=0.01), "other winters had no thermometer"


def test_years_with_and_without_measured_hours_stand_on_one_level() -> None:
    """Every winter's days run from 2 to 20 degC; in four winters a thermometer was there, and saw
    either for one hour only and 5 degC for the rest. Read so, those four would seem far richer in
    chill than the others, whose hours follow a sine: by nothing but the thermometer."""
    first, last = date(2016, 7, 1), date(2026, 5, 31)
    days = (last - first).days + 1
    record = site_days(first, np.zeros(days), tmin=np.full(days, 2.0), tmax=np.full(days, 20.0))
    day = np.full(24, 5.0)
    day[4], day[14] = 2.0, 20.0
    read = DayHours(np.datetime64(date(2022, 7, 1), "D"), np.tile(day, (1430, 1)))
    plain = chill_course(record, None, date(2026, 6, 1), NORTH)
    mixed = chill_course(replace(record, hours=read), None, date(2026, 6, 1), NORTH)
    assert mixed.total is not None
    assert mixed.usual is not None
    assert plain.total is not None
    assert mixed.total > 2 * plain.total, "the hours do tell something else"
    assert mixed.usual == pytest.approx(mixed.total, rel=0.1)


def test_heat_from_bloom_to_ripe_leaves_out_the_day_of_bloom() -> None:
    record = constant(date(2026, 1, 1), date(2026, 12, 31), 10.0)
    spans = [(date(2026, 4, 20), date(2026, 8, 28)), (date(2025, 12, 1), date(2026, 2, 1))]
    sums = heat_between(record, spans, BASE)
    assert sums[0] == pytest.approx(130 * 6)
    assert np.isnan(sums[1]), "it began before the record"


@given(st.integers(0, 10_000), st.integers(40, 360))
def test_totals_never_fall_and_the_middle_lies_between(seed: int, day: int) -> None:
    as_of = date(2025, 1, 1) + timedelta(days=day)
    low = np.random.default_rng(seed).uniform(-15, 35, (as_of - date(2022, 1, 1)).days)
    record = site_days(date(2022, 1, 1), np.zeros(len(low)), tmin=low, tmax=low + 8)
    course = heat_course(record, None, as_of, NORTH, BASE)
    assert (np.diff(course.now[~np.isnan(course.now)]) >= 0).all()
    assert (course.least <= course.median).all()
    assert (course.median <= course.most).all()
