"""Partners: kinds that serve, days in bloom together, and the weather bees find.

Apples need another apple cultivar; triploids do not serve (common practice, no source). Pollen
that carries an S-allele of the flower is rejected: sweet cherries Bing and Lambert, both S3 S4,
are the textbook pair that cannot set each other (from memory).
"""

from __future__ import annotations

import dataclasses
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.care.bees import bee_weather
from harvest.care.bloom_windows import BloomWindow, bloom_window
from harvest.care.outlook import UNKNOWN, TreeSeason, around, seen_on
from harvest.care.pollination import MOST_LISTED
from harvest.care.pollination import pollination as pollination_of
from harvest.care.tree_distance import Spots
from harvest.compatibility import Parents
from harvest.service_care import pollination
from harvest.service_known import known_on
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reference import cultivar_table, pollination_table, species_table
from harvest.weather.daily import DayHours
from tests.care.weather_made import site_days
from tests.orchards import Row, plant, put

PARENTS = Parents(species_table(), cultivar_table(), pollination_table())


def match(species: str, target: str, partner: str, other: str | None = None) -> str | None:
    found = PARENTS.match(PARENTS.kind(species, target), PARENTS.kind(other or species, partner))
    return None if found is None else found.serves


@pytest.mark.parametrize(
    ("species", "target", "partner", "serves"),
    [
        ("apple", "Gala", "Gala", "no"),
        ("apple", "Gala", "Belle de Boskoop", "no"),  # triploid
        ("apple", "Belle de Boskoop", "Fuji", "yes"),
        ("apple", "Gala", "Lord Lambourne", "no"),  # both S2 S5
        ("apple", "Gala", "Fuji", "yes"),  # S1 S9 against S2 S5
        ("apple", "Gala", "An unknown seedling", "unknown"),
        ("sweet cherry", "Burlat", "Chelan", "no"),  # both S3 S9
        ("sweet cherry", "Bing", "Stella", "yes"),  # S4' is not rejected
        ("european pear", "Bartlett", "Seckel", "no"),  # both S101 S102
    ],
)
def test_who_serves_whom(species: str, target: str, partner: str, serves: str) -> None:
    assert match(species, target, partner) == serves


def test_other_species_serve_only_where_the_table_says_so() -> None:
    assert match("apple", "Gala", "Bartlett", "european pear") is None
    assert match("european plum", "Stanley", "Santa Rosa", "japanese plum") == "no"
    assert match("peach", "Elberta", "Fantasia", "nectarine") == "yes"
    assert match("european pear", "Bartlett", "Hosui", "asian pear") == "unknown"


@given(st.integers(0, 30), st.integers(1, 20), st.integers(0, 30), st.integers(1, 20))
def test_overlap_is_the_days_common_to_both(a: int, m: int, b: int, n: int) -> None:
    start = date(2026, 4, 1)
    one = BloomWindow(start + timedelta(a), start + timedelta(a + m - 1), "logged", 0)
    two = BloomWindow(start + timedelta(b), start + timedelta(b + n - 1), "logged", 0)
    days = set(range(a, a + m)) & set(range(b, b + n))
    assert one.overlap(two) == two.overlap(one) == len(days)


def season(bloom: date | None) -> TreeSeason:
    when = UNKNOWN if bloom is None else seen_on(bloom)
    return TreeSeason("T", "H", "apple", "Gala", 2026, 50.0, 9, when, UNKNOWN, UNKNOWN)


def test_a_window_is_logged_or_stands_around_full_bloom_or_is_not_known() -> None:
    seen = {60: date(2026, 4, 19), 61: date(2026, 4, 21), 67: date(2026, 5, 2)}
    logged = bloom_window(season(date(2026, 4, 25)), seen)
    assert logged == BloomWindow(date(2026, 4, 21), date(2026, 5, 2), "logged", 0)
    around_bloom = bloom_window(season(date(2026, 4, 25)), {})
    assert around_bloom is not None
    assert around_bloom.first < date(2026, 4, 25) < around_bloom.last
    assert around_bloom.basis == "around the logged full bloom"
    assert bloom_window(season(None), {}) is None
    foretold = TreeSeason(
        "T", "H", "apple", "Gala", 2026, 50.0, 9, around(date(2026, 4, 25), 5.0), UNKNOWN, UNKNOWN
    )
    window = bloom_window(foretold, {})
    assert window is not None
    assert (window.basis, window.give_or_take_days) == ("forecast", 6)  # 1.2816 x 5 days


def test_hours_for_bees_are_warm_dry_and_light() -> None:
    first, last = date(2026, 4, 20), date(2026, 4, 23)
    warm = {"tmin": [14.0] * 4, "tmax": [20.0] * 4}
    all_dry = bee_weather(site_days(first, [0.0] * 4, **warm), first, last, 45.0)
    assert all_dry.share == 1.0
    half_wet = bee_weather(site_days(first, [0.0, 5.0, 0.2, 1.0], **warm), first, last, 45.0)
    assert half_wet.share == pytest.approx(0.5)
    cold = {"tmin": [2.0] * 4, "tmax": [12.9] * 4}
    assert bee_weather(site_days(first, [0.0] * 4, **cold), first, last, 45.0).hours == 0
    for each in (all_dry, half_wet):
        assert "Wind is not on record" in each.says


def test_hours_for_bees_are_calm_where_the_days_mean_wind_is_below_15_mph() -> None:
    """Washington State University Extension, "Honey Bees": wind above 15 mph, which is 24.1 km/h,
    slows or stops them."""
    first, last = date(2026, 4, 20), date(2026, 4, 23)
    warm = {"tmin": [14.0] * 4, "tmax": [20.0] * 4}
    windy = site_days(first, [0.0, 0.0, 0.0, 5.0], **warm, wind=[24.0, 24.3, 3.0, 3.0])
    found = bee_weather(windy, first, last, 45.0)
    assert found.share == pytest.approx(0.75)
    assert (found.calm_days, found.calm_share) == (4, pytest.approx(0.5))
    assert "mean wind of the day at most 24 km/h" in found.says
    nan = float("nan")
    partly = site_days(first, [0.0] * 4, **warm, wind=[nan, 30.0, 3.0, nan])
    found = bee_weather(partly, first, last, 45.0)
    assert (found.share, found.calm_days, found.calm_share) == (1.0, 2, pytest.approx(0.5))
    assert "on the 2 of 4 days with wind on record" in found.says


def test_hours_for_bees_are_the_measured_ones_where_there_are_any() -> None:
    """Two days whose minimum and maximum tell of a short warm noon; the logger saw the whole of
    one of them at 15 degC, and of a third, without minimum and maximum, all but the dark."""
    first, last, nan = date(2026, 4, 20), date(2026, 4, 22), float("nan")
    low, high = [2.0, 2.0, nan], [14.0, 14.0, nan]
    days = site_days(first, [0.0] * 3, tmin=low, tmax=high)
    worked_out = bee_weather(days, first, last, 45.0)
    assert worked_out.days == 2
    read = np.full((2, 24), 15.0)
    read[1, [0, 1, 2, 3, 22, 23]] = nan
    hours = np.concatenate([np.full((1, 24), nan), read])
    seen = DayHours(np.datetime64(first, "D"), hours)
    measured = bee_weather(dataclasses.replace(days, hours=seen), first, last, 45.0)
    assert worked_out.hours is not None
    noon = worked_out.hours / 2
    assert 0 < noon < 8
    # Daylight of 13.5 h at 45 degrees in late April: the full hours from 6 to 18.
    assert (measured.days, measured.hours) == (3, noon + 2 * 13)


def test_bee_weather_that_is_not_measured_is_unknown() -> None:
    first, last = date(2026, 4, 20), date(2026, 4, 23)
    nothing = bee_weather(None, first, last, 45.0)
    assert (nothing.hours, nothing.share) == (None, None)
    assert bee_weather(site_days(date(2025, 1, 1), [0.0] * 5), first, last, 45.0).hours is None
    nan = float("nan")
    dry_unknown = bee_weather(site_days(first, [nan] * 4, tmin=[14] * 4, tmax=[20] * 4),
                              first, last, 45.0)  # fmt: skip
    assert not dry_unknown.dry_known
    assert "Rain is not on record" in dry_unknown.says


@pytest.fixture
def planted(sqlite_address: str, tmp_path: Path) -> Orchard:
    opened = open_orchard(sqlite_address)
    kinds = {"Gala 1": "Gala", "Gala 2": "Gala", "Fuji": "Fuji", "Bramley": "Belle de Boskoop"}
    trees: list[Row] = [
        {"tree": tree, "site": "Home", "species": "apple", "cultivar": name, "row": 1,
         "position": at}
        for at, (tree, name) in enumerate(kinds.items())
    ]  # fmt: skip
    plant(opened, tmp_path, trees)
    return opened


def log(orchard: Orchard, folder: Path, bloom: dict[str, str]) -> None:
    rows = [{"tree": tree, "date": day, "bbch": 65} for tree, day in bloom.items()]
    assert put(orchard, "stages", rows, folder).refused == ()


def verdicts(orchard: Orchard) -> dict[str, str]:
    return {row.tree: row.verdict for row in pollination(orchard, date(2026, 6, 1))}


def test_same_cultivar_and_triploids_leave_a_tree_without_a_partner(
    planted: Orchard, tmp_path: Path
) -> None:
    log(planted, tmp_path, {"Gala 1": "2026-04-25", "Gala 2": "2026-04-25",
                            "Fuji": "2026-04-27", "Bramley": "2026-04-25"})  # fmt: skip
    assert verdicts(planted) == {
        "Gala 1": "partner in bloom", "Gala 2": "partner in bloom",
        "Fuji": "partner in bloom", "Bramley": "partner in bloom",
    }  # fmt: skip
    rows = {row.tree: row for row in pollination(planted, date(2026, 6, 1))}
    best = rows["Gala 1"].partners[0]
    assert (best.tree, best.overlap_days, best.overlap_share) == ("Fuji", 8, 0.8)
    assert (best.rows_apart, best.places_apart) == (0, 2)
    assert [p.serves for p in rows["Gala 1"].partners] == ["yes", "no", "no"]


def test_the_distance_to_a_partner_is_the_straight_line_of_rows_and_places(
    planted: Orchard, tmp_path: Path
) -> None:
    log(planted, tmp_path, dict.fromkeys(("Gala 1", "Gala 2", "Fuji", "Bramley"), "2026-04-25"))
    rows = {row.tree: row for row in pollination(planted, date(2026, 6, 1))}
    assert rows["Gala 1"].partners[0].distance_m is None
    assert "enter the site's row_spacing_m and tree_spacing_m" in rows["Gala 1"].reasons[-1]

    put(planted, "sites", [{"site": "Home", "latitude": 51.5, "longitude": -1.25,
                            "row_spacing_m": 4, "tree_spacing_m": 3}], tmp_path)  # fmt: skip
    put(planted, "trees", [
        {"tree": "Fuji", "site": "Home", "species": "apple", "cultivar": "Fuji",
         "planted": "2015-01-15", "row": 4, "position": 3},
    ], tmp_path)  # fmt: skip
    rows = {row.tree: row for row in pollination(planted, date(2026, 6, 1))}
    # Three rows of 4 m across, three places of 3 m along: 12 and 9 m, so 15 m.
    assert rows["Gala 1"].partners[0].distance_m == 15
    assert rows["Gala 1"].verdict == "partner in bloom"
    assert "Fuji stands about 15 m away" in rows["Gala 1"].reasons[-1]
    assert "common practice, no source" in rows["Gala 1"].reasons[-1]

    put(planted, "sites", [{"site": "Home", "latitude": 51.5, "longitude": -1.25,
                            "row_spacing_m": 5, "tree_spacing_m": 3}], tmp_path)  # fmt: skip
    rows = {row.tree: row for row in pollination(planted, date(2026, 6, 1))}
    assert rows["Gala 1"].verdict == "partner, but far"
    assert "too far" in rows["Gala 1"].reasons[-1]


@given(st.integers(0, 40), st.integers(0, 40), st.floats(0.5, 20), st.floats(0.5, 20))
def test_distances_are_the_same_both_ways_and_need_no_spacing_that_does_not_count(
    row: int, place: int, across: float, along: float
) -> None:
    def apart(rows: list[float], places: list[float], across: float, along: float) -> float:
        spots = Spots(np.array(rows), np.array(places), across, along)
        assert spots.metres_from(0)[1] == pytest.approx(spots.metres_from(1)[0], nan_ok=True)
        return float(spots.metres_from(0)[1])

    nan = float("nan")
    straight = ((row * across) ** 2 + (place * along) ** 2) ** 0.5
    assert apart([7, 7 + row], [7, 7 + place], across, along) == pytest.approx(straight)
    assert apart([1, 1], [2, 2 + place], nan, along) == place * along
    assert apart([1, 1 + row], [2, 2], across, nan) == row * across
    assert np.isnan(apart([1, 7 + row], [nan, 2], across, along))
    assert np.isnan(apart([1, 2], [2, 3], nan, nan))


def test_a_partner_whose_bloom_is_not_known_keeps_the_answer_open(
    planted: Orchard, tmp_path: Path
) -> None:
    put(planted, "trees", [{"tree": "Fuji 2", "site": "Home", "species": "apple",
                            "cultivar": "Fuji", "planted": "2015-01-15"}], tmp_path)  # fmt: skip
    known = known_on(planted, date(2026, 6, 1))
    blooms = {"Gala 1": seen_on(date(2026, 4, 10)), "Fuji": seen_on(date(2026, 5, 20)),
              "Fuji 2": UNKNOWN}  # fmt: skip
    seasons = [
        replace(each, bloom=blooms[each.tree])
        for each in known.tree_seasons
        if each.tree in blooms and each.season == 2026
    ]
    rows = pollination_of(known.records, seasons, PARENTS, {})
    gala = next(row for row in rows if row.tree == "Gala 1")
    assert [each.overlap_days for each in gala.partners] == [None, 0]
    assert gala.verdict == "unknown"
    assert "Fuji 2 (Fuji) would serve, but the blooms are not known." in gala.reasons


def test_a_partner_that_blooms_at_another_time_is_none(planted: Orchard, tmp_path: Path) -> None:
    log(planted, tmp_path, {"Gala 1": "2026-04-10", "Gala 2": "2026-04-10",
                            "Fuji": "2026-05-10", "Bramley": "2026-04-10"})  # fmt: skip
    found = {row.tree: row for row in pollination(planted, date(2026, 6, 1))}
    assert found["Gala 1"].verdict == "no partner"
    assert any("another time" in text for text in found["Gala 1"].reasons)
    log(planted, tmp_path, {"Gala 1": "2025-04-10", "Fuji": "2025-04-12"})
    found = {row.tree: row for row in pollination(planted, date(2026, 6, 1))}
    told = "In 1 past season they bloomed together 8 days on average."  # 10 open, 2 apart
    assert any(told in text for text in found["Gala 1"].reasons)


def test_the_demo_has_a_verdict_with_reasons_for_every_tree(demo_template: Path) -> None:
    orchard = open_orchard(str(demo_template))
    rows = pollination(orchard, date(2026, 8, 12))
    assert len(rows) == 57
    assert all(row.reasons for row in rows)
    by_tree = {row.tree: row for row in rows}
    assert by_tree["Q1-05"].verdict == "no partner needed"  # Stanley, self-fruitful
    assert by_tree["Q1-07"].verdict == "unknown"  # a seedling in no table
    orchard.engine.dispose()


def test_of_very_many_trees_the_most_useful_are_listed_and_the_rest_counted(
    planted: Orchard, tmp_path: Path
) -> None:
    trees = [
        {"tree": f"{cultivar} {n}", "site": "Home", "species": "apple", "cultivar": cultivar,
         "planted": "2010-11-20", "row": row, "position": n}
        for row, cultivar in enumerate(("Fuji", "Bramley's Seedling"), 90) for n in range(30)
    ]  # fmt: skip
    put(planted, "trees", trees, tmp_path)
    row = next(row for row in pollination(planted, date(2026, 6, 1)) if row.tree == "Fuji 0")
    assert [(each.cultivar, each.serves) for each in row.partners[:2]] == [("Gala", "yes")] * 2
    refused = row.partners[2:]
    assert {each.serves for each in refused} == {"no"}
    assert [each.places_apart for each in refused] == list(range(1, MOST_LISTED + 1))
    # 29 more of its own, the other Fuji, 30 of Bramley's Seedling and the other one.
    assert row.left_out == 29 + 1 + 30 + 1 - MOST_LISTED
