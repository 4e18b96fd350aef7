"""May I pick: day counts by the label's convention, what reached which tree, picks, clashes.

Day count: 7 days after 1 June is 8 June; earliest pick is the latest of day + days over every
application; no time typed means unknown (National Pesticide Information Center, pre-harvest
interval; the convention itself is common practice, and the label decides).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.care import texts
from harvest.care.applications import LONGEST_DAYS, Application
from harvest.care.outlook import UNKNOWN, DateOutlook, TreeSeason, around, seen_on
from harvest.care.spray_by import last_spray_day, last_spray_days
from harvest.care.withholding import TreeName, Withholding, answer
from harvest.errors import QuantityError
from harvest.service_calendar import week
from harvest.service_care import spray_by, withholding
from harvest.store.orchard import Orchard, open_orchard
from tests.orchards import plant, put

TREE = TreeName("Apple 1", "Home", "apple", "Gala")
JUNE = date(2026, 6, 1)


def season(ripe: DateOutlook, *, gone: bool = False) -> TreeSeason:
    return TreeSeason(
        "Apple 1", "Home", "apple", "Gala", 2026, 51.5, 8, seen_on(date(2026, 5, 1)), ripe,
        UNKNOWN, gone,
    )  # fmt: skip


def asked(
    used: Sequence[Application],
    day: date,
    *,
    seasons: Sequence[TreeSeason] = (),
    picks: Sequence[tuple[date, float]] = (),
) -> Withholding:
    return answer(TREE, used, seasons, picks, day)


def test_seven_days_after_the_first_of_june_is_the_eighth() -> None:
    used = [Application("Soap", JUNE, 7)]
    waiting = asked(used, date(2026, 6, 7))
    assert (waiting.status, waiting.earliest_pick) == ("wait", date(2026, 6, 8))
    over = asked(used, date(2026, 6, 8))
    assert (over.status, over.earliest_pick) == ("clear", date(2026, 6, 8))
    # Far to the west it may still be the seventh.
    today = "The wait after Soap ends with the beginning of 8 Jun 2026, by the calendar where"
    assert any(text.startswith(today) for text in over.says)
    assert len(asked(used, date(2026, 6, 9)).says) == len(over.says) - 1


def test_no_days_at_all_means_up_to_the_day_itself() -> None:
    assert asked([Application("Oil", JUNE, 0)], JUNE).status == "clear"


def test_the_latest_of_all_applications_counts_not_the_last() -> None:
    used = [Application("Long", JUNE, 28), Application("Short", JUNE + timedelta(days=10), 3)]
    assert asked(used, date(2026, 6, 15)).earliest_pick == date(2026, 6, 29)


def test_treating_again_starts_the_wait_anew() -> None:
    first = Application("Soap", JUNE, 14)
    again = Application("Soap", date(2026, 6, 12), 14)
    assert asked([first], date(2026, 6, 12)).earliest_pick == date(2026, 6, 15)
    assert asked([first, again], date(2026, 6, 12)).earliest_pick == date(2026, 6, 26)


def test_missing_days_are_unknown_and_never_clear() -> None:
    used = [Application("Lost label", JUNE, None), Application("Soap", JUNE, 7)]
    for days in (0, 7, 30, 365, LONGEST_DAYS - 1):
        found = asked(used, JUNE + timedelta(days=days))
        assert (found.status, found.earliest_pick) == ("unknown", None)
        assert any("Do not pick until you have read the label" in text for text in found.says)
    assert asked(used, date(2026, 6, 2)).not_before == date(2026, 6, 8)


def test_an_unknown_period_further_back_than_any_can_be_logged_is_still_named() -> None:
    found = asked([Application("Lost label", JUNE, None)], JUNE + timedelta(days=LONGEST_DAYS))
    assert found.status == "clear"
    assert any("Lost label" in text and "not counted" in text for text in found.says)


def test_days_after_the_as_of_day_do_not_count_yet() -> None:
    assert not Application("Soap", JUNE, 7).holds(date(2026, 5, 31))


def test_without_a_spray_on_record_it_is_said_that_none_is_logged() -> None:
    assert asked([], JUNE).says == (texts.NOTHING_LOGGED,)


def test_a_pick_inside_the_period_is_named_with_what_to_do() -> None:
    found = asked(
        [Application("Soap", JUNE, 7)],
        date(2026, 6, 20),
        picks=[(date(2026, 6, 7), 3.0), (date(2026, 6, 8), 2.0), (date(2026, 5, 31), 1.0)],
    )
    assert [pick.date for pick in found.picked_inside] == [date(2026, 6, 7)]
    assert texts.WHAT_TO_DO in found.says[0]
    assert "7 Jun 2026" in found.says[0]
    assert "8 Jun 2026" in found.says[0]


def test_a_forecast_inside_the_period_is_blocked_and_stays_where_it_is() -> None:
    ripe = around(date(2026, 6, 20), 3.0)
    found = asked([Application("Soap", JUNE, 28)], date(2026, 6, 10), seasons=[season(ripe)])
    assert found.clashes_with_forecast
    assert found.chance_ripe_before == pytest.approx(ripe.by(date(2026, 6, 28)))
    assert (found.ripe_from, found.ripe_to) == (ripe.quantile(0.1), ripe.quantile(0.9))
    assert any(text.startswith("Picking is blocked until 29 Jun 2026") for text in found.says)


def test_no_clash_where_the_fruit_comes_later_or_is_gone() -> None:
    used = [Application("Soap", JUNE, 28)]
    late = season(around(date(2026, 9, 20), 5.0))
    gone = season(around(date(2026, 6, 20), 3.0), gone=True)
    for each in (late, gone):
        assert not asked(used, date(2026, 6, 10), seasons=[each]).clashes_with_forecast


def test_fruit_overdue_and_never_logged_is_taken_to_hang() -> None:
    used = [Application("Soap", JUNE, 28)]
    found = asked(used, date(2026, 6, 10), seasons=[season(DateOutlook("unknown"))])
    assert found.clashes_with_forecast


def test_a_crop_the_label_does_not_name_is_said() -> None:
    used = [Application("Soap", JUNE, 7, crop="apple")]
    plum = answer(TreeName("P", "Home", "european plum", "Opal"), used, [], [], date(2026, 6, 2))
    assert any("not on the label may not be treated" in text for text in plum.says)
    both = Application("Soap", JUNE, 7, crop="Apples, plums")
    assert not any("may not be treated" in t for t in asked([both], date(2026, 6, 2)).says)


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=1, max_size=8),
    st.integers(0, 130),
)
def test_earliest_pick_is_the_latest_end_in_any_order(
    pairs: list[tuple[int, int]], on: int
) -> None:
    used = [Application(f"P{n}", JUNE + timedelta(days=d), w) for n, (d, w) in enumerate(pairs)]
    past = [each for each in used if each.date <= JUNE + timedelta(days=on)]
    latest = max((JUNE + timedelta(days=d + w) for d, w in pairs if d <= on), default=None)
    found = asked(past[::-1], JUNE + timedelta(days=on))
    assert found.earliest_pick == latest
    assert (found.status == "clear") == (latest is None or latest <= JUNE + timedelta(days=on))


@given(st.integers(0, 60), st.floats(0.5, 20), st.floats(0.02, 0.98))
def test_the_last_day_keeps_the_chance_and_one_day_more_does_not(
    period: int, sd: float, chance: float
) -> None:
    ripe = around(date(2026, 8, 20), sd)
    last = last_spray_day(ripe, period, chance)
    assert last is not None
    until = last + timedelta(days=period)
    assert (ripe.by(until - timedelta(days=1)) or 0.0) <= chance + 1e-6
    assert (ripe.by(until) or 0.0) > chance - 1e-6


def test_the_last_day_of_an_even_chance_is_the_median_less_the_days() -> None:
    ripe = DateOutlook("forecast", first=date(2026, 8, 1), chances=np.array([0.0, 0.4, 0.4, 0.2]))
    # Ripe by the 2nd with 0.4, by the 3rd with 0.8: fruit must not be pickable before the 3rd.
    assert last_spray_day(ripe, 10, 0.5) == date(2026, 7, 24)
    with pytest.raises(QuantityError, match="not below 0"):
        last_spray_day(ripe, -1, 0.5)


def test_no_day_is_left_is_said_in_words() -> None:
    rows = last_spray_days([season(around(date(2026, 6, 20), 2.0))], "Soap", 28, JUNE)
    assert {row.last_day for row in rows} == {None}
    assert all("No day is left" in row.says for row in rows)


def test_a_wait_that_ends_long_before_the_fruit_is_ripe_blocks_no_ripe_fruit() -> None:
    used = [Application("Lost label", JUNE, None), Application("Soap", JUNE, 7)]
    for middle, said in ((date(2026, 9, 1), 1), (date(2026, 6, 6), 2)):
        found = asked(used, JUNE, seasons=[season(around(middle, 3.0))])
        assert sum("Picking is blocked until" in text for text in found.says) == said
        assert found.clashes_with_forecast


@pytest.mark.parametrize("ripe", [seen_on(date(2026, 5, 20)), UNKNOWN])
def test_where_ripe_fruit_hangs_the_next_crop_tells_no_last_day(ripe: DateOutlook) -> None:
    """An evergreen may carry ripe fruit and next season's: what is used now reaches both."""
    hangs, later = season(ripe), replace(season(around(date(2027, 6, 1), 9.0)), season=2027)
    rows = last_spray_days([hangs, later], "Soap", 14, JUNE)
    assert {(row.season, row.last_day) for row in rows} == {(2026, None)}
    assert all("log its last pick" in row.says for row in rows)
    picked = last_spray_days([replace(hangs, fruit_gone=True), later], "Soap", 14, JUNE)
    assert {row.season for row in picked} == {2027}
    assert all(row.last_day is not None for row in picked)
    no_wait = last_spray_days([hangs, later], "Soap", 0, JUNE)
    assert {row.season for row in no_wait} == {2027}


@pytest.fixture
def planted(sqlite_address: str, tmp_path: Path) -> Orchard:
    opened = open_orchard(sqlite_address)
    trees: Sequence[Mapping[str, object]] = [
        {"tree": "A1", "site": "Home", "species": "apple", "cultivar": "Gala", "row": 1},
        {"tree": "A2", "site": "Home", "species": "apple", "cultivar": "Gala", "row": 1},
        {"tree": "A3", "site": "Home", "species": "apple", "cultivar": "Gala", "row": 2},
        {"tree": "New", "site": "Home", "species": "apple", "cultivar": "Gala",
         "planted": "2026-07-01"},
        {"tree": "P1", "site": "Plains", "species": "peach", "cultivar": "Redhaven"},
    ]  # fmt: skip
    plant(opened, tmp_path, trees)
    return opened


def test_what_reaches_a_site_reaches_its_trees_and_what_drifts_whom_it_names(
    planted: Orchard, tmp_path: Path
) -> None:
    sprays = [
        {"site": "Home", "date": "2026-06-01", "product": "Oil", "withholding_days": 20},
        {"tree": "A3", "date": "2026-06-10", "product": "Soap", "withholding_days": 30,
         "also_reached": "row 1; p1; Nobody"},
    ]  # fmt: skip
    head = {"tree": "", "site": "", "also_reached": ""}
    assert put(planted, "sprays", [head | row for row in sprays], tmp_path).new == 2
    found = {row.tree: row for row in withholding(planted, date(2026, 7, 5))}
    assert {tree: row.status for tree, row in found.items()} == {
        "A1": "wait", "A2": "wait", "A3": "wait", "New": "clear", "P1": "wait",
    }  # fmt: skip
    assert found["A1"].earliest_pick == date(2026, 7, 10)
    assert [each.reach for each in found["A1"].because] == ["also reached"]
    assert any("'Nobody'" in text for text in found["A1"].says)
    # Before it was sprayed nothing was known of it.
    early = {row.tree: row for row in withholding(planted, date(2026, 6, 5))}
    assert early["A1"].earliest_pick == date(2026, 6, 21)
    assert early["P1"].says == (texts.NOTHING_LOGGED,)


def test_the_demo_has_waiting_periods_over_its_picking(demo_template: Path) -> None:
    orchard = open_orchard(str(demo_template))
    found = {row.tree: row for row in withholding(orchard, date(2026, 8, 12))}
    # data/demo/README.md: Q3-01 28 days from 3 August 2026; Q2-06 unknown.
    assert (found["Q3-01"].status, found["Q3-01"].earliest_pick) == ("wait", date(2026, 8, 31))
    assert found["Q3-01"].clashes_with_forecast
    assert found["Q2-06"].status == "unknown"
    assert found["Q2-02"].not_before == date(2026, 8, 31)
    last = spray_by(orchard, date(2026, 8, 12), "Moth spray C", 28)
    assert {row.tree for row in last} >= {"Q1-01", "Q3-04"}
    orchard.engine.dispose()


def test_fruit_of_a_tree_since_taken_out_or_grafted_over_is_still_told(
    sqlite_address: str, tmp_path: Path
) -> None:
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path, [
        {"tree": "Gone", "site": "Home", "species": "apple", "cultivar": "Gala",
         "removed": "2026-07-01"},
        {"tree": "Gone, unpicked", "site": "Home", "species": "apple", "cultivar": "Gala",
         "removed": "2026-07-01"},
        {"tree": "Grafted", "site": "Home", "species": "apple", "cultivar": "Gala"},
        {"tree": "Stands", "site": "Home", "species": "apple", "cultivar": "Gala"},
    ])  # fmt: skip
    spray = {"site": "Home", "date": "2026-06-01", "product": "Soap", "withholding_days": 60}
    put(orchard, "sprays", [spray], tmp_path)
    picks = [{"tree": tree, "date": "2026-06-10", "weight_kg": 2} for tree in ("Gone", "Grafted")]
    put(orchard, "picks", picks, tmp_path)
    graft = {"tree": "Grafted", "date": "2026-07-02", "cultivar": "Fuji"}
    assert put(orchard, "grafts", [graft], tmp_path).new == 1

    rows = {row.tree: row for row in withholding(orchard, date(2026, 7, 20))}
    assert set(rows) == {"Gone", "Grafted", "Stands"}
    told = texts.picked_inside(date(2026, 6, 10), "Soap", JUNE, 60, date(2026, 7, 31))
    for tree in ("Gone", "Grafted"):
        assert rows[tree].says[0] == told
    assert rows["Gone"].removed == date(2026, 7, 1)
    assert texts.removed(date(2026, 7, 1)) in rows["Gone"].says
    assert not rows["Gone"].clashes_with_forecast
    # What reached the tree before it was grafted over is still on its wood.
    assert (rows["Grafted"].status, rows["Grafted"].cultivar) == ("wait", "Fuji")
    assert rows["Grafted"].earliest_pick == date(2026, 7, 31)
    assert any("Picked inside" in task.title and task.trees == ("Gone",)
               for task in week(orchard, date(2026, 7, 1)))  # fmt: skip
    # Before it was taken out it stands as any other tree.
    assert {row.tree: row.removed for row in withholding(orchard, date(2026, 6, 20))}[
        "Gone"
    ] is None


def test_stored_fruit_that_was_picked_too_soon_is_told_where_it_is_looked_through(
    sqlite_address: str, tmp_path: Path
) -> None:
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    spray = {"tree": "Apple 1", "date": "2026-09-01", "product": "Soap", "withholding_days": 60}
    put(orchard, "sprays", [spray], tmp_path, today=date(2026, 11, 1))
    picks = [
        {"tree": tree, "date": "2026-09-12", "weight_kg": 9} for tree in ("Apple 1", "Apple 2")
    ]
    put(orchard, "picks", picks, tmp_path, today=date(2026, 11, 1))
    told = texts.picked_inside(date(2026, 9, 12), "Soap", date(2026, 9, 1), 60, date(2026, 10, 31))
    store = [
        task for task in week(orchard, date(2026, 11, 20)) if "stored" in task.title and task.says
    ]
    assert store[0].rank == 0
    assert f"Apple 1: {told}" in store[0].says
    assert not any("Apple 2: Picked" in text for text in store[0].says)
