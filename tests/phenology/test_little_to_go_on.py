"""Thin records: a wider span or "unknown", with the reason, and never an exception."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.phenology.invented import (
    NOW,
    after,
    empty,
    orchard,
    seasons,
    told,
    weather,
    width,
)
from tests.phenology.made_records import demo_frames, forecast_at, made_records

MAY = date(NOW, 5, 20)
MARCH = date(NOW, 3, 1)
Frames = dict[str, pd.DataFrame]


def only_seasons(count: int) -> Frames:
    frames = orchard()
    now = frames["stages"][after(frames["stages"], date(NOW, 1, 1))]
    past = seasons("P1", range(NOW - count, NOW)) if count else empty("stages")
    return frames | {"stages": pd.concat([past, now])}


def without_gaps(every: int) -> Frames:
    rows = weather()
    return orchard(weather=rows[np.arange(len(rows)) % every > 0])


CASES: dict[str, tuple[Callable[[], Frames], str]] = {
    "no weather": (lambda: orchard(weather=empty("weather")), "No weather is on record"),
    "no seasons": (lambda: only_seasons(0), "No past season of of the house"),
    "one season": (lambda: only_seasons(1), "Only 1 past season"),
    "weather stops in winter": (
        lambda: orchard(weather=weather()[~after(weather(), date(NOW, 1, 10))]),
        "have no measured temperature",
    ),
    "weather of three weeks": (
        lambda: orchard(weather=weather()[after(weather(), MAY - timedelta(days=21))]),
        "weather",
    ),
    "no bloom logged": (
        lambda: orchard(stages=seasons("P1")),
        "Full bloom was not logged",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_it_says_why_and_is_no_surer_than_with_all_records(name: str) -> None:
    make, reason = CASES[name]
    ripe = told(make(), MAY)["ripe"]
    assert ripe.status == "forecast"
    assert any(reason in warning for warning in ripe.warnings), ripe.warnings
    assert width(ripe) > width(told(orchard(), MAY)["ripe"])
    assert ripe.quantiles[0.05] >= MAY


def test_nothing_known_but_the_tree() -> None:
    """The species alone: peaches take 60 to 160 days from bloom (common practice, no source)."""
    frames = orchard(weather=empty("weather"), stages=empty("stages"))
    found = told(frames, MARCH)
    assert {event.status for event in found.values()} == {"forecast"}
    assert found["ripe"].basis.prior == "species"
    assert width(found["ripe"]) > 30
    days = (found["ripe"].quantiles[0.5] - found["full bloom"].quantiles[0.5]).days
    assert 60 <= days <= 160


def test_an_empty_orchard_has_nothing_to_forecast() -> None:
    nothing = {"sites": empty("sites"), "trees": empty("trees")}
    assert forecast_at(made_records(MAY, nothing), MAY) == []
    no_trees = {**orchard(), "trees": empty("trees"), "stages": empty("stages")}
    assert forecast_at(made_records(MAY, no_trees), MAY) == []


def test_a_bloom_long_ago_without_a_pick_is_unknown() -> None:
    found = told(orchard(), date(NOW, 11, 20))
    assert found["full bloom"].status == "observed"
    assert found["ripe"].status == "unknown"
    assert any("neither ripe (BBCH 87) nor a pick" in w for w in found["ripe"].warnings)


def test_a_tree_set_after_the_bloom_has_no_crop_to_forecast() -> None:
    """Planted in July it has no flowers of this year, whatever other trees of its kind did."""
    frames = orchard()
    late = pd.DataFrame(
        [("P2", "A", "peach", "of the house", f"{NOW}-07-01")], columns=frames["trees"].columns
    )
    day = date(NOW, 7, 10)
    frames["trees"] = pd.concat([frames["trees"], late])
    found = forecast_at(made_records(day, frames), day)
    ripe = next(e for e in found if (e.tree, e.season, e.event) == ("P2", NOW, "ripe"))
    assert ripe.status == "unknown"
    assert ripe.warnings == (f"Planted on 1 Jul {NOW}, after the bloom of season {NOW}.",)


def test_bloom_overdue_asks_for_a_look_and_then_is_unknown() -> None:
    frames = orchard(stages=seasons("P1"))
    bloom = [
        told(frames, date(NOW, 4, 1) + timedelta(days=n))["full bloom"] for n in range(0, 75, 3)
    ]
    asked = [any("look at the tree" in w for w in event.warnings) for event in bloom]
    known = [event.status == "forecast" for event in bloom]
    first = asked.index(True)
    assert not any(asked[:first])
    assert known[first]
    assert known == sorted(known, reverse=True)
    assert bloom[-1].status == "unknown"
    assert "No full bloom (BBCH 65) was logged" in bloom[-1].warnings[0]


def test_where_nobody_ever_logs_a_stage_bloom_is_not_put_off_week_by_week() -> None:
    """Silence there says nothing of the tree: a bloom that was most likely due is unknown."""
    days = [date(NOW, 4, 1) + timedelta(days=n) for n in range(0, 48, 6)]
    silent = [told(orchard(stages=empty("stages")), day) for day in days]
    assert {each["full bloom"].status for each in silent} == {"forecast", "unknown"}
    for each in silent:
        bloom, notes = each["full bloom"], " ".join(each["ripe"].warnings)
        assert ("No full bloom is logged yet" in notes) == (bloom.status == "forecast")
        assert not any("look at the tree" in text for text in bloom.warnings)  # due by 95 %
    ripe = [each["ripe"].quantiles[0.5] for each in silent]
    assert (max(ripe) - min(ripe)).days < 10


def test_single_missing_days_hardly_matter() -> None:
    whole, holed = told(orchard(), MAY)["ripe"], told(without_gaps(12), MAY)["ripe"]
    assert abs((whole.quantiles[0.5] - holed.quantiles[0.5]).days) <= 2
    assert abs(width(whole) - width(holed)) <= 3


def test_one_tree_alone_says_so() -> None:
    assert told(orchard(), MAY)["ripe"].basis.trees == 1


def test_the_span_narrows_as_seasons_come() -> None:
    spans = [width(told(only_seasons(count), MAY)["ripe"]) for count in (0, 1, 3, 6, 10)]
    assert spans[0] > spans[1] > spans[2] >= spans[3] >= spans[4] - 1
    assert spans[4] < 0.6 * spans[0]


def test_on_average_the_demo_orchards_spans_narrow_over_the_years() -> None:
    records = made_records(date(2026, 8, 12), demo_frames())
    spans = []
    for year in (2016, 2018, 2021, 2025):
        events = forecast_at(records, date(year, 6, 10))
        spans.append(
            np.mean([width(e) for e in events if e.event == "ripe" and e.status == "forecast"])
        )
    assert spans[0] > spans[1] > spans[3]
    assert spans[1] > spans[2]


@settings(max_examples=25, deadline=None)
@given(
    st.dates(date(2009, 7, 1), date(2020, 12, 31)),
    st.integers(0, 3),
    st.floats(0, 0.9),
    st.integers(0, 2**31),
)
def test_any_part_of_the_records_gives_an_answer(
    as_of: date, few: int, lost: float, seed: int
) -> None:
    """Whatever is missing, on any day: ordered quantiles, weeks that add up, or a reason."""
    random = np.random.default_rng(seed)
    whole = orchard()
    frames = {
        kind: rows[random.random(len(rows)) >= lost] if kind in ("stages", "weather") else rows
        for kind, rows in whole.items()
    }
    if few == 0:
        frames["weather"] = empty("weather")
    for event in forecast_at(made_records(date(2020, 12, 31), frames), as_of):
        if event.status != "forecast":
            assert event.status == "observed" or event.warnings
            assert event.quantiles == {}
            continue
        dates = list(event.quantiles.values())
        assert dates == sorted(dates)
        assert dates[0] >= as_of
        assert sum(week.probability for week in event.weeks) == pytest.approx(1, abs=0.05)
        middle = event.quantiles[0.5]
        assert event.weeks[0].start <= middle <= event.weeks[-1].start + timedelta(days=6)
