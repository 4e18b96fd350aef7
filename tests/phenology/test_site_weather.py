"""A site's series: gaps filled and marked, and a stored forecast after the last measured day."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from harvest.phenology.site_weather import FORECAST_DAYS, site_weather
from tests.phenology.invented import NOW, dates, orchard, told, weather

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
    found = site_weather(measured(to), np.datetime64(TODAY), pd.concat(issues) if issues else None)
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
