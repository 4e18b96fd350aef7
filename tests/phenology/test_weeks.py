"""Chances by week: the same days, added up from whichever weekday weeks begin on."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest import service
from harvest.phenology.predictive import week_shares
from harvest.seasons import week_start
from harvest.store.orchard import open_orchard

DEMO_DAY = date(2026, 8, 12)


@given(st.dates(), st.integers(0, 6), st.lists(st.floats(0.01, 1), min_size=1, max_size=40))
def test_a_weeks_share_is_that_of_its_days(first: date, begins: int, days: list[float]) -> None:
    if first > date.max - timedelta(days=60):
        return
    chances = np.array([days]) / sum(days)
    (found,) = week_shares(chances, first, begins)
    by_hand: dict[date, float] = {}
    for at, share in enumerate(chances[0]):
        start = week_start(first + timedelta(days=at), begins)
        by_hand[start] = by_hand.get(start, 0.0) + float(share)
    told = {week.start: week.probability for week in found}
    assert told == pytest.approx({day: share for day, share in by_hand.items() if day in told},
                                 abs=1e-4)  # fmt: skip
    assert all(share < 0.005 for day, share in by_hand.items() if day not in told)


@pytest.mark.parametrize("begins", [5, 6])
def test_a_forecast_in_other_weeks_differs_in_its_weeks_alone(
    begins: int, demo_template: str
) -> None:
    orchard = open_orchard(str(demo_template))
    monday = service.forecast(orchard, DEMO_DAY)
    other = service.forecast(orchard, DEMO_DAY, begins)
    assert [(e.tree, e.event, e.quantiles) for e in other] == [
        (e.tree, e.event, e.quantiles) for e in monday
    ]
    assert {week.start.weekday() for each in other for week in each.weeks} == {begins}
    for each, same in zip(other, monday, strict=True):
        assert sum(week.probability for week in each.weeks) == pytest.approx(
            sum(week.probability for week in same.weeks), abs=0.03
        )
