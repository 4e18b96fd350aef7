"""Files of NOAA's Global Historical Climatology Network daily, fixed width and by year.

Layout: Menne et al. 2012, J. Atmos. Oceanic Technol. 29:897-910, and the archive's readme. Values
are tenths of a degree Celsius, of a millimetre and of a metre per second; -9999 is missing; a value
with a quality flag failed one of the archive's own checks and is left out.
"""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, NoReturn, cast

import numpy as np
import pandas as pd

from harvest.errors import FileFormatError
from harvest.units import KMH_PER_M_S
from harvest.weather.daily import COLUMNS
from harvest.weather.listening import said_by

ELEMENTS = {"TMIN": "tmin_c", "TMAX": "tmax_c", "PRCP": "precip_mm", "AWND": "wind_kmh"}
MISSING = -9999
DLY_CHARACTERS = 269
BY_YEAR_HEADER = "ID,DATE,ELEMENT,"
"""Some copies of the by-year files begin with their columns' names."""
ATTRIBUTION = "NOAA NCEI, GHCN-Daily (Menne et al. 2012), doi 10.7289/V5D21VHZ"
LICENCE = "public domain (work of the US government); other services' records on their own terms"
MOST_STATIONS_NAMED = 8
OTHER_LAYOUTS = (
    "The archive's tables with a header and a row for each day are another layout: take the "
    "station's .dly file. Other tables go in with 'harvest import weather FILE'."
)


@dataclass(frozen=True)
class GhcnDays:
    """Days of one station: columns date, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h]."""

    station: str
    days: pd.DataFrame
    flagged: int
    """How many values were left out for their quality flag."""
    contradicted: int
    """How many were left out as the file gives another for the same day."""
    left_out: pd.DataFrame
    """Both: columns date and, as days has them, True where the value was left out."""


def read_ghcn(path: Path, station: str | None = None) -> GhcnDays:
    """Read a `.dly` file or a by-year CSV (either may be gzipped) of one station.

    Parameters
    ----------
    station : the station's id; needed when the file holds several.

    Raises FileFormatError when the file is missing, of another layout, lacks the station, or
    holds several and none is named.
    """
    try:
        with _opened(path) as file:
            first = file.readline(4096).decode("latin-1").lstrip("\ufeff").rstrip("\r\n")
            file.seek(0)
            if first.count(",") >= 6:
                if first.startswith(BY_YEAR_HEADER):
                    file.readline()
                values = _by_year(file, station, path)
            elif len(first) >= DLY_CHARACTERS - 8 and first[11:17].isdigit():
                values = _fixed_width(file.read().decode("latin-1"), path)
            else:
                raise FileFormatError(
                    "a GHCN-Daily file has fixed columns (.dly) or lines of "
                    "ID,YYYYMMDD,ELEMENT,VALUE,…",
                    given=repr(first[:60]),
                    where=f"{path}, line 1",
                    todo=OTHER_LAYOUTS,
                )
    except (OSError, EOFError, zlib.error) as error:
        raise FileFormatError(
            "a file must be there and readable", given=said_by(error), where=str(path)
        ) from error
    return _of_station(values, station, path)


def _opened(path: Path) -> IO[bytes]:
    with path.open("rb") as file:
        zipped = file.read(2) == b"\x1f\x8b"
    return cast(IO[bytes], gzip.open(path)) if zipped else path.open("rb")


def _fixed_width(text: str, path: Path) -> pd.DataFrame:
    """Columns station, element, date, value, flag of every day that exists."""
    lines = [line.ljust(DLY_CHARACTERS) for line in text.splitlines() if line.strip()]
    lines = [line for line in lines if line[17:21] in ELEMENTS]
    if not lines:
        return pd.DataFrame(columns=["station", "element", "date", "value", "flag"])
    days = range(31)
    try:
        values = np.array(
            [[int(line[21 + 8 * day : 26 + 8 * day]) for day in days] for line in lines]
        )
        months = np.array([f"{line[11:15]}-{line[15:17]}" for line in lines], dtype="datetime64[M]")
    except ValueError as error:
        raise FileFormatError(
            "every line of a .dly file holds 31 values of five characters",
            given=str(error),
            where=str(path),
        ) from error
    flags = np.array([[line[27 + 8 * day] for day in days] for line in lines])
    dates = months.astype("datetime64[D]")[:, None] + np.arange(31)
    exists = dates.astype("datetime64[M]") == months[:, None]
    line_of = np.nonzero(exists)[0]
    return pd.DataFrame(
        {
            "station": np.array([line[:11] for line in lines], dtype=object)[line_of],
            "element": np.array([line[17:21] for line in lines], dtype=object)[line_of],
            "date": dates[exists].astype("datetime64[s]"),
            "value": values[exists].astype(float),
            "flag": flags[exists],
        }
    )


def _by_year(file: IO[bytes], station: str | None, path: Path) -> pd.DataFrame:
    """The same columns from a by-year CSV, read in pieces: the archive's own hold every station."""
    names = ["station", "date", "element", "value", "measure", "flag", "source", "time"]
    kept = []
    try:
        with pd.read_csv(
            file,
            header=None,
            names=names,
            usecols=["station", "date", "element", "value", "flag"],
            dtype={"station": str, "date": str, "element": str, "value": float, "flag": str},
            chunksize=500_000,
        ) as pieces:
            for piece in pieces:
                wanted = piece["element"].isin(list(ELEMENTS))
                if station is not None:
                    wanted &= piece["station"].str.casefold() == station.casefold()
                kept.append(piece[wanted])
                if station is None and len(piece["station"].unique()) > 1:
                    break  # a station has to be named; no need to read on
        rows = pd.concat(kept, ignore_index=True)
        rows["date"] = pd.to_datetime(rows["date"], format="%Y%m%d").astype("datetime64[s]")
    except (ValueError, pd.errors.ParserError) as error:
        raise FileFormatError(
            "every line of a by-year file is ID,YYYYMMDD,ELEMENT,VALUE,…",
            given=str(error).splitlines()[0],
            where=str(path),
            todo=OTHER_LAYOUTS,
        ) from error
    if rows.empty and station is not None:
        _lacks(station, sorted(piece["station"].dropna().unique()), path)
    rows["flag"] = rows["flag"].fillna("")
    return rows


def _lacks(station: str | None, found: Sequence[str], path: Path) -> NoReturn:
    """Say that one station is needed and which there are."""
    shown = ", ".join(found[:MOST_STATIONS_NAMED])
    shown += ", …" if len(found) > MOST_STATIONS_NAMED else ""
    raise FileFormatError(
        f"the file must hold station {station}"
        if station is not None
        else "one station with temperatures or rain is needed",
        given=shown or "none",
        where=str(path),
        todo="Name it with --station ID." if found else "",
    )


def _of_station(values: pd.DataFrame, station: str | None, path: Path) -> GhcnDays:
    found = sorted(values["station"].unique())
    if station is not None:
        values = values[values["station"].str.casefold() == station.casefold()]
    if values.empty or (station is None and len(found) > 1):
        _lacks(station, found, path)
    values = values[values["value"] != MISSING]
    flagged = values["flag"].str.strip() != ""
    good = values[~flagged].drop_duplicates(["date", "element", "value"])
    twice = good.duplicated(["date", "element"], keep=False)
    days = _wide(good[~twice].assign(value=good["value"] / 10))
    days["wind_kmh"] = (days["wind_kmh"] * KMH_PER_M_S).round(2)
    bad = _wide(pd.concat([values[flagged], good[twice]]).assign(value=1.0))
    bad[list(COLUMNS)] = bad[list(COLUMNS)].notna()
    return GhcnDays(
        station=str(found[0] if station is None else _named(found, station)),
        days=days,
        flagged=int(flagged.sum()),
        contradicted=int(twice.sum()),
        left_out=bad,
    )


def _named(found: Sequence[str], station: str) -> str:
    """The station as the file writes it."""
    return next(name for name in found if name.casefold() == station.casefold())


def _wide(values: pd.DataFrame) -> pd.DataFrame:
    """One row a day, one of our columns for each element."""
    table = values.pivot_table(index="date", columns="element", values="value", aggfunc="last")
    days = table.rename(columns=ELEMENTS).reindex(columns=list(COLUMNS)).reset_index()
    days.columns.name = None
    return days
