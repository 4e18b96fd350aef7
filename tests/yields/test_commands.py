"""The commands about crops as a user starts them, on the demo orchard."""

from __future__ import annotations

import csv
import json
import shutil
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Said, start


@pytest.fixture
def demo(demo_template: Path, tmp_path: Path) -> Path:
    return Path(shutil.copyfile(demo_template, tmp_path / "demo.sqlite"))


def rows(said: Said) -> list[dict[str, Any]]:
    assert said.code == 0, said.err
    found: list[dict[str, Any]] = json.loads(said.out)
    return found


def test_crop_estimate_gives_the_agreed_json(demo: Path) -> None:
    found = rows(start("--orchard", demo, "crop-estimate", "--season", 2026,
                       "--as-of", "2026-03-01", "--format", "json"))  # fmt: skip
    assert len({row["tree"] for row in found}) == len(found) > 40
    for row in found:
        assert set(row) >= {"tree", "season", "kg", "basis", "warnings"}
        assert list(row["kg"]) == ["0.1", "0.25", "0.5", "0.75", "0.9"]
        assert list(row["kg"].values()) == sorted(row["kg"].values())
        assert set(row["basis"]) >= {"seasons", "trees", "alternation"}
        assert row["season"] == 2026


def test_two_seasons_are_compared_by_cultivar_or_as_asked(demo: Path) -> None:
    found = rows(start("--orchard", demo, "yields", "--compare", 2020, 2021, "--format", "json"))
    assert {row["by"] for row in found} == {"cultivar"}
    found = rows(start("--orchard", demo, "yields", "--compare", 2020, 2021, "--by", "species",
                       "--format", "json"))  # fmt: skip
    apple = next(row for row in found if row["name"] == "apple")
    assert apple["later"]["verdict"] == "poor"
    assert apple["change"] < -0.5
    said = start("--orchard", demo, "yields", "--compare", 2020, 2021)
    assert "side by side" in said.out
    assert "like with like" in said.out


def test_groupings_add_up_alike_and_an_unknown_one_is_refused(demo: Path) -> None:
    totals = set()
    for by in ("tree", "cultivar", "species", "site", "row", "orchard"):
        said = start("--orchard", demo, "yields", "--by", by, "--format", "csv")
        table = list(csv.DictReader(StringIO(said.out)))
        totals.add(round(sum(float(row["weight_kg"] or 0) for row in table), 3))
    assert len(totals) == 1
    said = start("--orchard", demo, "yields", "--by", "colour")
    assert said.code == 1
    assert "tree, cultivar, species, site, row, orchard" in said.err


def test_why_a_season_was_poor_is_told_and_never_as_proof(demo: Path) -> None:
    said = start("--orchard", demo, "yields", "--why", "--season", 2021, "--tree", "Q3-02")
    assert "-5.1 °C on 20 April 2021" in said.out
    assert "never proof" in said.out


def test_weeks_thinning_and_did_it_pay_are_told(demo: Path) -> None:
    weeks = start("--orchard", demo, "crop-estimate", "--weeks")
    assert "glut" in weeks.out
    plan = start("--orchard", demo, "crop-load", "--show", "thinning", "--as-of", "2026-04-20",
                 "--tree", "Q4-04")  # fmt: skip
    assert "Leave at most" in plan.out
    assert "never lean out" in plan.out
    assert "too few trees to tell" in start(
        "--orchard", demo, "crop-load", "--show", "did-it-pay").out  # fmt: skip


def test_advice_is_overruled_and_stays_on_record(demo: Path) -> None:
    said = start("--orchard", demo, "crop-load", "--tree", "Q3-05", "--overrule", "strip",
                 "--because", "too heavy")  # fmt: skip
    assert "strip instead of limit: too heavy" in said.out
    assert "too heavy" in start("--orchard", demo, "crop-load", "--show", "overruled").out
    alone = start("--orchard", demo, "crop-load", "--overrule", "strip")
    assert alone.code == 1
    assert "--tree" in alone.err
