"""Seasons of groups made by hand. Every name, date and weight is invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from dashboard.data import GroupSeason, SeasonReasons
from harvest.yields.result import Reason

_SEASON = GroupSeason(
    by="site",
    name="Northfield",
    season=2025,
    weight_kg=100.0,
    fruit_count=None,
    mean_fruit_g=None,
    graded_out_kg=None,
    causes={},
    picking_days=2,
    first_pick=date(2025, 9, 1),
    last_pick=date(2025, 9, 14),
    window_days=14,
    trees_picked=5,
    trees_none=0,
    trees_stripped=0,
    trees_not_recorded=0,
    trees_bearing=5,
    kg_per_bearing_tree=20.0,
    kg_per_cm2=None,
    cumulative_kg=100.0,
    expected_kg=110.0,
    low_kg=80.0,
    high_kg=140.0,
    verdict="usual",
    others=5,
    complete=True,
    compared_trees=5,
    compared_kg=100.0,
)


def season(year: int = 2025, **changed: Any) -> GroupSeason:
    """A group's season, five trees picked unless changed."""
    return replace(_SEASON, season=year, **changed)


def unpicked(year: int, what: str) -> GroupSeason:
    """A season without a pick: its five trees stripped, none or not recorded."""
    nothing = {"weight_kg": 0.0 if what == "none" else None, "trees_picked": 0,
               "compared_kg": None, "low_kg": None, "high_kg": None, "expected_kg": None,
               "verdict": "not compared"}  # fmt: skip
    return season(year, **nothing, **{f"trees_{what.replace(' ', '_')}": 5})


def reasoned(tree: str, *causes: tuple[str, float], year: int = 2021) -> SeasonReasons:
    """Why a tree's season was poor, by cause and strength."""
    return SeasonReasons(
        tree=tree,
        site="Northfield",
        species="apple",
        cultivar="Testapple",
        season=year,
        verdict="poor",
        weight_kg=2.0,
        expected_kg=20.0,
        reasons=tuple(
            Reason(cause, strength, f"{cause} of {tree}", "the log") for cause, strength in causes
        ),
    )
