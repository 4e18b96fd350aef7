"""`harvest backtest` and `harvest forecast --explain` as a person or a program reads them."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from harvest.cli.main import app
from harvest.errors import InputError

AS_OF = ["--as-of", "2017-12-01"]


def run(orchard: Path, *arguments: str) -> str:
    done = CliRunner().invoke(
        app, ["--orchard", str(orchard), *arguments], catch_exceptions=False, env={"COLUMNS": "200"}
    )
    assert done.exit_code == 0, done.output
    return done.stdout


def test_backtest_in_three_formats_says_the_same(demo_template: Path) -> None:
    command = ["backtest", "--lead", "30", *AS_OF]
    (row,) = json.loads(run(demo_template, *command, "--format", "json"))
    assert (row["event"], row["lead"]) == ("ripe", "30 days after bloom")
    assert row["n"] > 20
    assert row["interval_80"]["hits"] <= row["n"]
    assert len(row["reliability"]) == 7
    (flat,) = csv.DictReader(io.StringIO(run(demo_template, *command, "--format", "csv")))
    assert int(flat["n"]) == row["n"]
    assert flat["verdict"] == row["verdict"]
    told = " ".join(run(demo_template, *command).split())
    assert f"{row['n']} ({row['seasons']})" in told
    assert row["verdict"] in told


def test_backtest_before_any_season_says_so(demo_template: Path) -> None:
    told = run(demo_template, "backtest", "--as-of", "2014-09-01")
    assert "No past season has a date of ripe" in told


def test_a_wrong_lead_is_refused(demo_template: Path) -> None:
    with pytest.raises(InputError, match="number of days after bloom"):
        run(demo_template, "backtest", "--lead", "soon")


def test_explain_tells_each_event_of_one_tree(demo_template: Path) -> None:
    command = ["forecast", "--explain", "q3-01", "--as-of", "2025-08-01"]
    rows = json.loads(run(demo_template, *command, "--format", "json"))
    assert {row["tree"] for row in rows} == {"Q3-01"}
    ripe = next(row for row in rows if row["event"] == "ripe")
    assert ripe["explanation"].startswith("It rests on ")
    told = run(demo_template, *command)
    assert f"Q3-01, ripe 2025: {ripe['explanation']}" in told
    assert "Q3-01, full bloom 2025: seen on " in told


def test_without_being_asked_nothing_is_explained(demo_template: Path) -> None:
    rows = json.loads(run(demo_template, "forecast", "--tree", "Q3-01", *AS_OF, "--format", "json"))
    assert rows
    assert all("explanation" not in row for row in rows)
