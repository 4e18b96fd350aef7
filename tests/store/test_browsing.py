"""Leafing through records: the database filters, orders and pages; every kind of database alike."""

from __future__ import annotations

import pytest

from harvest.records import KINDS, fields
from harvest.store.browsing import Asked, Condition, browse_records, one_record
from harvest.store.editing import show_records
from harvest.store.orchard import Orchard
from harvest.store.reading import count_kinds


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "weather"])
def test_all_pages_together_are_all_records(filled: Orchard, kind: str) -> None:
    every = {shown.id: shown for shown in show_records(filled, kind)}
    seen = []
    while len(seen) < len(every):
        page = browse_records(filled, Asked(kind), len(seen), 2)
        assert page.total == len(every) == count_kinds(filled)[kind]
        assert page.rows
        seen += page.rows
    assert {shown.id: shown for shown in seen} == every
    assert browse_records(filled, Asked(kind), len(every), 2).rows == []


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "weather"])
def test_every_column_can_be_ordered_and_filtered(filled: Orchard, kind: str) -> None:
    every = show_records(filled, kind)
    for field in fields(kind):
        if field.header == "time_of_day":
            continue
        cells = [shown.cells[field.header] for shown in every]
        up = browse_records(filled, Asked(kind, ((field.header, False),)), 0, 99).rows
        got = [shown.cells[field.header] for shown in up]
        assert sorted(got) == sorted(cells)
        known = [text for text in got if text]
        assert got == known + [""] * (len(got) - len(known)), "blanks come last"
        if field.type is str:
            assert known == sorted(known, key=str.casefold)
        if field.type in (int, float):
            assert [float(text) for text in known] == sorted(float(text) for text in known)
        for sort, expected in (("blank", cells.count("")), ("filled", len(known))):
            asked = Asked(kind, conditions={field.header: Condition(sort)})
            assert browse_records(filled, asked, 0, 99).total == expected, (field.header, sort)


def test_conditions_of_text_number_and_date(filled: Orchard) -> None:
    every = show_records(filled, "picks")
    weights = sorted(float(shown.cells["weight_kg"]) for shown in every)
    assert len(set(weights)) > 1

    def total(**conditions: Condition) -> int:
        return browse_records(filled, Asked("picks", conditions=conditions), 0, 99).total

    low, high = weights[0], weights[-1]
    assert total(weight_kg=Condition("equals", f"{low}")) == weights.count(low)
    assert total(weight_kg=Condition("at least", f"{high}")) == weights.count(high)
    assert total(weight_kg=Condition("at most", f"{high}")) == len(every)
    assert total(weight_kg=Condition("between", f"{low}", f"{high}")) == len(every)
    assert total(weight_kg=Condition("at least", "heavy")) == 0
    day = every[0].cells["date"]
    assert total(date=Condition("contains", day[:7])) >= 1
    assert total(date=Condition("contains", "1066")) == 0
    tree = every[0].cells["tree"]
    assert total(tree=Condition("contains", tree[:3].upper())) >= 1
    assert total(tree=Condition("contains", "%")) == sum("%" in s.cells["tree"] for s in every)
    assert total(nonsense=Condition("equals", "1")) == len(every)


def test_one_tree_and_one_record(filled: Orchard) -> None:
    seen = show_records(filled, "picks")[0]
    own = browse_records(filled, Asked("picks", tree=seen.cells["tree"].upper()), 0, 99)
    assert {shown.cells["tree"] for shown in own.rows} == {seen.cells["tree"]}
    assert one_record(filled, "picks", seen.id) == seen
    assert one_record(filled, "picks", 10**6) is None
    assert browse_records(filled, Asked("sites", tree=seen.cells["tree"]), 0, 9).total == 0
