"""Yields across seasons, and what crop a tree may carry. Pure calculation."""

from __future__ import annotations

from harvest.yields.alternation import bearing_index, chance_bearing_index, without_trend
from harvest.yields.result import CropAdvice, SeasonYield
from harvest.yields.totals import season_yields, yield_table
from harvest.yields.trunk import girths_on, trunk_cross_section

__all__ = [
    "CropAdvice",
    "SeasonYield",
    "bearing_index",
    "chance_bearing_index",
    "girths_on",
    "season_yields",
    "trunk_cross_section",
    "without_trend",
    "yield_table",
]
