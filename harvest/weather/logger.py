"""The file of an on-site logger: readings every few minutes made into days.

Which column holds what, in which unit and on which clock, a person says once (`LoggerLayout`);
nothing is guessed. A day is the site's own calendar day from midnight to midnight, so it lasts 23
or 25 hours when the clocks change.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass, fields
from datetime import timedelta, timezone, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from harvest.errors import FileFormatError, InputError
from harvest.units import CM_PER_IN, KM_PER_MI, KMH_PER_M_S, QUANTITIES
from harvest.weather.daily import Bools, DayHours, Floats
from harvest.weather.hours import hourly_means, utc_days
from harvest.weather.logger_table import table_of

# Ours: a day counts when no hole in it is longer than this [h], or than three readings apart.
LONGEST_HOLE_HOURS = 2.0
LONGEST_HOLE_READINGS = 3.0
# Ours: readings further apart than this [h] miss the day's lowest and highest.
WIDEST_SPACING_HOURS = 1.0
# Ours: readings further apart than this [h] are no days at all.
USELESS_SPACING_HOURS = 6.0
# Ours: readings of one moment further apart than this [degC] are of two clocks or two sensors.
WIDEST_AT_ONCE_C = 2.0
LEAST_READABLE = 0.5
# Ours: with day and month mixed up, twelve days of a month can still be read.
LEAST_TIMES_READABLE = 0.9
TEMPERATURE_UNITS = ("C", "F")
RAIN_UNITS = ("mm", "in")
WIND_UNITS = {"km/h": 1.0, "m/s": KMH_PER_M_S, "mph": KM_PER_MI}


@dataclass(frozen=True)
class LoggerLayout:
    """How to read a logger's file.

    `time`, `temperature`, `rain`, `wind`, `date`: column names as in the file; `date` only where
    date and time stand in two columns, `rain` (what fell since the last reading) and `wind` (its
    speed) only where there is any.
    `clock`: the time zone whose wall time the logger keeps, with its summer time
    ("Europe/Zurich"), or a fixed offset ("+01:00") for a clock that is never changed.
    `time_format`: as for strptime ("%d/%m/%Y %H:%M"); blank for ISO 8601.

    Raises InputError for a unit or clock that is not known.
    """

    time: str
    temperature: str
    unit: str
    clock: str
    date: str = ""
    time_format: str = ""
    rain: str = ""
    rain_unit: str = "mm"
    wind: str = ""
    wind_unit: str = "km/h"

    def __post_init__(self) -> None:
        if self.unit not in TEMPERATURE_UNITS or self.rain_unit not in RAIN_UNITS:
            raise InputError(
                "temperatures are in C or F, rain in mm or in",
                given=f"temperatures in {self.unit or 'no unit'}, rain in {self.rain_unit}",
                todo="Give --unit C or --unit F.",
            )
        if self.wind_unit not in WIND_UNITS:
            raise InputError(
                f"wind is in {', '.join(WIND_UNITS)}",
                given=self.wind_unit,
                todo="Give --wind-unit m/s, for example.",
            )
        clock_of(self.clock)

    def as_dict(self) -> dict[str, str]:
        """The layout as plain text, to be kept."""
        return asdict(self)

    @classmethod
    def of_dict(cls, kept: dict[str, str]) -> LoggerLayout:
        """The layout that was kept."""
        known = {field.name for field in fields(cls)}
        return cls(**{name: value for name, value in kept.items() if name in known})


@dataclass(frozen=True)
class LoggerDays:
    """Days of a logger (date, tmin_c, tmax_c [degC], precip_mm [mm], wind_kmh [km/h]), its hours,
    and what was left out."""

    days: pd.DataFrame
    hours: DayHours | None
    """Mean of the readings around each full hour of UTC; None without any."""
    readings: int
    unreadable: int
    """Readings whose time or number could not be read, or whose time does not exist."""
    impossible: int
    """Readings outside -90 to 60 degC: the mark of a broken sensor."""
    partial_days: int
    """Days with a hole; they are left out."""
    notes: tuple[str, ...]


def clock_of(name: str) -> tzinfo:
    """A clock by its name: an IANA time zone, or a fixed offset such as +01:00.

    Raises InputError when it is neither.
    """
    match = re.fullmatch(r"(?:UTC)?([+-])(\d{1,2})(?::?(\d{2}))?", name.strip())
    if match:
        sign, hours, minutes = match.groups()
        offset = timedelta(hours=int(hours), minutes=int(minutes or 0))
        return timezone(-offset if sign == "-" else offset)
    try:
        return ZoneInfo(name.strip())
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise InputError(
            "a clock is a time zone or a fixed offset",
            given=repr(name),
            todo="Examples: Europe/Zurich, America/New_York, +01:00, UTC.",
        ) from error


def read_logger(path: Path, layout: LoggerLayout, site_timezone: str | None = None) -> LoggerDays:
    """Read a logger's file and make days of it.

    Parameters
    ----------
    site_timezone : the site's IANA time zone, whose calendar days are wanted; none: the clock's.

    Raises FileFormatError when the file cannot be read, lacks a column, or most of its times or
    numbers cannot be understood.
    """
    columns = (layout.time, layout.temperature, layout.date, layout.rain, layout.wind)
    table = table_of(path, [name for name in columns if name])
    texts = table[layout.time].str.strip()
    if layout.date:
        texts = table[layout.date].str.strip() + " " + texts
    temperature = _numbers(table[layout.temperature])
    if layout.unit == "F":
        temperature = (temperature - 32) * 5 / 9
    others = _others(table, layout)
    moments, notes = _moments(texts, layout, path)
    limits = QUANTITIES["tmin_c"]
    readable = moments.notna().to_numpy() & ~np.isnan(temperature)
    if readable.mean() < LEAST_READABLE:
        raise FileFormatError(
            f"column {layout.temperature} must hold numbers",
            given=repr(str(table[layout.temperature].iloc[0])),
            where=str(path),
        )
    possible = (temperature >= limits.low) & (temperature <= limits.high)
    used = readable & possible
    used = _plausible_together(moments, temperature, used, notes)
    zone = clock_of(site_timezone or layout.clock)
    days, partial = _days(moments[used], temperature[used], others[used], zone)
    spacing = _spacing_hours(moments[used])
    if spacing > USELESS_SPACING_HOURS:
        raise FileFormatError(
            f"readings at most {USELESS_SPACING_HOURS:g} h apart are needed to tell a day's lowest "
            "and highest temperature",
            given=f"{spacing:.1f} h apart",
            where=str(path),
            todo="Days with their minimum and maximum go in as a table: leave out --as logger.",
        )
    if spacing > WIDEST_SPACING_HOURS:
        notes.append(
            f"Readings {spacing:.1f} h apart miss the day's lowest and highest temperature."
        )
    return LoggerDays(
        days=days,
        hours=None if spacing > WIDEST_SPACING_HOURS else _hours(moments[used], temperature[used]),
        readings=len(table),
        unreadable=int((~readable).sum()),
        impossible=int((readable & ~possible).sum()),
        partial_days=partial,
        notes=tuple(notes),
    )


def _plausible_together(
    moments: pd.Series, temperature: Floats, used: Bools, notes: list[str]
) -> Bools:
    """The readings used, without those of one moment that cannot both be right."""
    together = pd.Series(temperature[used]).groupby(moments[used].to_numpy())
    apart = (together.transform("max") - together.transform("min")).to_numpy() > WIDEST_AT_ONCE_C
    if apart.any():
        notes.append(
            f"{apart.sum()} readings stand at the same time as another that is more than "
            f"{WIDEST_AT_ONCE_C:g} degC away; none of these counts. Import the files of two "
            "loggers apart; for a clock that goes to summer time, give its time zone."
        )
    kept = used.copy()
    kept[used] = ~apart
    return kept


def _others(table: pd.DataFrame, layout: LoggerLayout) -> pd.DataFrame:
    """Rain [mm] and wind [km/h] of every reading, nan where there is none or it cannot be."""
    inches = 10 * CM_PER_IN if layout.rain_unit == "in" else 1.0
    out = {}
    for name, source, factor in (
        ("precip_mm", layout.rain, inches),
        ("wind_kmh", layout.wind, WIND_UNITS[layout.wind_unit]),
    ):
        out[name] = _numbers(table[source]) * factor if source else np.full(len(table), np.nan)
    wind, limits = out["wind_kmh"], QUANTITIES["wind_kmh"]
    wind[(wind < limits.low) | (wind > limits.high)] = np.nan
    return pd.DataFrame(out)


def _numbers(texts: pd.Series) -> Floats:
    """Numbers with a point or a single comma; nan for anything else."""
    plain = texts.str.strip().str.replace(",", ".", regex=False)
    return np.asarray(pd.to_numeric(plain, errors="coerce").to_numpy(dtype=np.float64))


def _moments(texts: pd.Series, layout: LoggerLayout, path: Path) -> tuple[pd.Series, list[str]]:
    """The moment [UTC] of each reading, NaT where there is none; and what is to be said of it."""
    form = layout.time_format or "ISO8601"
    stamped = texts.str.fullmatch(r".*(Z|[+-]\d{2}:?\d{2})").mean() > LEAST_READABLE
    if form == "ISO8601" and stamped:
        moments = pd.to_datetime(texts, format=form, errors="coerce", utc=True)
    else:
        moments = pd.to_datetime(texts, format=form, errors="coerce")
    if moments.notna().mean() < LEAST_TIMES_READABLE:
        raise FileFormatError(
            "the times must be readable",
            given=repr(texts[moments.isna()].iloc[0]),
            where=f"{path}, column {layout.time}",
            todo="Say how they are written, for example --time-format '%d/%m/%Y %H:%M'.",
        )
    notes: list[str] = []
    if moments.dt.tz is not None:
        return moments.dt.tz_convert("UTC"), notes
    naive, moments = moments, _on_clock(moments, clock_of(layout.clock))
    lost = int((naive.notna() & moments.isna()).sum())
    if lost:
        notes.append(
            f"{lost} readings stand at times that {layout.clock} left out when its clocks went "
            "forward. If the logger's clock is never changed, give its fixed offset instead."
        )
    return moments, notes


def _on_clock(naive: pd.Series, clock: tzinfo) -> pd.Series:
    """Wall times as moments [UTC]. The hour that comes twice in autumn is told apart by order."""
    if isinstance(clock, timezone):
        return pd.Series(naive.dt.tz_localize(clock).dt.tz_convert("UTC"))
    steps = naive.diff().dt.total_seconds()
    newest_first = (steps < 0).sum() > (steps > 0).sum()
    ordered = naive[::-1] if newest_first else naive
    summer = _still_summer(ordered, clock)
    local = ordered.dt.tz_localize(clock, ambiguous=summer, nonexistent="NaT")
    return pd.Series(local.dt.tz_convert("UTC").reindex(naive.index))


def _still_summer(ordered: pd.Series, clock: tzinfo) -> Bools:
    """For times that come twice: the first pass is summer time, until the clock steps back."""
    possible = ordered.dt.tz_localize(clock, ambiguous="NaT", nonexistent="shift_forward")
    twice = (possible.isna() & ordered.notna()).to_numpy()
    steps = ordered.diff().dt.total_seconds().to_numpy()
    # Readings an hour apart give the same time twice there, and nowhere else.
    back = (steps < 0) | ((steps == 0) & (not (steps[~twice] == 0).any()))
    day = ordered.dt.normalize().to_numpy()
    passed = pd.Series(back & twice).groupby(pd.Series(day), dropna=False).cumsum().to_numpy()
    return np.asarray(passed == 0)


def _hours(moments: pd.Series, temperature: Floats) -> DayHours | None:
    """The readings as hours on days of UTC."""
    return utc_days(*hourly_means(_seconds(moments), temperature))


def _spacing_hours(moments: pd.Series) -> float:
    """Usual time between two readings [h]."""
    seconds = np.diff(np.sort(_seconds(moments)))
    seconds = seconds[seconds > 0]
    return float(np.median(seconds)) / 3600 if len(seconds) else 0.0


def _seconds(moments: pd.Series) -> Floats:
    naive = moments.dt.tz_convert("UTC").dt.tz_localize(None)
    return np.asarray(naive.to_numpy().astype("datetime64[s]").astype(np.float64))


def _days(
    moments: pd.Series, temperature: Floats, others: pd.DataFrame, zone: tzinfo
) -> tuple[pd.DataFrame, int]:
    """Lowest and highest reading, the rain and the mean wind of each local day without a hole."""
    order = np.argsort(_seconds(moments), kind="stable")
    local = moments.iloc[order].dt.tz_convert(zone)
    readings = pd.DataFrame(
        {
            "date": local.dt.tz_localize(None).dt.normalize().to_numpy(),
            "second": _seconds(local),
            "temp": temperature[order],
            **{name: values.to_numpy()[order] for name, values in others.items()},
        }
    ).drop_duplicates()
    by_day = readings.groupby("date")
    days = pd.DataFrame(
        {
            "tmin_c": by_day["temp"].min(),
            "tmax_c": by_day["temp"].max(),
            "precip_mm": by_day["precip_mm"].sum(min_count=1),
            "wind_kmh": by_day["wind_kmh"].mean(),
        }
    )
    midnight = pd.Series(days.index.union(days.index + pd.Timedelta(days=1)))
    begin = _seconds(midnight.dt.tz_localize(zone, ambiguous=True, nonexistent="shift_forward"))
    begins = pd.Series(begin, index=midnight)
    inner = by_day["second"].diff().groupby(readings["date"]).max().fillna(0)
    first = by_day["second"].min() - begins.reindex(days.index)
    last = begins.reindex(days.index + pd.Timedelta(days=1)).to_numpy() - by_day["second"].max()
    hole = np.maximum(np.maximum(inner, first), last).to_numpy() / 3600
    spacing = _spacing_hours(moments)
    whole = hole <= max(LONGEST_HOLE_HOURS, LONGEST_HOLE_READINGS * spacing)
    kept = days[whole].round(2)
    kept.index.name = "date"
    kept = kept.reset_index()
    kept["date"] = kept["date"].astype("datetime64[s]")
    return kept, int((~whole).sum())
