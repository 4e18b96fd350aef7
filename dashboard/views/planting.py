"""What the page before planting shows: what was asked, and one candidate or a ranking."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from dashboard.address import View
from dashboard.data import ClimateFit, ClimateShare, GapWeek, Place, Scenario, SeasonDays
from dashboard.measures import cell
from dashboard.texts import planting as words
from dashboard.words import percent, short_day

# A year to show days of the season in, which has no 29 February [year].
SHOWN_YEAR = 2026
WEEK = timedelta(days=7)
# An end of an interval so near to all of the years is all of them: a float's own error.
ROUNDED = 9


@dataclass(frozen=True)
class Asked:
    """What the page is asked: where, what, how much warmer."""

    site: str
    species: str
    cultivar: str | None
    warming: str
    latitude: float | None = None
    longitude: float | None = None
    refused: bool = False
    """Coordinates that are no numbers."""

    @property
    def place(self) -> Place:
        """The place as the calculations take it."""
        return Place(self.site, self.latitude, self.longitude)

    @property
    def place_words(self) -> str:
        """The place in words."""
        if self.latitude is None or self.longitude is None:
            return self.site
        return f"{self.latitude:g}°, {self.longitude:g}° ({self.site})"


@dataclass(frozen=True)
class Gap:
    """Weeks on end without fruit that the same cultivars would fill."""

    first: str
    last: str
    weeks: int
    names: tuple[str, ...]


def asked_of(
    view: View,
    sites: Sequence[str],
    grown: Sequence[tuple[str, str]],
    kinds: dict[str, list[str]],
    measured: Collection[str] = (),
) -> Asked | None:
    """What an address asks for; the site of most trees and its commonest species without it.

    Parameters
    ----------
    measured : sites with weather on record, which come first where none is asked for.
    grown : site and species of every standing tree. kinds : the cultivars of each species.
    """
    if not sites:
        return None
    site = view.site
    if site is None or site not in sites:
        with_weather = [at for at, _ in grown if at in measured]
        site = _commonest(with_weather or [at for at, _ in grown], sites[0])
    usual = _commonest([kind for at, kind in grown if at == site], next(iter(kinds)))
    species = view.choice("plant") or view.species or usual
    species = species if species in kinds else usual
    cultivar = view.choice("plant_cultivar") or view.cultivar
    warming = view.choice("warmer") or "0"
    latitude, longitude, refused = _coordinates(view)
    return Asked(
        site=site,
        species=species,
        cultivar=cultivar if cultivar in kinds[species] else None,
        warming=warming if warming in words.WARMER else "0",
        latitude=latitude,
        longitude=longitude,
        refused=refused,
    )


def _coordinates(view: View) -> tuple[float | None, float | None, bool]:
    given = [view.choice("lat"), view.choice("lon")]
    if given == [None, None]:
        return None, None, False
    try:
        latitude, longitude = (float((text or "").replace("−", "-")) for text in given)
    except ValueError:
        return None, None, True
    return latitude, longitude, False


def _commonest(names: Sequence[str], otherwise: str) -> str:
    return max(sorted(set(names)), key=names.count, default=otherwise)


def scenario_of(fit: ClimateFit, warming: str) -> Scenario | None:
    """The years as warm as asked for; None where there are none."""
    return next((each for each in fit.scenarios if each.warming_c == float(warming)), None)


def share_words(share: ClimateShare | None) -> str:
    """A share of years with its width, `unknown` where it is not known."""
    if share is None:
        return words.UNKNOWN.rstrip(".").lower()
    ends = (percent(round(end, ROUNDED)) for end in (share.share, share.low, share.high))
    return words.SHARE.format(**dict(zip(("share", "low", "high"), ends, strict=True)))


def range_words(span: tuple[float, float]) -> str:
    """A requirement from and to."""
    return f"{span[0]:g}" if span[0] == span[1] else f"{span[0]:g} to {span[1]:g}"


def dates_of(days: SeasonDays, southern: bool) -> tuple[date, date, date]:
    """Early, middle and late as dates of a year to show them in, in their order."""
    start = date(SHOWN_YEAR, 7, 1) if southern else date(SHOWN_YEAR, 1, 1)
    middle = start + timedelta(days=round(days.day_of_season) - 1)
    early = _nearest(days.early, middle)
    late = _nearest(days.late, middle)
    return min(early, middle), middle, max(late, middle)


def _nearest(month_day: str, near: date) -> date:
    month, day = map(int, month_day.split("-"))
    days = [date(near.year + by, month, day) for by in (-1, 0, 1)]
    return min(days, key=lambda each: abs((each - near).days))


def shown_day(month_day: str) -> str:
    """A month and day as people write it."""
    month, day = map(int, month_day.split("-"))
    return short_day(date(SHOWN_YEAR, month, day))


def span_words(days: SeasonDays | None) -> str:
    """A span of dates."""
    return "–" if days is None else f"{shown_day(days.early)} – {shown_day(days.late)}"


def joined(weeks: Iterable[GapWeek]) -> list[Gap]:
    """Weeks on end that the same cultivars would fill, together."""
    found: list[Gap] = []
    last_week = -1
    for week in weeks:
        if found and week.week == last_week + 1 and found[-1].names == week.would_fill:
            found[-1] = Gap(found[-1].first, week.starts, found[-1].weeks + 1, week.would_fill)
        else:
            found.append(Gap(week.starts, week.starts, 1, week.would_fill))
        last_week = week.week
    return found


def gap_span(gap: Gap) -> str:
    """The days of a gap in words."""
    if gap.weeks == 1:
        return words.GAPS_WEEK.format(first=shown_day(gap.first))
    month, day = map(int, gap.last.split("-"))
    end = short_day(date(SHOWN_YEAR, month, day) + WEEK - timedelta(days=1))
    return words.GAPS_WEEKS.format(first=shown_day(gap.first), last=end)


def scenario_rows(fit: ClimateFit) -> list[dict[str, object]]:
    """A candidate in the years as they were and in warmer ones."""
    return [
        {
            **_scenario_row(each),
            "warming": cell(each.warming_c, "°C warmer", 0),
            "portions": round(each.portions_safe),
            "hours": round(each.hours_safe),
        }
        for each in fit.scenarios
    ]


def _scenario_row(at: Scenario) -> dict[str, object]:
    return {
        "all_well": share_words(at.all_well),
        "chill_met": share_words(at.chill_met),
        "ripens": share_words(at.ripens),
        "frost_tenth": share_words(at.frost_tenth),
        "frost_most": share_words(at.frost_most),
        "bloom": span_words(at.bloom),
        "ripe": span_words(at.ripe),
    }


def chill_of(fit: ClimateFit, at: Scenario) -> str:
    """The chill of 9 years in 10, in the measure in which the need is known."""
    if fit.chill_portions is None and fit.chill_hours is not None:
        return f"{at.hours_safe:.0f} h"
    return f"{at.portions_safe:.0f} {words.PORTIONS}"


def need_words(fit: ClimateFit) -> str:
    """The chill a candidate needs, in the measure in which it is known."""
    if fit.chill_portions is not None:
        return f"{range_words(fit.chill_portions)} {words.PORTIONS}"
    if fit.chill_hours is not None:
        return f"{range_words(fit.chill_hours)} h"
    return share_words(None)


def rank_rows(fits: Sequence[ClimateFit], warming: str) -> list[dict[str, object]]:
    """The ranking as rows of a table."""
    rows: list[dict[str, object]] = []
    for fit in fits:
        at = scenario_of(fit, warming)
        row: dict[str, object] = {
            "cultivar": fit.cultivar or words.OF_SPECIES.format(species=fit.species),
            "need": need_words(fit),
            "partners": ", ".join(fit.partners),
            "sources": "; ".join(fit.sources),
        }
        rows.append(row if at is None else {**_scenario_row(at), **row, "chill": chill_of(fit, at)})
    return rows


def best_of(fits: Sequence[ClimateFit], warming: str) -> list[tuple[ClimateFit, ClimateShare]]:
    """Cultivars for which it can be told, the surest first in the years asked for."""
    known = []
    for fit in fits:
        at = scenario_of(fit, warming)
        if at is not None and at.all_well is not None and fit.cultivar:
            known.append((fit, at.all_well))
    return sorted(known, key=lambda each: (-round(each[1].share, 3), each[0].cultivar))
