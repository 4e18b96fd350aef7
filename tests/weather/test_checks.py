"""Checks on open records: no false alarm in them, and every planted error is found.

Thresholds with a source: GHCN-Daily's checks (Durre et al. 2010, J. Appl. Meteorol. Climatol.
49:1615-1633; summary opened at www.ncdc.noaa.gov/oa/climate/ghcn-daily, "quality").
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from harvest.weather import checks, rules
from harvest.weather.checks import find_suspect
from harvest.weather.climate import climate_of
from harvest.weather.daily import on_calendar
from harvest.weather.rules import RULES
from harvest.weather.shifts import find_shifted
from tests.weather.open_records import record


def with_values(days: pd.DataFrame, date: str, **values: float) -> pd.DataFrame:
    changed = days.copy()
    for name, value in values.items():
        changed.loc[changed["date"] == date, name] = value
    return changed


def rules_on(found: pd.DataFrame, date: str) -> set[str]:
    return set(found.loc[found["date"] == date, "rule"])


@pytest.mark.parametrize("name", ["basel", "washington_dc"])
def test_76_years_of_a_quality_checked_record_raise_no_alarm(name: str) -> None:
    """Both records passed GHCN-Daily's own checks; among them are the cold of February 1956 at
    Basel (-22 degC, more than five spreads below the usual) and Washington's warm winters."""
    assert find_suspect(record(name)).empty


def test_january_day_of_31_degrees_at_basel_is_suspect() -> None:
    found = find_suspect(with_values(record("basel"), "1955-01-02", tmax_c=31.4))
    assert found[["column", "value", "rule"]].to_numpy().tolist() == [
        ["tmax_c", 31.4, rules.CLIMATE]
    ]
    assert found["date"].tolist() == [pd.Timestamp("1955-01-02")]


@pytest.mark.parametrize(("name", "missed"), [("basel", 0), ("washington_dc", 4)])
@pytest.mark.parametrize("years", [4, 12, 76])
def test_31_degrees_on_a_january_day_are_found_in_long_and_short_records(
    name: str, missed: int, years: int
) -> None:
    """At Basel (warmest January day of 76 years: 19.0) always; at Washington, where January has
    reached 26.7 degC, all but a few beside days that were nearly as warm."""
    days = record(name, f"{2025 - years}-01-01", "2024-12-31")
    january = days.loc[days["date"].dt.month == 1, "date"]
    found = [
        day in set(find_suspect(with_values(days, str(day.date()), tmax_c=31.0))["date"])
        for day in january.sample(25, random_state=7)
    ]
    assert found.count(False) <= missed


def test_gap_rule_is_the_published_one_ten_degrees_beyond_all_others_of_the_month() -> None:
    days = record("washington_dc")
    warmest = days.loc[days["date"].dt.month == 1, "tmax_c"].max()
    found = find_suspect(with_values(days, "1990-01-15", tmax_c=warmest + 10.0))
    assert found[["column", "rule"]].to_numpy().tolist() == [["tmax_c", rules.CLIMATE]]


def test_outlier_rule_is_the_published_one_six_spreads_from_the_fortnight() -> None:
    days = record("basel", "1980-01-01", "2020-12-31")
    daily = on_calendar(days)
    climate = climate_of(daily)
    week = 200 // 7
    usual, spread = climate.centre["tmin_c"][week], climate.spread["tmin_c"][week]
    within = with_values(days, "1999-07-20", tmin_c=usual - 5.9 * spread)
    beyond = with_values(days, "1999-07-20", tmin_c=usual - 6.1 * spread)
    assert rules.CLIMATE not in rules_on(find_suspect(within), "1999-07-20")
    assert rules.CLIMATE in rules_on(find_suspect(beyond), "1999-07-20")


def test_spread_follows_scipy_on_clean_values_and_outliers_cannot_move_it() -> None:
    """Biweight scale against the plain standard deviation of a normal sample (Lanzante 1996)."""
    random = np.random.default_rng(5)
    dates = pd.date_range("1980-01-01", "2019-12-31").astype("datetime64[s]")
    days = pd.DataFrame({"date": dates, "tmin_c": random.normal(3, 4, len(dates))})
    days["tmax_c"] = days["tmin_c"] + 10
    clean = climate_of(on_calendar(days))
    assert np.allclose(clean.spread["tmin_c"], 4, atol=0.6)
    assert np.allclose(clean.centre["tmin_c"], 3, atol=0.7)
    spoilt = days.assign(tmin_c=days["tmin_c"].where(random.random(len(dates)) > 0.03, 500.0))
    moved = climate_of(on_calendar(spoilt))
    assert np.abs(moved.centre["tmin_c"] - clean.centre["tmin_c"]).max() < 0.5
    assert np.abs(moved.spread["tmin_c"] - clean.spread["tmin_c"]).max() < 0.6


@pytest.mark.parametrize(
    ("values", "rule", "columns"),
    [
        ({"tmin_c": 20.0, "tmax_c": 15.0}, rules.CROSSED, {"tmin_c", "tmax_c"}),
        ({"tmax_c": 75.0}, rules.IMPOSSIBLE, {"tmax_c"}),
        ({"tmin_c": -99.9}, rules.IMPOSSIBLE, {"tmin_c"}),
        ({"precip_mm": -1.0}, rules.IMPOSSIBLE, {"precip_mm"}),
        ({"tmin_c": 0.0, "tmax_c": 0.0}, rules.NOUGHT, {"tmin_c", "tmax_c"}),
        ({"tmin_c": -17.8, "tmax_c": -17.8}, rules.NOUGHT, {"tmin_c", "tmax_c"}),
    ],
)
def test_what_cannot_be(values: dict[str, float], rule: str, columns: set[str]) -> None:
    found = find_suspect(with_values(record("basel"), "1999-06-10", **values))
    mine = found[(found["date"] == "1999-06-10") & (found["rule"] == rule)]
    assert set(mine["column"]) == columns
    assert set(found["date"]) == {pd.Timestamp("1999-06-10")}


def test_a_days_range_of_forty_degrees_is_too_wide() -> None:
    days = record("basel", "2000-01-01", "2000-03-31")
    days = with_values(days, "2000-02-10", tmax_c=float(days["tmin_c"].max()) + 41)
    assert rules.RANGE in rules_on(find_suspect(days), "2000-02-10")


def test_spike_of_25_degrees_is_found_even_in_a_month_of_record() -> None:
    days = record("basel", "2000-04-01", "2000-05-10")
    low = with_values(days, "2000-04-20", tmin_c=-25.0)
    assert rules_on(find_suspect(low), "2000-04-20") == {rules.JUMP}


def test_the_last_day_and_one_beside_a_hole_have_one_neighbour_to_go_by() -> None:
    """In 76 years a day changes by six times the usual more seldom than once in three thousand
    days; a fall of the minimum is kept, as it may be a frost."""
    days = record("basel", "2024-01-01", "2024-12-31")
    for place, high in (("2024-12-31", 31.0), ("2024-08-31", 55.0)):
        hot = with_values(days[days["date"] != "2024-09-01"], place, tmax_c=high)
        assert rules_on(find_suspect(hot), place) == {rules.JUMP}
    for beside in ({"tmax_c": 31.0}, {"tmax_c": -17.8, "tmin_c": -17.8}):  # a bad neighbour is none
        assert not rules_on(find_suspect(with_values(days, "2024-12-30", **beside)), "2024-12-31")
    frost = with_values(days, "2024-12-30", tmin_c=8.0, tmax_c=9.0)
    assert find_suspect(with_values(frost, "2024-12-31", tmin_c=-8.0)).empty
    for name in ("basel", "washington_dc"):
        change = record(name)["tmax_c"].diff().abs()
        assert (change >= max(6 * 1.4826 * change.median(), 15)).mean() < 1 / 3000


def test_one_nights_frost_between_mild_nights_is_not_thrown_away() -> None:
    """A killing frost is what growers keep the record for: 10 degC below both nights beside it."""
    days = record("washington_dc", "1990-01-01", "2019-12-31")
    night = days["date"] == "2005-04-15"
    beside = days["date"].isin(pd.to_datetime(["2005-04-14", "2005-04-16"]))
    days.loc[beside, "tmin_c"] = 8.0
    days.loc[night, "tmin_c"] = -2.5
    assert rules_on(find_suspect(days), "2005-04-15") == set()


def test_stuck_sensor_is_found_from_its_first_day() -> None:
    days = record("basel", "1990-01-01", "2009-12-31")
    stuck = days["date"].between("2001-05-10", "2001-05-15")
    both = days.copy()
    both.loc[stuck, ["tmin_c", "tmax_c"]] = [8.3, 17.9]
    found = find_suspect(both)
    assert set(found["rule"]) == {rules.STUCK}
    assert found["date"].min() == pd.Timestamp("2001-05-10")
    assert found["date"].max() == pd.Timestamp("2001-05-15")
    one = days.copy()
    longer = days["date"].between("2001-05-10", "2001-05-19")
    one.loc[longer, "tmin_c"] = 8.3
    one.loc[longer, "tmax_c"] += 4
    assert set(find_suspect(one)["column"]) == {"tmin_c"}
    level = days.copy()
    level.loc[stuck, "tmax_c"] = level.loc[stuck, "tmin_c"]
    assert set(find_suspect(level)["rule"]) == {rules.STUCK}


def test_whole_degrees_in_a_calm_climate_are_not_stuck() -> None:
    """Where equal days are common, a run must be longer: chance decides, not a fixed number."""
    random = np.random.default_rng(2)
    dates = pd.date_range("1990-01-01", "2009-12-31").astype("datetime64[s]")
    steps = random.choice([0, 0, 0, 1, -1], size=(2, len(dates)))
    low = 24 + np.clip(np.cumsum(steps[0]) % 5, 0, 4)
    high = 31 + np.clip(np.cumsum(steps[1]) % 5, 0, 4)
    days = pd.DataFrame({"date": dates, "tmin_c": low * 1.0, "tmax_c": high * 1.0})
    equal = (days["tmin_c"].diff() == 0) & (days["tmax_c"].diff() == 0)
    assert equal.mean() > 0.3
    assert len(find_suspect(days)) < 0.002 * len(days)


def test_fahrenheit_within_a_celsius_file_and_the_other_way_round() -> None:
    days = record("basel", "1990-01-01", "2009-12-31")
    part = days["date"].between("2001-03-01", "2001-04-10")
    temperatures = ["tmin_c", "tmax_c"]
    hot = days.copy()
    hot.loc[part, temperatures] = hot.loc[part, temperatures] * 9 / 5 + 32
    summer = days["date"].between("2001-05-20", "2001-08-31")
    cold = days.copy()
    cold.loc[summer, temperatures] = (cold.loc[summer, temperatures] - 32) * 5 / 9
    tenths = days.copy()
    tenths.loc[part, temperatures] *= 10
    for spoilt, where in ((hot, part), (cold, summer), (tenths, part)):
        found = find_suspect(spoilt)
        mixed = found.loc[found["rule"] == rules.MIXED, "date"]
        assert set(mixed) <= set(days.loc[where, "date"])
        assert len(set(found["date"])) >= 0.9 * where.sum()
        assert len(set(mixed)) >= 0.8 * where.sum()


def test_the_same_day_twice_with_other_values() -> None:
    days = record("basel", "2001-01-01", "2001-12-31")
    again = days[days["date"] == "2001-05-05"]
    alike = pd.concat([days, again])
    assert find_suspect(alike).empty
    other = pd.concat([days, again.assign(tmax_c=again["tmax_c"] + 1)])
    found = find_suspect(other)
    assert set(found["rule"]) == {rules.DOUBLE}
    assert set(found["date"]) == {pd.Timestamp("2001-05-05")}


def test_a_month_copied_into_another_year() -> None:
    days = record("basel", "1990-01-01", "2009-12-31")
    values = days.loc[days["date"].between("1999-05-01", "1999-05-31"), ["tmin_c", "tmax_c"]]
    copied = days["date"].between("2003-05-01", "2003-05-31")
    days.loc[copied, ["tmin_c", "tmax_c"]] = values.to_numpy()
    found = find_suspect(days)
    assert set(found["rule"]) == {rules.REPEATED}
    assert set(found["date"].dt.strftime("%Y-%m")) == {"1999-05", "2003-05"}


@pytest.mark.parametrize("late", [1, -1])
def test_a_source_that_runs_a_day_late_or_early_against_a_trusted_one(late: int) -> None:
    trusted = record("basel", "2001-01-01", "2004-12-31")
    random = np.random.default_rng(3)
    own = trusted.copy()
    own[["tmin_c", "tmax_c"]] += random.normal(0, 1, (len(own), 2)) - 0.7
    own = own.drop(own.index[random.choice(len(own), 40, replace=False)])
    assert find_shifted(own, trusted).empty
    off = own["date"].between("2002-03-02", "2002-08-30")
    own.loc[off, "date"] += pd.Timedelta(days=late)
    found = find_shifted(own, trusted)
    assert set(found["rule"]) == {rules.SHIFTED}
    assert set(found["date"].dt.strftime("%Y-%m")) == {f"2002-0{m}" for m in range(3, 9)}


def test_another_place_with_weather_of_its_own_is_not_taken_for_a_shift() -> None:
    assert find_shifted(record("washington_dc"), record("basel")).empty


def test_a_confirmed_day_is_no_longer_suspect() -> None:
    days = with_values(record("basel"), "1955-01-02", tmax_c=31.4)
    days["confirmed"] = days["date"] == "1955-01-02"
    assert find_suspect(days).empty


def test_a_longer_record_lends_its_climate_to_a_short_one() -> None:
    climate = climate_of(on_calendar(record("basel")))
    short = with_values(
        record("basel", "2020-12-20", "2021-02-10"), "2021-01-15", tmin_c=15.0, tmax_c=30.0
    )
    short = with_values(short, "2021-01-16", tmin_c=15.0, tmax_c=28.0)
    assert rules.CLIMATE not in set(find_suspect(short)["rule"])
    assert rules.CLIMATE in rules_on(find_suspect(short, climate), "2021-01-15")


@pytest.mark.parametrize("rows", [0, 1, 2, 40])
def test_a_record_of_a_few_days_is_judged_by_what_can_be_known(rows: int) -> None:
    days = record("basel", "2000-01-01").head(rows)
    assert find_suspect(days).empty
    assert list(find_suspect(days).columns) == rules.FOUND


def test_every_rule_is_written_down_and_only_those_are_used() -> None:
    assert {name for name, _ in checks._CHECKS} | {rules.DOUBLE, rules.SHIFTED} == set(RULES)
    assert all(text.endswith(".") and len(text) > 30 for text in RULES.values())
