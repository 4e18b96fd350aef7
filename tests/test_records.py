"""Records: the columns people's files rely on, and the gate through which forecasts see them."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvest.records import EVENTS, KINDS, THINNING_ACTIONS, VIGOURS, Records, fields

# The columns of each kind of file: a promise to everyone who keeps such files. First those a
# file must have, then those it may have.
COLUMNS = {
    "sites": ("site latitude longitude", "elevation_m timezone row_spacing_m tree_spacing_m note"),
    "trees": (
        "tree site species cultivar planted",
        "rootstock vigour form row position pollen_group removed note",
    ),
    "weather": ("site date tmin_c tmax_c", "precip_mm wind_kmh"),
    "stages": ("tree date bbch", "percent_open observer note"),
    "picks": (
        "tree date weight_kg",
        "fruit_count pass graded_out_kg cause last brix firmness_kg starch note",
    ),
    "thinnings": ("tree date action", "fruit_removed fruit_left note"),
    "girths": ("tree date girth_cm", ""),
    "sprays": (
        "product date withholding_days",
        "tree site registration crop rate reason note",
    ),
    "events": ("date event", "tree site severity note"),
    "grafts": ("tree date cultivar", "species note"),
}
WRITTEN_WITH_THE_DATE = {"time_of_day"}


def test_the_kinds_are_those_promised() -> None:
    assert list(KINDS) == list(COLUMNS)


@pytest.mark.parametrize("kind", COLUMNS)
def test_a_file_needs_and_may_have_the_columns_promised(kind: str) -> None:
    needed, optional = (set(names.split()) for names in COLUMNS[kind])
    found = [field for field in fields(kind) if field.header not in WRITTEN_WITH_THE_DATE]
    assert {field.header for field in found if field.column_needed} == needed
    # More columns may come, none of these may go.
    assert optional <= {field.header for field in found if not field.column_needed}


@pytest.mark.parametrize(
    ("kind", "column", "needed"),
    [
        ("weather", "tmin_c", False),  # a day may lack one of its values
        ("sprays", "withholding_days", False),  # blank is unknown, never none
        ("trees", "removed", False),
        ("picks", "weight_kg", True),
        ("stages", "bbch", True),
        ("trees", "planted", True),
    ],
)
def test_which_cells_may_be_blank(kind: str, column: str, needed: bool) -> None:
    field = next(field for field in fields(kind) if field.header == column)
    assert field.value_needed is needed


def test_words_that_a_column_may_hold() -> None:
    assert VIGOURS == ("dwarf", "semi-dwarf", "standard")
    assert THINNING_ACTIONS == ("strip", "thin")
    assert {
        "frost",
        "hail",
        "wind",
        "drought",
        "pest",
        "disease",
        "animal",
        "no crop",
        "other",
    } == (set(EVENTS))
    choices = {f.header: f.choices for kind in KINDS for f in fields(kind) if f.choices}
    assert choices == {"vigour": VIGOURS, "action": THINNING_ACTIONS, "event": EVENTS}


def test_every_key_and_owner_is_a_field() -> None:
    for kind in KINDS.values():
        names = [field.name for field in fields(kind.name)]
        assert set(kind.key) | set(kind.owner) <= set(names)
        assert len(set(names)) == len(names)


def test_records_are_frozen() -> None:
    for kind in KINDS.values():
        assert dataclasses.is_dataclass(kind.record)
        assert kind.record.__dataclass_params__.frozen, kind.name  # type: ignore[attr-defined]


def test_a_kind_that_does_not_exist_has_no_fields() -> None:
    with pytest.raises(KeyError, match="harvests"):
        fields("harvests")


# The gate of the as-of date

FIRST = date(2024, 2, 20)
DAY = st.integers(0, 30).map(lambda n: FIRST + timedelta(days=n))


def _dated(days: list[date], **columns: object) -> pd.DataFrame:
    stamps = np.array(days, dtype="datetime64[s]")
    return pd.DataFrame({"date": stamps, **columns})


@st.composite
def orchards(draw: st.DrawFn) -> Records:
    """Records on days around 29 February, of trees planted and moved out around then."""
    frames = {
        kind: _dated(draw(st.lists(DAY, max_size=6)))
        for kind in KINDS
        if kind not in ("sites", "trees", "grafts")
    }
    planted = draw(st.lists(DAY, max_size=6))
    removed = [draw(st.none() | DAY) for _ in planted]
    trees = pd.DataFrame(
        {
            "tree": [str(number) for number in range(len(planted))],
            "planted": np.array(planted, dtype="datetime64[s]"),
            "removed": np.array([day or "NaT" for day in removed], dtype="datetime64[s]"),
        }
    )
    ahead = draw(st.lists(st.tuples(DAY, DAY), max_size=6))
    issues = pd.DataFrame(
        {
            "issued": np.array([issued for issued, _ in ahead], dtype="datetime64[s]"),
            "date": np.array([max(pair) for pair in ahead], dtype="datetime64[s]"),
        }
    )
    sites = pd.DataFrame({"site": ["Home"]})
    frames["grafts"] = _dated([], tree=[], cultivar=[], species=[])
    return Records(date(2024, 4, 1), sites=sites, trees=trees, weather_ahead=issues, **frames)


@settings(max_examples=50)
@given(orchards(), DAY)
def test_nothing_dated_later_passes_the_gate(records: Records, as_of: date) -> None:
    known = records.until(as_of)
    day = pd.Timestamp(as_of)
    assert known.as_of == as_of
    for kind in KINDS:
        frame = getattr(known, kind)
        assert list(frame.index) == list(range(len(frame)))
        if kind == "weather":
            assert (frame["date"] < day).all()
            assert len(frame) == (records.weather["date"] < day).sum()
        elif "date" in frame:
            assert (frame["date"] <= day).all()
            assert len(frame) == (getattr(records, kind)["date"] <= day).sum()
    assert (known.weather_ahead["issued"] <= day).all()
    assert (known.trees["planted"] <= day).all()
    assert not (known.trees["removed"] > day).any()
    told = records.trees["removed"] <= day
    assert set(known.trees["tree"][known.trees["removed"].notna()]) == (
        set(records.trees["tree"][told & (records.trees["planted"] <= day)])
    )


@settings(max_examples=50)
@given(orchards(), DAY, DAY)
def test_two_gates_let_through_what_the_earlier_one_does(
    records: Records, first: date, second: date
) -> None:
    twice, once = records.until(first).until(second), records.until(min(first, second))
    for kind in (*KINDS, "weather_ahead"):
        pd.testing.assert_frame_equal(getattr(twice, kind), getattr(once, kind))


@settings(max_examples=50)
@given(orchards(), DAY)
def test_the_gate_leaves_the_records_it_was_given_alone(records: Records, as_of: date) -> None:
    before = {kind: getattr(records, kind).copy() for kind in KINDS}
    records.until(as_of)
    for kind, frame in before.items():
        pd.testing.assert_frame_equal(getattr(records, kind), frame)
