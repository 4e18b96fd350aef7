"""The season rule in both hemispheres: worked cases of the trade, and laws that always hold.

The months of bloom and picking in the worked cases are common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from harvest import seasons
from harvest.seasons import (
    bloom_seasons,
    calendar_season,
    calendar_seasons,
    date_of,
    day_of_season,
    days_of_season,
    first_leaf_season,
    leaf,
    pick_seasons,
    season_label,
    season_start,
    season_starts,
    years_of,
)

NORTH, SOUTH = 51.5, -41.3
DAYS = st.dates(date(1900, 1, 1), date(2100, 12, 31))
LATITUDES = st.floats(-66, 66)


@given(DAYS, st.integers(0, 6))
def test_a_week_begins_on_its_weekday_at_most_six_days_before(day: date, begins: int) -> None:
    start = seasons.week_start(day, begins)
    assert start.weekday() == begins
    assert timedelta() <= day - start < timedelta(days=7)


def stamps(*days: str) -> np.ndarray:
    return np.array(days, dtype="datetime64[D]")


def pick(day: str, latitude: float, usual_bloom: float, least_days: float = 50.0) -> int:
    return int(pick_seasons(stamps(day), latitude, usual_bloom, least_days)[0])


def usual(bloom: str, latitude: float) -> int:
    """Day of season of a usual bloom, written as the date of one."""
    day = date.fromisoformat(bloom)
    return day_of_season(day, calendar_season(day, latitude), latitude)


# What the calendar alone says


@pytest.mark.parametrize(
    ("day", "latitude", "season", "label"),
    [
        ("2026-01-01", NORTH, 2026, "2026"),
        ("2026-12-31", NORTH, 2026, "2026"),
        ("2025-06-30", SOUTH, 2025, "2024/25"),
        ("2025-07-01", SOUTH, 2026, "2025/26"),
        ("2025-10-12", SOUTH, 2026, "2025/26"),
        ("2026-02-03", SOUTH, 2026, "2025/26"),
        ("1999-09-01", SOUTH, 2000, "1999/00"),
        ("2024-02-29", NORTH, 2024, "2024"),
        ("2024-02-29", SOUTH, 2024, "2023/24"),
        # The equator itself counts as north.
        ("2025-10-12", 0.0, 2025, "2025"),
    ],
)
def test_the_season_of_a_date_and_how_it_is_shown(
    day: str, latitude: float, season: int, label: str
) -> None:
    assert calendar_season(date.fromisoformat(day), latitude) == season
    assert season_label(season, latitude) == label


@pytest.mark.parametrize(
    ("day", "season", "latitude", "number"),
    [
        ("2025-01-01", 2025, NORTH, 1),
        ("2025-04-26", 2025, NORTH, 116),
        # 26 April is day 117 of a leap year.
        ("2024-04-26", 2024, NORTH, 117),
        ("2024-12-31", 2024, NORTH, 366),
        ("2025-07-01", 2026, SOUTH, 1),
        ("2025-12-31", 2026, SOUTH, 184),
        ("2026-01-01", 2026, SOUTH, 185),
        # The southern season 2023/24 holds 29 February.
        ("2024-03-01", 2024, SOUTH, 245),
        ("2025-03-01", 2025, SOUTH, 244),
        # Fruit that hangs past the season's end, and a day before its start.
        ("2026-01-10", 2025, NORTH, 375),
        ("2024-12-31", 2025, NORTH, 0),
    ],
)
def test_days_are_counted_from_the_seasons_start(
    day: str, season: int, latitude: float, number: int
) -> None:
    assert day_of_season(date.fromisoformat(day), season, latitude) == number
    assert date_of(number, season, latitude) == date.fromisoformat(day)


@given(DAYS, st.integers(-1, 1), LATITUDES)
def test_day_of_season_and_date_of_undo_each_other(
    day: date, further: int, latitude: float
) -> None:
    season = calendar_season(day, latitude) + further
    assert date_of(day_of_season(day, season, latitude), season, latitude) == day


@given(DAYS, LATITUDES)
def test_a_date_lies_within_its_calendar_season(day: date, latitude: float) -> None:
    season = calendar_season(day, latitude)
    assert season_start(season, latitude) <= day < season_start(season + 1, latitude)
    assert 1 <= day_of_season(day, season, latitude) <= 366


@given(DAYS)
def test_a_southern_season_starts_half_a_year_before_the_northern_one(day: date) -> None:
    season = calendar_season(day, NORTH)
    assert (season_start(season, NORTH) - season_start(season, SOUTH)).days == 184


@given(st.lists(st.tuples(DAYS, LATITUDES), min_size=1, max_size=30))
def test_arrays_give_what_single_dates_give(cases: list[tuple[date, float]]) -> None:
    days = np.array([day for day, _ in cases], dtype="datetime64[D]")
    latitudes = np.array([latitude for _, latitude in cases])
    expected = [calendar_season(*case) for case in cases]
    assert calendar_seasons(days, latitudes).tolist() == expected
    assert season_starts(expected, latitudes).tolist() == [
        season_start(season, case[1]) for season, case in zip(expected, cases, strict=True)
    ]
    assert days_of_season(days, expected, latitudes).tolist() == [
        day_of_season(case[0], season, case[1])
        for season, case in zip(expected, cases, strict=True)
    ]
    assert years_of(days).tolist() == [day.year for day, _ in cases]


def test_times_of_day_do_not_move_a_date_to_another_day() -> None:
    moment = np.array(["2025-06-30T23:59:59"], dtype="datetime64[s]")
    assert calendar_seasons(moment, SOUTH).tolist() == [2025]
    assert days_of_season(moment, [2025], SOUTH).tolist() == [365.0]


# Picks belong to the bloom before them


@pytest.mark.parametrize(
    ("what", "day", "latitude", "bloom", "season"),
    [
        ("apple picked in November", "2025-11-08", NORTH, "2025-05-01", 2025),
        ("apple picked in a leap year's November", "2024-11-08", NORTH, "2024-05-01", 2024),
        ("mandarin picked after New Year, north", "2026-01-20", 39.5, "2025-04-20", 2025),
        ("mandarin picked before New Year, north", "2025-11-30", 39.5, "2025-04-20", 2025),
        ("mandarin picked in winter, south", "2026-06-20", -34.0, "2025-10-10", 2026),
        ("mandarin picked in July, south", "2026-07-15", -34.0, "2025-10-10", 2026),
        ("peach picked in January, south", "2026-01-12", SOUTH, "2025-09-10", 2026),
        ("peach picked before New Year, south", "2025-12-20", SOUTH, "2025-09-10", 2026),
        ("apple picked in May, south", "2026-05-10", SOUTH, "2025-10-10", 2026),
        ("cherry picked in June, north", "2025-06-10", NORTH, "2025-04-15", 2025),
        ("loquat picked in May, north", "2026-05-05", 38.8, "2025-11-25", 2025),
        ("loquat picked in October, south", "2026-10-05", -34.0, "2026-05-25", 2026),
        ("almond picked in August, north", "2026-08-20", 37.0, "2026-02-01", 2026),
        (
            "almond picked on a leap day, south",
            "2024-02-29",
            -34.0,
            "2023-08-01",
            2024,
        ),
    ],
)
def test_a_pick_belongs_to_the_bloom_before_it_whatever_the_calendar_says(
    what: str, day: str, latitude: float, bloom: str, season: int
) -> None:
    assert pick(day, latitude, usual(bloom, latitude)) == season, what


def test_a_late_orange_beside_open_flowers_is_of_the_bloom_before() -> None:
    # Ripe fourteen months after bloom, picked a month after the next one.
    assert pick("2026-05-20", 39.5, usual("2025-04-20", 39.5), least_days=120) == 2025
    assert pick("2026-05-20", 39.5, usual("2025-04-20", 39.5), least_days=20) == 2026


def test_a_logged_bloom_counts_more_than_the_usual_one() -> None:
    # A frost-free year: the peach bloomed three weeks early, and was picked early.
    none = "NaT"
    day, early = stamps("2025-12-01"), stamps(none, "2025-08-05", none)[None, :]
    bloom = usual("2025-10-20", SOUTH)
    assert pick_seasons(day, SOUTH, bloom, 60.0).tolist() == [2025]
    assert pick_seasons(day, SOUTH, bloom, 60.0, early).tolist() == [2026]


def test_a_pick_before_every_bloom_on_record_goes_to_the_season_before() -> None:
    day = stamps("2025-03-01")
    late = stamps("2025-04-10", "2025-04-20", "2026-04-20")[None, :]
    assert pick_seasons(day, NORTH, 110.0, 50.0, late).tolist() == [2024]


@given(DAYS, LATITUDES, st.floats(1, 366), st.floats(1, 200))
def test_a_picks_season_is_never_later_than_its_date(
    day: date, latitude: float, usual_bloom: float, least: float
) -> None:
    season = pick(day.isoformat(), latitude, usual_bloom, least)
    assert season <= calendar_season(day, latitude)
    assert season >= calendar_season(day, latitude) - 1


@given(DAYS, LATITUDES, st.floats(1, 366), st.floats(1, 200), st.integers(1, 90))
def test_a_later_pick_is_never_of_an_earlier_season(
    day: date, latitude: float, usual_bloom: float, least: float, later: int
) -> None:
    after = day + timedelta(days=later)
    first, second = (pick(when.isoformat(), latitude, usual_bloom, least) for when in (day, after))
    assert first <= second


@given(st.integers(1, 365), st.integers(1980, 2060), st.floats(1, 366), st.floats(1, 200))
def test_the_north_shifted_by_half_a_year_mirrors_the_south(
    into: int, season: int, usual_bloom: float, least: float
) -> None:
    north, south = (date_of(into, season, latitude) for latitude in (NORTH, SOUTH))
    assert calendar_season(north, NORTH) == calendar_season(south, SOUTH)
    # Season lengths differ by a day around 29 February, so stay clear of the turn of a rule.
    near = {
        pick((north + timedelta(days=shift)).isoformat(), NORTH, usual_bloom, least)
        for shift in (-2, 0, 2)
    }
    assume(len(near) == 1)
    assert pick(south.isoformat(), SOUTH, usual_bloom, least) == near.pop()


# Blooms across the season's end


@pytest.mark.parametrize(
    ("day", "latitude", "usual_bloom", "season"),
    [
        # Loquat in the north flowers from October into January.
        ("2025-10-25", 38.8, 325, 2025),
        ("2025-12-31", 38.8, 325, 2025),
        ("2026-01-09", 38.8, 325, 2025),
        # And in the south from April into July.
        ("2026-04-28", -34.0, 325, 2026),
        ("2026-07-09", -34.0, 325, 2026),
        # Spring bloom keeps the calendar's season, however early or late.
        ("2026-01-25", 37.0, 45, 2026),
        ("2026-06-15", 60.0, 150, 2026),
        ("2025-08-01", SOUTH, 45, 2026),
        ("2025-11-20", SOUTH, 120, 2026),
        # A very early bloom is that of the spring it opens: almond, low-chill peach.
        ("2025-12-28", 36.0, 40, 2026),
        ("2025-06-24", -27.5, 60, 2026),
        # An odd second bloom in autumn stays in the year it was seen.
        ("2026-09-20", NORTH, 120, 2026),
        ("2026-09-20", 36.0, 40, 2026),
        ("2026-12-20", NORTH, 120, 2026),
    ],
)
def test_the_season_of_a_bloom(day: str, latitude: float, usual_bloom: int, season: int) -> None:
    assert bloom_seasons(stamps(day), latitude, usual_bloom).tolist() == [season]


def test_a_loquats_bloom_and_its_pick_share_a_season_on_both_sides_of_new_year() -> None:
    blooms = stamps("2025-12-20", "2026-01-05")
    assert bloom_seasons(blooms, 38.8, 325).tolist() == [2025, 2025]
    logged = np.array([["NaT", "2026-01-05", "NaT"]], dtype="datetime64[D]")
    logged = np.roll(logged, -1, axis=1)  # season 2025 lies before the pick's calendar season
    assert pick_seasons(stamps("2026-05-10"), 38.8, 325, 60.0, logged).tolist() == [2025]


@given(DAYS, LATITUDES, st.floats(1, 366))
def test_a_bloom_is_at_most_half_a_year_from_the_usual_day_or_of_its_calendar_season(
    day: date, latitude: float, usual_bloom: float
) -> None:
    stamp = np.array([day], dtype="datetime64[D]")
    season = bloom_seasons(stamp, latitude, usual_bloom)
    calendar = calendar_season(day, latitude)
    assert abs(season[0] - calendar) <= 1
    if season[0] != calendar:
        away = np.abs(days_of_season(stamp, [season[0], calendar], latitude) - usual_bloom)
        assert away[0] <= 184
        assert away[0] < away[1]


# Leaves of a young tree


@pytest.mark.parametrize(
    ("planted", "latitude", "first"),
    [
        # Dormant planting: leaf 1 in the spring that follows.
        ("2023-11-20", NORTH, 2024),
        ("2024-02-29", NORTH, 2024),
        ("2024-03-10", NORTH, 2024),
        ("2024-06-20", SOUTH, 2025),
        ("2024-08-10", SOUTH, 2025),
        # Spring planting: that season.
        ("2024-05-05", NORTH, 2024),
        ("2024-06-30", NORTH, 2024),
        ("2024-10-15", SOUTH, 2025),
        ("2024-12-31", SOUTH, 2025),
        # Set out in summer or autumn: the next spring.
        ("2024-07-01", NORTH, 2025),
        ("2024-10-15", NORTH, 2025),
        ("2025-01-01", SOUTH, 2026),
        ("2025-04-15", SOUTH, 2026),
    ],
)
def test_leaf_one_is_the_first_growing_season_after_planting(
    planted: str, latitude: float, first: int
) -> None:
    day = date.fromisoformat(planted)
    assert first_leaf_season(day, latitude) == first
    assert leaf(day, first, latitude) == 1
    assert leaf(day, first + 2, latitude) == 3
    assert leaf(day, first - 1, latitude) == 0


@given(DAYS, LATITUDES)
def test_the_first_leaf_is_never_before_planting_nor_more_than_a_season_after(
    planted: date, latitude: float
) -> None:
    first = first_leaf_season(planted, latitude)
    assert 0 <= first - calendar_season(planted, latitude) <= 1


@given(st.integers(1, 12), st.integers(1980, 2060))
def test_planting_half_a_year_apart_gives_the_same_leaf_in_both_hemispheres(
    month: int, season: int
) -> None:
    north = date(season, month, 15)
    months = (season * 12 + month - 1) - 6
    south = date(months // 12, months % 12 + 1, 15)
    assert first_leaf_season(north, NORTH) == first_leaf_season(south, SOUTH)


def test_the_module_never_asks_what_day_it_is() -> None:
    assert not {"today", "now", "datetime"} & set(vars(seasons))
