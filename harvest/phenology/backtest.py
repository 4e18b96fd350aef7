"""How good the forecasts were: every past season again, strictly forward, beside baselines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.errors import InputError
from harvest.phenology import scores
from harvest.phenology.baselines import EarlierSeasons, Plain
from harvest.phenology.expectation import AVERAGED, Candidate
from harvest.phenology.hindcast import SEEN_AS, Lead, Progress, Replayed, replay
from harvest.phenology.observed import observed_events
from harvest.phenology.past import cultivar_keys, tree_seasons
from harvest.phenology.result import QUANTILES, EventName, PastForecast
from harvest.records import Records
from harvest.seasons import day_of_season, days_of_season, season_start

Floats = NDArray[np.float64]

LEADS: dict[EventName, tuple[Lead, ...]] = {
    "ripe": tuple(Lead(days) for days in (0, 15, 30, 45, 60)),
    "full bloom": (Lead(None, 2, 1), Lead(None, 3, 1), Lead(None, 3, 15)),
}
# Below this many seasons the verdict says that they are few.
FEW_SEASONS = 20


@dataclass(frozen=True)
class Case:
    """One past forecast with its scores.

    `error` [d], observed minus median; `crps` [d]; `plain` the CRPS [d] of each baseline that
    had enough earlier seasons.
    """

    lead: Lead
    said: PastForecast
    error: float
    crps: float
    plain: dict[str, float]


@dataclass(frozen=True)
class IntervalScores:
    """A central interval: its hits of n, the hits a true share would often give, width, score."""

    nominal: float
    hits: int
    compatible: tuple[int, int]
    mean_width_days: float
    interval_score_days: float


@dataclass(frozen=True)
class LeadScores:
    """Scores of one event at one lead; errors and widths in days.

    `skill` against each baseline by CRPS, on the forecasts for which it had enough seasons
    (`skill_n` of them): 1 perfect, 0 no better than the baseline.
    """

    event: EventName
    lead: str
    n: int
    seasons: int
    """Seasons at their sites behind the n dates, which move together within each."""
    mean_absolute_error_days: float
    root_mean_square_error_days: float
    crps_days: float
    within_3_days: float
    within_7_days: float
    interval_50: IntervalScores
    interval_80: IntervalScores
    skill: dict[str, float]
    skill_n: dict[str, int]
    verdict: str


@dataclass(frozen=True)
class ReliabilityPoint:
    """How often the date had come by the date named for a level, of n.

    `low` and `high` bound the shares compatible with the level for as many independent seasons.
    """

    level: float
    share: float
    low: float
    high: float
    n: int


@dataclass(frozen=True)
class Backtest:
    """All past forecasts of one event, and what they were worth."""

    event: EventName
    leads: tuple[LeadScores, ...]
    cases: tuple[Case, ...]

    def narrowed(self, keep: Callable[[Case], bool]) -> Backtest:
        """The same of some of its cases: each forecast was made, and scored, for itself."""
        return _told(self.event, [case for case in self.cases if keep(case)])

    def reliability(self, lead: str | None = None) -> tuple[ReliabilityPoint, ...]:
        """For a reliability figure, of one lead or of all."""
        return _reliability([c for c in self.cases if lead in (None, str(c.lead))])


def parse_lead(text: str) -> Lead:
    """A lead as written: days after bloom (`30`), or month and day of the north (`03-15`).

    Raises InputError for anything else.
    """
    parts = text.strip().split("-")
    try:
        if len(parts) == 1 and int(parts[0]) >= 0:
            return Lead(int(parts[0]))
        if len(parts) == 2:
            day = date(2001, int(parts[0]), int(parts[1]))
            return Lead(None, day.month, day.day)
    except ValueError:
        pass
    raise InputError(
        "a lead is a number of days after bloom, or a month and day (MM-DD) of the north",
        given=repr(text),
        todo="Examples: --lead 30, --lead 03-15; in the south 03-15 is read as 15 September.",
    )


def backtest(
    records: Records,
    traits: pd.DataFrame,
    event: EventName,
    leads: Sequence[Lead] = (),
    progress: Progress | None = None,
    candidate: Candidate = AVERAGED,
) -> Backtest:
    """Forecast an event of all past seasons at some leads, and score what was said.

    Parameters
    ----------
    records : with seasons, up to the as-of date. traits : as for `forecast`.
    leads : default `LEADS` of the event.
    progress : told how many as-of dates are done, and of how many.
    candidate : the clocks to go by (`harvest.phenology.candidates`); forecasts average all.
    """
    chosen = list(leads) or list(LEADS[event])
    found = _told(
        event, _cases(records, event, replay(records, traits, event, chosen, progress, candidate))
    )
    order = {str(lead): place for place, lead in enumerate(chosen)}
    return replace(found, leads=tuple(sorted(found.leads, key=lambda each: order[each.lead])))


def _told(event: EventName, cases: Sequence[Case]) -> Backtest:
    """Cases with the scores of each lead, in the order of their first appearance."""
    by_lead: dict[str, list[Case]] = {}
    for case in cases:
        by_lead.setdefault(str(case.lead), []).append(case)
    told = [_scores(event, lead, those) for lead, those in by_lead.items()]
    return Backtest(event, tuple(told), tuple(cases))


def _cases(records: Records, event: EventName, said: Iterable[Replayed]) -> list[Case]:
    past = tree_seasons(records, observed_events(records))
    day = np.full(len(past), np.nan)
    known = past[SEEN_AS[event]].notna().to_numpy()
    day[known] = days_of_season(
        past[SEEN_AS[event]].to_numpy()[known],
        past["season"].to_numpy()[known],
        past["latitude"].to_numpy()[known],
    )
    past["day"] = day
    if event == "full bloom":
        past["interval"] = np.nan
    earlier = EarlierSeasons(past)
    bloomed = past["bloom_number"].where(past["interval"].notna())
    blooms = dict(zip(zip(past["tree"], past["season"], strict=True), bloomed, strict=True))
    latitude = dict(zip(records.trees["tree"], records.trees["latitude"], strict=True))
    keys = dict(zip(records.trees["tree"], cultivar_keys(records.trees), strict=True))
    out = []
    for each in said:
        one = each.said
        start = season_start(one.season, latitude[one.tree])
        number = float(blooms.get((one.tree, one.season), np.nan))
        bloom_day = number - (start - date(1970, 1, 1)).days + 1
        plain = earlier.plain(one.site, keys[one.tree], one.season, bloom_day)
        came = day_of_season(one.observed, one.season, latitude[one.tree])
        out.append(_case(each, plain, came))
    return out


def _case(each: Replayed, plain: dict[str, Plain], came: int) -> Case:
    said = each.said
    return Case(
        lead=each.lead,
        said=said,
        error=float((said.observed - said.quantiles[0.5]).days),
        crps=float(scores.crps_days(each.days, float((said.observed - said.as_of).days))),
        plain={
            name: float(scores.crps_student(one.mean, one.scale, one.freedom, came))
            for name, one in plain.items()
        },
    )


def _day_table(cases: Sequence[Case]) -> tuple[Floats, Floats]:
    """Quantile dates, shape (n, levels), and observed dates as days from each as-of date [d]."""
    told = [[(day - c.said.as_of).days for day in c.said.quantiles.values()] for c in cases]
    came = [(c.said.observed - c.said.as_of).days for c in cases]
    return np.array(told, dtype=float).reshape(len(cases), len(QUANTILES)), np.array(came, float)


def _scores(event: EventName, lead: str, cases: Sequence[Case]) -> LeadScores:
    told, came = _day_table(cases)
    error = np.array([case.error for case in cases])
    crps = np.array([case.crps for case in cases])
    seasons = len({(case.said.site, case.said.season) for case in cases})
    names = sorted({name for case in cases for name in case.plain})
    skill, skill_n = {}, {}
    for name in names:
        with_it = np.array([name in case.plain for case in cases])
        plain = np.array([case.plain[name] for case in cases if name in case.plain])
        skill[name] = round(scores.skill(float(crps[with_it].mean()), float(plain.mean())), 4)
        skill_n[name] = len(plain)
    middle = _interval(told, came, 0.5)
    wide = _interval(told, came, 0.8)
    return LeadScores(
        event=event,
        lead=lead,
        n=len(cases),
        seasons=seasons,
        mean_absolute_error_days=float(np.abs(error).mean()),
        root_mean_square_error_days=float(np.sqrt((error**2).mean())),
        crps_days=float(crps.mean()),
        within_3_days=scores.share_within(error, 3),
        within_7_days=scores.share_within(error, 7),
        interval_50=middle,
        interval_80=wide,
        skill=skill,
        skill_n=skill_n,
        verdict=verdict(wide, len(cases), seasons),
    )


def _interval(told: Floats, came: Floats, nominal: float) -> IntervalScores:
    alpha = 1.0 - nominal
    low = told[:, QUANTILES.index(round(alpha / 2, 2))]
    high = told[:, QUANTILES.index(round(1 - alpha / 2, 2))]
    return IntervalScores(
        nominal=nominal,
        hits=int(scores.inside(low, high, came).sum()),
        compatible=scores.compatible_hits(len(came), nominal),
        mean_width_days=float((high - low).mean()),
        interval_score_days=float(scores.interval_score(low, high, came, alpha).mean()),
    )


def verdict(interval: IntervalScores, n: int, seasons: int) -> str:
    """What the hits of a span do and do not show, in a sentence or three."""
    share = interval.hits / n
    low, high = (hits / seasons for hits in scores.compatible_hits(seasons, interval.nominal))
    first, last = interval.compatible
    told = (
        f"{interval.hits} of {n} dates fell in their {interval.nominal:.0%} span; were they "
        f"independent, {first} to {last} would be compatible with {interval.nominal:.0%}."
    )
    dates = f"The dates of a season move together, and there are {seasons} of them"
    if share < low:
        return f"{told} {dates}: even so the spans were too narrow."
    if share > high and share > interval.nominal:
        return f"{told} {dates}: even so the spans were wider than they had to be."
    few = " That is few: it cannot show that the spans are right." if seasons < FEW_SEASONS else ""
    return f"{told} {dates}: shares of {low:.0%} to {high:.0%} are compatible.{few}"


def _reliability(cases: Sequence[Case]) -> tuple[ReliabilityPoint, ...]:
    if not cases:
        return ()
    told, came = _day_table(cases)
    seasons = len({(case.said.site, case.said.season) for case in cases})
    points = []
    for at, level in enumerate(QUANTILES):
        low, high = scores.compatible_hits(seasons, level)
        share = float((came <= told[:, at]).mean())
        points.append(ReliabilityPoint(level, share, low / seasons, high / seasons, len(cases)))
    return tuple(points)
