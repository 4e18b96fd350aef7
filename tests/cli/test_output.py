"""Results as people and programs read them."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from datetime import date

import pytest

from harvest.cli.output import complain, number, print_csv, print_json, print_table, say


@dataclass(frozen=True)
class Inner:
    start: date
    share: float | None


@dataclass(frozen=True)
class Outer:
    name: str
    weeks: tuple[Inner, ...]
    shares: dict[float, date]


ROW = Outer("Zoë \"3\", 🍎", (Inner(date(2026, 5, 4), None),), {0.5: date(2026, 5, 6)})  # fmt: skip


def test_json_holds_dataclasses_and_dates(capsys: pytest.CaptureFixture[str]) -> None:
    print_json([ROW])
    out = capsys.readouterr().out
    assert "Zoë" in out
    assert json.loads(out) == [
        {
            "name": 'Zoë "3", 🍎',
            "weeks": [{"start": "2026-05-04", "share": None}],
            "shares": {"0.5": "2026-05-06"},
        }
    ]


def test_csv_is_read_back_by_the_csv_library(capsys: pytest.CaptureFixture[str]) -> None:
    rows = [
        {"name": 'a "b", c', "day": date(2026, 5, 4), "kg": None, "why": ["One.", "Two."]},
        {"name": "x\ny", "day": None, "kg": 0.25, "why": ["frost", "hail"]},
        {"name": "", "day": None, "kg": 0, "why": ()},
    ]
    print_csv(rows)
    read = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert read == [
        {"name": 'a "b", c', "day": "2026-05-04", "kg": "", "why": "One. Two."},
        {"name": "x\ny", "day": "", "kg": "0.25", "why": "frost; hail"},
        {"name": "", "day": "", "kg": "0", "why": ""},
    ]


def test_no_rows_are_an_empty_list_and_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    print_json([])
    print_csv([])
    assert capsys.readouterr().out == "[]\n"


@pytest.mark.parametrize("text", ["[bold]x[/bold]", "[/]", ":apple:", "<script>", "{x} %s"])
def test_text_is_shown_as_it_is(capsys: pytest.CaptureFixture[str], text: str) -> None:
    say(text)
    complain(text)
    print_table(text, (text,), [(text,)])
    out, err = capsys.readouterr()
    assert out.count(text) == 4
    assert err == text + "\n"


def test_nothing_in_a_text_commands_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    text = "\x1b[2J\x07\x9b31m\x00x"
    say(text)
    complain(text)
    print_table(text, (text,), [(text,)])
    shown = "".join(capsys.readouterr())
    assert not set("\x1b\x07\x9b\x00") & set(shown)
    assert "x" in shown


def test_long_lines_are_not_cut(capsys: pytest.CaptureFixture[str]) -> None:
    say("x" * 500)
    complain("y" * 500)
    assert capsys.readouterr() == ("x" * 500 + "\n", "y" * 500 + "\n")


def test_a_number_carries_its_unit_and_an_unknown_is_a_dash() -> None:
    assert number(12.345, 1, "kg") == "12.3 kg"
    assert number(0.0) == "0.0"
    assert number(None, 1, "kg") == "–"
