"""Yields across seasons, and what crop a tree may carry. Pure calculation."""

from __future__ import annotations

from harvest.yields.advice import crop_advice
from harvest.yields.alternation import bearing_index, chance_bearing_index, without_trend
from harvest.yields.fruit_limit import fruit_limit
from harvest.yields.load_rules import CropReference
from harvest.yields.result import CropAdvice, SeasonYield
from harvest.yields.totals import season_yields, yield_table
from harvest.yields.trunk import girths_on, trunk_cross_section

__all__ = [
    "CropAdvice",
    "CropReference",
    "SeasonYield",
    "bearing_index",
    "chance_bearing_index",
    "crop_advice",
    "fruit_limit",
    "girths_on",
    "season_yields",
    "trunk_cross_section",
    "without_trend",
    "yield_table",
]
