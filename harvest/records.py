"""What an orchard keeps: one frozen dataclass per kind of record, and the tables made of them.

The dataclasses are the one description of every column: reading files, checking, storing,
writing and the help texts all follow from their annotations. A field without a default is a
column that a file must have; a field typed `| None` may be left blank in a row. A field's limits
and unit stand in `harvest.units.QUANTITIES` under its header.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, time
from functools import cache

import numpy as np
import pandas as pd

from harvest.grafting import OF_ONE_LIFE, as_grafted

VIGOURS = ("dwarf", "semi-dwarf", "standard")
THINNING_ACTIONS = ("strip", "thin")
EVENTS = (
    "frost",
    "hail",
    "wind",
    "drought",
    "pest",
    "disease",
    "animal",
    "no crop",
    "other",
)
FULL_BLOOM = 65
RIPE = 87


@dataclass(frozen=True, slots=True)
class Site:
    """A place with its own weather."""

    site: str
    latitude: float
    longitude: float
    elevation_m: float | None = None
    timezone: str | None = None
    row_spacing_m: float | None = None
    """From one row to the next; with `tree_spacing_m` it tells how far apart two trees stand."""
    tree_spacing_m: float | None = None
    """From one place in a row to the next."""
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Tree:
    """One tree: where it stands, what it is, since when, until when."""

    tree: str
    site: str
    species: str
    cultivar: str
    planted: date
    rootstock: str | None = None
    vigour: str | None = None
    form: str | None = None
    row: int | None = None
    position: int | None = None
    pollen_group: str | None = None
    removed: date | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class WeatherDay:
    """One day of weather at a site."""

    site: str
    date: date
    tmin_c: float | None
    tmax_c: float | None
    precip_mm: float | None = None
    wind_kmh: float | None = None
    """Mean wind speed of the day."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A growth stage seen on a tree, by its BBCH code."""

    tree: str
    date: date
    bbch: int
    percent_open: float | None = None
    observer: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Pick:
    """One picking pass of one tree."""

    tree: str
    date: date
    weight_kg: float
    fruit_count: int | None = None
    pass_number: int | None = None
    graded_out_kg: float | None = None
    cause: str | None = None
    last: bool | None = None
    brix: float | None = None
    firmness_kg: float | None = None
    starch: float | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Thinning:
    """Fruit taken off before it was ripe: all of it (strip) or some (thin)."""

    tree: str
    date: date
    action: str
    fruit_removed: int | None = None
    fruit_left: int | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Girth:
    """Girth of the trunk, measured at the same mark every year."""

    tree: str
    date: date
    girth_cm: float


@dataclass(frozen=True, slots=True)
class Spray:
    """One application to a tree or a whole site. No withholding days means unknown, never none."""

    product: str
    date: date
    withholding_days: int | None
    tree: str | None = None
    site: str | None = None
    time_of_day: time | None = None
    registration: str | None = None
    crop: str | None = None
    rate: str | None = None
    reason: str | None = None
    note: str | None = None
    also_reached: str | None = None
    """Other trees it reached, by drift or in the same row: names or `row 3`, between semicolons."""
    re_entry: str | None = None
    """When people may go in again, as on the label."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that befell a tree or a site: frost, hail, no crop."""

    date: date
    event: str
    tree: str | None = None
    site: str | None = None
    severity: int | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Graft:
    """A tree grafted over: from that day on another cultivar, or species where it is named."""

    tree: str
    date: date
    cultivar: str
    species: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a kind of record."""

    name: str
    type: type
    header: str
    """The column's name in files."""
    column_needed: bool
    """Whether a file must have the column."""
    value_needed: bool
    """Whether every row must fill it."""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of record: its dataclass and the fields that together name one record."""

    name: str
    record: type
    key: tuple[str, ...]
    owner: tuple[str, ...]
    """Which record it hangs on: (), ("site",), ("tree",), or ("tree", "site") for either."""


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("sites", Site, ("site",), ()),
        Kind("trees", Tree, ("tree",), ("site",)),
        Kind("weather", WeatherDay, ("site", "date"), ("site",)),
        Kind("stages", Stage, ("tree", "date", "bbch"), ("tree",)),
        Kind("picks", Pick, ("tree", "date", "pass_number"), ("tree",)),
        Kind("thinnings", Thinning, ("tree", "date", "action"), ("tree",)),
        Kind("girths", Girth, ("tree", "date"), ("tree",)),
        Kind("sprays", Spray, ("tree", "site", "date", "time_of_day", "product"), ("tree", "site")),
        Kind("events", Event, ("tree", "site", "date", "event"), ("tree", "site")),
        Kind("grafts", Graft, ("tree", "date"), ("tree",)),
    )
}

# Column headers that differ from the field's name (`pass` is a word of the language itself;
# a spray's time of day is written in its date column).
HEADERS = {"pass_number": "pass"}
CHOICES = {
    "vigour": VIGOURS,
    "action": THINNING_ACTIONS,
    "event": EVENTS,
}


@cache
def fields(kind: str) -> tuple[Field, ...]:
    """Columns of a kind of record, in order, read off its dataclass.

    Raises KeyError for a kind that is not in `KINDS`.
    """
    record = KINDS[kind].record
    hints = typing.get_type_hints(record)
    found = []
    for field in dataclasses.fields(record):
        hint = hints[field.name]
        optional = isinstance(hint, types.UnionType)
        base = typing.get_args(hint)[0] if optional else hint
        found.append(
            Field(
                name=field.name,
                type=base,
                header=HEADERS.get(field.name, field.name),
                column_needed=field.default is dataclasses.MISSING,
                value_needed=not optional,
                choices=CHOICES.get(field.name, ()),
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class Records:
    """All records that were known on a day, one frame per kind, columns named as the fields.

    Dates are datetime64[s], missing values nan / None / NaT. Every frame is sorted by its key and
    has a plain 0..n-1 index. `weather` ends the day before `as_of`; everything else is dated on
    or before it. Trees carry `latitude` and the planting is not after `as_of`; a removal dated
    later is not yet known.

    `weather` is one row per site and day, from the most trusted source that has it (`source`),
    suspect values missing. `weather_ahead` holds the forecast days of every issue up to `as_of`
    (site, issued, date, source, tmin_c, tmax_c, precip_mm, wind_kmh). `gap_rules` names for each
    site the rules by which missing days are filled (`harvest.weather.gaps`), the usual ones where
    it is not in it. They are filled from what this gate lets through, never before it.

    A tree grafted over stands here twice, before and after (`harvest.grafting`).
    """

    as_of: date
    sites: pd.DataFrame
    trees: pd.DataFrame
    weather: pd.DataFrame
    stages: pd.DataFrame
    picks: pd.DataFrame
    thinnings: pd.DataFrame
    girths: pd.DataFrame
    sprays: pd.DataFrame
    events: pd.DataFrame
    weather_ahead: pd.DataFrame
    gap_rules: Mapping[str, tuple[str, ...]] = dataclasses.field(default_factory=dict)
    weather_hours: pd.DataFrame | None = None
    weather_on: Callable[[date], tuple[pd.DataFrame, pd.DataFrame]] | None = None
    """Weather and hours as they were checked and merged on a day; None: as they stand here."""
    experience: pd.DataFrame | None = None
    """What other orchards passed on, taken in by `as_of` (`harvest.store.experience`)."""

    grafts: pd.DataFrame | None = None
    """Trees grafted over; None: they are not told apart."""

    def until(self, as_of: date) -> Records:
        """What was known on an earlier day: the one gate through which forecasts see records."""
        day = np.datetime64(as_of, "s")
        known = {
            kind: frame[frame["date"] <= day].reset_index(drop=True)
            for kind in KINDS
            if (frame := getattr(self, kind)) is not None and "date" in frame.columns
        }
        weather, hours = self.weather, self.weather_hours
        if self.weather_on is not None:  # what is suspect today may not have been so then
            weather, hours = self.weather_on(as_of)
        known["weather"] = weather[weather["date"] < day].reset_index(drop=True)
        issued = self.weather_ahead["issued"]
        known["weather_ahead"] = self.weather_ahead[issued <= day].reset_index(drop=True)
        hours = None if hours is None else hours[hours["date"] < day].reset_index(drop=True)
        others = self.experience
        known["experience"] = None if others is None else others[others["taken_on"] <= day]
        trees = self.trees[self.trees["planted"] <= day].reset_index(drop=True)
        trees["removed"] = trees["removed"].where(trees["removed"] <= day)
        known["trees"] = trees
        if self.grafts is not None:
            own = {kind: known[kind] for kind in OF_ONE_LIFE}
            known |= as_grafted(trees, own, self.grafts, as_of)
        return dataclasses.replace(self, as_of=as_of, weather_hours=hours, **known)
