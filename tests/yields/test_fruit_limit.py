"""Fruit a trunk may carry: the published hand-thinning table and the law that it never rises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import QuantityError
from harvest.store.reference import cultivar_table
from harvest.units import CM_PER_IN
from harvest.yields import fruit_limit, trunk_cross_section
from tests.yields.made_records import advice_for, orchard, tree
from tests.yields.published_values import Published, published

HABITS = {"biennial": "Honeycrisp", "annual": "Gala"}


def girth_of(diameter_in: float) -> float:
    return float(np.pi * diameter_in * CM_PER_IN)


@pytest.mark.parametrize("value", published("crop_load_umass"))
def test_published_crop_load_of_young_apples(value: Published):
    diameter_in, per_cm2 = value.numbers
    area = float(trunk_cross_section(girth_of(diameter_in)))
    assert area * per_cm2 == value.approximately
    # The published table rounds to the nearest fruit; a limit is rounded down.
    assert value.expected - 1 <= fruit_limit(area, per_cm2) <= value.expected


@pytest.mark.parametrize("value", published("crop_load_umass"))
def test_young_apples_on_dwarfing_roots_get_the_published_number(value: Published):
    diameter_in, per_cm2 = value.numbers
    habit = next(habit for habit in HABITS if habit in value.inputs)
    records = orchard(
        "2015-05-20",
        [tree(planted="2010-11-20", cultivar=HABITS[habit])],
        girths=[{"date": "2014-12-10", "girth_cm": girth_of(diameter_in)}],
    )
    found = advice_for(records)
    assert (found.leaf, found.advice) == (5, "limit")
    assert value.expected - 1 <= found.fruit_limit <= value.expected
    assert f"{per_cm2:g} fruit per cm2" in " ".join(found.reasons)
    assert any("Massachusetts" in source for source in found.sources)


def test_the_habits_of_the_published_table_are_those_of_its_cultivars():
    # UMass crop load guide (Clements 2017): Honeycrisp and Fuji biennial, Gala and McIntosh annual.
    apples = cultivar_table().query("species == 'apple'").set_index("cultivar")["alternates"]
    named = apples[["Honeycrisp", "Fuji", "Gala", "McIntosh"]]
    assert named.tolist() == ["yes", "yes", "no", "no"]


@pytest.mark.parametrize("value", published("yield_estimate"))
def test_limit_times_fruit_weight_is_the_expected_crop(value: Published):
    area, per_cm2, grams = value.numbers
    assert fruit_limit(area, per_cm2) * grams / 1000 == value.approximately


@given(st.floats(0, 2000), st.floats(0, 2000), st.floats(0, 15))
def test_limit_never_rises_when_the_trunk_shrinks(one: float, other: float, per_cm2: float):
    assert fruit_limit(min(one, other), per_cm2) <= fruit_limit(max(one, other), per_cm2)


@given(st.floats(0, 2000), st.floats(0, 15))
def test_limit_is_whole_and_rounded_down(area: float, per_cm2: float):
    limit = fruit_limit(area, per_cm2)
    assert isinstance(limit, int)
    assert limit <= area * per_cm2 + 1e-6 < limit + 1 + 2e-6


@pytest.mark.parametrize(("area", "per_cm2"), [(-1.0, 4.0), (5.0, -4.0), (float("nan"), 4.0)])
def test_impossible_trunks_and_loads_are_refused(area: float, per_cm2: float):
    with pytest.raises(QuantityError, match=r"0 or more are needed; given: .* cm2 and"):
        fruit_limit(area, per_cm2)
