"""What to look for: pests by degree days from a logged catch, diseases by the trees' stages.

Codling moth: degree days over 10 degC cut off at 31.1 degC, single sine, horizontal cut-off
(Baskerville & Emin 1969), from the first sustained trap catch, moths on two successive dates
(Michigan State University Extension). The action is always to look, log and ask.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.care import texts
from harvest.care.calendar_items import CODE_LENGTH, CalendarItem, uid_of
from harvest.care.calendar_rules import Window
from harvest.care.outlook import HIGH, LOW, MIDDLE, TreeSeason, quantile_days
from harvest.records import Records
from harvest.seasons import calendar_season, season_label
from harvest.thermal import degree_days
from harvest.weather.daily import Daily

Floats = NDArray[np.float64]
# Two catches no further apart than this are on successive dates of looking [d]: our reading.
SUCCESSIVE_DAYS = 14
SUSTAINED = "sustained"
CATCH_WORDS = ("trap", "catch", "caught")
AHEAD_DAYS = 200
LEAST_YEARS = 3
# A stage is looked for from the day it is due for this long [d]: common practice.
LOOK_DAYS = 10


@dataclass(frozen=True, slots=True)
class FirstCatch:
    """The first sustained catch of a pest at a site in a season, or that there is none yet."""

    day: date | None
    catches: tuple[date, ...]
    says: str


def first_catch(records: Records, pest: str, site: str) -> FirstCatch:
    """The first sustained catch at a site in the season that is running there.

    Catches are events of kind `pest` whose note names the pest and a trap or catch. Two on
    successive dates of looking (at most 14 days apart) make the first of them sustained; so does
    the word "sustained" in the note.
    """
    catches = _catches(records, pest, site)
    days = [day for day, _ in catches]
    for at, (day, note) in enumerate(catches):
        follows = at + 1 < len(days) and (days[at + 1] - day).days <= SUCCESSIVE_DAYS
        if SUSTAINED in note or follows:
            says = f"Counted from the first sustained catch, {texts.on(day)}."
            return FirstCatch(day, tuple(days), says)
    if days:
        says = (
            f"One catch of {pest} on {texts.on(days[-1])} is not yet sustained: the next one, "
            "within two weeks, starts the count."
        )
    else:
        says = (
            f"No catch of {pest} is logged this season, so its stages are unknown: hang a trap and "
            f"log each catch as an event (pest, note: {pest} trap catch)."
        )
    return FirstCatch(None, tuple(days), says)


def _catches(records: Records, pest: str, site: str) -> list[tuple[date, str]]:
    events = records.events
    if events.empty:
        return []
    home = events["tree"].map(records.trees.set_index("tree")["site"])
    notes = events["note"].fillna("").astype(str).str.casefold()
    latitude = float(records.sites.loc[records.sites["site"] == site, "latitude"].iloc[0])
    here = (events["site"].fillna(home) == site) & (events["event"] == "pest")
    named = notes.str.contains(pest, regex=False) & notes.str.contains("|".join(CATCH_WORDS))
    season = calendar_season(records.as_of, latitude)
    found = [
        (day.date(), note)
        for day, note in zip(events["date"][here & named], notes[here & named], strict=True)
        if calendar_season(day.date(), latitude) == season
    ]
    return sorted(dict(found).items())


def reached(
    days: Daily, start: date, as_of: date, base_c: float, upper_c: float | None
) -> tuple[Floats, Floats]:
    """Degree days since a day: running total so far, and of each possible future.

    Parameters
    ----------
    days : the site's record. start : first day counted, which may lie ahead. as_of : first day not
        yet measured. base_c, upper_c : thresholds [degC]; None: no cut-off.

    Returns
    -------
    So far, shape (days since start,) [degC d]; ahead, shape (years, 200), going on from it, one
    row for each past year with at least 95 of 100 days on record, its gaps left out of the sum.
    """
    count, wait = max((as_of - start).days, 0), max((start - as_of).days, 0)
    so_far = _running(days, start, count, base_c, upper_c)
    total = float(so_far[-1]) if count else 0.0
    futures = []
    for back in range(1, as_of.year - days.years.start + 1):
        then = date.fromordinal(as_of.toordinal() - round(365.25 * back))
        low = days.values("tmin_c", then, AHEAD_DAYS)
        if np.isnan(low).mean() <= 0.05:
            futures.append(total + _running(days, then, AHEAD_DAYS, base_c, upper_c, wait))
    return so_far, np.array(futures).reshape(-1, AHEAD_DAYS)


def _running(
    days: Daily, first: date, count: int, base_c: float, upper_c: float | None, wait: int = 0
) -> Floats:
    """Sums from a day on; the first `wait` days do not count."""
    low, high = (days.values(name, first, count) for name in ("tmin_c", "tmax_c"))
    daily = degree_days(low, high, base=base_c, upper=upper_c, method="single sine")
    daily[:wait] = 0.0
    return np.nancumsum(daily)


def due(so_far: Floats, ahead: Floats, start: date, as_of: date, need: float) -> Window | None:
    """When a sum of degree days is reached: the day it was, or 8 in 10 of the possible futures."""
    past = np.flatnonzero(so_far >= need)
    if past.size:
        day = start + timedelta(days=int(past[0]))
        return Window(day, day, day, day)
    if len(ahead) < LEAST_YEARS:
        return None
    hit = np.where(ahead >= need, np.arange(AHEAD_DAYS), AHEAD_DAYS).min(axis=1)
    low, middle, high = (
        int(np.quantile(hit, level, method="nearest")) for level in (LOW, MIDDLE, HIGH)
    )
    if middle >= AHEAD_DAYS:
        return None
    first = as_of + timedelta(days=middle)
    return Window(
        first, first, as_of + timedelta(days=low), as_of + timedelta(days=min(high, AHEAD_DAYS))
    )


def counted(
    days: Daily, start: date, as_of: date, so_far: Floats, base_c: float, upper_c: float | None
) -> list[str]:
    """How much has been counted so far, and over how many days without weather."""
    if not len(so_far):
        return []
    cut = "" if upper_c is None else f", cut off at {upper_c:g} °C"
    said = f"{so_far[-1]:.0f} degree days (over {base_c:g} °C{cut}) by {texts.on(as_of)}"
    gaps = int(np.isnan(days.values("tmin_c", start, len(so_far))).sum())
    lost = f"; {gaps} day{'s' if gaps > 1 else ''} without weather not counted" if gaps else ""
    return [f"{said}{lost}."]


def looked_for(when: Window) -> Window:
    """The days on which to look for what is due."""
    end = timedelta(days=LOOK_DAYS)
    return Window(when.first, when.last + end, when.earliest, when.latest + end)


def watch_items(
    table: pd.DataFrame,
    records: Records,
    seasons: Sequence[TreeSeason],
    weather: dict[str, Daily],
) -> tuple[list[CalendarItem], list[str]]:
    """The watch list's items of every site, and what cannot be said and why."""
    items: list[CalendarItem] = []
    unknown: list[str] = []
    for watch, rows in table.groupby("watch", sort=False):
        species = {name.strip() for cell in rows["species"] for name in cell.split(";")}
        for site in dict.fromkeys(each.site for each in seasons):
            mine = [each for each in seasons if each.site == site and each.species in species]
            if not mine:
                continue
            by_stage = rows[rows["anchor"] == "bloom"].to_dict("records")
            for row in by_stage:
                items += _by_bloom(row, mine)
            by_heat = rows[rows["anchor"] == "catch"]
            if len(by_heat):
                found, said = _by_heat(by_heat, str(watch), records, mine, weather.get(site))
                items += found
                unknown += [f"{site}: {text}" for text in said]
    return items, unknown


def _by_bloom(row: dict[Any, Any], trees: Sequence[TreeSeason]) -> list[CalendarItem]:
    groups: dict[int, list[TreeSeason]] = {}
    for each in trees:
        groups.setdefault(each.season, []).append(each)
    first, last = int(row["from_days"]), int(row["to_days"])
    out = []
    for members in groups.values():
        days = quantile_days([each.bloom for each in members], (LOW, MIDDLE, HIGH))
        low, middle, high = days[~np.isnan(days).any(axis=1)].T
        if middle.size:
            window = np.stack([middle + first, middle + last, low + first, high + last], axis=1)
            out.append(_item(row, members, Window.around(window), ()))
    return out


def _by_heat(
    rows: pd.DataFrame,
    pest: str,
    records: Records,
    trees: Sequence[TreeSeason],
    days: Daily | None,
) -> tuple[list[CalendarItem], list[str]]:
    site = trees[0].site
    caught = first_catch(records, pest, site)
    if caught.day is None:
        return [], [caught.says]
    if days is None:
        return [], [f"No weather is on record, so the stages of {pest} cannot be counted."]
    running = calendar_season(records.as_of, trees[0].latitude)
    mine = [each for each in trees if each.season == running]
    base, upper = float(rows["base_c"].iloc[0]), float(rows["upper_c"].iloc[0])
    so_far, ahead = reached(days, caught.day, records.as_of, base, upper)
    sums = counted(days, caught.day, records.as_of, so_far, base, upper)
    notes = (caught.says, *sums)
    out, said = [], []
    for row in rows.to_dict("records"):
        when = due(so_far, ahead, caught.day, records.as_of, float(row["degree_days"]))
        if when is None:
            said.append(f"{pest}, {row['stage']}: not reached in the days that can be foreseen.")
            continue
        need = f"Due at {row['degree_days']:g} degree days."
        out.append(_item(row, mine, looked_for(when), (*notes, need)))
    return out, said


def _item(
    row: dict[Any, Any], trees: Sequence[TreeSeason], window: Window, notes: tuple[str, ...]
) -> CalendarItem:
    first = trees[0]
    uid = uid_of("watch", row["watch"], row["stage"], first.site, first.season)
    return CalendarItem(
        uid=uid,
        code=uid[:CODE_LENGTH],
        item=f"watch: {row['watch']}",
        title=f"Look for {row['watch']}: {row['stage']}",
        site=first.site,
        what=", ".join(sorted({each.species for each in trees})),
        what_species="",
        season=first.season,
        season_shown=season_label(first.season, first.latitude),
        first_day=window.first,
        last_day=window.last,
        earliest=window.earliest,
        latest=window.latest,
        trees=tuple(each.tree for each in trees),
        todo=f"{row['look_for']}. {texts.LOOK}",
        why=f"Stage of {row['watch']}: {row['stage']}.",
        source=str(row["source"]),
        urgency=2,
        notes=notes,
    )
