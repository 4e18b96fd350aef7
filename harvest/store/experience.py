"""What other orchards' seasons say: a small file to pass on, and such files taken in.

The file names the orchard as its owner chose, a rounded latitude, and for each cultivar how many
seasons and trees it was seen on, with the mean and spread of the days from full bloom to ripe.
No tree, date or place is in it.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date
from pathlib import Path

import pandas as pd
from sqlalchemy import Connection, select

from harvest.errors import FileFormatError, InputError, UnknownNameError
from harvest.store.about import read_about
from harvest.store.history import Signature, batch
from harvest.store.orchard import Orchard
from harvest.store.reference import resolve_species
from harvest.store.schema import EXPERIENCE
from harvest.store.tablefile import read_table

KIND = "experience"
LATEST_SEASON, LONGEST_DAYS = 2200, 500.0


@dataclass(frozen=True)
class Experience:
    """What an orchard saw of a cultivar: days from full bloom to ripe over its seasons.

    `latitude` [deg] rounded to a whole one; `days_mean`, `days_sd` [d], the spread None after one
    season.
    """

    orchard: str
    species: str
    cultivar: str
    latitude: float | None
    seasons: int
    trees: int
    days_mean: float
    days_sd: float | None
    first_season: int
    last_season: int


COLUMNS = tuple(field.name for field in fields(Experience))


@dataclass(frozen=True)
class Refused:
    """A line of a file that was not taken in, and why."""

    line: int
    why: str


@dataclass(frozen=True)
class Taken:
    """What became of a file: rows new, the same, changed, and refused; the change's number."""

    new: int
    same: int
    changed: int
    refused: tuple[Refused, ...]
    number: int | None


def write_experience(rows: Sequence[Experience], path: Path) -> None:
    """Write rows to a new file. Raises InputError where there is one already."""
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            out = csv.writer(file, lineterminator="\n")
            out.writerow(COLUMNS)
            for row in rows:
                out.writerow(["" if v is None else v for v in asdict(row).values()])
    except OSError as error:
        raise InputError(
            "a new file that can be written is needed",
            given=str(error.strerror),
            where=str(path),
            todo="Nothing was changed. Name another.",
        ) from error


def take_experience(
    orchard: Orchard, path: Path, *, today: date, signed: Signature, dry_run: bool = False
) -> Taken:
    """Take a file in; good rows go in, the others are listed. The same file again changes nothing.

    Raises FileFormatError where columns are missing.
    """
    table = read_table(path)
    missing = [name for name in COLUMNS if name not in table.cells.columns]
    if missing:
        raise FileFormatError(
            f"a file of other orchards' seasons has the columns {', '.join(COLUMNS)}",
            given=f"without {', '.join(missing)}",
            where=table.name,
            todo="'harvest experience give FILE' writes such a file.",
        )
    own = read_about(orchard).name.casefold()
    good: dict[tuple[str, str, str], Experience] = {}
    refused = []
    for line, cells in zip(table.cells.index, table.cells.to_dict("records"), strict=True):
        try:
            row = _read(cells)
            if own and row.orchard.casefold() == own:
                raise InputError("another orchard's name is needed: its own seasons count already",
                                 given=repr(row.orchard))  # fmt: skip
            good[_key(row)] = row
        except InputError as error:
            refused.append(Refused(int(line), str(error)))
    with orchard.writing() as connection:
        kept = _stored(connection)
        fresh = [row for key, row in good.items() if key not in kept]
        other = {kept[k][0]: row for k, row in good.items() if k in kept and kept[k][1] != row}
        number = None
        if not dry_run:
            with batch(connection, "take experience", signed, note=table.name) as made:
                values = [asdict(row) | {"taken_on": today.isoformat()} for row in fresh]
                made.insert(KIND, _columns(values))
                made.change(KIND, {i: asdict(row) for i, row in other.items()})
            number = made.number
    same = len(good) - len(fresh) - len(other)
    return Taken(len(fresh), same, len(other), tuple(refused), number)


def drop_experience(orchard: Orchard, name: str, *, signed: Signature) -> int:
    """Take away what one orchard passed on; how many rows. `harvest undo` brings it back.

    Raises UnknownNameError where nothing came from it.
    """
    with orchard.writing() as connection:
        kept = _stored(connection)
        ids = [i for i, row in kept.values() if row.orchard.casefold() == name.casefold()]
        if not ids:
            known = {row.orchard for _, row in kept.values()}
            raise UnknownNameError("orchard that passed anything on", name, known)
        with batch(connection, "drop experience", signed, note=name) as made:
            made.remove(KIND, ids)
    return len(ids)


def read_experience(connection: Connection) -> pd.DataFrame:
    """Everything taken in: the columns of `Experience`, and `taken_on`."""
    names = [*COLUMNS, "taken_on"]
    rows = connection.execute(select(*(EXPERIENCE.c[n] for n in names))).all()
    frame = pd.DataFrame([tuple(row) for row in rows], columns=names)
    return frame.assign(taken_on=pd.to_datetime(frame["taken_on"]).astype("datetime64[s]"))


def _stored(connection: Connection) -> dict[tuple[str, str, str], tuple[int, Experience]]:
    query = select(EXPERIENCE.c.id, *(EXPERIENCE.c[name] for name in COLUMNS))
    rows = [(int(i), Experience(*values)) for i, *values in connection.execute(query)]
    return {_key(row): (i, row) for i, row in rows}


def _key(row: Experience) -> tuple[str, str, str]:
    return row.orchard.casefold(), row.species.casefold(), row.cultivar.casefold()


def _columns(rows: Sequence[Mapping[str, object]]) -> dict[str, list[object]]:
    return {name: [row[name] for row in rows] for name in rows[0]} if rows else {}


def _read(cells: Mapping[Hashable, object]) -> Experience:
    """One row of a file. Raises InputError with the reason."""
    text = {name: str(cells[name] or "").strip() for name in COLUMNS}
    for name in ("orchard", "cultivar"):
        if not text[name]:
            raise InputError(f"{name} is needed", given="an empty cell")
    latitude = _number(text, "latitude", -90, 90) if text["latitude"] else None
    first, last = (
        round(_number(text, name, 1900, LATEST_SEASON)) for name in ("first_season", "last_season")
    )
    seasons = round(_number(text, "seasons", 1, 300))
    if last - first + 1 < seasons:
        raise InputError(
            "as many seasons are needed as lie between first_season and last_season, or fewer",
            given=f"{seasons} seasons from {first} to {last}",
        )
    return Experience(
        orchard=text["orchard"],
        species=resolve_species(text["species"]),
        cultivar=text["cultivar"],
        latitude=latitude,
        seasons=seasons,
        trees=round(_number(text, "trees", 1, 1e6)),
        days_mean=_number(text, "days_mean", 20, LONGEST_DAYS),
        days_sd=_number(text, "days_sd", 0, 100) if text["days_sd"] else None,
        first_season=first,
        last_season=last,
    )


def _number(text: Mapping[str, str], name: str, low: float, high: float) -> float:
    try:
        value = float(text[name])
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise InputError(f"{name} is a number from {low:g} to {high:g}", given=repr(text[name]))
    return value
