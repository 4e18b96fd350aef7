"""Scores against published formulas, computed check values and laws (check_values.csv)."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from harvest.phenology.scores import (
    compatible_hits,
    crps_days,
    crps_ensemble,
    crps_normal,
    crps_quantiles,
    inside,
    interval_score,
    pinball,
    share_within,
    skill,
)

with (Path(__file__).parent / "check_values.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def rows(topic: str) -> list[dict[str, str]]:
    found = [row for row in ROWS if row["topic"] == topic]
    assert found
    return found


def numbers(text: str) -> dict[str, float]:
    return {n: float(v) for n, v in re.findall(r"(\w+)=(-?\d+(?:\.\d+)?)", text)}


@pytest.mark.parametrize(
    ("topic", "fair"), [("crps_ensemble", False), ("crps_ensemble_fair", True)]
)
def test_ensemble(topic: str, fair: bool) -> None:
    """Gneiting & Raftery 2007; Ferro et al. 2008."""
    for row in rows(topic):
        members = [float(x) for x in re.search(r"\[(.*?)\]", row["inputs"])[1].split(",")]  # type: ignore[index]
        found = crps_ensemble(members, numbers(row["inputs"])["y"], fair=fair)
        assert found == pytest.approx(float(row["expected"]), abs=1e-9)


@pytest.mark.parametrize("row", rows("crps_normal"), ids=lambda row: row["inputs"])
def test_normal(row: dict[str, str]) -> None:
    at = numbers(row["inputs"])
    found = crps_normal(at["mu"], at["sigma"], at["y"])
    assert found == pytest.approx(float(row["expected"]), abs=1e-9)


def test_expected_score_of_a_calibrated_normal_is_its_spread_over_root_pi() -> None:
    expected = float(rows("crps_normal_expected")[0]["expected"])
    level = (np.arange(20_000) + 0.5) / 20_000
    assert crps_normal(0, 1, stats.norm.ppf(level)).mean() == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("row", rows("interval_score"), ids=lambda row: row["inputs"])
def test_interval(row: dict[str, str]) -> None:
    at = numbers(row["inputs"])
    assert interval_score(at["l"], at["u"], at["y"], at["alpha"]) == pytest.approx(
        float(row["expected"])
    )


@pytest.mark.parametrize("row", rows("coverage_range"), ids=lambda row: row["inputs"])
def test_compatible_hits(row: dict[str, str]) -> None:
    at = numbers(row["inputs"])
    low, high = map(int, row["expected"].split(".."))
    assert compatible_hits(int(at["n"]), at["nominal"]) == (low, high)


MEMBERS = st.lists(st.floats(-50, 50), min_size=2, max_size=12)


@given(MEMBERS, st.floats(-60, 60))
def test_ensemble_score_is_its_definition(members: list[float], y: float) -> None:
    x = np.array(members)
    pairs = np.abs(x[:, None] - x[None, :])
    size = len(x)
    plain = np.abs(x - y).mean() - pairs.sum() / (2 * size**2)
    fair = np.abs(x - y).mean() - pairs.sum() / (2 * size * (size - 1))
    assert crps_ensemble(x, y) == pytest.approx(plain, abs=1e-9)
    assert crps_ensemble(x, y, fair=True) == pytest.approx(fair, abs=1e-9)


@given(st.lists(st.floats(0, 1), min_size=2, max_size=20), st.integers(-5, 25))
def test_days_score_as_an_ensemble_with_those_weights(weights: list[float], came: int) -> None:
    share = np.round(np.array(weights) * 20).astype(int) + 1
    members = np.repeat(np.arange(len(share)), share)
    found = crps_days(share / share.sum(), float(came))
    assert found == pytest.approx(float(crps_ensemble(members, float(came))), abs=1e-9)


@pytest.mark.parametrize("y", [-1.7, 0.0, 0.4, 2.5])
def test_quantiles_and_many_members_come_to_the_normal_score(y: float) -> None:
    level = (np.arange(2_000) + 0.5) / 2_000
    values = stats.norm.ppf(level)
    exact = float(crps_normal(0, 1, y))
    assert crps_quantiles(level, values, y) == pytest.approx(exact, abs=2e-3)
    assert crps_ensemble(values, y) == pytest.approx(exact, abs=2e-3)
    assert 2 * pinball(level, values, y) == pytest.approx(exact, abs=2e-3)


def test_the_median_alone_scores_half_its_error() -> None:
    assert pinball([0.5], [[10.0]], [13.0]) == pytest.approx(1.5)
    assert crps_quantiles([0.5], [[10.0]], [13.0]) == pytest.approx(3.0)


def test_shares_and_skill() -> None:
    assert inside([1, 1, 1], [3, 3, 3], [1, 3, 4]).tolist() == [True, True, False]
    assert share_within([-3.0, 2.0, 7.0, 8.0], 3) == 0.5
    assert share_within([-3.0, 2.0, 7.0, 8.0], 7) == 0.75
    assert skill(1.5, 2.0) == 0.25
    assert np.isnan(skill(1.0, 0.0))
    assert np.isnan(share_within([], 3))
