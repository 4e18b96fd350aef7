"""What is kept of a reading of the weather, and for how long."""

from __future__ import annotations

import weakref
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest

from harvest.store.orchard import open_orchard
from harvest.store.reading import DAYS_CHECKED, WeatherTables, read_tables

DAY = date(2026, 6, 1)


@pytest.fixture
def weather(filled_sqlite: Path) -> Iterator[WeatherTables]:
    orchard = open_orchard(str(filled_sqlite))
    yield read_tables(orchard).weather
    orchard.engine.dispose()


def test_the_weather_of_the_last_days_asked_for_is_kept_and_no_more(weather: WeatherTables) -> None:
    days = [DAY + timedelta(days=at) for at in range(DAYS_CHECKED + 1)]
    found = [weather.on(day) for day in days]
    assert [weather.on(day) is kept for day, kept in zip(days[1:], found[1:], strict=True)] == [
        True
    ] * DAYS_CHECKED
    anew = weather.on(DAY)
    assert anew is not found[0]
    pd.testing.assert_frame_equal(anew[0], found[0][0])


def test_what_was_checked_goes_with_the_reading_it_was_checked_for(filled_sqlite: Path) -> None:
    orchard = open_orchard(str(filled_sqlite))
    old = read_tables(orchard).weather
    with ThreadPoolExecutor(4) as pool:
        assert all(len(days) for days, _ in pool.map(old.on, [DAY] * 8))
    gone = [weakref.ref(each) for each in (old, *old.on(DAY))]
    new = read_tables(orchard).weather
    pd.testing.assert_frame_equal(new.on(DAY)[0], old.on(DAY)[0])
    del old
    assert [each() for each in gone] == [None] * 3
    orchard.engine.dispose()
