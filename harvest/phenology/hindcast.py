"""Past seasons forecast again, each from only what was known then, beside what came.

The forecast of today is run on the records as they stood on days of the past (`Records.until`);
there is no second model.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from harvest.phenology.expectation import AVERAGED, Candidate
from harvest.phenology.forecast import Floats, Outlook, outlook, running_and_past
from harvest.phenology.observed import observed_events
from harvest.phenology.report import report
from harvest.phenology.result import EventName, PastForecast
from harvest.records import Records
from harvest.seasons import is_southern
from harvest.tree_years import with_seasons

SEEN_AS: dict[EventName, str] = {"full bloom": "bloom", "ripe": "ripe", "last pick": "finished"}
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Lead:
    """When a past forecast is made: days after bloom, or a day of the northern year.

    `days` [d] after the median full bloom of the species at the site; or `month` and `day`, half
    a year later in the south.
    """

    days: int | None = None
    month: int = 1
    day: int = 1

    def __str__(self) -> str:
        if self.days is None:
            return f"{date(2000, self.month, self.day):%-d %B}"
        return f"{self.days} days after bloom" if self.days else "at bloom"

    def on(self, season: int, bloom: date | None, latitude: float) -> date | None:
        """The day the forecast is made in a season; None where its bloom is not on record."""
        if self.days is not None:
            return None if bloom is None else bloom + timedelta(days=self.days)
        if not is_southern(latitude):
            return date(season, self.month, self.day)
        month = self.month + 6
        return date(season - 1 + (month > 12), (month - 1) % 12 + 1, self.day)


@dataclass(frozen=True)
class Replayed:
    """A past forecast, and the probability of each day from its as-of date on."""

    lead: Lead
    said: PastForecast
    days: Floats


def past_forecasts(records: Records, traits: pd.DataFrame, lead_days: int) -> list[PastForecast]:
    """Ripe dates as forecast `lead_days` [d] after the median full bloom of each site and season.

    Parameters
    ----------
    records : with seasons, up to the as-of date. traits : as for `forecast`.

    Returns
    -------
    One entry per tree and past season that had bloomed and was not ripe yet on that day and has a
    ripe date on record; ordered by season, site, tree.
    """
    found = [
        each.said for each in _replay(records, traits, _Plan("ripe", [Lead(lead_days)], ["site"]))
    ]
    return sorted(found, key=lambda item: (item.season, item.site, item.tree))


def replay(
    records: Records,
    traits: pd.DataFrame,
    event: EventName,
    leads: Sequence[Lead],
    progress: Progress | None = None,
    candidate: Candidate = AVERAGED,
) -> list[Replayed]:
    """Forecasts of an event in all past seasons at some leads, by season and as-of date.

    Leads in days are counted from the median full bloom of a species at a site. A ripe date
    counts from the day its bloom was known on the tree or its like; any event only while it had
    not come.
    `candidate` is the clocks to go by; forecasts average all.
    `progress` is told how many as-of dates are done, and of how many.
    """
    plan = _Plan(event, leads, ["site", "species"], candidate)
    return _replay(records, traits, plan, progress)


@dataclass(frozen=True)
class _Plan:
    """What to forecast again, and when; whose median bloom days count from; by which clocks."""

    event: EventName
    leads: Sequence[Lead]
    alike: list[str]
    candidate: Candidate = AVERAGED


def _replay(
    records: Records, traits: pd.DataFrame, plan: _Plan, progress: Progress | None = None
) -> list[Replayed]:
    event = plan.event
    seen = observed_events(records)
    seen = seen.merge(records.trees[["tree", "site", "species", "latitude"]], on="tree")
    came = seen[seen[SEEN_AS[event]].notna()].set_index(["tree", "season"])[SEEN_AS[event]]
    due = _due(seen, plan, records.as_of)
    out: list[Replayed] = []
    for done, (as_of, wanted) in enumerate(sorted(due.items())):
        if progress is not None:
            progress(done, len(due))
        known = with_seasons(records.until(as_of), traits)
        rows, past = running_and_past(known, traits)
        rows = rows[rows["species"].isin({species for _, species, _ in wanted})]
        if rows.empty:
            continue
        ahead = outlook(known, rows.reset_index(drop=True), past, plan.candidate)
        out += _told(known, event, ahead, came, wanted)
    if progress is not None:
        progress(len(due), len(due))
    return out


# Site, species and season of the trees a forecast is wanted for, and at which leads.
Wanted = dict[tuple[str, str, int], list[Lead]]


def _due(seen: pd.DataFrame, plan: _Plan, as_of: date) -> dict[date, Wanted]:
    """The days on which forecasts are to be made, and of which trees."""
    seen = seen.assign(start=seen.groupby([*plan.alike, "season"])["bloom"].transform("median"))
    known = seen[seen[SEEN_AS[plan.event]].notna()]
    kinds = known.drop_duplicates(["site", "species", "season"])
    columns = ["site", "species", "season", "start", "latitude"]
    due: dict[date, Wanted] = {}
    for site, species, season, moment, latitude in kinds[columns].itertuples(index=False):
        start = None if pd.isna(moment) else pd.Timestamp(moment).date()
        for lead in plan.leads:
            day = lead.on(int(season), start, float(latitude))
            if day is not None and day < as_of:
                wanted = due.setdefault(day, {})
                wanted.setdefault((str(site), str(species), int(season)), []).append(lead)
    return due


def _told(
    known: Records, event: EventName, ahead: Outlook, came: pd.Series, wanted: Wanted
) -> list[Replayed]:
    """The forecasts of one day as they would have been said, where the date came later.

    All trees of a species are forecast together, those whose date was never logged among them:
    which ones they are was not known then.
    """
    rows = ahead.rows
    bloomed = rows["own_bloom"] | (event == "full bloom")
    keys = zip(rows["tree"], rows["season"], strict=True)
    place = {key: at for at, key in enumerate(keys) if bloomed.iloc[at] and key in came.index}
    days = ahead.bloom if event == "full bloom" else ahead.ripe if event == "ripe" else ahead.last
    out = []
    for said in report(known, ahead):
        if said.event != event or said.status != "forecast":
            continue
        key = said.tree, said.season
        leads = wanted.get((said.site, said.species, said.season), [])
        if key not in place or not leads:
            continue
        past = PastForecast(
            tree=said.tree,
            site=said.site,
            species=said.species,
            cultivar=said.cultivar,
            season=said.season,
            as_of=known.as_of,
            quantiles=said.quantiles,
            observed=pd.Timestamp(came[key]).date(),
        )
        out += [Replayed(lead, past, days[place[key]]) for lead in leads]
    return out
