"""Rows of a frame one by one, for the few places where sentences are made of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd


def plain_rows(frame: pd.DataFrame) -> Iterator[Any]:
    """Each row as a named tuple of its columns; dates are Timestamps, missing numbers nan."""
    return frame.itertuples(index=False)
