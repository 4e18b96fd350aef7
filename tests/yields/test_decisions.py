"""Advice that was overruled and what came of it, and whether stripping young trees paid."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from harvest import service_yields
from harvest.errors import InputError
from harvest.service import crop_load, open_orchard
from harvest.store.history import Signature
from harvest.yields.did_it_pay import did_it_pay, welch_interval
from harvest.yields.expectation import fair_table
from harvest.yields.overrules import overrule_note, overrules
from harvest.yields.result import StripPaid
from tests.yields.forward import reference
from tests.yields.made_records import advice_for, orchard, tree

DEMO_DAY = date(2026, 8, 12)
SIGNED = Signature("tester", datetime(2026, 8, 12, tzinfo=UTC))


def overrule_event(day: str, decision: str, why: str | None = None) -> dict[str, object]:
    note = overrule_note(decision, "strip", why)
    return {"tree": "T", "date": day, "event": "other", "note": note}


def test_an_overrule_stands_beside_the_advice_and_does_not_change_it() -> None:
    young = [tree(planted="2025-11-15")]
    plain = advice_for(orchard("2026-05-10", young))
    records = orchard("2026-05-10", young, events=[overrule_event("2026-05-01", "carry", "strong")])
    found = advice_for(records)
    assert plain.overruled is None
    assert (found.advice, found.overruled) == ("strip", "carry")
    assert found.reasons[0] == "You decided on 1 May 2026 to carry instead: strong."
    assert found.reasons[1:] == plain.reasons


def test_the_outcome_of_an_overrule_stays_on_record() -> None:
    picks = [{"date": f"{year}-09-10", "weight_kg": kg, "last": True}
             for year, kg in ((2020, 1.0), (2021, 4.0), (2022, 0.5))]  # fmt: skip
    girths = [{"date": "2020-01-10", "girth_cm": 5.0}, {"date": "2022-12-20", "girth_cm": 8.0}]
    records = orchard(
        "2023-01-05", [tree(planted="2018-11-15")], picks=picks, girths=girths,
        events=[overrule_event("2020-05-01", "carry")],
    )  # fmt: skip
    found = overrules(records, fair_table(records, reference()))
    assert len(found) == 1
    row = found[0]
    assert (row.season, row.advice, row.decision, row.why) == (2020, "strip", "carry", None)
    assert [(each.season, each.weight_kg) for each in row.outcome] == [
        (2020, 1.0), (2021, 4.0), (2022, 0.5)]  # fmt: skip
    assert row.tcsa_then_cm2 is not None and row.tcsa_now_cm2 is not None  # noqa: PT018
    assert row.tcsa_then_cm2 < row.tcsa_now_cm2


def test_the_last_decision_of_a_season_holds() -> None:
    events = [overrule_event("2026-05-01", "carry"), overrule_event("2026-05-20", "limit")]
    records = orchard("2026-06-01", [tree(planted="2025-11-15")], events=events)
    assert advice_for(records).overruled == "limit"


def test_an_overrule_through_the_service_is_kept_and_comes_back(
    demo_template: Path, tmp_path: Path
) -> None:
    path = tmp_path / "demo.sqlite"
    shutil.copyfile(demo_template, path)
    demo = open_orchard(str(path))
    decided = service_yields.overrule(
        demo, "q3-05", "strip", why="left to carry too much", today=DEMO_DAY, signed=SIGNED
    )
    made = decided.overrule
    assert decided.batch is not None
    assert (made.tree, made.season, made.advice, made.decision) == ("Q3-05", 2026, "limit", "strip")
    assert service_yields.overrules_on_record(demo, DEMO_DAY) == [made]
    advice = next(row for row in crop_load(demo, DEMO_DAY) if row.tree == "Q3-05")
    assert advice.overruled == "strip"
    with pytest.raises(InputError, match="already is to limit"):
        service_yields.overrule(demo, "Q3-05", "limit", why=None, today=DEMO_DAY, signed=SIGNED)
    with pytest.raises(InputError, match="a tree that stands"):
        service_yields.overrule(demo, "Z9", "strip", why=None, today=DEMO_DAY, signed=SIGNED)


def test_an_impossible_decision_is_refused() -> None:
    with pytest.raises(InputError, match="strip, limit, carry"):
        overrule_note("wait", "strip", None)


# Did it pay


VALUES = st.lists(st.floats(0.1, 100), min_size=3, max_size=12)


@given(VALUES, VALUES)
def test_the_interval_is_that_of_a_general_statistics_library(
    one: list[float], other: list[float]
) -> None:
    """Welch's interval against scipy.stats.ttest_ind(equal_var=False)."""
    from scipy.stats import ttest_ind

    first, second = np.array(one), np.array(other)
    assume(min(first.std(), second.std()) > 1e-3)
    expected = ttest_ind(first, second, equal_var=False).confidence_interval(0.95)
    found = welch_interval(first, second)
    assert found == pytest.approx((expected.low, expected.high), rel=1e-6, abs=1e-6)


def planting(stripped: int, kept: int, gain: float) -> list[StripPaid]:
    names = [f"S{at}" for at in range(stripped)] + [f"K{at}" for at in range(kept)]
    trees = [tree(name, planted="2014-11-15", rootstock="M.9") for name in names]
    strips = [{"tree": name, "date": "2016-05-20", "action": "strip"} for name in names
              if name.startswith("S")]  # fmt: skip
    picks, girths = [], []
    for at, name in enumerate(names):
        more = gain if name.startswith("S") else 0.0
        picks += [
            {"tree": name, "date": f"{year}-09-10", "weight_kg": 10.0 + at % 3 + more, "last": True}
            for year in range(2018, 2022)
        ]
        girths.append({"tree": name, "date": "2021-12-20", "girth_cm": 20.0 + at % 3 + more})
    return did_it_pay(orchard("2022-01-10", trees, thinnings=strips, picks=picks, girths=girths))


def test_a_clear_gain_is_told_with_its_interval_and_numbers() -> None:
    trunk, weight = planting(5, 6, gain=6.0)
    assert (trunk.measure, weight.measure) == ("trunk_cm2", "weight_kg")
    assert (trunk.stripped_trees, trunk.kept_trees) == (5, 6)
    assert trunk.verdict == weight.verdict == "stripped ahead"
    assert weight.low is not None and weight.high is not None  # noqa: PT018
    assert weight.low < 24 < weight.high  # 6 kg more in each of four seasons


def test_no_gain_is_no_clear_difference() -> None:
    assert {row.verdict for row in planting(6, 6, gain=0.0)} == {"no clear difference"}


@pytest.mark.parametrize(("stripped", "kept"), [(2, 8), (8, 2), (1, 1)])
def test_two_trees_on_a_side_are_too_few_to_tell(stripped: int, kept: int) -> None:
    for row in planting(stripped, kept, gain=6.0):
        assert row.verdict == "too few trees to tell"
        assert row.low is None
        assert (row.stripped_trees, row.kept_trees) == (stripped, kept)


def test_a_planting_with_one_kind_only_is_not_compared() -> None:
    assert planting(5, 0, gain=1.0) == []
