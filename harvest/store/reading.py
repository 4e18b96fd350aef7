"""Reading an orchard's records into frames, as they were known on a day."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date, time
from functools import cached_property, lru_cache, partial
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import ColumnElement, Connection, FromClause, Select, Text, cast, func, select

from harvest.records import KINDS, Records, fields
from harvest.store.experience import read_experience
from harvest.store.orchard import Orchard
from harvest.store.schema import TABLES
from harvest.store.weather import (
    merged_weather,
    read_ahead,
    read_days,
    sifted_days,
    trust_order,
)
from harvest.store.weather_hours import merged_hours, read_gap_rules, read_hours

# Where more trees are asked for than this, all are read: a database takes so many names at once.
MOST_TREES_NAMED = 1000
# Days for which the weather as it was checked then is kept.
DAYS_CHECKED = 4
Checked = tuple[pd.DataFrame, pd.DataFrame]


@dataclass(frozen=True, eq=False)
class WeatherTables:
    """The weather of all sites as it came in, by source, as read at one moment."""

    days: pd.DataFrame
    trust: dict[str, list[str]]
    ahead: pd.DataFrame
    hours: pd.DataFrame
    gap_rules: dict[str, tuple[str, ...]]
    longitude: dict[str, float]

    @cached_property
    def on(self) -> Callable[[date], Checked]:
        """Merged days and hours, checked by what was known on a day and nothing later.

        What was found for the last few days asked for is kept, as long as these tables are; several
        threads may ask.
        """
        # Of the tables' parts, not of the tables: they would hold themselves, and stay for longer.
        raw = self.days, self.hours, self.trust, self.longitude
        return lru_cache(DAYS_CHECKED)(partial(_checked, *raw))


def _checked(
    days: pd.DataFrame,
    hours: pd.DataFrame,
    trust: dict[str, list[str]],
    longitude: dict[str, float],
    as_of: date,
) -> Checked:
    sifted = sifted_days(days[days["date"] < np.datetime64(as_of, "s")], trust)
    return merged_weather(sifted), merged_hours(hours, sifted, trust, longitude)


@dataclass(frozen=True)
class Tables:
    """Everything on record, as read at one moment, from which any day's knowledge can be had.

    `frames`: records by kind, the weather left out.
    """

    frames: dict[str, pd.DataFrame]
    weather: WeatherTables
    experience: pd.DataFrame

    def known(self, as_of: date) -> Records:
        """All records dated on or before a day, and the weather before it (`Records.until`).

        The weather is checked and merged from the days before it alone, as it was then.
        """
        records = Records(
            as_of=as_of,
            weather=self.weather.days.iloc[:0],
            weather_ahead=self.weather.ahead,
            gap_rules=self.weather.gap_rules,
            weather_on=self.weather.on,
            experience=self.experience,
            **self.frames,
        )
        return records.until(as_of)


def read_tables(
    orchard: Orchard,
    until: date | None = None,
    *,
    earlier: Tables | None = None,
    changed: Collection[str] = tuple(KINDS),
) -> Tables:
    """Everything on record, or what is dated on or before a day.

    `earlier`: an earlier reading, from which kinds are taken that have not `changed` since.
    """
    with orchard.reading() as connection:
        frames = {
            kind: read_kind(connection, kind, until=until)
            if earlier is None or kind in changed
            else earlier.frames[kind]
            for kind in KINDS
            if kind != "weather"
        }
        if earlier is None or "weather" in changed:
            weather = _weather(connection, frames["sites"], until)
        else:
            weather = earlier.weather
        others = read_experience(connection)
    places = frames["sites"].set_index("site")
    trees = frames["trees"]
    frames["trees"] = trees.assign(latitude=trees["site"].map(places["latitude"]).astype(float))
    return Tables(frames, weather, others)


def _weather(connection: Connection, sites: pd.DataFrame, until: date | None) -> WeatherTables:
    return WeatherTables(
        days=read_days(connection, before=until),
        trust=trust_order(connection),
        ahead=read_ahead(connection, until=until),
        hours=read_hours(connection, before=until),
        gap_rules=read_gap_rules(connection),
        longitude=dict(zip(sites["site"], sites["longitude"].astype(float), strict=True)),
    )


def read_records(orchard: Orchard, as_of: date) -> Records:
    """All records dated on or before a day, and the weather before it (`Records.until`)."""
    return read_tables(orchard, as_of).known(as_of)


def read_tree_records(
    connection: Connection, as_of: date, trees: Sequence[int] | None = None
) -> Records:
    """The records of all trees or of some, by id, without any weather (`Records.until`).

    A tree grafted over is one tree here, as it stands on record.
    """
    frames = {
        kind: read_kind(connection, kind, until=as_of, trees=trees)
        for kind in KINDS
        if kind not in ("weather", "grafts")
    }
    no_days = {"date": np.array([], "datetime64[s]"), "issued": np.array([], "datetime64[s]")}
    places = frames["sites"].set_index("site")["latitude"]
    own = frames["trees"]
    frames["trees"] = own.assign(latitude=own["site"].map(places).astype(float))
    empty = pd.DataFrame(no_days)
    known = Records(
        as_of,
        weather=empty,
        weather_ahead=empty,
        gap_rules={},
        weather_hours=None,
        weather_on=None,
        **frames,
    )
    return known.until(as_of)


def read_kind(
    connection: Connection,
    kind: str,
    *,
    since: date | None = None,
    until: date | None = None,
    trees: Sequence[int] | None = None,
    with_id: bool = False,
    ids: Sequence[int] | None = None,
) -> pd.DataFrame:
    """Records of one kind in the dates given, of all trees or some (by id), sorted by their key.

    `ids` picks records by their own ids.

    Columns are the fields of the kind (and `id`, and for weather its `source`); dates are
    datetime64[s], numbers float64, missing values nan / None / NaT.
    """
    query = _select(kind)
    table = TABLES[kind]
    if "date" in table.c:
        if since is not None:
            query = query.where(table.c.date >= since)
        if until is not None:
            query = query.where(table.c.date <= until)
    if trees is not None and len(trees) <= MOST_TREES_NAMED:
        if kind == "trees":
            query = query.where(table.c.id.in_(trees))
        elif "tree_id" in table.c:
            query = query.where(table.c.tree_id.in_(trees))
    if ids is not None:
        query = query.where(table.c.id.in_(ids))
    result = connection.execute(query)
    columns = list(result.keys())
    rows = result.fetchall()
    values = list(zip(*rows, strict=True)) if rows else [()] * len(columns)
    raw = dict(zip(columns, values, strict=True))
    frame = pd.DataFrame(
        {name: _typed(raw[name], kind_type) for name, kind_type in _types(kind, with_id).items()}
    )
    order = [name for name in KINDS[kind].key if name != "time_of_day"]
    return frame.sort_values(order, kind="stable", ignore_index=True)


def _types(kind: str, with_id: bool) -> dict[str, type]:
    found: dict[str, type] = {"id": int} if with_id else {}
    found |= {field.name: field.type for field in fields(kind)}
    return found | ({"source": str} if kind == "weather" else {})


def _select(kind: str) -> Select[Any]:
    """Query of one kind with the names, not the ids, of what its records hang on."""
    table = TABLES[kind]
    owner = KINDS[kind].owner
    columns: list[ColumnElement[Any]] = [table.c.id]
    source: FromClause = table
    for name in owner:
        parent = TABLES[f"{name}s"]
        columns.append(parent.c[name].label(name))
        source = source.join(parent, table.c[f"{name}_id"] == parent.c.id, isouter=len(owner) > 1)
    for field in fields(kind):
        if field.name not in owner:
            column = table.c[field.name]
            columns.append(
                cast(column, Text).label(field.name) if field.type in (date, time) else column
            )
    if kind == "weather":
        columns.append(table.c.source)
    return select(*columns).select_from(source)


def _typed(values: tuple[object, ...], kind: type) -> pd.Series:
    if kind is date:
        return pd.Series(np.array(values, dtype="datetime64[D]").astype("datetime64[s]"))
    if kind in (float, int):
        return pd.Series(np.array(values, dtype=float))
    if kind is bool:
        return pd.Series([None if v is None else bool(v) for v in values], dtype=object)
    if kind is time:
        return pd.Series(
            [None if v is None else time.fromisoformat(str(v)) for v in values], dtype=object
        )
    return pd.Series(values, dtype=object)


def count_kinds(orchard: Orchard) -> dict[str, int]:
    """How many records of each kind there are."""
    with orchard.reading() as connection:
        return {
            kind: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
            for kind, table in TABLES.items()
        }
