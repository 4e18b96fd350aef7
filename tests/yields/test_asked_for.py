"""What a grower can say of a young tree, and what is asked for while it is not said."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from harvest import service_yields
from harvest.errors import InputError, QuantityError
from harvest.service import crop_load, open_orchard
from harvest.store.history import Signature
from harvest.yields.asked_for import SIGNS, sign_cells
from tests.yields.made_records import advice_for, orchard, tree

SPRING = "2020-05-01"
YOUNG = {"planted": "2017-11-20", "vigour": "dwarf"}
SIGNED = Signature("tester", datetime(2026, 8, 12, tzinfo=UTC))


def told(sign: str, shoot_cm: float | None = None) -> list[dict[str, object]]:
    return [{"tree": "T", "date": "2020-03-01", **sign_cells(sign, shoot_cm)}]


def test_what_is_not_on_record_of_a_young_tree_is_asked_for() -> None:
    bare = advice_for(orchard(SPRING, [tree(**(YOUNG | {"vigour": None}))]))
    assert len(bare.asked) == 4
    assert "record the vigour" in bare.asked[0]
    known = orchard(
        SPRING,
        [tree(**YOUNG)],
        girths=[{"date": "2019-12-10", "girth_cm": 9.0}],
        events=[*told("firm"), *told("shoots", 34.0)],
    )
    assert advice_for(known).asked == ()


def test_a_grown_tree_is_asked_for_nothing() -> None:
    assert advice_for(orchard(SPRING, [tree(planted="2005-11-20")])).asked == ()


@pytest.mark.parametrize("sign", [sign for sign in SIGNS if sign != "firm"])
def test_each_sign_against_a_crop_strips_a_young_tree_and_says_why(sign: str) -> None:
    plain = advice_for(orchard(SPRING, [tree(**YOUNG)]))
    found = advice_for(orchard(SPRING, [tree(**YOUNG)], events=told(sign)))
    assert (plain.advice, found.advice) == ("limit", "strip")
    assert len(set(found.reasons) - set(plain.reasons)) >= 1


def test_a_tree_that_stands_firm_is_not_leaning() -> None:
    found = advice_for(orchard(SPRING, [tree(**YOUNG)], events=told("firm")))
    assert found.advice == "limit"
    assert not any("leaning" in reason for reason in found.reasons)


@pytest.mark.parametrize("shoot_cm", [None, 0.0, -3.0, 400.0])
def test_a_length_of_shoots_that_cannot_be_is_refused(shoot_cm: float | None) -> None:
    with pytest.raises(QuantityError, match="a shoot length above 0"):
        sign_cells("shoots", shoot_cm)
    with pytest.raises(InputError, match="a sign is one of"):
        sign_cells("unheard of", 30.0)


def test_a_sign_through_the_service_changes_the_advice(demo_template: Path, tmp_path: Path) -> None:
    path = tmp_path / "demo.sqlite"
    shutil.copyfile(demo_template, path)
    demo = open_orchard(str(path))
    day = date(2026, 5, 1)
    before = {row.tree: row for row in crop_load(demo, day)}
    name = next(row.tree for row in before.values() if row.advice == "limit" and row.leaf <= 7)
    report = service_yields.log_sign(demo, name, "leaning", None, today=day, signed=SIGNED)
    assert report.batch is not None
    after = next(row for row in crop_load(demo, day) if row.tree == name)
    assert after.advice == "strip"
