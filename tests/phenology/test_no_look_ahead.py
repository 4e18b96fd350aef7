"""Nothing dated after the as-of date may move a forecast, by a day or at all."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import numpy as np
import pandas as pd
import pytest

from harvest import service
from harvest.phenology.result import EventForecast
from tests.phenology.made_records import demo_frames, forecast_at, made_records

END = date(2026, 8, 12)
DAYS = [date(2019, 3, 1), date(2021, 6, 10), date(2023, 11, 20), date(2025, 8, 1)]
WEATHER = ["tmin_c", "tmax_c"]


@cache
def told(day: date) -> list[EventForecast]:
    """As forecast on a day of the past by one who holds the records of all seasons."""
    return forecast_at(made_records(END, demo_frames()), day)


def altered(day: date, seed: int) -> dict[str, pd.DataFrame]:
    """The demo orchard's files with everything dated after a day changed, moved or dropped."""
    random = np.random.default_rng(seed)
    frames = demo_frames()
    for kind in list(frames):
        if "date" not in frames[kind]:
            continue
        rows = frames[kind].copy()
        first_unknown = day if kind == "weather" else day + timedelta(days=1)
        later = np.flatnonzero(rows["date"].str[:10] >= first_unknown.isoformat())
        if kind == "weather":
            rows.loc[later, WEATHER] += random.normal(0, 8, (len(later), 1))
            rows = rows.drop(index=random.choice(later, len(later) // 5, replace=False))
        else:
            when = pd.to_datetime(rows.loc[later, "date"].str[:10])
            moved = when + pd.to_timedelta(random.integers(0, 400, len(later)), unit="D")
            rows.loc[later, "date"] = moved.dt.strftime("%Y-%m-%d")
            rows = rows.drop(index=random.choice(later, len(later) // 3, replace=False))
            key = [name for name in ("tree", "site", "date", "bbch", "pass") if name in rows]
            rows = rows.drop_duplicates(key)
        frames[kind] = rows
    trees = frames["trees"].copy()
    planted = pd.to_datetime(trees["planted"]) > pd.Timestamp(day)
    trees.loc[planted, "cultivar"] = "something else"
    standing = ~(pd.to_datetime(trees["removed"]) <= pd.Timestamp(day))
    gone = (day + timedelta(days=int(random.integers(1, 90)))).isoformat()
    trees.loc[standing, "removed"] = np.where(random.random(standing.sum()) < 0.5, gone, None)
    return {**frames, "trees": trees}


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_what_comes_later_changes_nothing(day: date) -> None:
    records = made_records(END, altered(day, seed=day.year))
    assert forecast_at(records, day) == told(day)
    assert {event.status for event in told(day)} >= {"forecast", "observed"}


def test_later_weather_is_really_other_weather() -> None:
    """The alteration above reaches the forecasts of a later day."""
    day = DAYS[1]
    records = made_records(END, altered(day, seed=1))
    later = day + timedelta(days=40)
    assert forecast_at(records, later) != told(later)


def test_the_order_of_rows_does_not_matter() -> None:
    frames = {
        kind: frame.sample(frac=1, random_state=3).reset_index(drop=True)
        for kind, frame in demo_frames().items()
    }
    assert forecast_at(made_records(END, frames), DAYS[1]) == told(DAYS[1])


def test_the_same_twice() -> None:
    assert forecast_at(made_records(END, demo_frames()), DAYS[1]) == told(DAYS[1])


def test_the_past_as_stored_gives_what_was_said_then(demo_template: object) -> None:
    """Records read back from the database on a day of the past, and cut to it in memory."""
    orchard = service.open_orchard(str(demo_template))
    day = DAYS[3]
    from_store = service.forecast(orchard, day)
    from_memory = forecast_at(service.records(orchard, END), day)
    orchard.engine.dispose()
    assert [(e.tree, e.event, e.status, e.quantiles) for e in from_store] == [
        (e.tree, e.event, e.status, e.quantiles) for e in from_memory
    ]
