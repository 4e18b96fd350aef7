"""Dry days for pruning and cold nights in bloom: from the forecast, else from the record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from harvest.care import texts
from harvest.weather.daily import Daily, Floats

# A day with less than 1 mm is dry: the usual definition of climate indices, from memory.
DRY_MM = 1.0
# Pruning wants this many dry days one after the other [d]: common practice, no source.
DRY_DAYS = 3
LEAST_YEARS = 3
FROST_C = 0.0


@dataclass(frozen=True, slots=True)
class Note:
    """What is to know of the weather in a window; `now` where it cannot wait."""

    says: str
    now: bool = False


def dry_spell(first: date, last: date, record: Daily | None, ahead: Daily | None) -> Note:
    """Whether dry days are forecast in a window, else when its weeks are usually driest."""
    spell = _forecast_spell(first, last, ahead)
    if spell is not None:
        begin, length = spell
        end = begin + timedelta(days=length - 1)
        return Note(
            f"Dry days are forecast: {texts.on(begin)} to {texts.on(end)} (under {DRY_MM:g} mm a "
            "day)."
        )
    usual = _usual_dry(first, last, record)
    if usual is None:
        return Note("Dry days: unknown without a forecast; the record has no rain to go by.")
    week, share, years = usual
    return Note(
        f"No dry spell is forecast. In the record the driest week of these days is usually the "
        f"one from {texts.on(week)}: {texts.chance(share)} of days under {DRY_MM:g} mm in {years} "
        "years. Wait for a dry spell."
    )


def _forecast_spell(first: date, last: date, ahead: Daily | None) -> tuple[date, int] | None:
    """First day and length of the first run of dry days in the forecast, inside the window."""
    if ahead is None or last < first:
        return None
    rain = ahead.values("precip_mm", first, (last - first).days + 1)
    run = 0
    for at, value in enumerate([*rain.tolist(), np.nan]):
        dry = value < DRY_MM
        if not dry and run >= DRY_DAYS:
            return first + timedelta(days=at - run), run
        run = run + 1 if dry else 0
    return None


def _usual_dry(first: date, last: date, record: Daily | None) -> tuple[date, float, int] | None:
    """The driest week of a window by the record: its first day, share of dry days, years."""
    if record is None:
        return None
    length = max((last - first).days + 1, 7)
    rows = past_windows(record, "precip_mm", first, length)
    whole = rows[~np.isnan(rows).all(axis=1)]
    if len(whole) < LEAST_YEARS:
        return None
    dry = np.where(np.isnan(whole), np.nan, whole < DRY_MM)
    weeks = [
        float(np.nanmean(dry[:, at : at + 7]))
        for at in range(0, length - 6, 7)
        if not np.isnan(dry[:, at : at + 7]).all()
    ]
    if not weeks:
        return None
    best = int(np.argmax(weeks))
    return first + timedelta(days=7 * best), weeks[best], len(whole)


def past_windows(record: Daily, column: str, first: date, length: int) -> Floats:
    """The same days in each past year of the record, shape (years, days), nan where missing."""
    rows = []
    for back in range(1, first.year - record.years.start + 1):
        then = date.fromordinal(first.toordinal() - round(365.25 * back))
        rows.append(record.values(column, then, length))
    return np.array(rows).reshape(-1, length)


@dataclass(frozen=True, slots=True)
class KillTemperature:
    """Air temperatures that kill flowers or buds of a stage in half an hour, and their source."""

    stage: str
    kill10_c: float
    """Kills about a tenth [degC]."""
    source: str
    kill90_c: float | None = None
    """Kills about nine tenths [degC]; None where the table has none."""


def kill_at(table: pd.DataFrame, species: str, bbch: int) -> KillTemperature | None:
    """The kill temperature of a species at a stage, from the frost table; None where unknown."""
    rows = table[
        (table["species"] == species) & (table["bbch_from"] <= bbch) & (bbch <= table["bbch_to"])
    ]
    if rows.empty or np.isnan(rows["kill10_c"].iloc[0]):
        return None
    row = rows.iloc[0]
    most = None if np.isnan(row["kill90_c"]) else float(row["kill90_c"])
    return KillTemperature(str(row["stage_name"]), float(row["kill10_c"]), str(row["source"]), most)


def frost_nights(
    first: date,
    last: date,
    kill: KillTemperature,
    record: Daily | None,
    ahead: Daily | None,
) -> list[Note]:
    """Frosts forecast in a window, and how often the record has killing ones in it."""
    notes = [
        Note(
            f"At {kill.stage} {kill.kill10_c:.1f} °C for half an hour kills about a tenth of the "
            "flowers or buds; a thermometer in a shelter reads higher than a bud under a clear sky."
        )
    ]
    if ahead is not None:
        low = ahead.values("tmin_c", first, (last - first).days + 1)
        for at in np.flatnonzero(low <= FROST_C):
            night = first + timedelta(days=int(at))
            deadly = low[at] <= kill.kill10_c
            notes.append(
                Note(
                    f"Frost is forecast on {texts.on(night)}: {low[at]:.1f} °C, "
                    + ("at or below" if deadly else "above")
                    + f" the {kill.kill10_c:.1f} °C of this stage.",
                    now=True,
                )
            )
    else:
        notes.append(Note("No weather forecast is stored, so frost ahead is unknown."))
    if record is not None:
        rows = past_windows(record, "tmin_c", first, (last - first).days + 1)
        whole = rows[~np.isnan(rows).any(axis=1)]
        if len(whole) >= LEAST_YEARS:
            years = int((whole.min(axis=1) <= kill.kill10_c).sum())
            notes.append(
                Note(
                    f"In {years} of {len(whole)} past years a night of these days was at or below "
                    "it."
                )
            )
    return notes
