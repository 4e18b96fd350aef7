"""What a tree gave in a season: four kinds of season kept apart, sums, and comparisons."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvest.units import KG_PER_LB
from harvest.yields import season_yields, yield_table
from harvest.yields.totals import against_own_mean
from tests.yields.made_records import NORTH, SOUTH, frame, orchard, tree, yields_of
from tests.yields.open_yields import apple_trial


def pick(day: str, weight_kg: float, **known: object) -> dict[str, object]:
    return {"date": day, "weight_kg": weight_kg} | known


def test_passes_add_up():
    picks = [
        pick("2020-09-05", 4.0, fruit_count=30, graded_out_kg=0.5, pass_number=1),
        pick("2020-09-15", 6.0, fruit_count=40, graded_out_kg=0.2, pass_number=2),
    ]
    found = yields_of(orchard("2021-02-01", [tree()], picks=picks))[2020]
    assert (found.crop, found.weight_kg, found.fruit_count) == ("picked", 10.0, 70)
    assert found.graded_out_kg == pytest.approx(0.7)
    assert (found.passes, found.leaf) == (2, 11)
    assert (found.first_pick, found.last_pick) == (date(2020, 9, 5), date(2020, 9, 15))
    assert found.mean_fruit_g == pytest.approx(10_000 / 70)


def test_a_pass_over_two_days_is_one_and_rows_without_a_number_count_by_day():
    over_two_days = [pick("2020-09-05", 1.0, pass_number=1), pick("2020-09-06", 1.0, pass_number=1)]
    loose = [pick("2019-09-05", 1.0), pick("2019-09-12", 1.0)]
    found = yields_of(orchard("2021-02-01", [tree()], picks=over_two_days + loose))
    assert (found[2020].passes, found[2019].passes) == (1, 2)


def test_a_count_over_some_passes_is_no_count_of_the_season():
    picks = [pick("2020-09-05", 4.0, fruit_count=20), pick("2020-09-15", 6.0, graded_out_kg=1.0)]
    found = yields_of(orchard("2021-02-01", [tree()], picks=picks))[2020]
    assert found.fruit_count is None
    assert (found.fruit_counted, found.mean_fruit_g) == (20, pytest.approx(200.0))
    assert found.graded_out_kg is None
    assert found.graded_out_noted_kg == 1.0


def test_what_no_pass_recorded_is_unknown_and_not_zero():
    found = yields_of(orchard("2021-02-01", [tree()], picks=[pick("2020-09-05", 4.0)]))[2020]
    unknown = (found.fruit_count, found.fruit_counted, found.graded_out_kg, found.mean_fruit_g)
    assert unknown == (None, None, None, None)


def test_four_kinds_of_season_stay_apart():
    records = orchard(
        "2021-02-01",
        [tree(planted="2015-03-01")],
        picks=[pick("2015-09-05", 3.0), pick("2016-09-05", 0.0)],
        thinnings=[{"date": "2017-06-01", "action": "strip"}],
        events=[{"tree": "T", "date": "2018-05-20", "event": "no crop"}],
    )
    found = yields_of(records)
    kinds = {season: (row.crop, row.weight_kg) for season, row in found.items()}
    assert kinds == {
        2015: ("picked", 3.0),
        2016: ("none", 0.0),
        2017: ("stripped", None),
        2018: ("none", 0.0),
        2019: ("not recorded", None),
        2020: ("not recorded", None),
    }
    assert (found[2016].passes, found[2016].first_pick) == (1, None)


def test_a_thinned_season_is_not_stripped_and_a_pick_outweighs_a_strip():
    records = orchard(
        "2021-02-01",
        [tree(planted="2019-03-01")],
        picks=[pick("2020-09-05", 3.0)],
        thinnings=[
            {"date": "2019-06-01", "action": "thin", "fruit_left": 20},
            {"date": "2020-06-01", "action": "strip"},
        ],
    )
    assert [row.crop for row in season_yields(records)] == ["not recorded", "picked"]


def test_no_crop_logged_for_a_site_holds_for_its_trees_that_gave_nothing():
    records = orchard(
        "2020-12-31",
        [tree("A", planted="2020-03-01"), tree("B"), tree("C", site=SOUTH)],
        picks=[pick("2020-09-05", 3.0, tree="B")],
        events=[{"site": NORTH, "date": "2020-05-20", "event": "no crop"}],
    )
    table = yield_table(records)
    crops = table[table["season"] == 2020].set_index("tree")["crop"]
    assert crops.to_dict() == {"A": "none", "B": "picked", "C": "not recorded"}


def test_a_season_that_is_not_over_appears_once_its_crop_is_on_record():
    running = orchard("2020-08-01", [tree(planted="2019-03-01")])
    assert set(yields_of(running)) == {2019}
    picked = orchard(
        "2020-08-01", [tree(planted="2019-03-01")], picks=[pick("2020-07-25", 2.0, last=False)]
    )
    assert yields_of(picked)[2020].complete is False
    over = orchard("2021-01-01", [tree(planted="2019-03-01")])
    assert set(yields_of(over)) == {2019, 2020}


@pytest.mark.parametrize(
    ("as_of", "last", "complete"),
    [("2020-08-01", True, True), ("2020-08-01", None, False), ("2020-09-20", None, True)],
)
def test_picking_is_complete_when_marked_or_after_six_quiet_weeks(as_of, last, complete):
    records = orchard(as_of, [tree()], picks=[pick("2020-07-25", 2.0, last=last)])
    assert yields_of(records)[2020].complete is complete


def test_what_is_still_being_picked_is_not_compared():
    girths = [{"date": "2019-12-01", "girth_cm": 20.0}, {"date": "2020-12-01", "girth_cm": 22.0}]
    earlier = [pick(f"{year}-09-05", 10.0) for year in (2017, 2018, 2019)]
    records = orchard(
        "2020-09-06", [tree()], girths=girths[:1], picks=[*earlier, pick("2020-09-05", 2.0)]
    )
    found = yields_of(records)
    assert (found[2020].kg_per_cm2, found[2020].against_own_mean) == (None, None)
    assert found[2020].weight_kg == 2.0
    assert found[2019].against_own_mean == pytest.approx(0.0)


def test_a_late_species_is_not_over_at_the_end_of_its_season():
    # A mandarin of the south blooms in October and is picked from June into August.
    mandarin = tree(site=SOUTH, species="mandarin", cultivar="Satsuma Owari", planted="2015-08-01")
    picks = [pick("2019-08-10", 20.0)]
    assert 2020 not in yields_of(orchard("2020-08-12", [mandarin], picks=picks))
    later = yields_of(orchard("2020-10-12", [mandarin], picks=picks))
    assert (later[2019].crop, later[2020].crop) == ("picked", "not recorded")


def test_picks_belong_to_the_bloom_before_them_in_both_hemispheres():
    records = orchard(
        "2021-06-01",
        [tree("A"), tree("M", species="mandarin", cultivar="Clementine"), tree("P", site=SOUTH)],
        picks=[
            pick("2020-11-10", 5.0, tree="A"),
            pick("2021-01-20", 6.0, tree="M"),
            pick("2021-01-20", 7.0, tree="P"),
        ],
    )
    table = yield_table(records)
    picked = table[table["crop"] == "picked"].set_index("tree")["season"]
    assert picked.to_dict() == {"A": 2020, "M": 2020, "P": 2021}


@pytest.mark.parametrize(
    ("removed", "seasons"),
    [
        ("2020-06-10", {2018, 2019, 2020}),
        ("2020-02-10", {2018, 2019}),
        (None, {2018, 2019, 2020, 2021}),
    ],
)
def test_a_tree_has_the_seasons_from_its_first_leaf_to_its_removal(removed, seasons):
    records = orchard("2022-03-01", [tree(planted="2017-11-15", removed=removed)])
    assert set(yields_of(records)) == seasons


def test_yield_by_cross_section_takes_the_girth_on_the_day_of_the_last_pick():
    girths = [{"date": "2020-01-01", "girth_cm": 20.0}, {"date": "2021-01-01", "girth_cm": 26.0}]
    records = orchard("2021-02-01", [tree()], girths=girths, picks=[pick("2020-07-02", 8.0)])
    found = yields_of(records)[2020]
    # 183 of 366 days: a girth of 23 cm, 42.1 cm2 by girth^2 / (4 pi).
    assert found.tcsa_cm2 == pytest.approx(23**2 / (4 * np.pi))
    assert found.kg_per_cm2 == pytest.approx(8 / (23**2 / (4 * np.pi)))
    assert found.girth_date == date(2020, 1, 1)


def test_no_girth_near_enough_leaves_the_yield_by_cross_section_unknown():
    girths = [{"date": "2015-01-01", "girth_cm": 20.0}]
    records = orchard("2021-02-01", [tree()], girths=girths, picks=[pick("2020-07-02", 8.0)])
    found = yields_of(records)[2020]
    assert (found.kg_per_cm2, found.tcsa_cm2, found.girth_date) == (None, None, None)


def test_own_mean_leaves_out_stripped_barren_and_unrecorded_seasons():
    records = orchard(
        "2021-02-01",
        [tree(planted="2015-03-01")],
        picks=[
            pick("2015-09-05", 10.0),
            pick("2016-09-05", 0.0),
            pick("2019-09-05", 20.0),
            pick("2020-09-05", 30.0),
        ],
        thinnings=[{"date": "2017-06-01", "action": "strip"}],
    )
    compared = {season: row.against_own_mean for season, row in yields_of(records).items()}
    assert compared[2015] == pytest.approx(10 / 25 - 1)
    assert compared[2019] == pytest.approx(0.0)
    assert compared[2020] == pytest.approx(30 / 15 - 1)
    assert [compared[season] for season in (2016, 2017, 2018)] == [None, None, None]


def test_two_picked_seasons_are_too_few_to_compare():
    picks = [pick("2019-09-05", 10.0), pick("2020-09-05", 30.0)]
    found = yields_of(orchard("2021-02-01", [tree()], picks=picks))
    assert (found[2019].against_own_mean, found[2020].against_own_mean) == (None, None)


def test_an_orchard_without_records_has_no_yields():
    assert season_yields(orchard("2021-02-01", [])) == []


PICKS = st.lists(
    st.tuples(
        st.sampled_from("ABC"),
        st.integers(2016, 2020),
        st.integers(0, 60),
        st.integers(0, 800).map(lambda tenths: tenths / 10),
    ),
    max_size=25,
    unique_by=lambda row: row[:3],
)


def orchard_with(rows: list[tuple[str, int, int, float]], factor: float = 1.0):
    picks = [
        pick(str(date(season, 8, 1) + pd.Timedelta(days=day)), weight * factor, tree=name)
        for name, season, day, weight in rows
    ]
    return orchard("2021-06-01", [tree("A"), tree("B", cultivar="Fuji"), tree("C")], picks=picks)


@settings(max_examples=40, deadline=None)
@given(PICKS)
def test_yields_add_up_over_any_grouping(rows):
    table = yield_table(orchard_with(rows))
    whole = sum(weight for *_, weight in rows)
    for grouping in (["tree"], ["season"], ["cultivar", "season"]):
        assert table.groupby(grouping)["weight_kg"].sum().sum() == pytest.approx(whole)
    for (name, season), picks in pd.DataFrame(rows, columns=list("abcd")).groupby(["a", "b"]):
        row = table[(table["tree"] == name) & (table["season"] == season)]
        assert row["weight_kg"].iloc[0] == pytest.approx(picks["d"].sum())


@settings(max_examples=25, deadline=None)
@given(PICKS)
def test_weights_in_pounds_change_no_comparison(rows):
    kilograms, pounds = yield_table(orchard_with(rows)), yield_table(orchard_with(rows, KG_PER_LB))
    assert kilograms["crop"].tolist() == pounds["crop"].tolist()
    np.testing.assert_allclose(kilograms["against_own_mean"], pounds["against_own_mean"], atol=1e-7)


@given(st.lists(st.floats(0.5, 100), min_size=3, max_size=12))
def test_own_mean_agrees_with_leaving_each_season_out(weights):
    found = against_own_mean(weights, [0] * len(weights), [True] * len(weights))
    for at, weight in enumerate(weights):
        others = np.delete(weights, at)
        assert found[at] == pytest.approx(weight / others.mean() - 1, rel=1e-6, abs=1e-9)


def large_orchard(trees: int, seasons: int, passes: int):
    """Trees picked in every pass of every season, with a girth each winter."""
    names = np.array([f"tree {number}" for number in range(trees)], dtype=object)
    first = 1991
    records = orchard(
        f"{first + seasons}-01-15", [tree(name, planted=f"{first}-01-10") for name in names]
    )
    season = np.tile(np.repeat(np.arange(first, first + seasons), passes), trees)
    number = np.tile(np.arange(1, passes + 1), trees * seasons)
    day = (season - 1970).astype("datetime64[Y]").astype("datetime64[D]") + 250 + 7 * number
    picks = (
        frame("picks", [])
        .reindex(range(season.size))
        .assign(
            tree=np.repeat(names, seasons * passes),
            date=day.astype("datetime64[s]"),
            weight_kg=np.linspace(1.0, 9.0, season.size),
            pass_number=number.astype(float),
            season=season,
        )
    )
    winters = (
        (np.arange(first, first + seasons) - 1970).astype("datetime64[Y]").astype("datetime64[s]")
    )
    girths = pd.DataFrame(
        {
            "tree": np.repeat(names, seasons),
            "date": np.tile(winters, trees),
            "girth_cm": np.tile(np.linspace(8, 60, seasons), trees),
        }
    )
    return pd.Series({"records": records, "picks": picks, "girths": girths})


def test_five_thousand_trees_over_thirty_seasons_take_under_a_second():
    made = large_orchard(trees=5000, seasons=30, passes=3)
    records = replace(made["records"], picks=made["picks"], girths=made["girths"])
    times = []
    for _ in range(3):
        start = time.process_time()
        rows = season_yields(records)
        times.append(time.process_time() - start)
    assert len(rows) == 150_000
    assert sum(row.weight_kg for row in rows) == pytest.approx(made["picks"]["weight_kg"].sum())
    assert min(times) < 2.0  # under 1 s on a free machine


def test_cumulative_yields_rank_the_rootstocks_of_the_open_apple_trial():
    # Source: agridat, Archbold et al. 1987: kg per tree summed over 1975 to 1979. The sums are
    # spread evenly over those seasons, as the trial's own seasons are not in the file.
    trial = apple_trial()
    names = [f"{place.row} {place.pos} {place.rep}" for place in trial.itertuples()]
    picks = [
        pick(f"{season}-09-20", total / 5, tree=name)
        for name, total in zip(names, trial["yield"], strict=True)
        for season in range(1975, 1980)
    ]
    trees = [
        tree(name, planted="1971-03-01", rootstock=stock, vigour=None)
        for name, stock in zip(names, trial["stock"], strict=True)
    ]
    records = orchard("1980-02-01", trees, picks=picks)
    table = yield_table(records)
    cumulative = table.groupby("tree")["weight_kg"].sum()
    stocks = records.trees.set_index("tree")["rootstock"]
    means = cumulative.groupby(stocks).mean().sort_values(ascending=False)
    own = trial.groupby("stock")["yield"].mean().sort_values(ascending=False)
    assert means.index.tolist() == own.index.tolist() == ["MM106", "M0007", "Seedling", "MM111"]
    assert means.to_numpy() == pytest.approx(own.to_numpy())
