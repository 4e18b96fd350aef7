"""The page of records: what is done in its table, without a browser."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.data import KINDS_IN_WORDS, Shown
from dashboard.pages import records as page
from dashboard.pages.records_below import below, conflict_table, doubts_part
from dashboard.record_changes import copied, done, edited, insisted, removed, rows_for
from dashboard.source import Source
from dashboard.texts import records as record_texts
from dashboard.views.records import (
    KINDS,
    Change,
    asked_of,
    change_of,
    row_of,
    shown_from,
    taken_cell,
    taken_name,
)
from dashboard.words import MONTH_FIRST, US, WAYS, Ways
from harvest.service_calendar import add_item
from harvest.service_records import Signature, edit_record, history, undo_batch
from harvest.service_settings import change_settings
from harvest.store.attaching import attach
from harvest.store.editing import show_records
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.schema import TRACKED
from harvest.units import convert
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF
from tests.dashboard.orchards import take_in
from tests.dashboard.test_app import as_json

ADA = Signature("Ada", None)
HARVEST = Path(__file__).parents[2] / "harvest"
PICKS = [
    ("tree", "date", "weight_kg", "note"),
    *((f"Gate {n}", f"202{y}-09-0{n}", n + y, "") for n in range(1, 4) for y in range(1, 6)),
]


@pytest.fixture
def source(sqlite_address: str, tmp_path: Path) -> Iterator[Source]:
    orchard = open_orchard(sqlite_address)
    take_in(orchard, tmp_path, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    trees = [(f"Gate {n}", "Hill", "apple", "Gala", "2015-03-14") for n in range(1, 4)]
    header = ("tree", "site", "species", "cultivar", "planted")
    take_in(orchard, tmp_path, "trees", [header, *trees])
    take_in(orchard, tmp_path, "picks", PICKS)
    yield Source(orchard, lambda: AS_OF)
    orchard.engine.dispose()


def picks(source: Source) -> list[Shown]:
    return show_records(source.orchard, "picks")


def change(seen: Shown, column: str, typed: str) -> Change:
    """The change as the grid tells of it."""
    event = {
        "colId": column, "value": typed or None, "oldValue": seen.cells[column] or None,
        "data": {**seen.cells, column: typed, "id": seen.id},
    }  # fmt: skip
    made = change_of(event)
    assert made == Change(seen, column, typed)
    assert made is not None
    return made


def test_the_grid_gets_its_rows_a_page_at_a_time(source: Source) -> None:
    which = {"kind": "picks", "tree": ""}
    told = rows_for(source, which, {"startRow": 10, "endRow": 100, "sortModel": []})
    assert (len(told["rowData"]), told["rowCount"]) == (5, 15)
    newest = rows_for(source, which, {"startRow": 0, "endRow": 1})["rowData"][0]
    assert newest["date"].startswith("2025")
    request = {
        "startRow": 0, "endRow": 9, "sortModel": [{"colId": "weight_kg", "sort": "desc"}],
        "filterModel": {
            "date": {"filterType": "text", "type": "contains", "filter": "2023"},
            "weight_kg": {"filterType": "number", "type": "greaterThanOrEqual", "filter": 5},
        },
    }  # fmt: skip
    got = rows_for(source, which, request)
    assert [row["weight_kg"] for row in got["rowData"]] == ["6", "5"]
    one = rows_for(source, {"kind": "picks", "tree": "Gate 2"}, {})
    assert one["rowCount"] == 5
    assert asked_of("picks", "", {"filterModel": {"date": {"type": "??"}}}).conditions == {}


def test_a_cell_is_changed_and_the_change_taken_back(source: Source) -> None:
    seen = picks(source)[0]
    outcome = edited(source, "picks", change(seen, "weight_kg", "27lb"))
    assert outcome.words.startswith(
        "Changed: pick of Gate 1, 1 September 2021, Weight [kg] from “2”"
    )
    assert picks(source)[0].cells["weight_kg"] == "12.24699399"
    undo_batch(source.orchard, outcome.batch, ADA)
    assert picks(source)[0] == seen
    assert edited(source, "picks", change(seen, "note", "")).words == record_texts.UNCHANGED


@pytest.mark.parametrize(
    ("column", "typed", "said"),
    [
        ("weight_kg", "heavy", "not a number"),
        ("weight_kg", "9999", "must lie between 0 and 2000"),
        ("date", "2027-01-01", "in the future"),
        ("tree", "Nobody", "no tree of this name"),
        ("date", "2022-09-01", "no two picks may have the same"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_changed(
    source: Source, column: str, typed: str, said: str
) -> None:
    before = picks(source)
    outcome = edited(source, "picks", change(before[0], column, typed))
    assert outcome.words.startswith("Not changed: ")
    assert said in outcome.words.casefold()
    assert outcome.batch is None
    assert outcome.conflict is None
    assert picks(source) == before


def test_two_people_at_one_record_both_see_both_versions(source: Source) -> None:
    seen = picks(source)[0]
    edit_record(
        source.orchard, "picks", seen, {"weight_kg": "7", "note": "rain"}, today=AS_OF, signed=ADA
    )
    outcome = edited(source, "picks", change(seen, "weight_kg", "8"))
    assert outcome.conflict is not None
    assert outcome.conflict.rows() == [("weight_kg", "2", "8", "7"), ("note", "", "", "rain")]
    shown = all_text(as_json(conflict_table(outcome.conflict)))
    assert record_texts.CONFLICT_TITLE in shown
    assert "rain" in shown
    assert picks(source)[0].cells["weight_kg"] == "7"
    # Mine over theirs: what I did not touch stays theirs.
    kept = outcome.conflict.as_json()
    assert insisted(source, kept).batch is not None
    cells = picks(source)[0].cells
    assert (cells["weight_kg"], cells["note"]) == ("8", "rain")
    # And a third person in between is seen too.
    again = insisted(source, {**kept, "typed": {"weight_kg": "9"}})
    assert again.conflict is not None
    assert picks(source)[0].cells["weight_kg"] == "8"


def test_a_record_is_removed_with_trace_and_comes_back(source: Source) -> None:
    seen = picks(source)[0]
    assert removed(source, "picks", None).words == record_texts.CHOOSE_ROW
    outcome = removed(source, "picks", {**seen.cells, "id": seen.id})
    assert outcome.words.startswith("Removed: pick of Gate 1")
    assert seen not in picks(source)
    assert removed(source, "picks", {**seen.cells, "id": seen.id}).words == record_texts.GONE
    assert edited(source, "picks", change(seen, "weight_kg", "3")).words == record_texts.GONE
    undo_batch(source.orchard, outcome.batch, ADA)
    assert picks(source)[0] == seen


def test_a_tree_with_records_is_not_removed(source: Source) -> None:
    tree = show_records(source.orchard, "trees")[0]
    outcome = removed(source, "trees", {**tree.cells, "id": tree.id})
    assert outcome.batch is None
    assert "others hang on it" in outcome.words


def test_copied_rows_are_those_of_the_filter_and_no_formula(source: Source) -> None:
    seen = picks(source)[0]
    edited(source, "picks", change(seen, "note", "=1+1"))
    request = {"filterModel": {"tree": {"type": "contains", "filter": "gate 1"}}}
    text, said = copied(source, {"kind": "picks", "tree": ""}, request)
    rows = list(csv.reader(StringIO(text), delimiter="\t"))
    assert rows[0][:3] == ["tree", "date", "weight_kg"]
    assert len(rows) == 6
    assert {row[0] for row in rows[1:]} == {"Gate 1"}
    assert "'=1+1" in rows[-1]
    assert said.startswith("5 records copied")


def test_each_part_of_the_page_does_its_own(source: Source) -> None:
    seen = picks(source)[0]
    row = {**seen.cells, "id": seen.id}
    assert done(source, "nothing", "picks", None, None, None) is None
    theirs = done(source, "records-theirs", "picks", None, None, None)
    assert theirs is not None
    assert theirs.words == ""
    event = {"colId": "note", "value": "x", "oldValue": "", "data": {**row, "note": "x"}}
    changed = done(source, "records-grid", "picks", [event], None, None)
    assert changed is not None
    assert changed.batch is not None
    gone = done(source, "records-remove", "picks", None, [{**row, "note": "x"}], None)
    assert gone is not None
    assert gone.batch is not None


def test_below_stand_the_trees_history_and_what_was_done(source: Source) -> None:
    seen = picks(source)[0]
    edited(source, "picks", change(seen, "weight_kg", "9"))
    said = all_text(as_json(below(source, "Gate 1")))
    assert "History of Gate 1" in said
    assert "Weight [kg] 2.0 → 9.0" in said
    assert record_texts.LATELY_TITLE in said
    lately = all_text(as_json(below(source, "")))
    assert "History of" not in lately
    assert "changed picks: Gate 1 (picks: 1 changed)" in lately
    newest = history(source.orchard, 1)[0]
    undo_batch(source.orchard, newest.number, ADA)
    assert record_texts.LATELY_UNDONE in all_text(as_json(below(source, "")))


def test_what_was_done_is_told_in_words_of_the_trade(source: Source) -> None:
    """Of a setting only that it is another now, of a removed record what it held; what somebody
    typed, a file's name too, stays as it was typed."""
    orchard = source.orchard
    mine = picks(source)[0]
    attach(orchard, "picks", mine.id, "2026-08-11.txt", b"first crate", signed=ADA, today=AS_OF)
    edited(source, "picks", change(mine, "note", "like 2021-09-01"))
    removed(source, "picks", row_of(picks(source)[0]))
    change_settings(orchard, {"kept_as": "Ours"}, ADA)
    change_settings(orchard, {"kept_as": ""}, ADA)
    add_item(orchard, "Hill", "Prop branches", (AS_OF, AS_OF), AS_OF, ADA)
    said = all_text(as_json(below(source, "Gate 1")))
    assert "chose Name kept with changes: Ours → none (settings: 1 changed)" in said
    assert "in the calendar, added: Prop branches (Hill) (marks on the calendar: 1 new)" in said
    assert "attached 2026-08-11.txt to a pick of Gate 1 (photos and notes: 1 new)" in said
    assert "attached file 2026-08-11.txt (pick): Date" in said
    assert "Note blank → like 2021-09-01" in said
    assert re.search(r"removed pick 1 September 202\d: Weight \[kg\] [\d.]+ and Note like", said)


def test_every_change_of_every_kind_has_its_words() -> None:
    code = "".join(path.read_text("utf-8") for path in HARVEST.rglob("*.py"))
    actions = set(re.findall(r'\bbatch\(\s*connection, "([a-z ]+)"', code))
    assert len(actions) > 12
    assert actions <= set(record_texts.ACTIONS)
    assert set(TRACKED) <= set(KINDS_IN_WORDS) | set(record_texts.KIND_COUNTS)


def test_what_looks_wrong_can_stand(source: Source) -> None:
    seen = picks(source)[0]
    edited(source, "picks", change(seen, "weight_kg", "200"))
    found = source.doubts(AS_OF)
    assert found
    said = all_text(as_json(doubts_part(found)))
    assert "Gate 1" in said
    client = app_of(source.orchard).server.test_client()
    for doubt in found:
        assert client.post("/entries/stand", json={"code": doubt.code}).json["status"] == "kept"
    assert source.doubts(AS_OF) == []
    assert record_texts.CHECK_NONE in all_text(as_json(doubts_part([])))


# The page


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_its_table_and_its_form(demo: Orchard, kind: str) -> None:
    made = Client(app_of(demo)).page("/records", f"?kind={kind}")
    grid = find(made, "records-grid")
    assert [column["field"] for column in grid["props"]["columnDefs"]]
    assert grid["props"].get("rowData") is None
    assert find(made, f"form-{kind}") is not None
    assert "records" in all_text(find(made, "answer"))


def test_an_unknown_kind_is_answered_with_picks(demo: Orchard) -> None:
    made = Client(app_of(demo)).page("/records", "?kind=weather")
    assert find(made, "form-picks") is not None


def test_an_empty_orchard_is_told_so() -> None:
    assert page.sentence(dict.fromkeys(KINDS, 0)) == record_texts.ANSWER_NONE
    counts = dict.fromkeys(KINDS, 0) | {"trees": 1, "picks": 1200}
    assert page.sentence(counts) == "1,201 records: 1 tree and 1,200 picks."


def test_what_the_browser_sends_back_is_read_with_care() -> None:
    for nonsense in (None, [], {}, {"id": "1"}, {"id": None, "cells": {}}):
        assert shown_from(nonsense) is None
    row: dict[str, Any] = {"id": 3, "note": None, "weight_kg": 4}
    assert shown_from(row) == Shown(3, {"note": "", "weight_kg": "4"})
    assert change_of({"colId": 3, "data": row}) is None


def test_who_may_not_correct_is_told_so(source: Source) -> None:
    from flask import g

    app = app_of(source.orchard)
    seen = picks(source)[0]
    with app.server.test_request_context():
        g.person_role = "log"
        outcome = done(source, "records-remove", "picks", None, [{**seen.cells, "id": 1}], None)
    assert outcome is not None
    assert outcome.words == record_texts.MAY_NOT
    assert picks(source)[0] == seen


@pytest.fixture
def us() -> Iterator[None]:
    token = WAYS.set(Ways(US, MONTH_FIRST, 0))
    yield
    WAYS.reset(token)


def in_grid(source: Source, at: int = 0) -> dict[str, Any]:
    row: dict[str, Any] = row_of(picks(source)[at])
    return row


def test_a_record_shown_in_pounds_goes_back_as_it_was(source: Source, us: None) -> None:
    """2 kg are 4.409 lb (NIST SP 811, B.8): shown to two places, kept as they are."""
    row = in_grid(source)
    assert row["weight_kg"] == "4.41"
    assert shown_from(row) == picks(source)[0]
    note = change_of(
        {"colId": "note", "value": "rain", "oldValue": "", "data": {**row, "note": "rain"}}
    )
    assert note is not None
    assert edited(source, "picks", note).batch is not None
    assert picks(source)[0].cells["weight_kg"] == "2"


def test_a_weight_typed_in_pounds_is_kept_in_kilograms(source: Source, us: None) -> None:
    row = in_grid(source)
    event = {
        "colId": "weight_kg",
        "value": "10",
        "oldValue": "4.41",
        "data": {**row, "weight_kg": "10"},
    }
    typed = change_of(event)
    assert typed is not None
    said = edited(source, "picks", typed).words
    assert said == "Changed: pick of Gate 1, September 1, 2021, Weight [lb] from “4.41” to “10”."
    assert picks(source)[0].cells["weight_kg"] == "4.5359237"
    # A second change before the grid has its rows anew still knows the record as it is by then.
    again = change_of(
        {"colId": "note", "value": "x", "oldValue": "", "data": {**event["data"], "note": "x"}}
    )
    assert again is not None
    assert edited(source, "picks", again).batch is not None
    assert in_grid(source)["weight_kg"] == "10"
    metric = change_of({**event, "value": "3kg"})
    assert metric is not None
    assert metric.typed == "3kg"
    now = {**in_grid(source), "weight_kg": "1,234"}
    either = change_of({**event, "value": "1,234", "oldValue": "10", "data": now})
    assert either is not None
    assert "decimals or thousands" in edited(source, "picks", either).words


@given(st.floats(0.001, 2000), st.sampled_from(["weight_kg", "girth_cm", "elevation_m"]))
def test_no_measure_drifts_by_being_shown(metric: float, column: str) -> None:
    token = WAYS.set(Ways(US))
    cells = {"tree": "T", column: f"{metric:.10g}"}
    row = row_of(Shown(1, cells))
    back = shown_from(row)
    exact, american = float(taken_cell(column, cells[column])), taken_name(column)
    WAYS.reset(token)
    assert back is not None
    assert back.cells == cells
    _, read = convert(american, np.array([exact]))
    assert read[0] == pytest.approx(metric, rel=1e-8)


def test_filters_and_copies_speak_the_unit_shown(source: Source, us: None) -> None:
    request = {"filterModel": {"weight_kg": {"type": "equals", "filter": 4.41}}}
    got = rows_for(source, {"kind": "picks", "tree": ""}, request)
    assert [row["weight_kg"] for row in got["rowData"]] == ["4.41"]
    more = {"filterModel": {"weight_kg": {"type": "greaterThanOrEqual", "filter": 17.6}}}
    assert rows_for(source, {"kind": "picks", "tree": ""}, more)["rowCount"] == 1
    text, _ = copied(source, {"kind": "picks", "tree": ""}, request)
    rows = list(csv.reader(StringIO(text), delimiter="\t"))
    assert rows[0][2] == "weight_lb"
    assert float(rows[1][2]) * 0.45359237 == pytest.approx(2.0, rel=1e-9)


def test_dates_are_typed_and_searched_as_they_are_shown(source: Source, us: None) -> None:
    row = in_grid(source)
    event = {"colId": "date", "value": "Sep 4, 2021", "oldValue": "2021-09-01", "data": row}
    typed = change_of(event)
    assert typed is not None
    assert edited(source, "picks", typed).batch is not None
    assert picks(source)[0].cells["date"] == "2021-09-04"
    # Opened and left, it comes back as it was shown: the same record, nothing to change.
    left = change_of({**event, "value": "Sep 4, 2021", "oldValue": "2021-09-04"})
    assert left is not None
    assert edited(source, "picks", left).words == record_texts.UNCHANGED
    asked = {"filterModel": {"date": {"type": "contains", "filter": "Sep 2023"}}}
    assert rows_for(source, {"kind": "picks", "tree": ""}, asked)["rowCount"] == 3


def test_chosen_settings_are_told_in_the_words_of_their_page(source: Source) -> None:
    change_settings(source.orchard, {"units": "us", "week_starts": "sunday"}, ADA)
    said = all_text(as_json(below(source, "")))
    assert "chose Units: Metric → US; First day of the week: Monday → Sunday" in said
