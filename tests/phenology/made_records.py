"""Records made in memory from rows as people write them, for tests that need no database."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from harvest.phenology.forecast import forecast
from harvest.phenology.result import EventForecast
from harvest.records import KINDS, Records, fields
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons

DEMO = Path(__file__).parents[2] / "data" / "demo"
TYPES = {int: float, float: float}


def made_records(as_of: date, frames: Mapping[str, pd.DataFrame]) -> Records:
    """Records of the kinds given, columns as in files; what is dated later is not known yet."""
    made = {kind: _typed(kind, frames.get(kind, pd.DataFrame())) for kind in KINDS}
    latitude = made["sites"].set_index("site")["latitude"]
    made["trees"]["latitude"] = made["trees"]["site"].map(latitude).astype(float)
    made["weather"]["source"] = "file"
    ahead = frames.get("weather_ahead", made["weather"].iloc[:0].assign(issued=pd.NaT))
    days = {name: ahead[name].astype("datetime64[s]") for name in ("issued", "date")}
    return Records(as_of=as_of, weather_ahead=ahead.assign(**days), **made).until(as_of)


def _typed(kind: str, rows: pd.DataFrame) -> pd.DataFrame:
    frame = pd.DataFrame(index=range(len(rows)))
    for field in fields(kind):
        values = rows[field.header].to_numpy() if field.header in rows else [None] * len(rows)
        if field.type is date:
            frame[field.name] = pd.to_datetime(pd.Series(values)).astype("datetime64[s]")
        elif field.type is bool:
            given = [{"yes": True, "no": False}.get(str(value)) for value in values]
            frame[field.name] = pd.Series(given, dtype=object)
        elif field.type in TYPES:
            frame[field.name] = pd.Series(values).astype(TYPES[field.type])
        else:
            series = pd.Series(values, dtype=object)
            frame[field.name] = series.where(series.notna(), None)
    order = [name for name in KINDS[kind].key if name != "time_of_day"]
    return frame.sort_values(order, kind="stable", ignore_index=True)


def demo_frames() -> dict[str, pd.DataFrame]:
    """The demo orchard's files, as they are."""
    files = {kind: DEMO / f"{kind}.csv" for kind in KINDS}
    frames = {kind: pd.read_csv(path) for kind, path in files.items() if path.is_file()}
    picks = frames["picks"]
    frames["picks"] = picks[picks["weight_kg"] >= 0].reset_index(drop=True)
    return frames


def forecast_at(records: Records, as_of: date) -> list[EventForecast]:
    """What would have been said on a day, as the service says it."""
    known = records.until(as_of)
    traits = tree_traits(known)
    return forecast(with_seasons(known, traits), traits)


def days_of(dates: Mapping[float, date], first: date) -> np.ndarray:
    """Quantiles as days from a date [d]."""
    return np.array([(day - first).days for day in dates.values()], dtype=float)
