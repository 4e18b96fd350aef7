"""The ensemble after the as-of date: what is in it, in what weight, and what may not be."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from scipy.stats import theilslopes

from harvest.errors import QuantityError
from harvest.weather.ahead import (
    HALVING_YEARS,
    Choice,
    dates_ahead,
    forecast_on,
    weather_ahead,
)
from harvest.weather.daily import Daily, on_calendar
from tests.weather.open_records import record

AS_OF = np.datetime64("2015-04-10")


def past_of(name: str, first: str, last: str = "2015-04-09") -> Daily:
    return on_calendar(record(name, first, last))


def measured(past: Daily) -> np.ndarray:
    return np.zeros(len(past), dtype=bool)


def test_each_past_year_is_one_future_from_the_same_day_on() -> None:
    past = past_of("basel", "1985-01-01")
    ahead = weather_ahead(past, measured(past), choice=Choice(horizon_days=200))
    assert list(ahead.years_back) == list(range(1, 31))
    assert ahead.weight.sum() == pytest.approx(1)
    assert np.ptp(ahead.weight) == 0
    assert dates_ahead(ahead)[0] == AS_OF
    truth = record("basel").set_index("date")
    for member in (0, 12, 29):
        day = pd.Timestamp(2015 - int(ahead.years_back[member]), 4, 10)
        near = [day + pd.Timedelta(days=off) for off in (-1, 0, 1)]
        first = ahead.tmax_c[member, 0]
        assert first in [truth.loc[d, "tmax_c"] for d in near]
        run = truth.loc[near[0] : near[0] + pd.Timedelta(days=210), "tmax_c"].to_numpy()
        assert any(np.array_equal(ahead.tmax_c[member], run[at : at + 200]) for at in range(3))


def test_recent_decades_count_more_by_the_stated_halving() -> None:
    past = past_of("basel", "1970-01-01")
    ahead = weather_ahead(past, measured(past), choice=Choice(weights="recent decades"))
    assert ahead.weight.sum() == pytest.approx(1)
    by_year = dict(zip(ahead.years_back, ahead.weight, strict=True))
    assert by_year[1 + int(HALVING_YEARS)] == pytest.approx(by_year[1] / 2)


def test_years_with_too_many_filled_days_are_no_futures() -> None:
    past = past_of("basel", "2000-01-01")
    filled = measured(past)
    back_five = len(past) - round(5 * 365.25)
    filled[back_five : back_five + 60] = True
    ahead = weather_ahead(past, filled, choice=Choice(horizon_days=200))
    assert 5 not in ahead.years_back
    assert 9 in ahead.years_back


def test_warming_is_that_of_scipys_median_slope_and_is_added_to_earlier_years() -> None:
    past = past_of("basel", "1975-01-01")
    plain = weather_ahead(past, measured(past))
    warmed = weather_ahead(past, measured(past), choice=Choice(warming=True))
    mean = (past.columns["tmin_c"] + past.columns["tmax_c"]) / 2
    count = int(len(mean) / 365.25)
    edges = len(mean) - np.round(np.arange(count + 1) * 365.25).astype(int)
    yearly = [mean[b:a].mean() for a, b in pairwise(edges)]
    slope = theilslopes(yearly, -np.arange(count)).slope * 10
    assert warmed.warming_c_per_decade == pytest.approx(slope)
    assert 0.2 < slope < 0.8  # warmer by decades at Basel, as everywhere in central Europe
    added = (warmed.tmax_c - plain.tmax_c)[:, 0]
    assert np.allclose(added, slope / 10 * plain.years_back)


def test_warming_of_a_short_record_is_unknown_and_nothing_is_added() -> None:
    past = past_of("basel", "2004-01-01")
    ahead = weather_ahead(past, measured(past), choice=Choice(warming=True))
    assert np.isnan(ahead.warming_c_per_decade)
    assert np.array_equal(ahead.tmax_c, weather_ahead(past, measured(past)).tmax_c)


def test_a_short_record_borrows_the_years_it_lacks_at_its_own_level() -> None:
    own = past_of("basel", "2011-01-01")
    longer = past_of("basel", "1985-01-01", "2026-02-21")
    colder = Daily(
        longer.start,
        {**longer.columns, "tmin_c": longer.columns["tmin_c"] - 3,
         "tmax_c": longer.columns["tmax_c"] - 3},
    )  # fmt: skip
    ahead = weather_ahead(own, measured(own), borrow=colder)
    assert list(ahead.years_back) == list(range(1, 31))
    assert list(ahead.borrowed) == [False] * 4 + [True] * 26
    truth = weather_ahead(past_of("basel", "1985-01-01"), measured(past_of("basel", "1985-01-01")))
    assert np.allclose(ahead.tmax_c, truth.tmax_c, atol=1e-9)


def test_what_is_borrowed_ends_at_the_as_of_date() -> None:
    own = past_of("basel", "2013-01-01")
    longer = past_of("basel", "1985-01-01", "2026-02-21")
    spoilt = Daily(longer.start, {name: values.copy() for name, values in longer.columns.items()})
    after = spoilt.dates >= AS_OF
    for name in ("tmin_c", "tmax_c"):
        spoilt.columns[name][after] += 25
    one, other = (weather_ahead(own, measured(own), borrow=b) for b in (longer, spoilt))
    assert np.array_equal(one.tmax_c, other.tmax_c)


def test_no_record_and_nothing_to_borrow_is_an_empty_ensemble() -> None:
    own = past_of("basel", "2014-10-01")
    assert len(weather_ahead(own, measured(own))) == 0


def issues(*rows: tuple[str, str, float | None]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["issued", "date", "tmin_c"])
    for name in ("issued", "date"):
        frame[name] = pd.to_datetime(frame[name]).astype("datetime64[s]")
    frame["tmin_c"] = frame["tmin_c"].astype(float)
    return frame.assign(tmax_c=frame["tmin_c"] + 10)


def test_forecast_days_come_first_up_to_their_first_hole() -> None:
    past = past_of("basel", "2000-01-01")
    told = issues(
        ("2015-04-10", "2015-04-10", 1), ("2015-04-10", "2015-04-11", 2),
        ("2015-04-10", "2015-04-13", 4),
    )  # fmt: skip
    forecast = forecast_on(told, AS_OF)
    plain = weather_ahead(past, measured(past))
    ahead = weather_ahead(past, measured(past), forecast=forecast)
    assert ahead.forecast_days == 2
    assert (ahead.tmin_c[:, :2] == [1, 2]).all()
    assert (ahead.tmax_c[:, :2] == [11, 12]).all()
    assert np.array_equal(ahead.tmax_c[:, 2:], plain.tmax_c[:, 2:])


def test_only_issues_up_to_the_day_count_and_of_them_the_latest() -> None:
    told = issues(
        ("2015-04-08", "2015-04-10", 1), ("2015-04-09", "2015-04-10", 2),
        ("2015-04-11", "2015-04-11", 9), ("2015-04-09", "2015-04-11", 3),
        ("2015-04-08", "2015-04-09", 7),
    )  # fmt: skip
    forecast = forecast_on(told, AS_OF)
    assert forecast is not None
    assert forecast.start == AS_OF
    assert list(forecast.columns["tmin_c"]) == [2, 3]
    assert forecast_on(told, np.datetime64("2015-04-07")) is None
    assert forecast_on(told, np.datetime64("2015-04-20")) is None


def test_weights_must_have_a_name() -> None:
    past = past_of("basel", "2010-01-01")
    with pytest.raises(QuantityError, match="weights are all years or recent decades"):
        weather_ahead(past, measured(past), choice=Choice(weights="lucky years"))
