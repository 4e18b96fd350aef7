"""A site's series: gaps filled and marked, and a stored forecast after the last measured day."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from harvest.phenology.site_weather import FORECAST_DAYS, site_weather
from harvest.thermal import hourly_temperature
from harvest.weather.hours import HOURS
from harvest.weather.site_record import SiteRecords
from tests.phenology.invented import COLUMNS, NOW, dates, orchard, told, weather

TODAY = date(NOW, 5, 20)


def issue(issued: date, days: int, tmax_c: float, skip: int | None = None) -> pd.DataFrame:
    """A forecast of so many days from the day it was issued."""
    rows = [
        {"site": "A", "issued": issued, "date": issued + timedelta(days=n)}
        for n in range(days)
        if n != skip
    ]
    frame = pd.DataFrame(rows).assign(tmin_c=tmax_c - 10, tmax_c=tmax_c, source="model")
    for name in ("issued", "date"):
        frame[name] = frame[name].astype("datetime64[s]")
    return frame


def measured(to: date) -> pd.DataFrame:
    rows = weather()
    rows["date"] = rows["date"].astype("datetime64[s]")
    return rows[rows["date"] <= pd.Timestamp(to)]


def series(to: date, *issues: pd.DataFrame) -> tuple[np.ndarray, int]:
    """Maxima after the last measured day [degC], and days known from the as-of date on."""
    issued = pd.concat(issues) if issues else None
    places = SiteRecords(orchard()["sites"].assign(elevation_m=np.nan), measured(to))
    found = site_weather(places, "A", np.datetime64(TODAY), issued)
    assert found is not None
    begin = int((np.datetime64(to) - found.start).astype(int)) + 1
    known = int((found.last_known - np.datetime64(TODAY)).astype(int)) + 1
    return found.tmax_c[begin:], known


YESTERDAY = TODAY - timedelta(days=1)


def test_without_a_forecast_the_series_ends_yesterday() -> None:
    after, known = series(YESTERDAY)
    assert len(after) == 0
    assert known == 0


def test_a_forecast_counts_for_a_week() -> None:
    after, known = series(YESTERDAY, issue(TODAY, 14, 31.0))
    assert known == FORECAST_DAYS == len(after)
    assert (after == 31.0).all()


def test_the_latest_issue_of_a_day_counts() -> None:
    old, new = issue(TODAY - timedelta(days=3), 8, 20.0), issue(TODAY, 3, 31.0)
    after, _ = series(YESTERDAY, old, new)
    assert after.tolist() == [31.0] * 3 + [20.0] * 2


def test_it_bridges_a_station_that_reports_late() -> None:
    old = issue(TODAY - timedelta(days=4), 4, 20.0)
    after, known = series(TODAY - timedelta(days=4), old, issue(TODAY, 2, 31.0))
    assert after.tolist() == [20.0] * 3 + [31.0] * 2
    assert known == 2


def test_it_stops_at_its_first_missing_day() -> None:
    after, known = series(YESTERDAY, issue(TODAY, 6, 31.0, skip=2))
    assert known == 2
    assert len(after) == 2


def test_an_issue_of_a_later_day_is_not_looked_at() -> None:
    assert series(YESTERDAY, issue(TODAY + timedelta(days=1), 6, 31.0))[1] == 0


def test_a_hot_forecast_brings_the_ripe_date_forward() -> None:
    frames = orchard()
    usual = told(frames, TODAY)["ripe"].quantiles[0.5]
    hot = told(frames | {"weather_ahead": issue(TODAY, 7, 36.0)}, TODAY)["ripe"].quantiles[0.5]
    cold = told(frames | {"weather_ahead": issue(TODAY, 7, 14.0)}, TODAY)["ripe"].quantiles[0.5]
    late = issue(TODAY + timedelta(days=1), 7, 36.0)
    assert hot < usual < cold
    assert told(frames | {"weather_ahead": late}, TODAY)["ripe"].quantiles[0.5] == usual
    assert dates()[NOW][0] < TODAY


def test_gaps_that_no_rule_fills_leave_warmth_uncounted_and_say_so() -> None:
    frames = orchard()
    bloom = dates()[NOW][0]
    when = pd.to_datetime(frames["weather"]["date"])
    gone = when.between(pd.Timestamp(bloom) + timedelta(days=5), pd.Timestamp(bloom + timedelta(9)))
    holed = frames | {"weather": frames["weather"][~gone].reset_index(drop=True)}
    filled = told(holed, TODAY)["ripe"]
    none = told(holed, TODAY, gap_rules={"A": ("none",)})["ripe"]
    assert filled.basis.filled_days == none.basis.filled_days == 5
    assert "no weather" not in filled.basis.model
    assert "filled by the site's gap rules" in " ".join(filled.warnings)
    assert "no weather" in none.basis.model
    assert "5 days since bloom have no temperature" in " ".join(none.warnings)
    assert none.status == "forecast"


def test_measured_hours_count_beside_seasons_without_them() -> None:
    """Hours as they would be worked out change nothing; a warm course of the day does."""
    frames = orchard()
    usual = told(frames, TODAY)["ripe"].quantiles[0.5]
    rows = measured(YESTERDAY)
    year = (rows["date"].dt.day_of_year).to_numpy()
    low, high = (rows[name].to_numpy(dtype=float) for name in ("tmin_c", "tmax_c"))
    plain = hourly_temperature(low, high, 44.0, year).reshape(-1, 24)
    recent = (rows["date"] >= pd.Timestamp(TODAY) - pd.Timedelta(days=400)).to_numpy()
    hours = pd.DataFrame(plain[recent], columns=list(HOURS))
    hours.insert(0, "site", "A")
    hours.insert(1, "date", rows.loc[recent, "date"].to_numpy())
    assert told(frames, TODAY, weather_hours=hours)["ripe"].quantiles[0.5] == usual
    warm = hours.copy()
    since = (warm["date"] >= pd.Timestamp(dates()[NOW][0])).to_numpy()
    warm.loc[since, list(HOURS)] += 6
    assert told(frames, TODAY, weather_hours=warm)["ripe"].quantiles[0.5] <= usual


def test_a_site_with_a_short_record_takes_its_usual_year_from_the_site_beside() -> None:
    frames = orchard()
    recent = frames["weather"]
    recent = recent[pd.to_datetime(recent["date"]) >= pd.Timestamp(NOW - 3, 1, 1)]
    beside = pd.DataFrame([("A", 44.0, 5.0), ("B", 44.2, 5.1)], columns=COLUMNS["sites"])
    other = weather("B", warmer=-2.0)
    lone = told(frames | {"weather": recent}, TODAY)["ripe"]
    lent = told(frames | {"sites": beside, "weather": pd.concat([recent, other])}, TODAY)["ripe"]
    whole = told(frames, TODAY)["ripe"]
    assert "so its usual year is uncertain" in " ".join(lone.warnings)
    assert "its usual year rests on B too" in " ".join(lent.warnings)
    assert not any("usual year" in each for each in whole.warnings)
    assert lent.quantiles == whole.quantiles
