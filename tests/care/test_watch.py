"""The watch list: degree days from the first sustained catch, against published thresholds.

Michigan State University Extension: codling moth, single sine with horizontal cut-off, 50 and
88 degF; after the first sustained catch first eggs hatch at 250 degF days, a fifth at 350, most
eggs laid 550, next flight 1060, its first hatch 1250.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from harvest.care import texts
from harvest.care.calendar_marks import HeatSum, added_mark
from harvest.care.watch import due, first_catch, reached
from harvest.errors import InputError, UnknownNameError
from harvest.service import crop_load
from harvest.service_calendar import add_item, calendar
from harvest.service_known import known_on
from harvest.service_yields import thinning
from harvest.store.history import UNSIGNED
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reference import watch_table
from tests.care.weather_made import site_days
from tests.orchards import plant, put

BIOFIX = date(2026, 5, 10)
HEAD = {"tree": "", "site": ""}


def test_the_published_thresholds_in_degrees_celsius() -> None:
    rows = watch_table()
    moth = rows[(rows["watch"] == "codling moth") & (rows["anchor"] == "catch")]
    assert (moth["degree_days"] * 1.8).round(0).tolist() == [250, 350, 550, 1060, 1250]
    assert set(moth["base_c"]) == {10.0}  # 50 degF
    assert set(moth["upper_c"]) == {31.1}  # 88 degF


def test_a_warm_day_counts_as_published_and_a_hot_one_is_cut_off() -> None:
    """40/60, 45/75 and 55/95 degF over 50/88: 3.1831, 10.8816, 23.7341 degF days (quadrature)."""
    low_high_f = [(40.0, 60.0), (45.0, 75.0), (55.0, 95.0)]
    low, high = (np.array(each) for each in zip(*low_high_f, strict=True))
    days = site_days(BIOFIX, [0.0] * 3, tmin=list((low - 32) / 1.8), tmax=list((high - 32) / 1.8))
    so_far, _ = reached(days, BIOFIX, BIOFIX + timedelta(days=3), 10.0, (88 - 32) / 1.8)
    assert so_far * 1.8 == pytest.approx(np.cumsum([3.1831, 10.8816, 23.7341]), abs=1e-3)


def test_a_threshold_passed_is_a_day_and_one_ahead_a_span_of_past_years() -> None:
    start = date(2016, 1, 1)
    count = (date(2026, 6, 1) - start).days
    # Ten degree days a day: 250 degF days (138.9 degC) fall on the 14th day.
    days = site_days(start, [0.0] * count, tmin=[15.0] * count, tmax=[25.0] * count)
    so_far, ahead = reached(days, BIOFIX, date(2026, 6, 1), 10.0, 31.1)
    passed = due(so_far, ahead, BIOFIX, date(2026, 6, 1), 138.9)
    assert passed is not None
    assert passed.first == BIOFIX + timedelta(days=13)
    coming = due(so_far, ahead, BIOFIX, date(2026, 6, 1), 305.6)
    assert coming is not None
    assert coming.first == BIOFIX + timedelta(days=30)
    assert due(so_far, ahead[:2], BIOFIX, date(2026, 6, 1), 305.6) is None


def warmth(day: date) -> float:
    """Mean of a day [degC], about 20; weather that repeats itself would be doubted."""
    return round(20 + 2 * float(np.sin(0.017 * day.toordinal() ** 1.5)), 1)


@pytest.fixture
def planted(sqlite_address: str, tmp_path: Path) -> Orchard:
    opened = open_orchard(sqlite_address)
    plant(opened, tmp_path)
    start = date(2016, 1, 1)
    rows = [
        {
            "site": "Home",
            "date": start + timedelta(days=n),
            "tmin_c": warmth(start + timedelta(days=n)) - 5,
            "tmax_c": warmth(start + timedelta(days=n)) + 5,
        }
        for n in range((date(2026, 8, 1) - start).days)
    ]
    assert put(opened, "weather", rows, tmp_path).refused == ()
    return opened


def caught(
    orchard: Orchard, folder: Path, *days: str, note: str = "codling moth trap catch"
) -> None:
    rows = [HEAD | {"tree": "Apple 1", "date": d, "event": "pest", "note": note} for d in days]
    assert put(orchard, "events", rows, folder).refused == ()


def test_one_catch_is_not_sustained_two_in_a_row_are(planted: Orchard, tmp_path: Path) -> None:
    day = date(2026, 5, 20)
    assert "No catch" in first_catch(known_on(planted, day).records, "codling moth", "Home").says
    caught(planted, tmp_path, "2025-05-02", "2025-05-06", "2026-04-02", "2026-05-10")
    waiting = first_catch(known_on(planted, day).records, "codling moth", "Home")
    assert waiting.day is None
    assert "not yet sustained" in waiting.says
    caught(planted, tmp_path, "2026-05-14")
    found = first_catch(known_on(planted, day).records, "codling moth", "Home")
    assert found.day == date(2026, 5, 10)


def test_stages_appear_in_the_calendar_with_source_and_look_only(
    planted: Orchard, tmp_path: Path
) -> None:
    before = calendar(planted, date(2026, 6, 1))
    assert any("stages are unknown" in text for text in before.unknown)
    caught(planted, tmp_path, "2026-05-10", note="Codling moth, 4 in the trap, sustained")
    year = calendar(planted, date(2026, 6, 1))
    stages = [item for item in year.items if item.item == "watch: codling moth"]
    hatch = next(item for item in stages if "first eggs hatch" in item.title)
    # Every hour lies above 10 and below 31.1 degC, so a day counts its mean less 10.
    days = [date(2026, 5, 10) + timedelta(days=n) for n in range(30)]
    total = np.cumsum([warmth(day) - 10 for day in days])
    assert hatch.first_day == days[int(np.argmax(total >= 138.9))]
    assert hatch.trees == ("Apple 1", "Apple 2")
    assert "Michigan State University Extension" in hatch.source
    for item in stages:
        assert texts.LOOK in item.todo
        assert "spray" not in item.todo.casefold()


def test_an_item_of_ones_own_is_due_where_the_published_sum_is(
    planted: Orchard, tmp_path: Path
) -> None:
    """The codling moth's numbers as a person would add them: the same days, the same spans."""
    as_of, signed = date(2026, 6, 1), UNSIGNED
    by_catch = HeatSum(305.6, 10.0, 31.1, count_event="Moth CATCH")
    add_item(planted, "home", "Eggs of my moth", by_catch, as_of, signed, what="apple")
    assert any(
        "Moth CATCH” is logged this season, so" in s for s in calendar(planted, as_of).unknown
    )
    caught(planted, tmp_path, "2025-05-02", "2026-05-10", "2026-05-14")
    from_day = HeatSum(305.6, 10.0, 31.1, count_from=date(2025, 5, 10))
    add_item(planted, "Home", "The same by date", from_day, as_of, signed)
    items = calendar(planted, as_of).items
    moth = next(item for item in items if item.title.endswith(": most eggs laid"))
    mine, dated = (
        [item for item in items if item.title == title]
        for title in ("Eggs of my moth", "The same by date")
    )
    for item in (*mine, dated[-1]):
        assert (item.first_day, item.last_day, item.earliest, item.latest) == (
            moth.first_day, moth.last_day, moth.earliest, moth.latest,
        )  # fmt: skip
        assert texts.LOOK in item.todo
    assert moth.first_day > as_of
    assert (mine[0].what, mine[0].trees) == ("apple", ("Apple 1", "Apple 2"))
    assert len(dated) == 1  # counted from 10 May of 2025, it has come back in 2026
    assert dated[-1].trees == ()


def test_a_start_that_lies_ahead_is_waited_for_and_no_cut_off_counts_all() -> None:
    start = date(2016, 1, 1)
    as_of = date(2026, 6, 1)
    count = (as_of - start).days
    days = site_days(start, [0.0] * count, tmin=[15.0] * count, tmax=[25.0] * count)
    so_far, ahead = reached(days, as_of + timedelta(days=20), as_of, 10.0, None)
    when = due(so_far, ahead, as_of, as_of, 100.0)
    assert when is not None
    assert when.first == as_of + timedelta(days=29)  # the tenth day that counts ten degree days


@pytest.mark.parametrize(
    ("heat", "said"),
    [
        (HeatSum(0, 10, None, BIOFIX), "between 0 and 20000"),
        (HeatSum(100, 31, 10, BIOFIX), "base must lie below the cut-off"),
        (HeatSum(100, 10), "either from a day or from the first event"),
        (HeatSum(100, 10, None, BIOFIX, "moth"), "given: both"),
    ],
)
def test_a_sum_that_cannot_be_is_refused(heat: HeatSum, said: str) -> None:
    with pytest.raises(InputError, match=said):
        added_mark("Home", "Look", heat, why=None, on=BIOFIX)


def test_what_no_tree_at_the_site_is_called_is_refused_with_what_there_is(planted: Orchard) -> None:
    with pytest.raises(UnknownNameError, match="tree, row, cultivar or species"):
        add_item(planted, "Home", "Look", (BIOFIX, BIOFIX), BIOFIX, UNSIGNED, what="bananas")


def test_leaf_curl_is_watched_for_at_bud_swell_of_peach(planted: Orchard) -> None:
    items = [i for i in calendar(planted, date(2026, 6, 1)).items if "leaf curl" in i.title]
    assert {item.site for item in items} == {"Plains"}
    assert all(6 <= item.first_day.month <= 9 for item in items)  # southern winter


def test_a_tree_planted_since_is_not_asked_for_fruit_by_a_day_before_it_stood(
    sqlite_address: str, tmp_path: Path
) -> None:
    orchard = open_orchard(sqlite_address)
    row = {"site": "Plains", "species": "peach", "cultivar": "own"}
    trees = [{**row, "tree": "Winter", "planted": "2025-07-10"},
             {**row, "tree": "Late", "planted": "2025-11-20"}]  # fmt: skip
    plant(orchard, tmp_path, trees)
    due = {each.tree: each.act_by for each in crop_load(orchard, date(2025, 11, 21))}
    assert due["Winter"] == due["Late"]
    assert due["Late"] is not None
    assert due["Late"] < date(2025, 11, 20)
    asked = {i.trees[0] for i in calendar(orchard, date(2025, 11, 21)).items if i.item == "strip"}
    assert asked == {"Winter"}


def test_where_nobody_logs_stages_thinning_and_advice_name_one_last_day(
    sqlite_address: str, tmp_path: Path
) -> None:
    orchard = open_orchard(sqlite_address)
    tree = {"tree": "A", "site": "Plains", "species": "apple", "cultivar": "Gala"}
    plant(orchard, tmp_path, [{**tree, "planted": "2021-07-10"}])
    days = {
        day: (crop_load(orchard, day)[0].act_by, thinning(orchard, day)[0].end)
        for day in (date(2025, 9, 1), date(2025, 10, 25))
    }
    assert len({last for pair in days.values() for last in pair}) == 1
