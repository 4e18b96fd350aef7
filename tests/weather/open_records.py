"""The open daily records of Basel and Washington DC (tests/data/weather/README.md)."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pandas as pd

FOLDER = Path(__file__).parents[1] / "data" / "weather"


@cache
def _read(name: str) -> pd.DataFrame:
    rows = pd.read_csv(FOLDER / f"{name}_daily.csv.gz", parse_dates=["date"])
    rows["date"] = rows["date"].astype("datetime64[s]")
    return rows.rename(columns={"tmin": "tmin_c", "tmax": "tmax_c"}).assign(precip_mm=float("nan"))


def record(name: str, first: str = "1950-01-01", last: str = "2026-12-31") -> pd.DataFrame:
    """Columns date, tmin_c, tmax_c [degC], precip_mm (unknown), of "basel" or "washington_dc"."""
    rows = _read(name)
    return rows[rows["date"].between(first, last)].reset_index(drop=True)
