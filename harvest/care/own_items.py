"""Items that people add themselves: by date, or where a sum of degree days is due.

Degree days are counted by single sine with a horizontal cut-off (Baskerville & Emin 1969), as for
the watch list. They say when to look and log, and whom to ask; never what to use.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

import pandas as pd

from harvest.care import texts
from harvest.care.calendar_items import CODE_LENGTH, CalendarItem, uid_of
from harvest.care.calendar_marks import CalendarMark
from harvest.care.calendar_rules import Window
from harvest.care.watch import AHEAD_DAYS, LEAST_YEARS, counted, due, looked_for, reached
from harvest.errors import UnknownNameError
from harvest.records import Records
from harvest.seasons import calendar_season, season_label
from harvest.weather.daily import Daily

OWN_SOURCE = "added by you"
YEAR_DAYS = 365


@dataclass(frozen=True, slots=True)
class _Start:
    """The first day counted, why that, and what tells the item of one year from another's."""

    day: date
    says: str
    key: int


def kinds_at(trees: pd.DataFrame, site: str) -> dict[str, tuple[str, ...]]:
    """What an item at a site can be for: a tree, a row, a cultivar or a species, and its trees.

    Parameters
    ----------
    trees : columns tree, site, species, cultivar, row, removed.
    """
    here = trees[(trees["site"] == site) & trees["removed"].isna()]
    if here.empty:
        return {}
    found: dict[str, list[str]] = {}
    names = (
        here["species"],
        here["species"] + " " + here["cultivar"],
        "row " + here["row"].map("{:g}".format),
        here["tree"],
    )
    for of in names:
        for name, tree in zip(of, here["tree"], strict=True):
            if name != "row nan":
                found.setdefault(str(name), []).append(str(tree))
    return {name: tuple(dict.fromkeys(own)) for name, own in found.items()}


def kind_named(trees: pd.DataFrame, site: str, text: str) -> str:
    """The kind at a site that a name means, without regard to case; a cultivar's name alone does.

    Raises UnknownNameError where nothing there is called so.
    """
    known = kinds_at(trees, site)
    asked = " ".join(text.split()).casefold()
    found = [name for name in known if name.casefold() == asked]
    if not found:
        here = trees[(trees["site"] == site) & (trees["cultivar"].str.casefold() == asked)]
        found = [f"{row.species} {row.cultivar}" for row in here.itertuples()]
    if not found or found[0] not in known:
        raise UnknownNameError("tree, row, cultivar or species", text, known)
    return found[0]


def own_items(
    marks: Iterable[CalendarMark], records: Records, weather: dict[str, Daily]
) -> tuple[list[CalendarItem], list[str]]:
    """What people added to their calendar; and what of it cannot be said and why.

    An item for a kind of which no tree stands any more is left out.
    """
    items: list[CalendarItem] = []
    unknown: list[str] = []
    kinds: dict[str, dict[str, tuple[str, ...]]] = {}
    for mark in marks:
        if mark.mark != "added" or mark.site is None:
            continue
        known = kinds.setdefault(mark.site, kinds_at(records.trees, mark.site))
        if mark.what is not None and mark.what not in known:
            continue
        trees = known[mark.what] if mark.what is not None else ()
        if mark.degree_days is not None:
            found, said = _by_heat(mark, trees, records, weather.get(mark.site))
            items += found
            unknown += [f"{mark.site}: {mark.title}: {text}" for text in said]
        elif mark.first_day is not None and mark.last_day is not None:
            window = Window(mark.first_day, mark.last_day, mark.first_day, mark.last_day)
            items.append(_item(mark, mark.target, trees, window, mark.title or ""))
    return items, unknown


def _by_heat(
    mark: CalendarMark, trees: tuple[str, ...], records: Records, days: Daily | None
) -> tuple[list[CalendarItem], list[str]]:
    """Where the sum is due, once for each start; what cannot be told of them."""
    need, base, upper = mark.degree_days, mark.base_c, mark.upper_c
    assert need is not None
    assert base is not None
    if days is None:
        return [], ["No weather is on record, so degree days cannot be counted."]
    latitude = float(records.sites.set_index("site")["latitude"][mark.site or ""])
    starts = list(_starts(mark, trees, records, latitude))
    if not starts and mark.count_event is not None:
        said = (
            f"No event with “{mark.count_event}” is logged this season, so nothing is counted yet"
        )
        return [], [f"{said}: log it as an event with these words in its note."]
    items: list[CalendarItem] = []
    late = []
    for start in starts:
        so_far, ahead = reached(days, start.day, records.as_of, base, upper)
        when = due(so_far, ahead, start.day, records.as_of, need)
        if when is None:
            late.append(
                f"{need:g} degree days from {texts.on(start.day)} are not reached in the "
                f"{AHEAD_DAYS} days that can be foreseen, or fewer than {LEAST_YEARS} years of "
                "weather are on record."
            )
            continue
        notes = (start.says, *counted(days, start.day, records.as_of, so_far, base, upper),
                 f"Due at {need:g} degree days.")  # fmt: skip
        season = calendar_season(when.first, latitude)
        items.append(
            _item(
                mark, uid_of("added", mark.target, start.key), trees, looked_for(when),
                f"{(mark.title or '').rstrip('.')}. {texts.LOOK}",
                notes=notes, season_shown=season_label(season, latitude),
            )
        )  # fmt: skip
    return items, [] if items else late


def _starts(
    mark: CalendarMark, trees: tuple[str, ...], records: Records, latitude: float
) -> Iterator[_Start]:
    """From which days the sum is counted, as of the day of the records."""
    as_of = records.as_of
    if mark.count_event is not None:
        season = calendar_season(as_of, latitude)
        first = _first_event(mark, trees, records, season, latitude)
        if first is not None:
            says = f"Counted from the first “{mark.count_event}” of the season, {texts.on(first)}."
            yield _Start(first, says, season)
    elif mark.count_from is not None:
        for year in range(as_of.year - 1, as_of.year + 2):
            day = _of_year(mark.count_from, year)
            if day >= mark.count_from and -YEAR_DAYS < (day - as_of).days < AHEAD_DAYS:
                yield _Start(day, f"Counted from {texts.on(day)}, as every year.", year)


def _of_year(day: date, year: int) -> date:
    return date(year, day.month, min(day.day, 28) if day.month == 2 else day.day)


def _first_event(
    mark: CalendarMark, trees: tuple[str, ...], records: Records, season: int, latitude: float
) -> date | None:
    """The first event of a season at the site, or of its trees, that has the words."""
    events = records.events
    if events.empty:
        return None
    home = events["tree"].map(records.trees.drop_duplicates("tree").set_index("tree")["site"])
    mine = events["site"].fillna(home) == mark.site
    if trees:
        mine &= events["tree"].isna() | events["tree"].isin(trees)
    said = (events["event"] + " " + events["note"].fillna("").astype(str)).str.casefold()
    for word in (mark.count_event or "").casefold().split():
        mine &= said.str.contains(word, regex=False)
    days = [day.date() for day in events["date"][mine]]
    return min((day for day in days if calendar_season(day, latitude) == season), default=None)


def _item(
    mark: CalendarMark, uid: str, trees: tuple[str, ...], window: Window, todo: str,
    *, notes: tuple[str, ...] = (), season_shown: str = "",
) -> CalendarItem:  # fmt: skip
    return CalendarItem(
        uid=uid,
        code=uid[:CODE_LENGTH],
        item="added",
        title=mark.title or "",
        site=mark.site or "",
        what=mark.what or "",
        what_species="",
        season=window.first.year,
        season_shown=season_shown,
        first_day=window.first,
        last_day=window.last,
        earliest=window.earliest,
        latest=window.latest,
        trees=trees,
        todo=todo,
        why=mark.why or "",
        source=OWN_SOURCE,
        urgency=2,
        notes=notes,
        added=True,
    )
