"""What an orchard's seasons say of its cultivars, passed on; what others passed on, taken in."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd

from harvest.errors import InputError
from harvest.phenology.experience import cultivar_intervals
from harvest.service_known import known_on
from harvest.store import experience as store
from harvest.store.experience import Experience, Refused, Taken, drop_experience, take_experience
from harvest.store.orchard import Orchard

__all__ = [
    "Experience",
    "Refused",
    "Taken",
    "drop_experience",
    "give_experience",
    "list_experience",
    "take_experience",
]


def give_experience(orchard: Orchard, as_of: date, name: str, path: Path) -> int:
    """Write what the orchard saw of each cultivar by a day to a file; how many cultivars.

    `name` is what others shall call the orchard. No tree, date or exact place is written.

    Raises InputError where nothing is known yet, the name is blank, or the file is there already.
    """
    if not name.strip():
        raise InputError("a name is needed by which others shall know these seasons")
    seen = cultivar_intervals(known_on(orchard, as_of).past_seasons)
    if seen.empty:
        raise InputError(
            "a past season with both a bloom and a ripe date is needed to pass anything on",
            given="none on record",
        )
    rows = [
        Experience(
            orchard=name.strip(),
            species=row["species"],
            cultivar=row["cultivar"],
            latitude=float(row["latitude"]),
            seasons=int(row["seasons"]),
            trees=int(row["trees"]),
            days_mean=float(row["days_mean"]),
            days_sd=None if pd.isna(row["days_sd"]) else float(row["days_sd"]),
            first_season=int(row["first_season"]),
            last_season=int(row["last_season"]),
        )
        for row in seen.to_dict("records")
    ]
    store.write_experience(rows, path)
    return len(rows)


def list_experience(orchard: Orchard) -> list[Experience]:
    """Everything that other orchards passed on, by species, cultivar and orchard."""
    with orchard.reading() as connection:
        frame = store.read_experience(connection)
    rows = frame.sort_values(["species", "cultivar", "orchard"], kind="stable")
    told = rows[list(store.COLUMNS)].astype(object)
    plain = told.where(told.notna(), None).itertuples(index=False)
    return [Experience(*row) for row in plain]
