"""The season's weather at a site as its page shows it: for which cultivar, and what it needs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from dashboard.address import View
from dashboard.data import Course, EventForecast, SiteSeason
from dashboard.measures import cell

Kind = tuple[str, str, str]
Why = Literal["chosen", "next", "first"]
Standing = Literal["ahead", "behind", "as usual", "early"]
WEEK_DAYS = 7


@dataclass(frozen=True)
class Band:
    """What is needed, from a day on: between two totals of the season."""

    since: date
    low: float
    high: float
    name: str
    bloom: date | None = None


@dataclass(frozen=True)
class Drawn:
    """The cultivar that a site's pictures are drawn for, and why that one."""

    kind: Kind
    why: Why


def drawn_for(events: Iterable[EventForecast], view: View) -> list[Drawn]:
    """One cultivar of each site: the one chosen, else the next to ripen, else the first by name.

    Sites with most trees come first.
    """
    kept = view.keep(events)
    sites: dict[str, list[EventForecast]] = {}
    for each in kept:
        sites.setdefault(each.site, []).append(each)
    found = []
    for own in sorted(sites.values(), key=lambda each: (-len(each), each[0].site)):
        coming = [each for each in own if each.event == "ripe" and each.status == "forecast"]
        if view.cultivar is not None:
            chosen, why = own[0], "chosen"
        elif coming:
            chosen = min(coming, key=lambda each: (each.quantiles[0.5], each.cultivar))
            why = "next"
        else:
            chosen, why = min(own, key=lambda each: (each.species, each.cultivar)), "first"
        kind = (chosen.site, chosen.species, chosen.cultivar)
        found.append(Drawn(kind, why))  # type: ignore[arg-type]
    return found


def standing(course: Course) -> tuple[Standing, int]:
    """How warmth stands against the usual, and by how many days."""
    ahead = course.days_ahead
    if ahead is None:
        return "early", 0
    if ahead == 0:
        return "as usual", 0
    return ("ahead" if ahead > 0 else "behind"), abs(ahead)


def heat_band(season: SiteSeason, name: str) -> Band | None:
    """From full bloom on, the totals at which the cultivar is usually ripe.

    While bloom is but forecast, the total then is taken as usual for that day.
    """
    course, bloom, need = season.heat, season.bloom, season.heat_need
    if course is None or bloom is None or need is None:
        return None
    start = course.on(bloom.date)
    at = (bloom.date - course.first).days
    if start is None and course.years and not bloom.seen and 0 <= at < len(course.median):
        start = float(course.median[at])
    if start is None:
        return None
    return Band(bloom.date, start + need.low, start + need.high, name, bloom.date)


def chill_band(season: SiteSeason, name: str) -> Band | None:
    """The chill portions needed; None where none are, or how many is not known."""
    if season.chill is None or season.chill_need is None or season.chill_need[1] <= 0:
        return None
    return Band(season.chill.first, *season.chill_need, name)


def reached_on(course: Course, total: float) -> date | None:
    """First day on which a total was reached."""
    for n, value in enumerate(course.now):
        if value >= total:
            return date.fromordinal(course.first.toordinal() + n)
    return None


def weekly(season: SiteSeason) -> list[dict[str, object]]:
    """Warmth and chill at the end of each week so far, beside past years."""
    rows: dict[date, dict[str, object]] = {}
    for name, course in (("heat", season.heat), ("chill", season.chill)):
        last = None if course is None else course.last_day
        if course is None or last is None:
            continue
        for n in range((last - course.first).days, -1, -WEEK_DAYS):
            day = date.fromordinal(course.first.toordinal() + n)
            row = rows.setdefault(day, {"site": season.site, "date": day.isoformat()})
            totals = {"": course.now}
            if course.years:
                totals |= {"_usual": course.median, "_least": course.least, "_most": course.most}
            for ending, total in totals.items():
                at = float(total[n])
                row[name + ending] = cell(at, "°C d", 1) if name == "heat" else round(at, 1)
    return [rows[day] for day in sorted(rows, reverse=True)]


def missing_and_suspect(season: SiteSeason) -> Sequence[int]:
    """How many of the days shown have no reading, and how many a doubtful one."""
    kinds = [day.kind for day in season.days]
    return kinds.count("missing"), kinds.count("suspect")
