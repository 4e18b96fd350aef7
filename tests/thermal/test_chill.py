"""Chill against the published tables, an independent library and its own laws."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from harvest.errors import QuantityError
from harvest.thermal import (
    ChillState,
    _dynamic_model,
    chill_hours,
    chill_portions,
    chill_totals,
    running_total,
    utah_units,
)
from tests.thermal.climate_library import climate_indices, labelled
from tests.thermal.reference_values import CheckValue, each

SINE = 7 + 6 * np.sin(2 * np.pi * (np.arange(1440) - 9) / 24)
MEASURES = {
    "chill_hours": chill_hours,
    "utah_units": utah_units,
    "positive_utah_units": lambda hours: utah_units(hours, positive=True),
    "chill_portions": chill_portions,
}


def published_model(temperature, offset):
    """The Dynamic Model hour by hour as its recurrences are written, for one series."""
    s, total, totals = 0.0, 0.0, []
    for t in np.asarray(temperature, float) + offset:
        sr = np.exp(1.6 * 277 * (t - 277) / t)
        xi = sr / (1 + sr)
        xs = 139500 / 2.567e18 * np.exp((12888.8 - 4153.5) / t)
        k1 = 2.567e18 * np.exp(-12888.8 / t)
        e = xs - (xs - s) * np.exp(-k1)
        total += xi * e if e >= 1 else 0.0
        s = e * (1 - xi) if e >= 1 else e
        totals.append(total)
    return np.array(totals)


# --- Check values -------------------------------------------------------------------------------


@each("chill_hours_0_7.2")
def test_an_hour_between_0_and_7_2_degrees_counts(check: CheckValue):
    assert chill_hours([check.numbers["T"]])[0] == check.approximately


def test_some_handbooks_count_frost_as_well():
    hours = [-5.0, 0.0, 0.1, 7.2, 7.3]
    assert chill_hours(hours).tolist() == [0, 0, 1, 2, 2]
    assert chill_hours(hours, count_frost=True).tolist() == [1, 2, 3, 4, 4]


@each("utah")
def test_units_of_the_utah_table(check: CheckValue):
    assert utah_units([check.numbers["T"]])[0] == check.approximately
    as_logged = np.array([check.numbers["T"]], dtype=np.float32)
    assert utah_units(as_logged)[0] == check.approximately


@each("utah_positive")
def test_units_of_the_positive_utah_model(check: CheckValue):
    assert utah_units([check.numbers["T"]], positive=True)[0] == check.approximately


@each("utah_sine")
def test_utah_units_of_sixty_sine_days(check: CheckValue):
    assert utah_units(SINE)[-1] == check.approximately


@each("chill_hours_sine")
def test_chill_hours_of_sixty_sine_days(check: CheckValue):
    assert chill_hours(SINE)[-1] == check.approximately


@each("dynamic_sine", "dynamic_sine_K273.15")
def test_portions_of_sixty_sine_days(check: CheckValue):
    offset = 273.15 if "273.15" in check.topic else 273.0
    assert chill_portions(SINE, kelvin_offset=offset)[-1] == check.approximately


@each("dynamic_const")
def test_portions_at_a_constant_temperature(check: CheckValue):
    at = check.numbers
    assert chill_portions(np.full(int(at["hours"]), at["T"]))[-1] == check.approximately


@each("dynamic_first_portion_hour")
def test_when_the_first_portion_is_fixed(check: CheckValue):
    portions = chill_portions(np.full(100, check.numbers["T"]))
    assert np.argmax(portions > 0) + 1 == check.expected


@each("dynamic_intermediate")
def test_the_intermediate_product_after_a_day(check: CheckValue):
    state = chill_totals(np.full(24, check.numbers["T"])).state
    assert state.intermediate == check.approximately


@each("dynamic_cycle")
def test_portions_of_daily_cycles(check: CheckValue):
    parts = re.findall(r"(\d+)h@(\d+)C", check.inputs)
    cycle = np.concatenate([np.full(int(hours), float(degrees)) for hours, degrees in parts])
    total = int(re.search(r"(\d+) h$", check.inputs).group(1))
    hours = np.tile(cycle, total // cycle.size + 1)[:total]
    assert chill_portions(hours)[-1] == check.approximately


# --- An independent general-purpose library -----------------------------------------------------


def winter(seed, *shape):
    rng = np.random.default_rng(seed)
    hours = np.arange(shape[-1])
    mild = rng.uniform(2, 12, (*shape[:-1], 1))
    return mild + 5 * np.sin(2 * np.pi * (hours - 9) / 24) + rng.normal(0, 2, shape)


def test_portions_agree_with_a_climate_index_library():
    """It adds 273.15 and takes the first hour as the start, so ours are given the same."""
    hours = winter(1, 40, 2400)
    with climate_indices() as indices:
        theirs = indices.chill_portions(labelled(hours, "2001-01-01", "h"), freq="YS").to_numpy()
    ours = chill_portions(hours[:, 1:], kelvin_offset=273.15)[:, -1]
    np.testing.assert_allclose(ours, theirs[:, 0], rtol=1e-9)


def test_utah_units_agree_with_a_climate_index_library():
    """Hours rounded to 0.1 degC and away from the edges, which it sets at other tenths."""
    hours = np.round(winter(2, 5, 2400), 1)
    edges = np.array([1.4, 2.4, 9.1, 12.4, 15.9, 18.0])
    hours += 0.3 * (np.abs(hours[..., None] - edges).min(axis=-1) < 0.15)
    with climate_indices() as indices:
        theirs = indices.chill_units(labelled(hours, "2001-01-01", "h"), freq="YS").to_numpy()
    np.testing.assert_allclose(utah_units(hours)[:, -1], theirs[:, 0])


@pytest.mark.parametrize("offset", [273.0, 273.15])
def test_every_hour_agrees_with_the_published_recurrences(offset):
    hours = winter(3, 3000)
    ours = chill_portions(hours, kelvin_offset=offset)
    np.testing.assert_allclose(ours, published_model(hours, offset), rtol=1e-9, atol=1e-12)


# --- Going on from a state ----------------------------------------------------------------------


def assert_goes_on(whole, *parts):
    """Totals of the parts, each going on from the one before, are the whole's to the last bit."""
    together = chill_totals(whole)
    state, totals = None, {name: [] for name in MEASURES}
    for part in parts:
        step = chill_totals(part, after=state)
        state = step.state
        for name, parts_so_far in totals.items():
            parts_so_far.append(getattr(step, name))
    for name, parts_so_far in totals.items():
        np.testing.assert_array_equal(
            np.concatenate(parts_so_far, axis=-1), getattr(together, name)
        )
        np.testing.assert_array_equal(getattr(state, name), getattr(together.state, name))
    np.testing.assert_array_equal(state.intermediate, together.state.intermediate)
    assert state.hours == together.state.hours == whole.shape[-1]


@pytest.mark.parametrize("series", [(), (3,), (40,), (2, 20)])
def test_going_on_equals_the_whole(series):
    whole = winter(4, *series, 2000)
    assert_goes_on(whole, whole[..., :1234], whole[..., 1234:1235], whole[..., 1235:])


@given(
    npst.arrays(float, st.integers(0, 60), elements=st.floats(-20, 35)),
    st.lists(st.integers(0, 60), max_size=3),
)
def test_any_cut_of_any_series_goes_on(whole, cuts):
    assert_goes_on(whole, *np.split(whole, sorted(min(cut, whole.size) for cut in cuts)))


def test_going_on_across_blocks_of_hours():
    whole = winter(5, 200, 3000)  # more than one block of hours
    assert whole.size > 2 * _dynamic_model.BLOCK
    assert_goes_on(whole, whole[:, :1], whole[:, 1:])


def test_single_measures_equal_the_four_together():
    hours = winter(6, 2, 500)
    together = chill_totals(hours)
    for name, measure in MEASURES.items():
        np.testing.assert_array_equal(getattr(together, name), measure(hours))


def test_a_day_costs_a_days_work():
    """Totals of a season and of the season with a day more, without the season's hours."""
    season, day = winter(7, 3000), winter(8, 24)
    before = chill_totals(season).state
    after = chill_totals(day, after=before)
    assert after.chill_portions.shape == (24,)
    assert after.state.chill_portions == chill_portions(np.concatenate([season, day]))[-1]


def test_a_state_keeps_its_offset():
    first, rest = SINE[:700], SINE[700:]
    state = chill_totals(first, kelvin_offset=273.15).state
    assert state.kelvin_offset == 273.15
    np.testing.assert_array_equal(
        chill_totals(rest, after=state).chill_portions,
        chill_portions(SINE, kelvin_offset=273.15)[700:],
    )


def test_a_state_can_be_kept_as_plain_numbers():
    """As it comes back from a database."""
    state = chill_totals(SINE[:700]).state
    kept = ChillState(
        state.hours,
        float(state.chill_hours),
        float(state.utah_units),
        float(state.positive_utah_units),
        float(state.chill_portions),
        float(state.intermediate),
        state.kelvin_offset,
    )
    rest = chill_totals(SINE[700:], after=kept)
    np.testing.assert_array_equal(rest.chill_portions, chill_portions(SINE)[700:])


def test_the_start_of_a_season():
    start = ChillState.at_start((2,))
    assert start.hours == 0
    np.testing.assert_array_equal(start.chill_portions, [0, 0])
    hours = winter(9, 2, 100)
    np.testing.assert_array_equal(
        chill_totals(hours, after=start).chill_portions, chill_portions(hours)
    )


def test_running_totals_of_anything_that_adds_up():
    values = np.array([[0.1, 0.2, 0.7, 3.3], [1.0, np.nan, 1.0, 1.0]])
    totals = running_total(values)
    np.testing.assert_array_equal(totals[0], np.cumsum(values[0]))
    np.testing.assert_array_equal(np.isnan(totals[1]), [False, True, True, True])
    rest = running_total(values[0, 2:], after=totals[0, 1])
    np.testing.assert_array_equal(rest, totals[0, 2:])
    assert running_total([], after=3.0).shape == (0,)


# --- Three ways to walk through the hours -------------------------------------------------------


def walk(hours, way, offset=273.0):
    made = _dynamic_model.Walk(
        hours, offset, np.zeros(len(hours)), np.zeros(len(hours)), np.empty(hours.shape)
    )
    assert way(made)
    return made.totals


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_few_or_many_series_give_the_same_bits(dtype):
    hours = winter(10, 50, 4000).astype(dtype)
    few = walk(hours, _dynamic_model.walk_few)
    np.testing.assert_array_equal(walk(hours, _dynamic_model.walk_many), few)
    time_first = np.ascontiguousarray(hours.T).T
    np.testing.assert_array_equal(walk(time_first, _dynamic_model.walk_many), few)


@pytest.mark.parametrize("offset", [273.0, 273.15])
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_compiled_code_gives_equal_results(dtype, offset):
    from harvest.thermal._compiled import walk_compiled

    hours = winter(11, 50, 2000).astype(dtype)
    hours[3, 100] = np.nan
    plain = walk(hours, _dynamic_model.walk_few, offset)
    np.testing.assert_allclose(walk(hours, walk_compiled, offset), plain, rtol=1e-9, atol=1e-12)


def test_compiled_code_meets_the_formula_at_tenths_of_a_degree():
    from harvest.thermal._compiled import walk_compiled

    hours = np.round(winter(12, 20, 3000), 1)
    plain = walk(hours, _dynamic_model.walk_few)
    np.testing.assert_allclose(walk(hours, walk_compiled), plain, rtol=1e-11)


def test_large_work_is_handed_to_compiled_code(monkeypatch):
    from harvest.thermal import _compiled

    hours = winter(13, 40, 100)
    plain = chill_portions(hours)
    handed = []
    real = _compiled.walk_compiled
    monkeypatch.setattr(_compiled, "walk_compiled", lambda work: handed.append(1) or real(work))
    monkeypatch.setattr(_dynamic_model, "COMPILED_FROM", hours.size)
    np.testing.assert_allclose(chill_portions(hours), plain, rtol=1e-9)
    assert handed == [1]


def test_large_work_is_done_without_numba_too(monkeypatch):
    import sys

    hours = winter(14, 40, 100)
    plain = chill_portions(hours)
    monkeypatch.setattr(_dynamic_model, "COMPILED_FROM", 1)
    monkeypatch.delitem(sys.modules, "harvest.thermal._compiled", raising=False)
    monkeypatch.setattr("harvest.thermal._compiled", None, raising=False)
    monkeypatch.setitem(sys.modules, "numba", None)
    np.testing.assert_array_equal(chill_portions(hours), plain)


def test_many_more_series_than_fit_side_by_side():
    hours = winter(15, _dynamic_model.WIDEST + 5, 60)
    totals = chill_portions(hours)
    np.testing.assert_array_equal(totals[-3:], chill_portions(hours[-3:]))


@pytest.mark.parametrize("way", ["few", "many", "compiled"])
@pytest.mark.parametrize("every", [1, 7, 24, 100, 2999, 3000, 3001])
def test_totals_every_so_many_hours_are_those_of_every_hour(monkeypatch, way, every):
    monkeypatch.setattr(_dynamic_model, "BLOCK", 3000)
    monkeypatch.setattr(_dynamic_model, "CHUNK", 1000)
    monkeypatch.setattr(_dynamic_model, "COMPILED_FROM", 0 if way == "compiled" else np.inf)
    hours = winter(16, 5 if way == "few" else 40, 3000)
    kept = chill_portions(hours, every=every)
    np.testing.assert_array_equal(kept, chill_portions(hours)[:, every - 1 :: every])


# --- Laws ---------------------------------------------------------------------------------------

series = npst.arrays(float, st.integers(1, 80), elements=st.floats(-30, 40))


@given(
    npst.arrays(
        float, st.tuples(st.integers(1, 4), st.integers(1, 400)), elements=st.floats(-40, 45)
    )
)
def test_compiled_code_agrees_on_any_series(hours):
    from harvest.thermal._compiled import walk_compiled

    plain = walk(hours, _dynamic_model.walk_few)
    np.testing.assert_allclose(walk(hours, walk_compiled), plain, rtol=1e-9, atol=1e-9)


@given(series)
def test_totals_that_cannot_fall(hours):
    for total in (chill_hours(hours), chill_portions(hours), utah_units(hours, positive=True)):
        assert (np.diff(total, prepend=0.0) >= 0).all()


@given(series)
def test_positive_utah_is_never_less_than_utah(hours):
    assert (utah_units(hours, positive=True) >= utah_units(hours)).all()


@given(series)
def test_the_same_winter_in_either_hemisphere(hours):
    """Chill knows hours, not dates: a southern winter with the same hours has the same chill."""
    both = chill_portions(np.stack([hours, hours]))
    np.testing.assert_array_equal(both[0], both[1])


@given(series, st.integers(0, 79))
def test_a_missing_hour_makes_the_rest_unknown_and_leaves_what_came_before(hours, at):
    at = min(at, hours.size - 1)
    gap = hours.copy()
    gap[at] = np.nan
    for measure in MEASURES.values():
        total = measure(gap)
        np.testing.assert_array_equal(total[:at], measure(hours)[:at])
        assert np.isnan(total[at:]).all()


def test_a_missing_hour_among_many_series_stays_in_its_own():
    hours = winter(16, 40, 300)
    whole = chill_portions(hours)
    gap = hours.copy()
    gap[7, 100] = np.nan
    total = chill_portions(gap)
    assert np.isnan(total[7, 100:]).all()
    total[7, 100:] = whole[7, 100:]
    np.testing.assert_array_equal(total, whole)


def test_warm_spells_undo_the_intermediate_product_but_no_portion():
    """Fishman et al. 1987: what is fixed stays fixed."""
    cold = chill_totals(np.full(400, 6.0)).state
    hot = chill_totals(np.full(48, 30.0), after=cold)
    assert (hot.chill_portions == cold.chill_portions).all()
    nearly = chill_totals(np.full(24, 6.0)).state
    undone = chill_totals(np.full(48, 30.0), after=nearly).state
    assert nearly.intermediate > 0.8
    assert undone.intermediate < 0.3


def test_shapes_and_types():
    hours = winter(17, 2, 3, 50)
    for measure in MEASURES.values():
        total = measure(hours)
        assert total.shape == hours.shape
        assert total.dtype == np.float64
        np.testing.assert_array_equal(total[1, 2], measure(hours[1, 2]))
        assert measure([]).shape == (0,)
        assert measure(np.empty((0, 5))).shape == (0, 5)
        assert measure([5, 6]).dtype == np.float64


# --- Errors -------------------------------------------------------------------------------------


@pytest.mark.parametrize("measure", MEASURES.values(), ids=MEASURES)
@pytest.mark.parametrize(
    ("hours", "message"),
    [
        ([5.0, 200.0], r"temperature at index 1: a temperature within -90\.\.65 degC is needed;"),
        (np.full((40, 9), 66.0), r"temperature at index \(0, 0\): .* given: 66\."),
        (5.0, r"temperature: an array with time on the last axis is needed"),
        ([None, "warm"], r"temperature: numbers in a rectangular array are needed"),
    ],
)
def test_bad_hours_are_named_with_their_place(measure, hours, message):
    with pytest.raises(QuantityError, match=message):
        measure(hours)


def test_bad_hours_are_found_by_compiled_code(monkeypatch):
    monkeypatch.setattr(_dynamic_model, "COMPILED_FROM", 1)
    hours = winter(18, 4, 50)
    hours[2, 20] = np.nan
    hours[2, 30] = -999.0
    with pytest.raises(QuantityError, match=r"temperature at index \(2, 30\): .* given: -999\."):
        chill_portions(hours)


def test_bad_offsets_and_states():
    with pytest.raises(QuantityError, match=r"kelvin_offset: a value within 273\.\.273\.16 K"):
        chill_portions([5.0], kelvin_offset=0.0)
    for every in (0, -24, 1.5):
        with pytest.raises(QuantityError, match=rf"every: a whole number .*; given: {every}"):
            chill_portions([5.0], every=every)
    with pytest.raises(QuantityError, match=r"kelvin_offset: .* given: 300\."):
        ChillState.at_start(kelvin_offset=300)
    with pytest.raises(QuantityError, match=r"after: the earlier state .*, \(2,\); given: \(\)"):
        chill_totals(np.zeros((2, 5)), after=ChillState.at_start())
    with pytest.raises(QuantityError, match=r"after: the earlier total must fit .* given: \(3,\)"):
        running_total(np.zeros((2, 5)), after=[1.0, 2.0, 3.0])
    with pytest.raises(QuantityError, match=r"totals of a state must have one shape; .*\(3,\)"):
        ChillState(0, 0.0, 0.0, 0.0, 0.0, np.zeros(3))
    with pytest.raises(QuantityError, match=r"values: an array with time on the last axis"):
        running_total(5.0)
