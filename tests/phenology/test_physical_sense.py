"""Warmth, hemispheres and probabilities behave as they must."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd
import pytest

from harvest.phenology.result import EventForecast
from harvest.phenology.window import half_shares
from tests.phenology.invented import NOW, SEASONS, dates, orchard, told, weather
from tests.phenology.made_records import demo_frames, forecast_at, made_records

JUNE = date(NOW, 6, 10)


def warmed(by_c: float) -> dict[str, pd.DataFrame]:
    """The invented orchard with this season's days after bloom so much warmer [degC]."""
    rows = weather()
    season = pd.to_datetime(rows["date"]) > pd.Timestamp(dates()[NOW][0])
    rows.loc[season, ["tmin_c", "tmax_c"]] += by_c
    return orchard(weather=rows)


def test_a_degree_warmer_after_bloom_ripens_peaches_days_sooner() -> None:
    """Low-chill peaches ripened 5 days sooner for each degree warmer over their whole growth
    (Topp & Sherman 1989, Fruit Varieties Journal 43:155-158; over 13 sites). On 10 June some 65
    of the 87 days from bloom have that warmth, so 2 to 7 days are of the right size.
    """
    usual, warm, cold = (told(warmed(by), JUNE)["ripe"].quantiles[0.5] for by in (0.0, 1.0, -1.0))
    assert 2 <= (usual - warm).days <= 7
    assert 2 <= (cold - usual).days <= 7


def test_more_warmth_moves_the_date_further() -> None:
    medians = [told(warmed(by), JUNE)["ripe"].quantiles[0.5] for by in (-2.0, -1.0, 0.0, 1.0, 2.0)]
    assert medians == sorted(medians, reverse=True)


HALF_YEAR = 184


def southern(frames: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """The same orchard south of the equator: every date 184 days earlier."""
    out = {"trees": frames["trees"].assign(planted="2001-05-20")}
    for kind in ("weather", "stages"):
        days = pd.to_datetime(frames[kind]["date"]) - pd.Timedelta(days=HALF_YEAR)
        out[kind] = frames[kind].assign(date=days)
    return out | {"sites": frames["sites"].assign(latitude=-frames["sites"]["latitude"])}


@pytest.mark.parametrize("month", [3, 5])
def test_the_other_hemisphere_half_a_year_apart(month: int) -> None:
    """A mirrored orchard is told the mirrored dates; the calendar's uneven months leave a day."""
    as_of = date(NOW, month, 20)
    frames = orchard()
    mirrored = made_records(date(NOW, 12, 31), southern(frames))
    there = {e.event: e for e in forecast_at(mirrored, as_of - timedelta(days=HALF_YEAR))}
    for name, here in told(frames, as_of).items():
        assert there[name].status == here.status
        assert there[name].season == NOW
        for level, day in here.quantiles.items():
            shifted = there[name].quantiles[level] + timedelta(days=HALF_YEAR)
            assert abs((shifted - day).days) <= 1


@pytest.fixture(scope="module")
def demo_events() -> list[EventForecast]:
    records = made_records(date(2026, 8, 12), demo_frames())
    days = [date(2018, 4, 20), date(2022, 7, 1), date(2024, 12, 1), date(2026, 8, 12)]
    return [event for day in days for event in forecast_at(records, day)]


def test_probabilities_hang_together(demo_events: list[EventForecast]) -> None:
    foretold = [event for event in demo_events if event.status == "forecast"]
    assert len(foretold) > 200
    for event in foretold:
        assert list(event.quantiles.values()) == sorted(event.quantiles.values())
        assert sum(week.probability for week in event.weeks) == pytest.approx(1, abs=0.05)
        assert all(week.start.weekday() == 0 for week in event.weeks)
        weeks = {week.start for week in event.weeks}
        middle = event.quantiles[0.5]
        assert middle - timedelta(days=middle.weekday()) in weeks
        assert event.picking_week == max(event.weeks, key=lambda week: week.probability)


def test_bloom_comes_before_ripe_before_the_last_pick(demo_events: list[EventForecast]) -> None:
    rows = {(e.tree, e.season, e.event): e for e in demo_events if e.status == "forecast"}
    pairs = 0
    for (tree, season, event), ripe in rows.items():
        last = rows.get((tree, season, "last pick"))
        if event == "ripe" and last is not None:
            assert all(last.quantiles[q] >= day for q, day in ripe.quantiles.items())
            pairs += 1
    assert pairs > 50


def test_the_years_on_record_do_not_have_to_be_whole() -> None:
    """Seasons of the past that begin with the record still count."""
    assert told(orchard(), JUNE)["ripe"].basis.seasons == len(SEASONS)


def test_half_of_the_weight_is_in_between_ripe_and_the_last_pick() -> None:
    as_of = date(2026, 8, 12)
    records = made_records(as_of, demo_frames())
    events = {(e.tree, e.season, e.event): e for e in forecast_at(records, as_of)}
    told = [event for event in events.values() if event.half_picked]
    assert len(told) > 30
    for last in told:
        assert last.event == "last pick"
        ripe = events[last.tree, last.season, "ripe"]
        for level, day in last.half_picked.items():
            assert as_of <= day <= last.quantiles[level]
            assert ripe.status == "observed" or ripe.quantiles[level] <= day


def test_where_half_of_the_weight_lay_before_it_is_expected_again() -> None:
    """Four seasons of twenty days' picking, half of it in after fifteen; the prior says ten."""
    own = {"cultivar_key": "a", "window_days": 20.0, "half_days": 15.0}
    cases = pd.DataFrame({"cultivar_key": ["a", "b"]})
    shares = half_shares(pd.DataFrame([own] * 4), cases)
    assert shares[0] == pytest.approx((4 * 0.75 + 3 * 0.5) / 7)
    assert shares[1] == 0.5
