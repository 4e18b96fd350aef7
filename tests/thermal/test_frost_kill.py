"""Frost: the table against the published temperatures, the share between them by its rule."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import QuantityError
from harvest.thermal import kill_temperatures, share_killed, stage_row
from tests.thermal.reference_values import CheckValue, each

REFERENCE = Path(__file__).parents[2] / "data" / "reference"


def frost_table():
    with (REFERENCE / "frost_kill.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def columns(species):
    rows = [row for row in frost_table() if row["species"] == species]
    return tuple(
        np.array([float(row[name] or "nan") for row in rows])
        for name in ("bbch_from", "bbch_to", "kill10_c", "kill90_c")
    )


# --- The table ----------------------------------------------------------------------------------


@each("frost_kill10", "frost_kill90")
def test_the_table_has_the_published_temperatures(check: CheckValue):
    species, stage = check.inputs.split("; ")
    species = {"pear": "european pear"}.get(species, species)
    row = next(r for r in frost_table() if (r["species"], r["stage_name"]) == (species, stage))
    assert float(row[f"kill{check.topic[-2:]}_c"]) == check.approximately
    assert row["verified"] == "opened"


def test_every_species_is_known_and_every_row_has_its_source():
    with (REFERENCE / "species.csv").open(encoding="utf-8", newline="") as file:
        known = {row["species"] for row in csv.DictReader(file)}
    for row in frost_table():
        assert row["species"] in known
        assert row["source"]
        assert row["verified"] in {"opened", "memory"}


def test_stages_follow_each_other_without_gap_and_grow_more_tender():
    by_species = defaultdict(list)
    for row in frost_table():
        by_species[row["species"]].append(row)
    for rows in by_species.values():
        begins = [int(row["bbch_from"]) for row in rows]
        ends = [int(row["bbch_to"]) for row in rows]
        assert begins[0] == 51  # buds swelling
        assert begins[1:] == [end + 1 for end in ends[:-1]]
        assert ends[-1] >= 66  # full bloom
        for name in ("kill10_c", "kill90_c"):
            known = [float(row[name]) for row in rows if row[name]]
            assert known == sorted(known)


# --- The row of a stage -------------------------------------------------------------------------


def test_full_bloom_of_apple():
    """WSU EB0913: 28 and 25 degF at full bloom."""
    tenth, most = kill_temperatures([65, 54, 40, np.nan], *columns("apple"))
    np.testing.assert_allclose(tenth, [-2.22, -5.0, np.nan, np.nan])
    np.testing.assert_allclose(most, [-3.89, -9.44, np.nan, np.nan])


def test_a_table_may_have_an_unknown_value():
    tenth, most = kill_temperatures(51, *columns("apricot"))
    assert tenth == pytest.approx(-9.44)
    assert np.isnan(most)


def test_rows_in_any_order_and_gaps():
    rows = stage_row([[50, 51, 52], [60, 61, np.nan]], [60, 51], [60, 51])
    np.testing.assert_array_equal(rows, [[-1, 1, -1], [0, -1, -1]])
    np.testing.assert_array_equal(stage_row([65], [], []), [-1])


# --- The share killed ---------------------------------------------------------------------------


def test_a_tenth_and_nine_tenths_at_the_published_temperatures():
    tenth, most = columns("apple")[2:]
    np.testing.assert_allclose(share_killed(tenth, tenth, most), 0.1)
    np.testing.assert_allclose(share_killed(most, tenth, most), 0.9)


def test_the_line_between_and_beyond():
    np.testing.assert_allclose(
        share_killed([-1.0, -2.0, -3.0, -4.0, -9.0], -2.0, -4.0), [0.0, 0.1, 0.5, 0.9, 1.0]
    )
    assert share_killed(0.0, -0.1, -2.0) == 0.0  # the line would begin above freezing


kills = st.tuples(st.floats(-12, -0.5), st.floats(0.2, 10)).map(lambda k: (k[0], k[0] - k[1]))


@given(st.floats(-40, 20), st.floats(0, 10), kills)
def test_a_colder_night_never_kills_less(night, colder, kill):
    mild, cold = share_killed(night, *kill), share_killed(night - colder, *kill)
    assert 0 <= mild <= cold <= 1


@given(st.floats(0, 40), kills)
def test_nothing_dies_at_or_above_freezing(night, kill):
    assert share_killed(night, *kill) == 0


def test_unknown_is_not_no_damage():
    shares = share_killed([-3.0, -3.0, np.nan, 1.0, 1.0], [-2, np.nan, -2, np.nan, -2],
                          [np.nan, -5, -4, -4, np.nan])  # fmt: skip
    np.testing.assert_array_equal(shares, [np.nan, np.nan, np.nan, 0, 0])


def test_sites_and_nights_broadcast():
    nights = np.array([[-1.0, -3.0, -5.0], [-2.0, -4.0, -8.0]])
    shares = share_killed(nights, [-2.0, -2.2, -2.8], [-4.0, -3.9, -4.4])
    assert shares.shape == (2, 3)
    assert shares[0, 1] == pytest.approx(0.1 + 0.8 * 0.8 / 1.7)


# --- Errors -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: share_killed([-3.0, 290.0], -2, -4),
         r"night_minimum at index 1: a temperature within -90\.\.65 degC .* given: 290"),
        (lambda: share_killed(-3, [-2, -4], [-4, -2]),
         r"kill90 at index 1: the temperature that kills 90 % must lie below .* "
         r"given: kill10 -4, kill90 -2 degC"),
        (lambda: share_killed([-3, -4], [-2, -2, -2], -4),
         r"night_minimum, kill10 and kill90 must fit .* night_minimum \(2,\), kill10 \(3,\)"),
        (lambda: stage_row(65, [51, 53], [54, 55]),
         r"bbch_from: the stages of a table must not overlap; given: 51-54, 53-55"),
        (lambda: stage_row(65, [60], [51]), r"must not overlap; given: 60-51"),
        (lambda: stage_row(65, [51, 53], [54]), r"two columns .* shapes \(2,\) and \(1,\)"),
        (lambda: kill_temperatures(65, [60, 65], [64, 66], [-2.0], [-4.0, -4.0]),
         r"kill10: kill10 must have a value for each row .* given: shape \(1,\) for \(2,\) rows"),
    ],
)  # fmt: skip
def test_bad_input_is_named_with_its_place(call, message):
    with pytest.raises(QuantityError, match=message):
        call()
