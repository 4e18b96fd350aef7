"""One record corrected or removed, from two places at once too."""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from harvest.errors import ConflictError, InputError
from harvest.records import KINDS
from harvest.store.editing import Shown, edit_record, remove_record, show_records
from harvest.store.history import Signature
from harvest.store.history_reading import read_batches, read_tree_history
from harvest.store.orchard import Orchard
from harvest.store.reading import count_kinds
from harvest.store.undoing import undo
from tests.orchards import TODAY

ADA = Signature("Ada", datetime(2026, 8, 12, 6, 30, tzinfo=UTC))
BEN = Signature("Ben", datetime(2026, 8, 12, 6, 31, tzinfo=UTC))


def first(orchard: Orchard, kind: str, tree: str | None = None) -> Shown:
    return show_records(orchard, kind, tree)[0]


def test_a_cell_is_corrected_and_the_change_can_be_undone(filled: Orchard) -> None:
    seen = first(filled, "girths", "ZOË")
    number = edit_record(filled, "girths", seen, {"girth_cm": "12.9"}, today=TODAY, signed=ADA)
    assert first(filled, "girths").cells["girth_cm"] == "12.9"
    change = read_tree_history(filled, "Zoë")[0]
    assert (change.number, change.who, change.action) == (number, "Ada", "edit")
    assert (change.before, change.after) == ({"girth_cm": 12.7}, {"girth_cm": 12.9})
    undo(filled, number, BEN)
    assert first(filled, "girths") == seen


def test_a_measure_may_be_typed_with_its_unit(filled: Orchard) -> None:
    seen = first(filled, "girths", "ZOË")
    edit_record(filled, "girths", seen, {"girth_cm": "5in"}, today=TODAY, signed=ADA)
    seen = first(filled, "girths", "ZOË")
    assert float(seen.cells["girth_cm"]) == 12.7  # 2.54 cm an inch, by the 1959 agreement
    with pytest.raises(InputError, match="a girth with its unit is needed"):
        edit_record(filled, "girths", seen, {"girth_cm": "5lb"}, today=TODAY, signed=ADA)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "weather"])
def test_what_is_shown_goes_back_unchanged(filled: Orchard, kind: str) -> None:
    before = read_batches(filled)
    for seen in show_records(filled, kind):
        assert edit_record(filled, kind, seen, {}, today=TODAY, signed=ADA) is None
    assert read_batches(filled) == before


def test_a_blank_empties_a_cell(filled: Orchard) -> None:
    seen = next(s for s in show_records(filled, "picks") if s.cells["note"])
    edit_record(filled, "picks", seen, {"note": "", "brix": ""}, today=TODAY, signed=ADA)
    (now,) = [s for s in show_records(filled, "picks") if s.id == seen.id]
    assert (now.cells["note"], now.cells["brix"]) == ("", "")


def test_an_edit_from_two_places_at_once_is_detected_and_not_overwritten(filled: Orchard) -> None:
    seen = first(filled, "girths", "Zoë")
    edit_record(filled, "girths", seen, {"girth_cm": "13"}, today=TODAY, signed=ADA)
    with pytest.raises(ConflictError, match=r"as you saw it; given: .*meanwhile: girth_cm 13\."):
        edit_record(filled, "girths", seen, {"girth_cm": "14"}, today=TODAY, signed=BEN)
    with pytest.raises(ConflictError, match="as you saw it"):
        remove_record(filled, "girths", seen, BEN)
    assert first(filled, "girths").cells["girth_cm"] == "13"


def test_of_eight_edits_at_once_one_is_taken(filled: Orchard) -> None:
    seen = first(filled, "girths", "Zoë")
    ends: list[str] = []

    def edit(number: int) -> None:
        try:
            edit_record(filled, "girths", seen, {"girth_cm": f"2{number}"}, today=TODAY, signed=ADA)
            ends.append(f"2{number}")
        except ConflictError:
            ends.append("")

    editors = [threading.Thread(target=edit, args=(n,)) for n in range(8)]
    for editor in editors:
        editor.start()
    for editor in editors:
        editor.join()
    (taken,) = [end for end in ends if end]
    assert first(filled, "girths").cells["girth_cm"] == taken


def test_a_removed_record_is_kept_in_the_history(filled: Orchard) -> None:
    seen = first(filled, "stages")
    counts = count_kinds(filled)
    number = remove_record(filled, "stages", seen, ADA)
    assert count_kinds(filled)["stages"] == counts["stages"] - 1
    with pytest.raises(ConflictError, match="meanwhile: taken away"):
        remove_record(filled, "stages", seen, BEN)
    undo(filled, number, BEN)
    assert count_kinds(filled) == counts
    assert seen in show_records(filled, "stages")


def test_a_tree_with_records_is_not_taken_away(filled: Orchard) -> None:
    seen = next(s for s in show_records(filled, "trees") if s.cells["tree"] == "Zoë")
    with pytest.raises(ConflictError, match=r"others hang on it\. A tree that was felled"):
        remove_record(filled, "trees", seen, ADA)
    assert len(show_records(filled, "trees")) == 2


def test_weather_is_corrected_by_its_files(filled: Orchard) -> None:
    with pytest.raises(InputError, match="corrected by importing them"):
        remove_record(filled, "weather", Shown(1, {}), ADA)


def test_what_an_import_refuses_is_refused_here(filled: Orchard, tmp_path: Path) -> None:
    seen = first(filled, "girths", "Zoë")
    with pytest.raises(InputError, match=r"girth_cm: not a number; given: 'thick'"):
        edit_record(filled, "girths", seen, {"girth_cm": "thick"}, today=TODAY, signed=ADA)
    with pytest.raises(InputError, match="lies in the future"):
        edit_record(filled, "girths", seen, {"date": "2027-01-01"}, today=TODAY, signed=ADA)
    with pytest.raises(ConflictError, match="no two girths may have the same tree, date"):
        edit_record(filled, "girths", seen, {"date": "2026-06-01"}, today=TODAY, signed=ADA)
    assert first(filled, "girths") == seen
