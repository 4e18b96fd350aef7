"""Seasons held against what to expect, grouped and side by side."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.units import KG_PER_LB
from harvest.yields.comparison import GROUPINGS, season_groups, seasons_compared
from harvest.yields.expectation import fair_table
from harvest.yields.result import GroupSeason
from tests.yields.forward import coffee_trial, orange_trial, reference
from tests.yields.made_records import SOUTH, orchard, tree
from tests.yields.test_totals import large_orchard


def picked(kg: dict[int, float], name: str = "T", **more: object) -> list[dict[str, object]]:
    return [
        {"tree": name, "date": f"{season}-09-15", "weight_kg": weight, "last": True, **more}
        for season, weight in kg.items()
    ]


def old_tree(name: str = "T", **known: object) -> dict[str, object]:
    return tree(name, planted="2000-03-01", **known)


def verdicts(
    as_of: str, trees: list[dict[str, object]], **kinds: list[dict[str, object]]
) -> dict[tuple[str, int], str]:
    table = fair_table(orchard(as_of, trees, **kinds), reference())
    keys = zip(table["tree"], table["season"], strict=True)
    return dict(zip(keys, table["verdict"], strict=True))


EVEN = {season: 20.0 + season % 3 for season in range(2012, 2022)}


def test_a_poor_season_and_a_good_one_stand_out_and_no_other() -> None:
    found = verdicts("2022-02-01", [old_tree()], picks=picked(EVEN | {2016: 4.0, 2019: 48.0}))
    assert found["T", 2016] == "poor"
    assert found["T", 2019] == "good"
    others = {found["T", season] for season in EVEN if season not in (2016, 2019)}
    assert others == {"usual"}


def test_two_or_three_seasons_alone_make_none_good_or_poor() -> None:
    few = {2018: 30.0, 2019: 2.0, 2020: 25.0}
    for count in (1, 2, 3):
        kg = dict(list(few.items())[:count])
        found = verdicts("2021-02-01", [old_tree()], picks=picked(kg))
        assert {found["T", season] for season in kg} == {"too early to tell"}
    three_others = verdicts("2022-02-01", [old_tree()], picks=picked({**few, 2021: 1.0}))
    assert three_others["T", 2021] in ("poor", "usual")


def test_four_kinds_of_season_are_never_taken_for_one_another() -> None:
    kg = {season: weight for season, weight in EVEN.items() if season not in (2014, 2015, 2016)}
    found = verdicts(
        "2022-02-01",
        [old_tree()],
        picks=picked(kg),
        thinnings=[{"date": "2014-05-20", "action": "strip"}],
        events=[{"tree": "T", "date": "2015-05-20", "event": "no crop"}],
    )
    assert found["T", 2014] == found["T", 2016] == "not compared"
    assert found["T", 2015] == "poor"
    assert found["T", 2017] == "usual"


def test_young_trees_are_held_against_young_trees_crops() -> None:
    # A dwarf apple bears first in leaf 2 to 3 and fully from leaf 4 to 6 (species.csv,
    # bearing_curves.csv); the same 3 kg are little for a grown tree and plenty for a young one.
    trees = [tree(name, planted=planted) for name, planted in
             (("old", "2000-03-01"), ("young", "2019-03-01"))]  # fmt: skip
    rows = picked(EVEN, "old") + picked({2020: 0.8, 2021: 3.0}, "young")
    table = fair_table(orchard("2022-02-01", trees, picks=rows), reference())
    expected = table.set_index(["tree", "season"])["expected_kg"]
    assert expected["young", 2020] < expected["young", 2021] < expected["old", 2021] / 2


def test_young_oranges_are_mostly_usual_though_their_crops_rise_eightfold() -> None:
    """Planted 1917, weighed 1921 to 1927 (Parker and Batchelor 1932, agridat, MIT)."""
    table = fair_table(orange_trial().records(7), reference())
    table = table[table["crop"] == "picked"]
    kg = table.groupby("season")["weight_kg"].mean()
    assert kg.iloc[-1] > 7 * kg.iloc[0]
    assert (table["verdict"] == "usual").mean() > 0.6


def test_eight_in_ten_coffee_plots_lie_within_their_span() -> None:
    """Coffee plots (Páez 1962, agridat, MIT): each season against the others, all in all."""
    table = fair_table(coffee_trial().records(5), reference())
    table = table[table["verdict"].isin(["good", "usual", "poor"])]
    assert 0.7 < (table["verdict"] == "usual").mean() < 0.9


# Grouping


def small_orchard(rows: list[tuple[int, int, float]], per_kg: float = 1.0):
    trees = [
        old_tree("A", row=1),
        old_tree("B", row=1, cultivar="Fuji"),
        old_tree("C", row=2, species="peach", cultivar="Redhaven"),
        old_tree("D", site=SOUTH, row=1, species="peach", cultivar="Redhaven"),
    ]
    picks = [
        {"tree": "ABCD"[which], "date": f"{2015 + season}-{'02' if which == 3 else '09'}-10",
         "weight_kg": kg * per_kg, "pass_number": at, "graded_out_kg": kg * per_kg / 10,
         "cause": "birds" if at % 2 else None}
        for at, (which, season, kg) in enumerate(rows, 1)
    ]  # fmt: skip
    return orchard("2022-01-10", trees, picks=picks)


ROWS = st.lists(
    st.tuples(st.integers(0, 3), st.integers(0, 6), st.floats(0.5, 80)), min_size=1, max_size=25
)


@given(ROWS)
def test_weights_add_up_over_any_grouping(rows: list[tuple[int, int, float]]) -> None:
    records = small_orchard(rows)
    fair = fair_table(records, reference())
    total = sum(kg for _, _, kg in rows)
    for by in GROUPINGS:
        found = season_groups(records, fair, by)
        assert sum(row.weight_kg or 0 for row in found) == pytest.approx(total)
        assert sum(sum(row.causes.values()) for row in found) == pytest.approx(total / 10, abs=1e-6)
        trees = sum(row.trees_picked for row in found)
        assert trees == len({(which, season) for which, season, _ in rows})
        last = {row.name: row.cumulative_kg for row in found}
        assert sum(last.values()) == pytest.approx(total)


@given(ROWS)
def test_pounds_change_no_verdict(rows: list[tuple[int, int, float]]) -> None:
    tables = [
        fair_table(small_orchard([(a, b, kg / factor) for a, b, kg in rows], factor), reference())
        for factor in (1.0, KG_PER_LB)
    ]
    assert tables[0]["verdict"].tolist() == tables[1]["verdict"].tolist()
    np.testing.assert_allclose(tables[0]["expected_kg"], tables[1]["expected_kg"], rtol=1e-6)


def of(found: list[GroupSeason], name: str, season: int) -> GroupSeason:
    return next(row for row in found if (row.name, row.season) == (name, season))


def test_a_season_of_a_group_is_told_in_full() -> None:
    trees = [old_tree("A"), old_tree("B"), old_tree("C"), tree("D", planted="2021-03-01")]
    picks = [
        {
            "tree": "A",
            "date": "2021-09-01",
            "weight_kg": 10.0,
            "fruit_count": 50,
            "graded_out_kg": 1.0,
            "cause": "birds",
        },
        {
            "tree": "A",
            "date": "2021-09-10",
            "weight_kg": 6.0,
            "fruit_count": 30,
            "graded_out_kg": 0.5,
            "cause": "scab",
        },
        {"tree": "B", "date": "2021-09-10", "weight_kg": 4.0, "fruit_count": 20},
    ]
    events = [{"tree": "C", "date": "2021-05-20", "event": "no crop"},
              {"tree": "D", "date": "2021-05-20", "event": "no crop"}]  # fmt: skip
    girths = [{"tree": "A", "date": "2021-01-05", "girth_cm": 20.0}]
    records = orchard("2022-02-01", trees, picks=picks, events=events, girths=girths)
    row = of(season_groups(records, fair_table(records, reference()), "cultivar"), "Gala", 2021)
    assert (row.weight_kg, row.fruit_count) == (20.0, 100)
    assert row.mean_fruit_g == pytest.approx(200)
    assert row.causes == {"birds": 1.0, "scab": 0.5}
    assert (row.picking_days, row.window_days) == (2, 10)
    assert (row.trees_picked, row.trees_none, row.trees_bearing) == (2, 2, 3)
    assert row.kg_per_bearing_tree == pytest.approx(20 / 3)
    assert row.kg_per_cm2 == pytest.approx(16 / 31.831, rel=1e-4)  # 20 cm girth: check_values.csv


def test_two_seasons_are_compared_like_with_like() -> None:
    rows = picked({2020: 10.0, 2021: 15.0}, "A") + picked({2021: 30.0}, "B")
    records = orchard("2022-02-01", [old_tree("A"), old_tree("B")], picks=rows)
    fair = fair_table(records, reference())
    found = seasons_compared(
        fair, season_groups(records, fair, "cultivar"), "cultivar", (2020, 2021)
    )
    assert len(found) == 1
    sides = [side.weight_kg for side in (found[0].earlier, found[0].later) if side]
    assert sides == [10.0, 45.0]
    assert (found[0].trees_in_both, found[0].earlier_kg, found[0].later_kg) == (1, 10.0, 15.0)
    assert found[0].change == pytest.approx(0.5)


def test_five_thousand_trees_over_thirty_seasons_are_compared_in_under_a_second() -> None:
    made = large_orchard(trees=5000, seasons=30, passes=3)
    records = replace(made["records"], picks=made["picks"], girths=made["girths"])
    tables = reference()
    slowest = {}
    for by in ("tree", "cultivar", "row"):
        times = []
        for _ in range(2):
            start = time.process_time()
            fair = fair_table(records, tables)
            groups = season_groups(records, fair, by, (2019, 2020))
            rows = seasons_compared(fair, groups, by, (2019, 2020))
            times.append(time.process_time() - start)
        slowest[by] = min(times)
        both = sum(row.trees_in_both for row in rows)
        assert both == 5000
    assert max(slowest.values()) < 2.0, slowest  # under 1 s on a free machine


def test_an_orchard_without_a_pick_has_nothing_to_compare() -> None:
    records = orchard("2022-02-01", [tree(planted="2021-12-01")])
    fair = fair_table(records, reference())
    assert isinstance(fair, pd.DataFrame)
    assert season_groups(records, fair, "cultivar") == []


def test_what_is_compared_is_only_what_was_picked_to_the_end() -> None:
    rows = [pick for name in "AB" for pick in picked(dict.fromkeys(range(2016, 2021), 10.0), name)]
    rows += picked({2021: 12.0}, "A")
    rows += [{"tree": "B", "date": "2021-09-15", "weight_kg": 1.0}]
    records = orchard("2021-09-20", [old_tree("A"), old_tree("B")], picks=rows)
    row = of(season_groups(records, fair_table(records, reference()), "cultivar"), "Gala", 2021)
    assert (row.weight_kg, row.compared_kg, row.compared_trees) == (13.0, 12.0, 1)
    assert not row.complete
