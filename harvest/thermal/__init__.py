"""Daylight, temperature through the day, heat, chill and frost: numpy arrays in and out.

Time is on the last axis; temperatures are in degrees Celsius; nan means missing and stays
missing. Nothing here reads a file or knows a tree.
"""

from __future__ import annotations

from harvest.thermal.chill import (
    KELVIN_OFFSET,
    LOW_CHILL_HOURS,
    ChillState,
    ChillTotals,
    chill_hours,
    chill_portions,
    chill_totals,
    running_total,
    utah_units,
)
from harvest.thermal.daylight import day_length
from harvest.thermal.degree_days import degree_days
from harvest.thermal.degree_hours import PEACH_FRUIT_C, growing_degree_hours
from harvest.thermal.frost import kill_temperatures, share_killed, stage_row
from harvest.thermal.hourly import hourly_temperature

__all__ = [
    "KELVIN_OFFSET",
    "LOW_CHILL_HOURS",
    "PEACH_FRUIT_C",
    "ChillState",
    "ChillTotals",
    "chill_hours",
    "chill_portions",
    "chill_totals",
    "day_length",
    "degree_days",
    "growing_degree_hours",
    "hourly_temperature",
    "kill_temperatures",
    "running_total",
    "share_killed",
    "stage_row",
    "utah_units",
]
