"""What was changed, by whom, when, what before and after; and taking it back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select, update

from harvest.errors import ConflictError, InputError, UnknownNameError
from harvest.records import KINDS
from harvest.store.history import Signature, batch
from harvest.store.history_reading import Counts, read_batches, read_change, read_tree_history
from harvest.store.importing import ImportReport, import_file
from harvest.store.orchard import Orchard
from harvest.store.reading import count_kinds, read_kind
from harvest.store.schema import TABLES
from harvest.store.undoing import undo
from tests.orchards import TODAY, Row, plant, write_csv
from tests.store.every_kind import RECORDS, wide

ADA = Signature("Ada", datetime(2026, 8, 12, 6, 30, tzinfo=UTC))
BEN = Signature("Ben", datetime(2026, 8, 13, 7, 0, tzinfo=UTC))


def take(
    orchard: Orchard, kind: str, rows: list[Row], folder: Path, signed: Signature = ADA
) -> ImportReport:
    path = write_csv(folder / f"{kind}.csv", wide(rows))
    return import_file(orchard, kind, path, today=TODAY, signed=signed)


def state(orchard: Orchard) -> dict[str, list[Mapping[str, Any]]]:
    """Every record as the database has it, ids and all."""
    with orchard.reading() as connection:
        return {
            kind: [dict(row) for row in connection.execute(query).mappings()]
            for kind, query in ((k, select(t).order_by(t.c.id)) for k, t in TABLES.items())
        }


def pick(weight: float, day: str = "2025-09-01", tree: str = "Apple 1") -> dict[str, object]:
    return {"tree": tree, "date": day, "weight_kg": weight}


def test_all_that_one_change_did_is_told_with_whose_it_was(filled: Orchard, tmp_path: Path) -> None:
    """Of records of a site too, which hang on no tree, and of days of weather, kept packed."""
    told = {}
    for entry in read_batches(filled):
        done = read_change(filled, entry.number, 50)
        assert len(done) == sum(counts.new for counts in entry.counts)
        assert {(each.number, each.who, each.undone) for each in done} == {
            (entry.number, "unknown", False)
        }
        told |= {f"{each.kind}: {each.record}": each for each in done}
    assert told["events: Home, 2024-04-21, frost"].before is None
    assert told["picks: Zoë, 2026-01-12, pass 2"].after == {
        "date": "2026-01-12", "weight_kg": 3.25, "pass": 2, "last": True,
    }  # fmt: skip
    assert {"sites: Plains", "trees: Home, Old Pearmain 3", "weather: Home, 2024-02-29"} <= set(
        told
    )
    sites = [{**RECORDS["sites"][1], "latitude": -35}]
    number = take(filled, "sites", sites, tmp_path, BEN).batch
    assert number is not None
    (moved,) = read_change(filled, number, 50)
    assert (moved.record, moved.who) == ("Plains", "Ben")
    assert (moved.before, moved.after) == ({"latitude": -34}, {"latitude": -35})
    assert "weather" in {each.kind for each in read_change(filled, 3, 50)}
    assert len(read_change(filled, 3, 1)) == 1
    with pytest.raises(InputError, match="a change of this number must be in the history"):
        read_change(filled, 99, 50)


def test_a_change_keeps_who_when_what_before_and_after(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    first = take(orchard, "picks", [pick(12.4), pick(3, "2025-09-08")], tmp_path)
    second = take(orchard, "picks", [pick(13.5), pick(3, "2025-09-08")], tmp_path, BEN)
    assert (first.batch, second.batch) == (3, 4)
    latest, before, *_ = read_batches(orchard)
    assert (latest.number, latest.action, latest.who, latest.note) == (
        4,
        "import",
        "Ben",
        "picks.csv",
    )
    assert latest.at == datetime(2026, 8, 13, 7, 0)
    assert latest.counts == (Counts("picks", 0, 1, 0),)
    assert before.counts == (Counts("picks", 2, 0, 0),)
    newest, later, made, planted = read_tree_history(orchard, "APPLE 1")
    assert (newest.before, newest.after) == ({"weight_kg": 12.4}, {"weight_kg": 13.5})
    assert newest.record == "2025-09-01"
    assert later.after == {"date": "2025-09-08", "weight_kg": 3.0}
    assert made.before is None
    assert made.after == {"date": "2025-09-01", "weight_kg": 12.4}
    assert (made.who, made.number) == ("Ada", 3)
    assert planted.kind == "trees"
    assert planted.after is not None
    assert planted.after["planted"] == "2015-01-15"


def test_a_file_that_changes_nothing_leaves_no_batch(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    take(orchard, "picks", [pick(1)], tmp_path)
    before = read_batches(orchard)
    again = take(orchard, "picks", [pick(1)], tmp_path, BEN)
    refused = take(orchard, "picks", [pick(1, tree="Nobody")], tmp_path, BEN)
    assert (again.batch, refused.batch) == (None, None)
    assert read_batches(orchard) == before


def test_a_failed_import_leaves_no_batch(
    orchard: Orchard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant(orchard, tmp_path)
    before = read_batches(orchard)

    def fail(_self: object) -> None:
        raise RuntimeError("pulled the plug")

    monkeypatch.setattr("harvest.store.history.Batch.end", fail)
    with pytest.raises(RuntimeError, match="pulled the plug"):
        take(orchard, "picks", [pick(1)], tmp_path)
    assert read_batches(orchard) == before
    assert count_kinds(orchard)["picks"] == 0


def test_the_last_change_is_undone_and_brought_back(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    take(orchard, "picks", [pick(12.4)], tmp_path)
    first = state(orchard)
    take(orchard, "picks", [pick(13.5), pick(2, "2025-09-08")], tmp_path)
    second = state(orchard)
    done = undo(orchard, None, BEN)
    assert state(orchard) == first
    assert (done.batch.number, done.batch.undone_by, done.by.number) == (4, 5, 5)
    assert (done.by.action, done.by.undoes, done.by.who) == ("undo", 4, "Ben")
    undo(orchard, 5, BEN)
    assert state(orchard) == second
    assert [entry.undone_by for entry in read_batches(orchard)] == [None, 6, None, None, None, None]
    changes = read_tree_history(orchard, "Apple 1")
    assert [c.number for c in changes if c.record == "2025-09-01"] == [6, 5, 4, 3]


def test_undo_goes_back_step_by_step_to_an_empty_orchard(filled: Orchard) -> None:
    steps = len(read_batches(filled))
    assert steps == len(KINDS)
    for _ in range(steps):
        undo(filled, None, ADA)
    assert set(count_kinds(filled).values()) == {0}
    with pytest.raises(InputError, match="must be something to undo"):
        undo(filled, None, ADA)
    assert next(c.kind for c in read_tree_history(filled, "zoë")) == "trees"
    for number in range(2 * steps, steps, -1):
        undo(filled, number, ADA)
    assert {kind: len(rows) for kind, rows in RECORDS.items()} == count_kinds(filled)


def test_a_whole_import_is_undone_though_others_came_later(
    orchard: Orchard, tmp_path: Path
) -> None:
    plant(orchard, tmp_path)
    wrong = take(orchard, "picks", [pick(n, f"2025-09-{n:02d}") for n in range(1, 29)], tmp_path)
    take(orchard, "girths", [{"tree": "Apple 1", "date": "2025-11-01", "girth_cm": 12}], tmp_path)
    undo(orchard, wrong.batch, ADA)
    counts = count_kinds(orchard)
    assert (counts["picks"], counts["girths"]) == (0, 1)


def test_what_was_changed_since_is_not_overwritten(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    take(orchard, "picks", [pick(12.4)], tmp_path)
    take(orchard, "picks", [pick(13.5)], tmp_path, BEN)
    before = state(orchard)
    with pytest.raises(
        ConflictError, match=r"as change 3 left them; given: 1 changed since, by change 4"
    ):
        undo(orchard, 3, ADA)
    assert state(orchard) == before
    undo(orchard, 4, ADA)
    undo(orchard, 3, ADA)
    assert count_kinds(orchard)["picks"] == 0


def test_a_change_made_without_the_history_is_seen(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    take(orchard, "picks", [pick(12.4)], tmp_path)
    with orchard.writing() as connection:
        connection.execute(update(TABLES["picks"]).values(weight_kg=99))
    with pytest.raises(ConflictError, match="given: 1 changed since"):
        undo(orchard, None, ADA)


def test_trees_that_have_records_are_not_taken_away(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    take(orchard, "picks", [pick(12.4)], tmp_path)
    before = state(orchard)
    with pytest.raises(ConflictError, match="nothing else may hang on what change 2 did"):
        undo(orchard, 2, ADA)
    assert state(orchard) == before
    assert read_batches(orchard)[0].number == 3


@pytest.mark.parametrize(
    ("number", "message"),
    [(99, "must be in the history; given: 99"), (3, r"not be undone yet; given: 3, undone by 4")],
)
def test_a_number_that_cannot_be_undone(
    orchard: Orchard, tmp_path: Path, number: int, message: str
) -> None:
    plant(orchard, tmp_path)
    take(orchard, "picks", [pick(12.4)], tmp_path)
    undo(orchard, 3, ADA)
    with pytest.raises(InputError, match=message):
        undo(orchard, number, ADA)


def test_an_id_is_never_given_out_twice(orchard: Orchard, tmp_path: Path) -> None:
    """A record's history is its own: what was taken away keeps its number."""
    plant(orchard, tmp_path)
    take(orchard, "picks", [pick(1), pick(2, "2025-09-02")], tmp_path)
    undo(orchard, None, ADA)
    take(orchard, "picks", [pick(3, "2025-09-03")], tmp_path)
    ids = {
        c.record: c.record_id for c in read_tree_history(orchard, "Apple 1") if c.kind == "picks"
    }
    assert len(set(ids.values())) == 3


def test_the_history_of_a_tree_that_never_was(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    with pytest.raises(UnknownNameError, match=r"a known tree.*Did you mean 'Apple 1'"):
        read_tree_history(orchard, "Aple 1")


def test_a_removed_record_is_kept_whole(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    take(orchard, "picks", [{**pick(12.4), "pass": 2, "note": "ä"}], tmp_path)
    with orchard.writing() as connection, batch(connection, "edit", ADA) as made:
        ids = read_kind(connection, "picks", with_id=True)["id"].astype(int).tolist()
        made.remove("picks", ids)
    gone = read_tree_history(orchard, "Apple 1")[0]
    assert gone.after is None
    assert gone.before == {"date": "2025-09-01", "weight_kg": 12.4, "pass": 2, "note": "ä"}
    undo(orchard, None, ADA)
    with orchard.reading() as connection:
        assert read_kind(connection, "picks")["note"].tolist() == ["ä"]


WEIGHTS = st.dictionaries(st.sampled_from([f"2025-09-{d:02d}" for d in range(1, 8)]),
                          st.integers(0, 50), min_size=1, max_size=5)  # fmt: skip


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(files=st.lists(WEIGHTS, min_size=1, max_size=5))
def test_law_undoing_all_in_turn_leads_back_through_every_state(
    sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory, files: list[dict[str, int]]
) -> None:
    import shutil

    from harvest.store.orchard import open_orchard

    folder = tmp_path_factory.mktemp("law")
    orchard = open_orchard(str(shutil.copyfile(sqlite_template, folder / "o.sqlite")))
    plant(orchard, folder)
    states = [state(orchard)]
    for file in files:
        report = take(orchard, "picks", [pick(w, day) for day, w in file.items()], folder)
        if report.batch is not None:
            states.append(state(orchard))
    while len(states) > 1:
        assert state(orchard) == states.pop()
        undo(orchard, None, ADA)
    assert state(orchard) == states[0]


def test_history_and_records_agree_for_every_kind(filled: Orchard) -> None:
    """Replaying the changes from nothing gives the tables that are there."""
    from harvest.store.bulk import plain
    from harvest.store.history_packing import changes_of

    replayed: dict[str, dict[int, dict[str, Any]]] = {kind: {} for kind in KINDS}
    with filled.reading() as connection:
        for entry in reversed(read_batches(filled)):
            for change in changes_of(connection, entry.number):
                record = replayed.setdefault(change.kind, {}).setdefault(change.record_id, {})
                record |= change.after or {}
    for kind, rows in state(filled).items():
        found = {
            row["id"]: {n: plain(v) for n, v in row.items() if v is not None and n != "id"}
            for row in rows
        }
        assert replayed[kind] == found, kind
    assert pd.Series([len(rows) for rows in replayed.values()]).min() > 0
