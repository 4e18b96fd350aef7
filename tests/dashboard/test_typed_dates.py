"""Dates typed in the order in which they are shown, read as ISO 8601."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.typed_dates import typed_day, typed_part
from dashboard.words import DAY_FIRST, MONTH_FIRST, WAYS, YEAR_FIRST, Ways, day, short_date

ORDERS = (DAY_FIRST, MONTH_FIRST, YEAR_FIRST)


@given(st.dates(date(1900, 1, 1)), st.sampled_from(ORDERS))
def test_a_date_typed_as_it_is_shown_is_that_date(when: date, order: str) -> None:
    token = WAYS.set(Ways(dates=order))
    shown = day(when), short_date(when), when.isoformat()
    read = {typed_day(text) for text in shown}
    timed = typed_day(f"{short_date(when)} 18:30")
    WAYS.reset(token)
    assert read == {when.isoformat()}
    assert timed in (f"{when}T18:30:00", f"{when} 18:30")


@pytest.mark.parametrize(
    ("order", "typed", "read"),
    [
        (DAY_FIRST, "3/4/2026", "2026-04-03"),
        (DAY_FIRST, "3.4.2026", "2026-04-03"),
        (MONTH_FIRST, "3/4/2026", "2026-03-04"),
        (MONTH_FIRST, "sept 3 2026", "2026-09-03"),
        # No such day, no year, no date: as typed, to be refused where it would be kept.
        (DAY_FIRST, "31 April 2026", "31 April 2026"),
        (DAY_FIRST, "12 Aug", "12 Aug"),
        (DAY_FIRST, "2015", "2015"),
        (DAY_FIRST, "12.8 kg", "12.8 kg"),
    ],
)
def test_other_ways_of_typing_go_by_the_order(order: str, typed: str, read: str) -> None:
    token = WAYS.set(Ways(dates=order))
    found = typed_day(typed)
    WAYS.reset(token)
    assert found == read


@pytest.mark.parametrize(
    ("typed", "part"),
    [("Aug 2026", "2026-08-"), ("8/2026", "2026-08-"), ("12 Aug", "-08-12"), ("aug", "-08-"),
     ("2026-08", "2026-08"), ("2026", "2026"), ("12 August 2026", "2026-08-12"), ("xyz", "xyz")],
)  # fmt: skip
def test_a_part_of_a_date_is_searched_for(typed: str, part: str) -> None:
    assert typed_part(typed) == part
