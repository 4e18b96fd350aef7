"""Marks on the calendar are kept, told and taken back like every other record."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from harvest.errors import UnknownNameError
from harvest.store.calendar_marks import drop_mark, read_marks, read_undone, save_mark
from harvest.store.history import Signature
from harvest.store.history_reading import read_batches
from harvest.store.integrity import check_integrity
from harvest.store.orchard import Orchard
from harvest.store.undoing import undo

SIGNED = Signature("Invented Person", datetime(2026, 5, 1, 9, tzinfo=UTC))
DAY, LATER = date(2026, 5, 1), date(2026, 5, 20)


def mark(word: str = "moved", target: str = "abc", last: date = DAY) -> dict[str, object]:
    return {
        "mark": word, "target": target, "marked_on": DAY, "first_day": DAY, "last_day": last,
    }  # fmt: skip


def test_a_mark_is_in_the_history_and_undone_like_a_record(orchard: Orchard) -> None:
    first = save_mark(orchard, mark(), SIGNED, "moved: Invented work")
    second = save_mark(orchard, mark(last=LATER), SIGNED, "moved: Invented work")
    assert save_mark(orchard, mark(last=LATER), SIGNED) is None
    assert [row["last_day"] for row in read_marks(orchard, LATER)] == [LATER]
    told = read_batches(orchard, 2)
    assert [entry.number for entry in told] == [second, first]
    assert {entry.who for entry in told} == {"Invented Person"}
    assert [entry.note for entry in told] == ["moved: Invented work"] * 2
    assert (told[0].counts[0].changed, told[1].counts[0].new) == (1, 1)
    undo(orchard, second, SIGNED)
    assert [row["last_day"] for row in read_marks(orchard, LATER)] == [DAY]
    undo(orchard, first, SIGNED)
    assert read_marks(orchard, LATER) == []


def test_a_mark_taken_back_can_be_brought_back(orchard: Orchard) -> None:
    save_mark(orchard, mark("off", "frost watch"), SIGNED)
    number = drop_mark(orchard, "off", "frost watch", SIGNED)
    assert read_marks(orchard, LATER) == []
    assert drop_mark(orchard, "off", "frost watch", SIGNED) is None
    undo(orchard, number, SIGNED)
    assert [row["target"] for row in read_marks(orchard, LATER)] == ["frost watch"]
    assert check_integrity(orchard) == []


def test_an_added_item_that_is_taken_back_is_remembered_until_it_stands_again(
    filled: Orchard,
) -> None:
    by_warmth = {
        "mark": "added", "target": "moths", "marked_on": DAY, "site": "Home", "title": "Look",
        "degree_days": 250.0, "base_c": 10.0, "count_from": date(2026, 1, 1),
    }  # fmt: skip
    number = save_mark(filled, by_warmth, SIGNED)
    stood = [row for row in read_marks(filled, DAY) if row["target"] == "moths"]
    assert read_undone(filled, DAY) == []
    back = undo(filled, number, SIGNED).by.number
    assert read_undone(filled, DAY) == stood
    assert read_undone(filled, DAY - timedelta(days=1)) == []
    undo(filled, back, SIGNED)
    assert read_undone(filled, DAY) == []


def test_a_site_that_is_not_there_is_refused_and_nothing_is_kept(orchard: Orchard) -> None:
    with pytest.raises(UnknownNameError):
        save_mark(orchard, {**mark("added"), "site": "Nowhere"}, SIGNED)
    assert read_marks(orchard, LATER) == []
    assert read_batches(orchard) == []
