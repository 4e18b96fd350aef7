"""Gap rules: laws for any record, and how far off filled days are on open records."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from harvest.errors import QuantityError
from harvest.weather.daily import Daily, on_calendar
from harvest.weather.gaps import (
    DEFAULT_RULES,
    LONGEST_INTERPOLATED_DAYS,
    RULES,
    WIDEST_CLIMATE_DAYS,
    fill_gaps,
    usual_days,
)
from tests.weather.open_records import record

WAYS = ("interpolate", "neighbours", "climate")


@st.composite
def holed(draw: st.DrawFn, least: int = 5) -> Daily:
    """Ten to sixty days, minimum and maximum missing here and there."""
    count = draw(st.integers(10, 60))
    low = draw(hnp.arrays(float, count, elements=st.integers(-15, 15).map(float)))
    rise = draw(hnp.arrays(float, count, elements=st.integers(0, 15).map(float)))
    gone = draw(hnp.arrays(bool, (2, count)))
    gone[:, :least] = False
    values = {
        "tmin_c": np.where(gone[0], np.nan, low),
        "tmax_c": np.where(gone[1], np.nan, low + rise),
        "precip_mm": np.full(count, np.nan),
    }
    return Daily(np.datetime64("2021-02-01"), values)


@given(holed(), st.permutations(WAYS).flatmap(lambda p: st.integers(1, 3).map(lambda n: p[:n])))
def test_nothing_measured_changes_every_filled_day_is_marked_and_no_minimum_tops_its_maximum(
    days: Daily, rules: tuple[str, ...]
) -> None:
    neighbour = Daily(days.start, {n: np.arange(len(days)) * 1.0 for n in days.columns})
    filled = fill_gaps(days, rules, neighbour)
    lacking = np.isnan(days.columns["tmin_c"]) | np.isnan(days.columns["tmax_c"])
    still = np.isnan(filled.days.columns["tmin_c"]) | np.isnan(filled.days.columns["tmax_c"])
    for name, values in days.columns.items():
        known = ~np.isnan(values)
        assert np.array_equal(filled.days.columns[name][known], values[known])
    assert np.array_equal(filled.missing, still)
    assert np.array_equal(filled.filled, lacking & ~still)
    assert set(filled.rule[filled.filled]) <= set(rules)
    whole = ~still
    assert (
        filled.days.columns["tmin_c"][whole] <= filled.days.columns["tmax_c"][whole] + 1e-9
    ).all()
    if "climate" in rules:  # only a day without any within a month of it may stay unknown
        apart = np.abs(np.subtract.outer(np.arange(len(days)), np.arange(len(days))))
        seen = [~np.isnan(days.columns[name]) for name in ("tmin_c", "tmax_c")]
        near = [((apart <= WIDEST_CLIMATE_DAYS) & each).any(axis=1) for each in seen]
        assert not (still & near[0] & near[1]).any()
    assert filled.share() == pytest.approx((lacking & ~still).mean())


@given(holed())
def test_none_fills_nothing(days: Daily) -> None:
    filled = fill_gaps(days, ("none",))
    assert filled.share() == 0
    for name, values in days.columns.items():
        assert np.array_equal(filled.days.columns[name], values, equal_nan=True)


@given(holed())
def test_straight_lines_agree_with_pandas_and_cross_at_most_three_days(days: Daily) -> None:
    """pandas fills long gaps in part; ours leaves them whole, so gaps are measured here first."""
    filled = fill_gaps(days, ("interpolate",)).days.columns
    dates = pd.date_range("2021-02-01", periods=len(days))
    lines = {}
    for name in ("tmin_c", "tmax_c"):
        series = pd.Series(days.columns[name], dates)
        run = series.isna().groupby(series.notna().cumsum()).transform("sum")
        line = series.interpolate("time", limit_area="inside")
        lines[name] = line.where(series.notna() | (run <= LONGEST_INTERPOLATED_DAYS))
    low, high = (lines[name].to_numpy() for name in ("tmin_c", "tmax_c"))
    both = ~np.isnan(low) & ~np.isnan(high)
    lacking = np.isnan(days.columns["tmin_c"]) | np.isnan(days.columns["tmax_c"])
    straight = both & (low <= high)
    assert np.allclose(filled["tmin_c"][straight], low[straight])
    assert np.allclose(filled["tmax_c"][straight], high[straight])
    assert np.isnan(np.minimum(filled["tmin_c"], filled["tmax_c"]))[lacking & ~both].all()


@pytest.mark.parametrize(("length", "rule"), [(3, "interpolate"), (4, "none")])
def test_three_days_are_crossed_and_four_are_not(length: int, rule: str) -> None:
    days = on_calendar(record("basel", "2001-01-01", "2001-03-01"))
    for name in ("tmin_c", "tmax_c"):
        days.columns[name][20 : 20 + length] = np.nan
    filled = fill_gaps(days, ("interpolate",))
    assert list(filled.rule[19 : 21 + length]) == ["", *[rule] * length, ""]


def test_rules_are_tried_in_the_order_given() -> None:
    days = on_calendar(record("basel", "2001-01-01", "2010-12-31"))
    other = on_calendar(record("basel", "2001-01-01", "2010-12-31"))
    for name in ("tmin_c", "tmax_c"):
        days.columns[name][1000:1002] = np.nan
        days.columns[name][2000:2030] = np.nan
        days.columns[name][3000:3010] = np.nan
        other.columns[name][3000:3010] = np.nan
    filled = fill_gaps(days, ("interpolate", "neighbours", "climate"), other)
    assert list(filled.rule[[999, 1000, 2000, 2029, 3000, 3009]]) == [
        "", "interpolate", "neighbours", "neighbours", "climate", "climate",
    ]  # fmt: skip
    assert filled.share(1990, 2040) == pytest.approx(30 / 50)


def test_neighbour_is_levelled_by_the_days_both_have() -> None:
    """A neighbour four degrees warmer by day and two by night fills without a step."""
    truth = on_calendar(record("basel", "2001-01-01", "2010-12-31"))
    holes = np.random.default_rng(1).random(len(truth)) < 0.1
    days = Daily(truth.start, {n: np.where(holes, np.nan, v) for n, v in truth.columns.items()})
    warmer = Daily(
        truth.start,
        {**truth.columns, "tmin_c": truth.columns["tmin_c"] + 2,
         "tmax_c": truth.columns["tmax_c"] + 4},
    )  # fmt: skip
    filled = fill_gaps(days, ("neighbours",), warmer)
    for name in ("tmin_c", "tmax_c"):
        assert np.allclose(filled.days.columns[name], truth.columns[name], atol=1e-9)


def test_mean_of_a_day_of_the_year_is_that_of_its_fortnights() -> None:
    """Against pandas: the mean of all values within 15 days of 1 July over all years."""
    rows = record("basel", "1981-01-01", "2000-12-31")
    usual = usual_days(on_calendar(rows), "tmax_c")
    first = rows["date"].dt.normalize().dt.strftime("%Y-01-01")
    slot = (rows["date"] - pd.to_datetime(first)).dt.days
    near = rows.loc[(slot - 181).abs() <= 15, "tmax_c"]
    assert usual[181] == pytest.approx(near.mean())
    assert np.ptp(usual) > 15


def test_a_day_of_another_season_is_no_climate() -> None:
    """Two months in spring say nothing of July; what nobody knows stays unknown."""
    rows = record("basel", "2025-03-01", "2025-07-31")
    known = rows["date"].dt.month < 5
    rows.loc[~known, ["tmin_c", "tmax_c"]] = np.nan
    filled = fill_gaps(on_calendar(rows), ("interpolate", "climate"))
    may_30 = int((~known).idxmax()) + 29
    assert set(filled.rule[known]) == {""}
    assert set(filled.rule[~known][:30]) == {"climate"}
    assert set(filled.rule[may_30 + 1 :]) == {"none"}
    assert np.isnan(filled.days.columns["tmax_c"][may_30 + 1 :]).all()


def test_filled_days_of_an_open_record_are_near_the_truth() -> None:
    """Single days hidden at Basel: a straight line must beat the mean of the season by far, and
    the mean of the season must come within the spread of the days themselves."""
    truth = on_calendar(record("basel", "1991-01-01", "2020-12-31"))
    hidden = np.arange(len(truth)) % 9 == 4
    hidden[-1] = False
    days = Daily(truth.start, {n: np.where(hidden, np.nan, v) for n, v in truth.columns.items()})
    error = {}
    for rule in ("interpolate", "climate"):
        filled = fill_gaps(days, (rule,)).days.columns["tmax_c"]
        error[rule] = np.abs(filled - truth.columns["tmax_c"])[hidden].mean()
    spread = np.abs(truth.columns["tmax_c"] - truth.columns["tmax_c"].mean()).mean()
    assert error["interpolate"] < 0.6 * error["climate"]
    assert error["climate"] < 0.6 * spread


@pytest.mark.parametrize(
    "rules",
    [("guess",), ("interpolate", "kriging"), (), ("none", "climate"), ("climate", "climate")],
)
def test_rules_must_have_a_name_and_go_together(rules: tuple[str, ...]) -> None:
    days = on_calendar(record("basel", "2001-01-01", "2001-02-01"))
    with pytest.raises(QuantityError, match=f"gap rules are {', '.join(RULES)}"):
        fill_gaps(days, rules)


def test_without_a_neighbour_the_next_rule_is_tried() -> None:
    days = on_calendar(record("basel", "2001-01-01", "2002-12-31"))
    for name in ("tmin_c", "tmax_c"):
        days.columns[name][100:110] = np.nan
    filled = fill_gaps(days, DEFAULT_RULES)
    assert set(filled.rule[100:110]) == {"climate"}
