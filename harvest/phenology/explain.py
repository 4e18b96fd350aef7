"""Why a forecast says what it says, in two sentences for the person who looks after the tree.

The first names what it rests on and how the warmth so far compares with the usual, in days; the
second what has moved the middle date since a week ago.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from harvest.phenology.blooming import STARTS_BEFORE
from harvest.phenology.clocks import Clock, day_numbers, day_slots, degree_day_clock
from harvest.phenology.forecast import forecast, outlook, running_and_past
from harvest.phenology.report import report
from harvest.phenology.result import EventForecast
from harvest.phenology.site_clocks import SiteClocks
from harvest.records import RIPE, Records
from harvest.seasons import season_starts
from harvest.tree_years import with_seasons

WEEK = timedelta(days=7)


def explained(records: Records, traits: pd.DataFrame) -> list[EventForecast]:
    """`harvest.phenology.forecast.forecast`, each forecast with its explanation.

    Parameters and order as there. Runs the forecast of a week ago as well.
    """
    rows, past = running_and_past(records, traits)
    if rows.empty:
        return []
    ahead = outlook(records, rows, past)
    events = report(records, ahead)
    before = records.until(records.as_of - WEEK)
    standing = traits.loc[before.trees["tree"].to_list()]
    earlier = {
        (event.tree, event.season, event.event): event
        for event in forecast(with_seasons(before, standing), standing)
    }
    facts = _Facts(records, ahead.rows)
    told = []
    for event in events:
        if event.status == "forecast":
            then = earlier.get((event.tree, event.season, event.event))
            event = replace(event, explanation=_sentences(event, then, facts))
        told.append(event)
    return told


@dataclass(frozen=True)
class Warmth:
    """Warmth since a day, compared with the usual year: days ahead [d], of it in the last week."""

    since: date
    ahead_days: float
    week_days: float


class _Facts:
    """What the sentences need to know of each row of the running seasons."""

    def __init__(self, records: Records, rows: pd.DataFrame) -> None:
        self._clocks = SiteClocks(records)
        self._rows = {(row["tree"], int(row["season"])): row for row in rows.to_dict("records")}
        self.news = _news(records)

    def row(self, event: EventForecast) -> dict[Any, Any]:
        """The row of an event."""
        return self._rows[event.tree, event.season]

    def bloomed(self, event: EventForecast) -> bool:
        """Whether the season's full bloom is known."""
        return bool(self.row(event)["own_bloom"])

    def warmth(self, event: EventForecast) -> Warmth | None:
        """Warmth since bloom, or before it since the days start to count; None if not known."""
        row = self.row(event)
        if not self._clocks.has_weather(str(row["site"])):
            return None
        kind = degree_day_clock(float(row["heat_base_c"]))
        site = self._clocks.now(str(row["site"]), [kind], None, int(row["back"]))
        begin = self._begin(row)
        known_to = site.known_to
        if known_to <= begin:
            return None
        clock = site.clocks[0]
        now = _ahead(clock, begin, known_to)
        last_week = _ahead(clock, begin, max(known_to - WEEK.days, begin))
        if np.isnan(now):
            return None
        return Warmth(date(1970, 1, 1) + timedelta(days=begin), now, now - last_week)

    def _begin(self, row: dict[Any, Any]) -> int:
        if row["own_bloom"]:
            return int(day_numbers(np.array([row["bloom"]], dtype="datetime64[D]"))[0])
        start = season_starts(np.array([row["season"]]), np.array([row["latitude"]]))
        return int(day_numbers(start)[0] + round(row["usual_bloom"] - max(STARTS_BEFORE)))


def _ahead(clock: Clock, begin: int, end: int) -> float:
    """Days by which the progress between two days is ahead of the usual year's [d]."""
    first, last = np.array([begin]), np.array([end])
    done = clock.progress(first, last)
    return float(clock.usual_days(day_slots(first), done)[0]) - (end - begin)


def _news(records: Records) -> pd.DataFrame:
    """What was logged in the last seven days: tree, site, species, what (bloom or ripe)."""
    since = np.datetime64(records.as_of - WEEK, "s")
    stages = records.stages[records.stages["date"] > since]
    picks = records.picks[records.picks["date"] > since]
    found = pd.concat(
        [
            stages.loc[stages["bbch"] == 65, ["tree"]].assign(what="bloom"),
            stages.loc[stages["bbch"] == RIPE, ["tree"]].assign(what="ripe"),
            picks[["tree"]].assign(what="ripe"),
        ]
    ).drop_duplicates()
    return found.merge(records.trees[["tree", "site", "species"]], on="tree")


def _sentences(event: EventForecast, then: EventForecast | None, facts: _Facts) -> str:
    warmth = facts.warmth(event)
    return f"{_rests_on(event, facts, warmth)} {_moved(event, then, facts, warmth)}"


def _rests_on(event: EventForecast, facts: _Facts, warmth: Warmth | None) -> str:
    basis, row = event.basis, facts.row(event)
    bloom = event.event == "full bloom"
    if basis.seasons:
        what = "bloom" if bloom else "season"
        trees = "" if bloom else f", seen on {_count(basis.trees, 'tree')}"
        said = f"It rests on {_count(basis.seasons, f'past {what}')} of {event.cultivar}{trees}"
    elif bloom:
        said = (
            f"It rests on the usual bloom of {event.species} at this latitude, not on own records"
        )
    else:
        kind = event.cultivar if basis.prior == "cultivar" else event.species
        said = f"It rests on what is generally known of {kind}, not on own records"
    if not row["heat_counted"]:
        return f"{said}; warmth is not counted, since there is no weather to count it by."
    if warmth is None:
        return f"{said}; it is too early in its season for warmth to tell."
    start = f"bloom on {_day(warmth.since)}" if row["own_bloom"] else _day(warmth.since)
    return f"{said}; warmth since {start} is {_days_off(warmth.ahead_days)}."


def _moved(
    event: EventForecast, then: EventForecast | None, facts: _Facts, warmth: Warmth | None
) -> str:
    middle = event.quantiles[0.5]
    if then is None or then.status != "forecast":
        return f"A week ago there was no forecast of it; its middle date is now {_day(middle)}."
    moved = (middle - then.quantiles[0.5]).days
    which = "later" if moved > 0 else "sooner"
    said = (
        f"Its middle date has moved {_count(abs(moved), 'day')} {which} since a week ago, to "
        f"{_day(middle)}"
        if moved
        else f"Its middle date, {_day(middle)}, is the same as a week ago"
    )
    week = _week(event, facts.news, warmth)
    return f"{said}; in that week {' and '.join(week)}." if week else f"{said}."


def _week(event: EventForecast, news: pd.DataFrame, warmth: Warmth | None) -> list[str]:
    """What the last seven days brought that bears on an event."""
    bloom = event.event == "full bloom"
    week = []
    if warmth is not None:
        week.append(f"warmth was {_days_off(warmth.week_days)}")
    if ((news["tree"] == event.tree) & (news["what"] == "bloom")).any():
        week.append("its full bloom was logged")
    alike = (news["site"] == event.site) & (news["species"] == event.species)
    same = alike & (news["tree"] != event.tree) & (news["what"] == ("bloom" if bloom else "ripe"))
    others = news.loc[same, "tree"].nunique()
    if others:
        came = "came into bloom" if bloom else "came ripe"
        week.append(f"{_count(others, f'other {event.species} tree')} here {came}")
    return week


def _days_off(days: float) -> str:
    whole = round(abs(days))
    if whole == 0:
        return "about as usual"
    return f"{_count(whole, 'day')} {'ahead of' if days > 0 else 'behind'} the usual"


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"
