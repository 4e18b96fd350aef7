"""The bearing index against its published formula and open records."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from harvest.errors import QuantityError
from harvest.yields import bearing_index, chance_bearing_index, without_trend
from tests.yields.open_yields import coffee, oranges
from tests.yields.published_values import Published, published

NAN = np.nan
CROPS = npst.arrays(
    float,
    npst.array_shapes(min_dims=1, max_dims=2, min_side=2),
    elements=st.integers(0, 500_000).map(lambda grams: grams / 1000),
)


@pytest.mark.parametrize("value", published("bbi"))
def test_index_of_the_published_formula(value: Published):
    assert bearing_index(value.numbers) == value.approximately


@pytest.mark.parametrize(
    ("yields", "expected"),
    [
        # Worked by hand from the formula of Hoblyn et al. 1936.
        ([10, NAN, 5, 35], 0.75),
        ([0, 0, 20, 20], 0.5),
        ([0, 0, 0], NAN),
        ([12], NAN),
        ([12, NAN, 12], NAN),
        ([NAN, NAN], NAN),
    ],
)
def test_pairs_that_say_nothing_are_left_out(yields: list[float], expected: float):
    assert bearing_index(yields) == pytest.approx(expected, nan_ok=True)


def test_seasons_lie_on_the_last_axis():
    found = bearing_index([[[30, 0, 30], [20, 20, 20]]])
    assert found.tolist() == [[1.0, 0.0]]


@pytest.mark.parametrize(
    ("yields", "said"),
    [([3, -1], "a yield of 0 or more is needed; given: -1"), (5.0, "several seasons are needed")],
)
def test_impossible_yields_are_refused(yields: object, said: str):
    with pytest.raises(QuantityError, match=said):
        bearing_index(yields)


@given(CROPS, st.floats(0.1, 10))
def test_index_is_a_share_and_the_unit_does_not_matter(crops: np.ndarray, factor: float):
    found = bearing_index(crops)
    known = ~np.isnan(found)
    assert ((found[known] >= 0) & (found[known] <= 1)).all()
    assert bearing_index(crops * factor) == pytest.approx(found, nan_ok=True, abs=1e-9)
    assert bearing_index(crops[..., ::-1]) == pytest.approx(found, nan_ok=True, abs=1e-9)


@given(st.lists(st.floats(0.1, 100), min_size=3, max_size=6), st.randoms())
def test_chance_index_does_not_know_the_order_of_seasons(crops: list[float], random):
    shuffled = list(crops)
    random.shuffle(shuffled)
    assert chance_bearing_index(shuffled) == pytest.approx(chance_bearing_index(crops))


def test_chance_index_is_the_mean_index_over_all_orders():
    crops = [10.0, 40.0, 5.0, 35.0, 0.0]
    every = np.mean([bearing_index(order) for order in permutations(crops)])
    assert chance_bearing_index(crops) == pytest.approx(every)


def test_on_the_coffee_plots_one_year_says_nothing_of_the_next_but_of_the_one_after():
    # Source: agridat, Páez 1962; the correlations are stated with the open data.
    crops = coffee()
    seen = np.corrcoef(crops[~np.isnan(crops).any(axis=1)], rowvar=False)
    assert seen[0, 1] == pytest.approx(0.01, abs=0.005)
    assert seen[0, 2] == pytest.approx(0.60, abs=0.005)
    assert np.ptp(np.nanmean(crops, axis=0)) > 1.0


def test_the_coffee_plots_alternate_before_and_after_detrending():
    crops = coffee()
    assert bearing_index(crops).mean() > chance_bearing_index(crops).mean()
    plots = bearing_index(crops, detrended=True)
    assert plots.mean() > chance_bearing_index(crops, detrended=True).mean()
    # Plots of one orchard swing each in its own step, so that most of the index is left.
    assert plots.mean() > 0.9 * bearing_index(crops).mean()


def test_the_young_orange_orchard_rises_and_does_not_alternate():
    # Source: agridat, Parker and Batchelor 1932: planted in 1917, yields of 1921 to 1927.
    crops = oranges()
    first, last = np.nanmean(crops[:, :2]), np.nanmean(crops[:, -2:])
    assert last > 2.5 * first
    plain, detrended = bearing_index(crops), bearing_index(crops, detrended=True)
    assert np.nanmean(detrended) < np.nanmean(plain) / 2
    assert np.nanmean(detrended) < np.nanmean(chance_bearing_index(crops, detrended=True))


def test_what_the_season_gave_all_trees_is_taken_out():
    own = np.array([1.0, 2.0, 3.0, 4.0, 5.0])[:, None]
    season = np.array([2.0, 10.0, 30.0, 25.0])
    crops = own * season
    assert bearing_index(crops, detrended=True) == pytest.approx(0, abs=1e-12)
    relative = without_trend(crops)
    assert relative == pytest.approx(np.broadcast_to(relative[:, :1], relative.shape))


def test_a_frost_season_and_one_with_few_trees_say_nothing_of_the_trend():
    crops = np.full((6, 3), 10.0)
    crops[:, 1] = 0.0
    crops[:2, 2] = NAN
    relative = without_trend(crops)
    assert np.isnan(relative[:, 1:]).all()
    assert not np.isnan(relative[:, 0]).any()


def test_a_single_tree_has_no_orchard_to_be_compared_with():
    with pytest.raises(QuantityError, match=r"yields of several trees.*use the plain index"):
        bearing_index([1.0, 2.0, 3.0], detrended=True)
