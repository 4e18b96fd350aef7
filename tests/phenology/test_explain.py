"""Every forecast explains itself in two sentences, and the sentences are true."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pandas as pd
import pytest

from harvest.phenology.explain import explained
from harvest.phenology.result import EventForecast
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons
from tests.phenology.invented import LAST, NOW, dates, empty, orchard, seasons, weather
from tests.phenology.made_records import demo_frames, forecast_at, made_records

MAY = date(NOW, 5, 20)


def reasons(frames: dict[str, pd.DataFrame], as_of: date) -> dict[str, EventForecast]:
    records = made_records(LAST, frames).until(as_of)
    traits = tree_traits(records)
    events = explained(with_seasons(records, traits), traits)
    return {e.event: e for e in events if e.tree == "P1" and e.season == as_of.year}


def warmer(by_c: float, last_days: int) -> dict[str, pd.DataFrame]:
    rows = weather()
    when = pd.to_datetime(rows["date"])
    late = when >= pd.Timestamp(MAY - timedelta(days=last_days))
    rows.loc[late, ["tmin_c", "tmax_c"]] += by_c
    return orchard(weather=rows)


def test_two_sentences_and_the_same_dates_as_without() -> None:
    records = made_records(date(2026, 8, 12), demo_frames())
    for day in (date(2021, 6, 10), date(2025, 3, 20), date(2026, 8, 12)):
        known = records.until(day)
        traits = tree_traits(known)
        told = explained(with_seasons(known, traits), traits)
        assert [e.quantiles for e in told] == [e.quantiles for e in forecast_at(records, day)]
        for event in told:
            if event.status != "forecast":
                assert event.explanation == ""
                continue
            sentences = re.split(r"(?<=[a-z0-9])\. (?=[A-Z])", event.explanation)
            assert len(sentences) == 2, event.explanation
            assert sentences[0].startswith("It rests on ")
            assert event.explanation.endswith(".")
            assert "nan" not in event.explanation
            assert not re.search(r"\b1 (days|trees|seasons)\b|\b0 days\b", event.explanation)


def test_it_says_what_it_rests_on() -> None:
    own = reasons(orchard(), MAY)["ripe"].explanation
    assert own.startswith("It rests on 10 past seasons of of the house, seen on 1 tree; ")
    alone = reasons(orchard(stages=empty("stages"), weather=empty("weather")), MAY)
    assert alone["ripe"].explanation.startswith(
        "It rests on what is generally known of peach, not on own records; warmth is not counted, "
        "since there is no weather to count it by."
    )


def test_before_bloom_it_speaks_of_bloom() -> None:
    told = reasons(orchard(stages=seasons("P1")), date(NOW, 3, 10))["full bloom"].explanation
    assert told.startswith("It rests on 10 past blooms of of the house; warmth since ")


@pytest.mark.parametrize(("by_c", "side"), [(4.0, "ahead of"), (-4.0, "behind")])
def test_warmth_is_told_in_days(by_c: float, side: str) -> None:
    """Three weeks 4 degC warmer: some 4 * 21 degree days over the 9 to 14 of a day in May."""
    told = reasons(warmer(by_c, 21), MAY)["ripe"].explanation
    found = re.search(r"warmth since bloom on (\d+ \w+) is (\d+) days (ahead of|behind)", told)
    assert found is not None, told
    bloom = dates()[NOW][0]
    assert found[1] == f"{bloom.day} {bloom:%B}"
    assert 3 <= int(found[2]) <= 12
    assert found[3] == side


def test_a_hot_week_is_what_moved_it() -> None:
    told = reasons(warmer(6.0, 7), MAY)["ripe"]
    assert re.search(
        r"Its middle date has moved \d days? sooner since a week ago, to \d+ (June|July); in that "
        r"week warmth was [2-7] days ahead of the usual\.$",
        told.explanation,
    ), told.explanation
    middle = told.quantiles[0.5]
    assert f"to {middle.day} {middle:%B};" in told.explanation


def test_a_logged_bloom_is_told() -> None:
    day = dates()[NOW][0] + timedelta(days=2)
    assert "and its full bloom was logged." in reasons(orchard(), day)["ripe"].explanation


def test_neighbours_that_came_ripe_are_told() -> None:
    """A second peach beside it, ripe two days before the day that is asked about."""
    trees = pd.concat(
        [
            orchard()["trees"],
            orchard()["trees"].assign(tree="P2", cultivar="early of the house"),
        ]
    )
    ripe = pd.DataFrame([("P2", MAY - timedelta(days=2), 87)], columns=["tree", "date", "bbch"])
    stages = pd.concat([orchard()["stages"], ripe])
    told = reasons(orchard(trees=trees, stages=stages), MAY)["ripe"].explanation
    assert "1 other peach tree here came ripe." in told


def test_too_early_in_the_season_for_warmth() -> None:
    told = reasons(orchard(stages=seasons("P1")), date(NOW, 1, 2))
    assert "it is too early in its season for warmth to tell." in told["full bloom"].explanation
