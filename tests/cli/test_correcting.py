"""`harvest correct`, `remove` and `attach` as a user starts them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from harvest.store.orchard import open_orchard
from harvest.store.reading import count_kinds
from tests.cli.conftest import Harvest
from tests.orchards import plant, put


@pytest.fixture
def picked(sqlite_address: str, tmp_path: Path) -> str:
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    rows = [{"tree": "Apple 1", "date": f"2025-09-{day}", "weight_kg": day} for day in (10, 20)]
    put(orchard, "picks", rows, tmp_path)
    put(orchard, "events", [{"site": "Home", "tree": "", "date": "2025-04-01", "event": "frost"}],
        tmp_path)  # fmt: skip
    return sqlite_address


PICK = ("pick", "Apple 1", "--date", "2025-09-10")


def test_a_record_is_shown_corrected_and_told(harvest: Harvest, picked: str) -> None:
    (shown,) = json.loads(harvest("--orchard", picked, "correct", *PICK, "--format", "json").out)
    assert shown["weight_kg"] == "10"
    said = harvest("--orchard", picked, "correct", *PICK, "weight_kg=22lb", "note=a, late")
    assert (said.code, said.err) == (0, "")
    assert "weight_kg: 10 → 22lb" in said.out
    told = json.loads(harvest("--orchard", picked, "history", "Apple 1", "--format", "json").out)[0]
    assert told["before"] == {"weight_kg": 10, "note": None}
    # 1 lb is 0.45359237 kg (international yard and pound agreement, 1959).
    assert told["after"] == {"weight_kg": pytest.approx(22 * 0.45359237), "note": "a, late"}
    assert harvest("--orchard", picked, "undo").code == 0
    (again,) = json.loads(harvest("--orchard", picked, "correct", *PICK, "--format", "json").out)
    assert again == shown


def test_a_correction_tells_what_looks_wrong_by_it(harvest: Harvest, picked: str) -> None:
    said = harvest("--orchard", picked, "correct", "tree", "apple 1", "removed=2025-09-15")
    assert said.code == 0
    assert "Apple 1, 2025-09-20: picked after the tree was removed on 2025-09-15" in said.err
    (code,) = re.findall(r"--let-stand (\w+)\.", said.err)
    told = harvest("--orchard", picked, "check", "apple 1", "--format", "json")
    (checked,) = json.loads(told.out)
    assert [warning["code"] for warning in checked["warnings"]] == [code]
    assert checked["whole"] is None
    assert "No record looks wrong." in harvest("--orchard", picked, "check", "apple 2").out
    note = harvest("--orchard", picked, "correct", "tree", "apple 1", "note=felled")
    assert note.err == ""
    double = harvest("--orchard", picked, "correct", *PICK, "date=2025-09-20")
    assert "no two picks may have the same tree, date, pass;" in double.err


def test_the_history_of_one_change_and_of_one_tree(harvest: Harvest, picked: str) -> None:
    told = harvest("--orchard", picked, "history", "--change", "4", "--format", "json")
    (event,) = json.loads(told.out)
    assert (event["record"], event["before"]) == ("Home, 2025-04-01, frost", None)
    table = harvest("--orchard", picked, "history", "apple 1")
    assert table.out.startswith("Apple 1: changes, newest first")
    assert "shown" not in table.out
    few = harvest("--orchard", picked, "history", "apple 1", "--most", "1")
    assert "No more than 1 are shown; --most N shows others." in few.out
    assert harvest("--orchard", picked, "history", "--change", "77").code == 1


def test_an_edit_of_what_changed_elsewhere_meanwhile_is_refused(
    harvest: Harvest, picked: str
) -> None:
    (shown,) = json.loads(harvest("--orchard", picked, "correct", *PICK, "--format", "json").out)
    assert harvest("--orchard", picked, "correct", *PICK, "weight_kg=11").code == 0
    for command in (("correct", *PICK, "weight_kg=12"), ("remove", *PICK)):
        said = harvest("--orchard", picked, *command, "--as-seen", shown["state"])
        assert said.code == 1
        assert "changed elsewhere meanwhile" in said.err
    (now,) = json.loads(harvest("--orchard", picked, "correct", *PICK, "--format", "json").out)
    assert now["weight_kg"] == "11"
    said = harvest("--orchard", picked, "correct", *PICK, "weight_kg=12", "--as-seen", now["state"])
    assert said.code == 0


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("pick", "Apple 1"), 1, "2 that fit. Name the day (--date) or the number (--number). 1:"),
        (("pick", "Apple 1", "--date", "2025-09-11"), 1, "none of 2025-09-11"),
        (("fruit", "Apple 1"), 1, "One of: site, tree, stage"),
        ((*PICK, "kilos=3"), 2, "No column kilos; there are tree, date, weight_kg"),
        ((*PICK, "weight_kg"), 2, "written COLUMN=VALUE"),
        ((*PICK, "weight_kg=heavy"), 1, "weight_kg"),
        ((*PICK, "date=2025-09-20"), 1, "no two picks may have the same"),
    ],
)
def test_what_cannot_be_corrected_says_why(
    harvest: Harvest, picked: str, words: tuple[str, ...], code: int, told: str
) -> None:
    said = harvest("--orchard", picked, "correct", *words)
    assert said.code == code
    assert told in " ".join(said.err.replace("│", " ").split())


def test_a_record_is_taken_away_and_comes_back(harvest: Harvest, picked: str) -> None:
    said = harvest("--orchard", picked, "remove", "event", "--site", "Home", "--date", "2025-04-01")
    assert said.code == 0, said.err
    assert count_kinds(open_orchard(picked))["events"] == 0
    assert harvest("--orchard", picked, "undo").code == 0
    assert count_kinds(open_orchard(picked))["events"] == 1
    said = harvest("--orchard", picked, "remove", "tree", "Apple 1")
    assert said.code == 1
    assert "felled gets a date of removal" in said.err


def test_a_photo_and_a_note_are_attached_listed_written_and_taken_off(
    harvest: Harvest, picked: str, tmp_path: Path
) -> None:
    photo = tmp_path / "crate.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0" + bytes(30))
    said = harvest("--orchard", picked, "attach", "Apple 1", photo, "--to", "pick",
                   "--date", "2025-09-10")  # fmt: skip
    assert (said.code, said.err) == (0, "")
    assert harvest("--orchard", picked, "attach", "Apple 1", "--note", "canker").code == 0
    assert harvest("--orchard", picked, "attach", "--site", "Home", photo).code == 0
    on_tree = json.loads(harvest("--orchard", picked, "attach", "Apple 1", "--format", "json").out)
    assert [(e["kind"], e["media_type"]) for e in on_tree] == [
        ("trees", "text/plain"), ("picks", "image/jpeg"),
    ]  # fmt: skip
    assert "crate.jpg (pick)" in harvest("--orchard", picked, "history", "Apple 1").out
    done = json.loads(harvest("--orchard", picked, "history", "--format", "json").out)
    assert [each["note"] for each in done[2::-2]] == [
        "crate.jpg to a pick of Apple 1", "crate.jpg to Home",
    ]  # fmt: skip
    out = tmp_path / "out.jpg"
    assert harvest("--orchard", picked, "attach", "--save", on_tree[1]["id"], out).code == 0
    assert out.read_bytes() == photo.read_bytes()
    assert harvest("--orchard", picked, "attach", "--save", on_tree[1]["id"], out).code == 1
    assert harvest("--orchard", picked, "attach", "--take-off", on_tree[1]["id"]).code == 0
    left = json.loads(harvest("--orchard", picked, "attach", "--format", "json").out)
    assert [(e["tree"], e["site"]) for e in left] == [(None, "Home"), ("Apple 1", None)]


def test_what_may_not_be_attached_says_why(harvest: Harvest, picked: str, tmp_path: Path) -> None:
    program = tmp_path / "photo.jpg"
    program.write_bytes(b"MZ\0\0")
    said = harvest("--orchard", picked, "attach", "Apple 1", program)
    assert said.code == 1
    assert "a picture (JPEG, PNG, WebP, HEIC, AVIF, GIF), a PDF or a text" in said.err
    assert harvest("--orchard", picked, "attach", "Apple 1", tmp_path / "none.jpg").code == 1
