"""Daylight, temperature through the day, heat, chill and frost: numpy arrays in and out.

Time is on the last axis; temperatures are in degrees Celsius; nan means missing and stays
missing. Nothing here reads a file or knows a tree.
"""

from __future__ import annotations

from harvest.thermal.degree_days import degree_days

__all__ = ["degree_days"]
